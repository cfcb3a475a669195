/* One frame as a tile: picture, one line, what its tones take, marks. */
import { frames } from "./data.js";
import { make } from "./dom.js";
import { frameHash } from "./hash.js";
import { markButtons, showMark, toggleMark } from "./marks.js";
import { photoOf } from "./photo.js";
import { rangeBar } from "./wedge.js";

export function glyph(frame) {
  const made = make("span", { class: "glyph", "aria-hidden": "true", title: frame.verdictText });
  made.dataset.verdict = frame.verdict;
  return made;
}

export const nameOf = (frame) =>
  [frame.name, frame.taken, frame.verdictLine, frame.suggested && `suggested: ${frame.suggested}`]
    .filter(Boolean)
    .join(", ");

export function tileOf(number, size) {
  const frame = frames[number];
  const tile = make("div", { class: "tile", role: "listitem" });
  tile.dataset.frame = frame.id;
  tile.dataset.number = number;
  tile.dataset.outcome = frame.outcome;
  const link = make("a", { class: "picture", href: frameHash(frame.id), tabIndex: -1 });
  link.setAttribute("aria-label", nameOf(frame));
  link.append(photoOf(number));
  if (frame.suggested)
    link.append(make("span", { class: `flag ${frame.suggested}`, title: frame.why }));
  tile.append(link, lineOf(frame, size));
  if (size !== "small")
    tile.append(make("div", { class: "bar", "aria-hidden": "true" }, rangeBar(frame.bar)));
  if (size === "large") tile.append(make("p", { class: "why" }, whyOf(frame)));
  const marking = make("div", {
    class: "marking",
    role: "group",
    "aria-label": `Mark ${frame.name}`,
  });
  marking.append(...markButtons(number, (mark) => toggleMark(number, mark), { tabIndex: -1 }));
  tile.append(marking);
  showMark(tile, number);
  return tile;
}

function lineOf(frame, size) {
  const exposure = size === "small" ? frame.exposure.split(" · ")[0] : frame.exposure;
  return make(
    "p",
    {
      class: "line",
      title: [frame.name, frame.taken, frame.exposure, frame.verdictLine].join(" · "),
    },
    glyph(frame),
    make("b", {}, frame.name),
    make("span", {}, frame.status === "measured" ? exposure : frame.verdictText),
  );
}

export function whyOf(frame) {
  if (frame.suggested) return `Suggested: ${frame.suggested}. ${frame.why}`;
  return frame.verdictLine;
}

export function setTabs(tile, index) {
  for (const part of tile.querySelectorAll("a, button")) part.tabIndex = index;
}
