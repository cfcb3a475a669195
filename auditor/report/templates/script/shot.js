/* A picture in a text: its name, its range, what it is there; a click opens it. */
import { frames } from "./data.js";
import { make } from "./dom.js";
import { frameHash } from "./hash.js";
import { book } from "./marks.js";
import { photoOf } from "./photo.js";
import { nameOf } from "./tile.js";
import { rangeBar } from "./wedge.js";

export function frameLink(number) {
  if (number === null || number === undefined) return make("span", {}, "a frame that is not here");
  return make("a", { href: frameHash(frames[number].id) }, frames[number].name);
}

export function shot(number, role = "", { kind = "" } = {}) {
  if (number === null || number === undefined) return null;
  const frame = frames[number];
  const link = make("a", { class: "picture", href: frameHash(frame.id) }, photoOf(number));
  link.setAttribute("aria-label", [role, nameOf(frame)].filter(Boolean).join(": "));
  return make(
    "figure",
    { class: `shot ${kind}` },
    link,
    make("div", { class: "bar", "aria-hidden": "true" }, rangeBar(frame.bar)),
    make(
      "figcaption",
      {},
      role ? make("span", { class: "role" }, role) : null,
      make("b", {}, frame.name),
      make("span", { class: "soft" }, frame.exposure),
      make("span", { class: "soft" }, frame.verdictLine),
    ),
  );
}

/* One of a strip of small pictures; words stand where there is neither picture nor exposure. */
export function stripItem(number) {
  const frame = frames[number];
  const link = make("a", { class: "strip-link", href: frameHash(frame.id) }, photoOf(number));
  link.setAttribute("aria-label", `${frame.name}, ${frame.exposure}`);
  const words = frame.status === "measured" ? frame.exposure.split(" · ")[0] : "";
  const item = make("li", { data: { number, marked: book.of(number).mark ?? "" } }, link);
  item.append(make("span", { "aria-hidden": "true" }, words));
  return { item, link };
}

export function factsList(facts) {
  const rows = facts.map(({ label, text, remark }) =>
    make(
      "div",
      {},
      make("dt", {}, label),
      make("dd", {}, text, remark ? make("small", {}, ` ${remark}`) : null),
    ),
  );
  return make("dl", { class: "facts" }, ...rows);
}

export const noted = (notes) =>
  notes.length
    ? make("ul", { class: "notes" }, ...notes.map((note) => make("li", {}, note)))
    : null;

export const folded = (summary, ...content) =>
  make("details", { class: "more" }, make("summary", {}, summary), ...content);

/* What would be many drawings is made when it is opened. */
export function foldedLate(summary, build) {
  const made = folded(summary);
  made.addEventListener("toggle", () => made.append(...build()), { once: true });
  return made;
}
