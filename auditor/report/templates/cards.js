/* One card a frame: built once, its pictures filled when it comes near. */
const list = byId("cards");
const pattern = withoutBlanks(byId("card").content.firstElementChild);
const MOST_CHIPS = 4;
const cards = frames.map(buildCard);

/* Blank text between the parts would be copied with every card. */
function withoutBlanks(element) {
  for (const child of [...element.childNodes]) {
    if (child.nodeType === Node.TEXT_NODE && !child.data.trim()) child.remove();
    else if (child.nodeType === Node.ELEMENT_NODE) withoutBlanks(child);
  }
  return element;
}

function buildCard(frame, number) {
  const card = pattern.cloneNode(true);
  card.dataset.number = number;
  card.dataset.verdict = frame.verdict;
  const put = (selector, text) => { card.querySelector(selector).textContent = text; };
  put("h3", frame.name);
  put(".when", frame.taken);
  put(".exposure", frame.exposure);
  put(".verdict-text", frame.verdictLine);
  card.querySelector(".glyph").dataset.verdict = frame.verdict;
  card.querySelector(".picture").setAttribute("aria-label", `Open ${frame.name}, ${frame.verdictText}`);
  card.querySelector(".marking").setAttribute("aria-label", `Mark ${frame.name}`);
  card.querySelector(".chips").append(...chips(frame));
  return card;
}

function chips(frame) {
  const roles = frame.roles.map((role) => make("li", { class: "role" }, role));
  const found = frame.findings.slice(0, MOST_CHIPS).map(([code, severity]) => {
    const chip = make("li", {}, make("span", { class: "weight", "aria-hidden": "true" }), data.kinds[code][0]);
    chip.firstChild.dataset.severity = severity;
    return chip;
  });
  if (frame.findings.length > MOST_CHIPS) found.push(make("li", {}, `and ${frame.findings.length - MOST_CHIPS} more`));
  return [...roles, ...found];
}

function fillCard(card) {
  if (card.dataset.filled) return;
  card.dataset.filled = "yes";
  const number = Number(card.dataset.number);
  card.querySelector(".picture").append(pictureOf(number));
  card.querySelector(".bar").append(rangeBar(frames[number].bar));
}
const nearCards = whenNear(fillCard);

function showMark(number) {
  if (number === null) { cards.forEach((_, each) => showMark(each)); return; }
  const card = cards[number], mark = markOf(number), note = noteOf(number);
  if (mark) card.dataset.marked = mark;
  else delete card.dataset.marked;
  card.querySelectorAll("[data-mark]").forEach((button) => button.setAttribute("aria-pressed", button.dataset.mark === mark));
  card.querySelector("[data-note]").setAttribute("aria-pressed", note !== "");
}
markWatchers.push(showMark);
marks.forEach((_, number) => showMark(number));

/* Histograms on hover and focus. */
function showRidges(card) {
  const place = card.querySelector(".ridge-over");
  const detail = detailsOf(Number(card.dataset.number));
  if (place.childElementCount || !detail.channels.length) return;
  place.append(ridges(detail.channels, { row: 26, labels: false }));
}
list.addEventListener("pointerover", (event) => {
  const card = event.target.closest(".card");
  if (card && event.pointerType === "mouse") showRidges(card);
});

/* One card at a time lies in the order of the tab key; arrows move between cards. */
let current = null;
function makeCurrent(card) {
  if (current === card) return;
  if (current) setTabs(current, -1);
  current = card;
  if (card) setTabs(card, 0);
}
function setTabs(card, index) {
  card.tabIndex = index;
  card.querySelectorAll("button").forEach((button) => { button.tabIndex = index; });
}
list.addEventListener("focusin", (event) => {
  const card = event.target.closest(".card");
  if (!card) return;
  makeCurrent(card);
  showRidges(card);
});

const shownCards = () => [...list.children].filter((card) => !card.hidden);
function cardsInRow(shown) {
  const first = shown[0]?.offsetTop;
  const next = shown.findIndex((card) => card.offsetTop !== first);
  return next > 0 ? next : shown.length;
}

function moveCard(card, key) {
  const shown = shownCards(), here = shown.indexOf(card);
  const steps = { ArrowRight: 1, ArrowLeft: -1, ArrowDown: cardsInRow(shown), ArrowUp: -cardsInRow(shown), Home: -Infinity, End: Infinity };
  const to = shown[Math.max(0, Math.min(shown.length - 1, here + steps[key]))];
  to?.focus();
  to?.scrollIntoView({ block: "nearest" });
}

const CARD_MARKS = { k: "keep", s: "second", d: "drop" };
function cardKey(number, key) {
  if (key in CARD_MARKS) toggleMark(number, CARD_MARKS[key]);
  else if (key === "u") setMark(number, null, noteOf(number));
  else if (key === "o") toggleOverlay();
  else return false;
  return true;
}

list.addEventListener("keydown", (event) => {
  const card = event.target.closest(".card");
  if (!card || event.ctrlKey || event.metaKey || event.altKey) return;
  const number = Number(card.dataset.number);
  const onCard = event.target === card;
  if (["ArrowRight", "ArrowLeft", "ArrowDown", "ArrowUp", "Home", "End"].includes(event.key)) moveCard(card, event.key);
  else if (onCard && (event.key === "Enter" || event.key === " ")) openDetail(number, card);
  else if (event.key === "n") openDetail(number, card, true);
  else if (event.key === "/") byId("q").focus();
  else if (!cardKey(number, event.key)) return;
  event.preventDefault();
});

list.addEventListener("click", (event) => {
  const card = event.target.closest(".card"), button = event.target.closest("button");
  if (!card || !button) return;
  const number = Number(card.dataset.number);
  if (button.dataset.mark) toggleMark(number, button.dataset.mark);
  else openDetail(number, card, "note" in button.dataset);
});
