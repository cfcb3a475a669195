/* Ground: the data, small helpers, messages. Text from files only ever enters as text. */
const byId = (id) => document.getElementById(id);
const data = JSON.parse(byId("page-data").textContent);
const frames = data.frames;
const DEPTH = data.depth;

/* Pictures and details are parsed a chunk at a time, when one of their frames comes into sight. */
const parsed = new Map();
function detailsOf(number) {
  const place = Math.floor(number / data.chunk);
  if (!parsed.has(place)) {
    const holder = byId(`details-${place}`);
    parsed.set(place, JSON.parse(holder.textContent));
    holder.remove();
  }
  return parsed.get(place)[number % data.chunk];
}

function make(tag, settings = {}, ...children) {
  const element = document.createElement(tag);
  for (const [name, value] of Object.entries(settings)) {
    if (name === "class") element.className = value;
    else if (name in element) element[name] = value;
    else element.setAttribute(name, value);
  }
  element.append(...children.filter((child) => child !== null && child !== undefined));
  return element;
}

function draw(tag, settings = {}, ...children) {
  const element = document.createElementNS("http://www.w3.org/2000/svg", tag);
  for (const [name, value] of Object.entries(settings)) element.setAttribute(name, value);
  element.append(...children);
  return element;
}

let saying = 0;
function say(text) {
  const place = byId("says");
  place.textContent = text;
  clearTimeout(saying);
  saying = setTimeout(() => { place.textContent = ""; }, 8000);
}

/* Fill something when it comes near the window, once. */
function whenNear(fill) {
  const watcher = new IntersectionObserver((entries) => {
    for (const entry of entries) {
      if (!entry.isIntersecting) continue;
      watcher.unobserve(entry.target);
      fill(entry.target);
    }
  }, { rootMargin: "700px 0px" });
  return watcher;
}

const isTyping = (target) => target.closest("input, select, textarea, [contenteditable]") !== null;
