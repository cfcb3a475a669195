/* What stands beside the picture of a close-up: why, tones, relatives, findings, figures, note. */
import { goKey } from "./actions.js";
import { data, frames } from "./data.js";
import { button, keyed, make } from "./dom.js";
import { setupHash } from "./hash.js";
import { book, LONGEST, setNote } from "./marks.js";
import { factsList, folded, noted } from "./shot.js";

export function suggestionPart(number, accept) {
  const { suggested, why } = frames[number];
  if (!suggested) return null;
  return make(
    "div",
    { class: "suggestion" },
    make("p", {}, make("b", {}, `Suggested: ${suggested}. `), why),
    button(keyed("Accept", "a"), accept, { disabled: book.of(number).mark === suggested }),
  );
}

/* The way to whatever belongs to this frame, each with its key. */
export function relativesPart(number) {
  const { siblings, bracket, setup } = frames[number];
  const to = (key) => () => goKey(number, key, { replace: true });
  const links = [
    siblings.length ? button(keyed(`Sibling ${frames[siblings[0]].name}`, "s"), to("s")) : null,
    bracket.length > 1
      ? button(keyed(`Next of its bracket of ${bracket.length}`, "k"), to("k"))
      : null,
    setup
      ? make("a", { class: "button", href: setupHash(setup) }, ...keyed(`Set-up ${setup}`, "v"))
      : null,
    frames.length > 1 ? button(keyed("Side by side", "w"), to("w")) : null,
  ];
  return make("div", { class: "relatives" }, links);
}

export function findingsPart(detail) {
  if (!detail.findings.length) return null;
  const items = detail.findings.map(({ code, severity, severityText, text }) => {
    const { title, nextTime, caution } = data.kinds[code];
    const weight = make("span", { class: "weight", "aria-hidden": "true", data: { severity } });
    return make(
      "li",
      {},
      make("h4", {}, weight, title, " ", make("small", {}, severityText)),
      make("p", {}, text),
      nextTime ? make("p", { class: "soft" }, `Next time: ${nextTime}`) : null,
      caution ? make("p", { class: "caution" }, caution) : null,
    );
  });
  return make("div", {}, make("h3", {}, "Findings"), make("ul", { class: "found" }, ...items));
}

/* A source that all channels share is told once; else each with the channels that it holds for. */
function sharedRemark(channels, index) {
  const holds = new Map();
  for (const { name, facts } of channels) {
    const remark = facts[index]?.remark ?? "";
    holds.set(remark, [...(holds.get(remark) ?? []), name]);
  }
  if (holds.size === 1) return [...holds.keys()][0];
  return [...holds].map(([remark, names]) => `${names.join(", ")} ${remark || "–"}`).join("; ");
}

function channelsPart(channels) {
  if (!channels.length) return null;
  const head = channels.map(({ name, fullName }) =>
    make("th", { scope: "col", title: fullName }, name),
  );
  const rows = channels[0].facts.map(({ label }, index) => {
    const remark = sharedRemark(channels, index);
    const cells = channels.map(({ facts }) => make("td", { class: "figure" }, facts[index].text));
    const name = make(
      "th",
      { scope: "row" },
      label,
      remark ? make("small", {}, ` ${remark}`) : null,
    );
    return make("tr", {}, name, ...cells);
  });
  const table = make(
    "table",
    {},
    make("thead", {}, make("tr", {}, make("td"), ...head)),
    make("tbody", {}, ...rows),
  );
  const about = { class: "scroll", tabIndex: 0, role: "region", "aria-label": "The channels" };
  return make("div", {}, make("h3", {}, "The channels"), make("div", about, table));
}

function planeNotes(channels) {
  const planes = new Map();
  for (const { name, notes } of channels) {
    for (const note of notes) planes.set(note, [...(planes.get(note) ?? []), name]);
  }
  return [...planes].map(([note, names]) => `${names.join(", ")}: ${note}`);
}

export function figuresPart(detail) {
  const notes = [...detail.notes, ...planeNotes(detail.channels)];
  return make(
    "div",
    { class: "figures" },
    folded("All figures of this frame", factsList(detail.facts), channelsPart(detail.channels)),
    noted(notes),
  );
}

export function notePart(number) {
  const note = make("textarea", { id: "note", rows: 2, value: book.of(number).note });
  note.maxLength = LONGEST;
  note.addEventListener("change", () => setNote(number, note.value));
  return make("label", { class: "note" }, ...keyed("Note", "n"), note);
}
