/* What the reader asked to see: chips, search and choices, kept as one state. */
import { on, tell } from "./bus.js";
import { data, frames, setups } from "./data.js";
import { button, byId, isPressed, make, pressed } from "./dom.js";
import { book } from "./marks.js";
import { CHIPS, ordered, questions, searchText } from "./order.js";

const texts = frames.map((frame) => searchText(frame, data.kinds));
const FIELDS = ["outcome", "finding", "camera", "lens", "mark", "setup", "day"];
const field = (name) => byId(`by-${name}`);
let span = null;
let shown = frames.map((_, number) => number);

export const shownFrames = () => shown;
export const isGrouped = () => byId("sort").value === "time";

function askedNow() {
  const chips = [...document.querySelectorAll("[data-chip]")].filter(isPressed);
  const asked = { chips: chips.map((chip) => chip.dataset.chip), search: byId("q").value, span };
  for (const name of FIELDS) asked[name] = field(name).value;
  asked.setup = Number(asked.setup) || null;
  return asked;
}

export function choose() {
  const asked = questions(askedNow());
  const turned = isPressed(byId("reverse"));
  shown = ordered(frames, byId("sort").value, turned).filter((number) =>
    asked.every((answers) => answers(frames[number], book.of(number), texts[number])),
  );
  byId("shown").textContent = `${shown.length} of ${frames.length} frames`;
  byId("none-shown").hidden = shown.length > 0;
  byId("show-all").disabled = asked.length === 0 && byId("sort").value === "time" && !turned;
  const folded = FIELDS.filter((name) => field(name).value).length;
  byId("more-choices").textContent = folded ? `More choices (${folded} in use)` : "More choices";
  tell("shown");
}

export function forgetChoices() {
  for (const chip of document.querySelectorAll("[data-chip]")) pressed(chip, false);
  for (const name of FIELDS) field(name).value = "";
  byId("q").value = "";
  byId("sort").value = "time";
  pressed(byId("reverse"), false);
  span = null;
  showSpan();
}

/* Ask for one thing only, as links from other parts do. */
export function askOnly({ outcome = "", setup = "", chip = "" }) {
  forgetChoices();
  field("outcome").value = outcome;
  field("setup").value = setup;
  if (chip) pressed(document.querySelector(`[data-chip="${chip}"]`), true);
  choose();
}

export function askSpan(asked) {
  span = asked;
  showSpan();
  choose();
}

function showSpan() {
  byId("span-chip").hidden = !span;
  byId("span-chip").textContent = span ? `${span.text} ×` : "";
}

function offer(name, options) {
  field(name).append(...options.map(([value, words]) => make("option", { value }, words)));
}

function tally(values) {
  const counts = new Map();
  for (const value of values) if (value) counts.set(value, (counts.get(value) ?? 0) + 1);
  return counts;
}

const withCounts = (counts, words = (value) => value) =>
  [...counts].map(([value, count]) => [value, `${words(value)} (${count})`]);

function offerChoices() {
  offer(
    "outcome",
    withCounts(tally(frames.map(({ outcome }) => outcome)), (value) => data.outcomes[value]),
  );
  const codes = frames.flatMap(({ findings }) => [...new Set(findings.map(({ code }) => code))]);
  const sorted = [...tally(codes)].sort(([, one], [, other]) => other - one);
  offer(
    "finding",
    withCounts(sorted, (code) => data.kinds[code].title),
  );
  offer("camera", withCounts(tally(frames.map(({ camera }) => camera))));
  offer("lens", withCounts(tally(frames.map(({ lens }) => lens))));
  offer("day", withCounts(tally(frames.map(({ day }) => day))));
  offer(
    "setup",
    setups.map(({ number, title, frames: held }) => [number, `${title} (${held.length})`]),
  );
  for (const name of FIELDS) field(name).closest("label").hidden = field(name).options.length < 2;
}

export function startFilters() {
  const chips = byId("chips");
  for (const [name, { words }] of Object.entries(CHIPS)) {
    const act = (made) => {
      pressed(made, !isPressed(made));
      const other = { filtered: "unfiltered", unfiltered: "filtered" }[name];
      if (other) pressed(chips.querySelector(`[data-chip="${other}"]`), false);
      choose();
    };
    chips.append(
      button(words, act, { class: "chip", "aria-pressed": "false", data: { chip: name } }),
    );
  }
  offerChoices();
  byId("tools").addEventListener("submit", (event) => event.preventDefault());
  byId("tools").addEventListener("input", choose);
  byId("reverse").addEventListener("click", (event) => {
    pressed(event.currentTarget, !isPressed(event.currentTarget));
    choose();
  });
  byId("show-all").addEventListener("click", () => {
    forgetChoices();
    choose();
  });
  byId("span-chip").addEventListener("click", () => askSpan(null));
  on("marks", () => {
    const { chips: asked, mark } = askedNow();
    if (asked.includes("unmarked") || mark || byId("q").value) choose();
  });
}
