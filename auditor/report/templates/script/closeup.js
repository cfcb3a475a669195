/* One frame, filling the window: the picture and its marks stay, the figures scroll beside it. */
import { acceptSuggestion, goKey, goOn, markKey, openFrame } from "./actions.js";
import { on } from "./bus.js";
import {
  figuresPart,
  findingsPart,
  notePart,
  relativesPart,
  suggestionPart,
} from "./closeside.js";
import { detailNow, detailOf, frames, numberOf, setupOf } from "./data.js";
import { byId, isHeld, isModified, isTyping, make, say } from "./dom.js";
import { shownFrames } from "./filters.js";
import { pictureLayers, startLayers } from "./layers.js";
import { book, markButtons, showMark, toggleMark } from "./marks.js";
import { addView, goBack, openView } from "./route.js";
import { stripItem } from "./shot.js";
import { stageKey } from "./stage.js";

const MOST_IN_STRIP = 40;
let at = null;
let layers = null;
let wantsNote = false;

async function open({ id }) {
  leaveNote();
  at = numberOf.get(id);
  const frame = frames[at];
  byId("close-h").textContent = frame.name;
  const about = [frame.taken, frame.exposure, frame.camera, ...frame.roles];
  byId("close-about").textContent = about.filter(Boolean).join(" · ");
  showSteps();
  showStrip();
  showMarksHere();
  const number = at;
  layers.begin(number);
  const side = byId("close-side");
  if (!detailNow(number)) side.replaceChildren();
  const detail = detailNow(number) ?? (await detailOf(number));
  if (number !== at || openView() !== "frame") return;
  layers.show(detail);
  const parts =
    frame.status === "measured"
      ? [
          make("p", { class: "telling" }, frame.verdictLine),
          suggestionPart(number, () => accept(number)),
          layers.histogram(number, detail),
          relativesPart(number),
          findingsPart(detail),
          notePart(number),
          figuresPart(detail),
        ]
      : [
          make("p", { class: "telling" }, frame.verdictLine),
          make("p", {}, frame.place),
          notePart(number),
        ];
  side.replaceChildren(...parts.filter(Boolean));
  side.scrollTop = 0;
  if (wantsNote) focusNote();
}

/* The note is there when the frame's details are; what is typed before is no key. */
function focusNote() {
  wantsNote = !byId("note");
  byId("note")?.focus();
}

/* A note that is being written is kept before the page is turned under it. */
function leaveNote() {
  wantsNote = false;
  if (document.activeElement?.id === "note") document.activeElement.blur();
}

function accept(number) {
  const order = [...shownFrames()];
  acceptSuggestion(number);
  goOn(order, number, step);
}

const step = (number) => number === at || openFrame(number, { replace: true });

/* The frames shown, or all of them where this one is not among those. */
const orderNow = () => {
  const shown = shownFrames();
  return shown.includes(at) ? shown : frames.map((_, number) => number);
};

function turn(by) {
  const order = orderNow();
  const next = order[order.indexOf(at) + by];
  if (next === undefined)
    return say(by > 0 ? "This is the last frame." : "This is the first frame.");
  return step(next);
}

function showSteps() {
  const order = orderNow();
  const here = order.indexOf(at);
  byId("close-place").textContent = `${here + 1} of ${order.length}`;
  byId("previous").disabled = here <= 0;
  byId("next").disabled = here >= order.length - 1;
}

/* The frames of its set-up; where it has none, its neighbours. */
function stripFrames() {
  const held = setupOf(at)?.frames ?? [];
  if (held.length > 1 && held.length <= MOST_IN_STRIP) return held;
  const order = held.length > 1 ? held : orderNow();
  const from = Math.max(0, order.indexOf(at) - MOST_IN_STRIP / 4);
  return order.slice(from, from + MOST_IN_STRIP / 2);
}

function showStrip() {
  const strip = byId("close-strip");
  strip.replaceChildren(
    ...stripFrames().map((number) => {
      const { item, link } = stripItem(number);
      if (number === at) link.setAttribute("aria-current", "true");
      link.addEventListener("click", (event) => {
        event.preventDefault();
        step(number);
      });
      return item;
    }),
  );
  const here = strip.querySelector("[aria-current]")?.parentElement;
  if (here) strip.scrollLeft = here.offsetLeft - strip.clientWidth / 2 + here.offsetWidth / 2;
}

function showMarksHere() {
  const place = byId("close-marks");
  /* A finger goes on to the next frame as a key does; a mouse stays where it points. */
  const act = (mark, event) => {
    const order = [...shownFrames()];
    const marked = toggleMark(at, mark);
    if (marked && event.pointerType === "touch") goOn(order, at, stepSoon);
  };
  place.replaceChildren(...markButtons(at, act));
  place.setAttribute("aria-label", `Mark ${frames[at].name}`);
}

/* A button's mark is seen before the next frame comes. */
function stepSoon(number) {
  const from = at;
  setTimeout(() => {
    if (at === from && openView() === "frame") step(number);
  }, 220);
}

function onMarks(numbers) {
  if (openView() !== "frame" || at === null) return;
  showMark(byId("close-marks"), at);
  for (const item of byId("close-strip").children) {
    const number = Number(item.dataset.number);
    if (numbers === null || numbers.includes(number))
      item.dataset.marked = book.of(number).mark ?? "";
  }
  if (numbers?.length && !numbers.includes(at)) step(numbers[0]);
  const note = byId("note");
  if (note && document.activeElement !== note) note.value = book.of(at).note;
}

function onKey(event) {
  if (openView() !== "frame" || event.defaultPrevented || isModified(event)) return;
  if (wantsNote && event.key !== "Escape") return event.preventDefault();
  if (event.key === "Escape") {
    if (isTyping(event.target)) byId("close-h").focus();
    else goBack();
    return event.preventDefault();
  }
  if (isTyping(event.target)) return;
  if (isHeld(event)) return event.preventDefault();
  const onTones = event.target.closest?.(".tones, input");
  if (onTones && event.key.startsWith("Arrow")) return;
  if (stageKey(layers.stage, event)) return event.preventDefault();
  const turns = { ArrowRight: 1, ArrowLeft: -1, PageDown: 1, PageUp: -1 };
  if (event.key in turns) turn(turns[event.key]);
  else if (event.key === "n") focusNote();
  else if (!layers.key(event.key) && !markKey(at, event.key, step)) {
    if (!goKey(at, event.key, { replace: true })) return;
  }
  event.preventDefault();
}

export function startCloseup() {
  layers = pictureLayers(byId("close-stage"));
  startLayers(layers);
  const close = () => {
    leaveNote();
    layers.clear();
  };
  addView("frame", { open, close });
  byId("previous").addEventListener("click", () => turn(-1));
  byId("next").addEventListener("click", () => turn(1));
  byId("close").addEventListener("click", goBack);
  addEventListener("keydown", onKey);
  on("marks", onMarks);
  on("note", focusNote);
}
