/* Two frames against each other: a split line, one zoom, exposures made equal, the difference. */
import { on } from "./bus.js";
import {
  addressesOf,
  data,
  detailOf,
  frames,
  numberOf,
  setupDetail,
  setupOf,
  setups,
} from "./data.js";
import { byId, isHeld, isModified, isPressed, isTyping, make, pressed } from "./dom.js";
import { exposeBy, signed, stopsOf } from "./exposure.js";
import { sideHash } from "./hash.js";
import { MARK_KEYS, markButtons, showMark, toggleMark } from "./marks.js";
import { sharpen } from "./photo.js";
import { compare, paintDifference } from "./pixels.js";
import { addView, go, goBack, openView } from "./route.js";
import { fit, makeStage, setShape, stageKey } from "./stage.js";

const one = make("img", { class: "whole", alt: "", draggable: false });
const other = make("img", { class: "whole over", alt: "", draggable: false });
const map = make("canvas", { class: "difference", hidden: true });
let stage = null;
let numbers = [];
let found = null;
let shift = null;

async function open({ ids }) {
  numbers = ids.map((id) => numberOf.get(id));
  const [first, second] = numbers.map((number) => frames[number]);
  byId("side-h").textContent = `${first.name} and ${second.name}`;
  showNames();
  showChoices();
  found = null;
  shift = null;
  other.style.transform = "";
  const asked = numbers;
  const isAsked = () => numbers === asked && openView() === "side";
  byId("side-says").textContent = "";
  showEqual();
  showDifference();
  showPictures([]);
  const details = await Promise.all(asked.map(detailOf));
  if (!isAsked()) return;
  showPictures(details);
  stage.sensorWide = details[0].sensor?.[0] ?? 0;
  setShape(stage, details[0].size ?? [3, 2]);
  fit(stage);
  const compared = await compare(...asked);
  if (!isAsked()) return;
  found = compared;
  await tellPair(details, isAsked);
  showEqual();
  showDifference();
}

function showPictures(details) {
  [one, other].forEach((image, index) => {
    const { small } = addressesOf(numbers[index]);
    sharpen(image, small, details[index]?.pictures?.large?.src);
    image.alt = `${frames[numbers[index]].name}: ${frames[numbers[index]].verdictLine}`;
  });
}

function showNames() {
  numbers.forEach((number, index) => {
    const { name, exposure, verdictLine } = frames[number];
    const place = byId(`side-${index + 1}`);
    const marks = make("div", { class: "marking", role: "group", "aria-label": `Mark ${name}` });
    marks.append(...markButtons(number, (mark) => toggleMark(number, mark)));
    showMark(place, number);
    place.replaceChildren(
      make("p", {}, make("b", {}, `${index ? "Right" : "Left"}: ${name}`)),
      make("p", { class: "soft" }, `${exposure} · ${verdictLine}`),
      marks,
    );
    showMark(place, number);
  });
}

/* Either side may be another frame of the set-up, or any other by its name. */
function showChoices() {
  numbers.forEach((number, index) => {
    const select = byId(`side-choice-${index + 1}`);
    const held = setupOf(numbers[0])?.frames ?? [];
    const offered = new Set([...held, ...numbers]);
    select.replaceChildren(
      ...[...offered].map((each) =>
        make("option", { value: each }, `${frames[each].name}, ${frames[each].exposure}`),
      ),
    );
    select.value = number;
  });
}

async function tellPair(details, isAsked) {
  const [first, second] = numbers.map((number) => frames[number]);
  const told = [];
  const settings = first.ev !== null && second.ev !== null ? first.ev - second.ev : null;
  if (settings !== null)
    told.push(`By the settings ${second.name} got ${moreOrLess(settings)} light.`);
  if (found?.median !== undefined && found?.median !== null) {
    told.push(`In the picture it is ${brighter(found.median)}: the median of what both record.`);
  } else told.push("Too little is recorded by both to say how they differ.");
  const setup = first.setup && first.setup === second.setup ? setups[first.setup - 1] : null;
  if (setup) {
    const detail = await setupDetail(setup);
    if (!isAsked()) return;
    told.push(...pairWords(detail), ...shiftWords(detail, setup, details[0]));
  }
  byId("side-says").replaceChildren(...told.map((words) => make("p", {}, words)));
}

const moreOrLess = (stops) => `${stopsOf(stops)} ${stops < 0 ? "less" : "more"}`;
const brighter = (stops) => `${stopsOf(stops)} ${stops < 0 ? "darker" : "brighter"}`;

function pairWords({ pairs, grads, brackets }) {
  const isThis = (a, b) => numbers.includes(a) && numbers.includes(b) && a !== b;
  return [
    ...pairs.filter(({ short, long }) => isThis(short, long)).map(({ sentence }) => sentence),
    ...grads.filter((grad) => isThis(grad.without, grad.with)).map(({ sentence }) => sentence),
    ...brackets
      .filter(({ steps }) =>
        numbers.every((number) => steps.some(({ frame }) => frame === number)),
      )
      .map(({ sentence }) => sentence),
  ];
}

/* Within its error there is no shift; tenths are told where the error leaves something of them. */
function shiftWords({ shifts, shiftErrors }, setup, detail) {
  const places = numbers.map((number) => setup.frames.indexOf(number));
  const [from, to] = places.map((place) => shifts[place]);
  if (!from || !to) return ["How far the camera moved between them could not be measured."];
  const error = Math.hypot(...places.map((place) => shiftErrors[place] ?? Number.NaN));
  const digits = error < 0.1 ? 2 : error < 1 ? 1 : 0;
  const within = Number.isNaN(error) ? "" : ` (± ${error.toFixed(digits)} px)`;
  const step = { x: to[0] - from[0], y: to[1] - from[1] };
  if (Math.hypot(step.x, step.y) < Math.max(data.moved.leastPx, data.moved.errors * error))
    return [`Between them the picture did not move, as far as can be measured${within}.`];
  shift = step;
  const [wide, tall] = detail.sensor ?? [0, 0];
  if (wide)
    other.style.transform = `translate(${(-100 * shift.x) / wide}%, ${(-100 * shift.y) / tall}%)`;
  const told = (length) => `${Math.abs(length).toFixed(error >= 0.5 ? 0 : 1)} px`;
  const across = `${told(shift.x)} ${shift.x < 0 ? "left" : "right"}`;
  const down = `${told(shift.y)} ${shift.y < 0 ? "up" : "down"}`;
  return [
    `Between them the picture moved ${across}, ${down}${within}; shown laid over each other.`,
  ];
}

function showEqual() {
  const equal = isPressed(byId("equal")) && found?.median;
  exposeBy(other, equal ? -found.median : 0, "exposure-second");
  byId("equal-says").textContent = equal ? `right shown ${signed(-found.median)}` : "as recorded";
}

function showDifference() {
  const is = isPressed(byId("difference")) && found;
  map.hidden = !is;
  byId("difference-key").hidden = !is;
  if (is) paintDifference(map, found, isPressed(byId("equal")) ? (found.median ?? 0) : 0);
}

/* The split stands still on the window while the pictures move under it. */
function showSplit() {
  const part = Number(byId("split").value) / 100;
  const box = stage.element.getBoundingClientRect();
  const inside = stage.move.getBoundingClientRect();
  if (!inside.width) return;
  const x = ((box.left + part * box.width - inside.left) / inside.width) * 100;
  other.style.clipPath = `inset(0 0 0 ${Math.max(0, Math.min(100, x))}%)`;
  byId("split-line").style.left = `${100 * part}%`;
}

function toggle(id) {
  pressed(byId(id), !isPressed(byId(id)));
  showEqual();
  showDifference();
}

const swap = () => go(sideHash(frames[numbers[1]].id, frames[numbers[0]].id), { replace: true });

function onKey(event) {
  if (openView() !== "side" || isModified(event) || event.defaultPrevented) return;
  if (event.key === "Escape") goBack();
  else if (isTyping(event.target)) return;
  else if (isHeld(event)) return event.preventDefault();
  else if (event.target.id === "split" && event.key.startsWith("Arrow")) return;
  else if (event.key === "q") toggle("equal");
  else if (event.key === "d") toggle("difference");
  else if (event.key === "t") swap();
  else if (event.key in MARK_KEYS) toggleMark(numbers[1], MARK_KEYS[event.key]);
  else if (event.key === "ArrowLeft" || event.key === "ArrowRight") {
    if (!stageKey(stage, event)) moveSplit(event.key === "ArrowLeft" ? -4 : 4);
  } else if (!stageKey(stage, event)) return;
  event.preventDefault();
}

function moveSplit(by) {
  byId("split").value = Number(byId("split").value) + by;
  showSplit();
}

export function startSide() {
  stage = makeStage("Two frames, split by a line; arrow keys move the line", {
    content: [one, other, map],
  });
  stage.hear = showSplit;
  byId("side-stage").prepend(stage.element);
  addView("side", { open });
  byId("split").addEventListener("input", showSplit);
  byId("equal").addEventListener("click", () => toggle("equal"));
  byId("difference").addEventListener("click", () => toggle("difference"));
  byId("swap").addEventListener("click", swap);
  byId("side-close").addEventListener("click", goBack);
  for (const index of [0, 1]) {
    byId(`side-choice-${index + 1}`).addEventListener("change", (event) => {
      const next = [...numbers];
      next[index] = Number(event.target.value);
      if (next[0] === next[1]) next[1 - index] = numbers[index];
      go(sideHash(...next.map((number) => frames[number].id)), { replace: true });
    });
  }
  addEventListener("keydown", onKey);
  on("marks", () => {
    if (openView() !== "side") return;
    for (const [index, number] of numbers.entries()) showMark(byId(`side-${index + 1}`), number);
  });
}
