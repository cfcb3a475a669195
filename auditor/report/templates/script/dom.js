/* Small helpers for elements. Text from files only ever enters as text. */
export const byId = (id) => document.getElementById(id);

export function make(tag, settings = {}, ...children) {
  const element = document.createElement(tag);
  for (const [name, value] of Object.entries(settings)) {
    if (value === null || value === undefined) continue;
    if (name === "class") element.className = value;
    else if (name === "data") Object.assign(element.dataset, value);
    else if (name in element) element[name] = value;
    else element.setAttribute(name, value);
  }
  element.append(...children.flat().filter((child) => child !== null && child !== undefined));
  return element;
}

export function draw(tag, settings = {}, ...children) {
  const element = document.createElementNS("http://www.w3.org/2000/svg", tag);
  for (const [name, value] of Object.entries(settings)) element.setAttribute(name, value);
  element.append(...children);
  return element;
}

export function drawText(words, settings) {
  const text = draw("text", { class: "axis", ...settings });
  text.textContent = words;
  return text;
}

export function picture(wide, tall, settings = {}, ...children) {
  const box = { viewBox: `0 0 ${wide} ${tall}`, "aria-hidden": "true", focusable: "false" };
  return draw("svg", { ...box, ...settings }, ...children);
}

export function button(words, act, settings = {}) {
  const made = make("button", { type: "button", ...settings }, ...[words].flat());
  made.addEventListener("click", (event) => act(made, event));
  return made;
}

/* A button's key beside its words. */
export const keyed = (words, key) => [words, " ", make("kbd", { "aria-hidden": "true" }, key)];

export const pressed = (element, is) => element.setAttribute("aria-pressed", String(Boolean(is)));
export const isPressed = (element) => element.getAttribute("aria-pressed") === "true";
export const isTyping = (target) =>
  target.closest?.("input:not([type=range]), select, textarea, [contenteditable]") !== null;
/* A key held down moves on and zooms; it neither marks frame after frame nor turns to and fro. */
export const isHeld = ({ repeat, key }) => repeat && (/^[^+=-]$/.test(key) || key === "Backspace");
export const isModified = (event) => event.ctrlKey || event.metaKey || event.altKey;

let saying = 0;
export function say(text) {
  const place = byId("says");
  place.textContent = text;
  clearTimeout(saying);
  saying = setTimeout(() => {
    place.textContent = "";
  }, 8000);
}

export const counted = (number, noun, plural = `${noun}s`) =>
  `${number} ${number === 1 ? noun : plural}`;
