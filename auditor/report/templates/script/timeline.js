/* The time line: days apart, a pointer that reaches every frame, a span that can be chosen. */
import { openFrame } from "./actions.js";
import { on } from "./bus.js";
import { daysOf, nearestFrame } from "./clock.js";
import { frames } from "./data.js";
import { byId, counted, isModified, make } from "./dom.js";
import { askSpan } from "./filters.js";
import { addView, go, openView } from "./route.js";
import { clockOffset, clockText, drawDay, lightWords } from "./timedraw.js";

const DRAG_PX = 5;
const MOST_SMALL_DAYS = 2;
const timed = frames.flatMap((frame, number) => (frame.takenS === null ? [] : [number]));
const places = [];
let at = 0;
let span = null;
let zoomed = null;

function daysShown() {
  const days = daysOf(frames);
  if (!zoomed) return days;
  const isIn = (number) =>
    frames[number].takenS >= zoomed.startS && frames[number].takenS <= zoomed.endS;
  return daysOf(
    frames.map((frame, number) => (isIn(number) ? frame : { ...frame, takenS: null })),
  );
}

/* Beside a column of text there is room for the light as well; above one there is none. */
const roomFor = (line, every) =>
  line.kind === "small" && every.length === 1 && line.place.clientWidth < innerWidth / 2
    ? "beside"
    : line.kind;

function drawAll(line, wide = line.place.clientWidth, kindAsked = null) {
  if (!wide) return;
  const every = daysShown();
  const kind = kindAsked ?? roomFor(line, every);
  const days = line.kind === "small" ? every.slice(0, MOST_SMALL_DAYS) : every;
  line.drawnFor = line.place.clientWidth;
  line.days = days.map((day, index) => drawDay(day, wide, kind, `wedge-${kind}-${index}`));
  line.place.replaceChildren(
    ...line.days.flatMap(({ svg, day }) =>
      every.length > 1 ? [make("p", { class: "day-name" }, day.text), svg] : [svg],
    ),
  );
  const left = every.length - days.length;
  if (left)
    line.place.append(make("p", { class: "day-name" }, `and ${counted(left, "more day")}`));
  showAt(line);
  showSpan(line);
}

/* What is not looked at is let go. */
function clear(line) {
  line.place.replaceChildren();
  line.days = [];
}

const wordsOf = (number) => {
  const { name, taken, exposure, verdictLine } = frames[number];
  return [name, taken, exposure, verdictLine, lightWords(number)].filter(Boolean).join(" · ");
};

function showAt(line, { tell = false } = {}) {
  const number = timed[at];
  if (number === undefined) return;
  line.place.setAttribute("aria-valuenow", at + 1);
  line.place.setAttribute("aria-valuetext", wordsOf(number));
  for (const { placed, cursor, height } of line.days) {
    const found = tell ? placed.find((each) => each.number === number) : null;
    cursor.setAttribute("d", found ? `M${found.x} 2V${height - 8}` : "");
  }
  if (tell) line.says.textContent = wordsOf(number);
}

function moveTo(line, index) {
  at = Math.max(0, Math.min(timed.length - 1, index));
  showAt(line, { tell: true });
}

/* The day, the place and the frame under the pointer. */
function under(line, event) {
  for (const day of line.days) {
    const box = day.svg.getBoundingClientRect();
    if (event.clientY < box.top || event.clientY > box.bottom) continue;
    const x = event.clientX - box.left;
    const part = (event.clientY - box.top) / box.height;
    return { day, x, number: nearestFrame(day.placed, x, part).number };
  }
  return null;
}

function setSpan(next) {
  span = next && next.endS - next.startS > 0 ? next : null;
  for (const line of places) showSpan(line);
  byId("span-tools").hidden = !span;
  if (!span) return;
  const held = timed.filter(
    (number) => frames[number].takenS >= span.startS && frames[number].takenS <= span.endS,
  );
  byId("span-says").textContent = `${counted(held.length, "frame")} from ${span.text}`;
}

function spanOf(day, from, to) {
  const [startS, endS] = [
    day.axis.timeAt(Math.min(from, to)),
    day.axis.timeAt(Math.max(from, to)),
  ];
  const offset = clockOffset(day.day);
  return { startS, endS, text: `${clockText(startS, offset)} to ${clockText(endS, offset)}` };
}

function showSpan({ days }) {
  for (const { axis, band, height, day } of days ?? []) {
    const last = day.stretches.at(-1).end;
    const isHere = span && span.startS <= last && span.endS >= day.stretches[0].start;
    const [from, to] = isHere
      ? [axis.xOf(span.startS), axis.xOf(Math.min(last, span.endS))]
      : [0, 0];
    band.setAttribute(
      "d",
      isHere ? `M${from} 2H${Math.max(from + 2, to)}V${height - 4}H${from}z` : "",
    );
  }
}

/* Shift and arrows stretch the span from where it began. */
let anchor = null;
function stretchTo(line, index) {
  anchor ??= at;
  moveTo(line, index);
  const [low, high] = [Math.min(anchor, at), Math.max(anchor, at)];
  const [startS, endS] = [frames[timed[low]].takenS, frames[timed[high]].takenS];
  const day = line.days.find(({ placed }) => placed.some(({ number }) => number === timed[low]));
  const offset = day ? clockOffset(day.day) : 0;
  setSpan({ startS, endS, text: `${clockText(startS, offset)} to ${clockText(endS, offset)}` });
}

const KEYS = {
  ArrowRight: 1,
  ArrowUp: 1,
  ArrowLeft: -1,
  ArrowDown: -1,
  PageDown: 10,
  PageUp: -10,
  Home: -1e9,
  End: 1e9,
};

function listen(line) {
  const { place } = line;
  let start = null;
  place.addEventListener("keydown", (event) => {
    if (isModified(event) || !timed.length) return;
    if (event.key === "Enter" || event.key === " ") openFrame(timed[at]);
    else if (event.key === "Escape" && span) setSpan(null);
    else if (event.key in KEYS && event.shiftKey) stretchTo(line, at + KEYS[event.key]);
    else if (event.key in KEYS) {
      anchor = null;
      moveTo(line, at + KEYS[event.key]);
    } else return;
    event.preventDefault();
  });
  place.addEventListener("focus", () => moveTo(line, at));
  place.addEventListener("pointermove", (event) => {
    const found = under(line, event);
    if (!found) return;
    if (start && Math.abs(found.x - start.x) > DRAG_PX && found.day === start.day) {
      start.dragged = true;
      setSpan(spanOf(found.day, start.x, found.x));
    } else if (event.pointerType === "mouse") moveTo(line, timed.indexOf(found.number));
  });
  place.addEventListener("pointerdown", (event) => {
    start = under(line, event);
  });
  place.addEventListener("pointercancel", () => {
    start = null;
  });
  place.addEventListener("click", (event) => {
    const dragged = start?.dragged;
    start = null;
    const found = under(line, event);
    if (dragged || !found) return;
    moveTo(line, timed.indexOf(found.number));
    openFrame(found.number);
  });
}

/* The answers on paper hold the time line whatever part of the page is open. */
const PAPER_PX = 1000;
export const drawForPaper = () => drawAll(places[1], PAPER_PX, "small");
const clearOrDraw = (line) => (openView() === "overview" ? drawAll(line) : clear(line));

function zoomBy(next) {
  zoomed = next;
  byId("span-whole").hidden = !zoomed;
  setSpan(null);
  for (const line of places) drawAll(line);
}

export function startTimeline() {
  for (const [id, kind] of [
    ["line", "full"],
    ["line-small", "small"],
  ]) {
    const line = { place: byId(id), says: byId(`${id}-says`), kind, days: [] };
    line.place.setAttribute("aria-valuemax", Math.max(1, timed.length));
    places.push(line);
    listen(line);
    // not for its own height: what was drawn for paper stays
    new ResizeObserver(() => {
      if (line.place.clientWidth !== line.drawnFor) drawAll(line);
    }).observe(line.place);
  }
  byId("span-frames").addEventListener("click", () => {
    askSpan(span);
    go("#frames");
  });
  byId("span-zoom").addEventListener("click", () => zoomBy(span));
  byId("span-whole").addEventListener("click", () => zoomBy(null));
  byId("span-clear").addEventListener("click", () => setSpan(null));
  for (const section of document.querySelectorAll(".needs-clock")) section.hidden = !timed.length;
  const missing = frames.length - timed.length;
  byId("untimed").hidden = missing === 0;
  const stand = missing === 1 ? "stands" : "stand";
  byId("untimed").textContent =
    `${counted(missing, "frame")} without a clock ${stand} in the list only.`;
  addEventListener("beforeprint", drawForPaper);
  addEventListener("afterprint", () => clearOrDraw(places[1]));
  addView("timeline", { close: () => clear(places[0]) });
  addView("overview", { close: () => clear(places[1]) });
  on("view", (view) => {
    const line = places.find(({ place }) => place.closest("section").id === view);
    if (line && !line.days.length) drawAll(line);
  });
}
