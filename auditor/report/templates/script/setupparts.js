/* The parts of one set-up: suggestion, pair, bracket, graduated filter. */
import { detailOf, frames } from "./data.js";
import { make } from "./dom.js";
import {
  castRule,
  densityOver,
  densityScale,
  ladderAxis,
  linesOver,
  movedOver,
  profileOf,
  rung,
} from "./drawings.js";
import { sideHash } from "./hash.js";
import { photoOf } from "./photo.js";
import { factsList, folded, foldedLate, frameLink, noted, shot } from "./shot.js";

const FIRST_FACTS = 4;
const hasBoth = (one, other) =>
  one !== null && other !== null && one !== undefined && other !== undefined;

function besideLink(one, other) {
  if (!hasBoth(one, other)) return null;
  const hash = sideHash(frames[one].id, frames[other].id);
  return make("a", { class: "button", href: hash }, "Side by side");
}

/* The filter's stops over the picture that was taken behind it. */
function densityPart({ long, stops, density }) {
  if (!density || long === null || long === undefined) return null;
  const shown = make("div", { class: "picture" }, photoOf(long, { lost: false }));
  const crosses = density.rows.flat().includes(null) ? " A cross: not measured there." : "";
  return make(
    "figure",
    { class: "density-map" },
    withLines(shown, densityOver(density.rows, stops)),
    make(
      "figcaption",
      {},
      make("h4", {}, "The filter over the picture"),
      make("p", {}, density.text),
      make("div", { class: "scale", "aria-hidden": "true" }, densityScale(density.rows, stops)),
      make("p", { class: "soft" }, `Water and clouds that moved stand out as well.${crosses}`),
    ),
  );
}

function pairPart(pair) {
  const { short, long, title, sentence, channels, stops, facts, reasons } = pair;
  const spoken = channels.map(({ name, text }) => `${name} ${text}`).join(", ");
  return make(
    "section",
    { class: "part pair" },
    make("div", { class: "sides" }, shot(short, "short"), shot(long, "long")),
    make(
      "div",
      { class: "told" },
      make("h3", {}, `Pair: ${title}`),
      make("p", { class: "telling" }, sentence),
      make("div", { class: "cast" }, castRule(channels, stops)),
      make("p", { class: "sr" }, `By channel: ${spoken}.`),
      besideLink(short, long),
    ),
    make(
      "div",
      { class: "across" },
      densityPart(pair),
      factsList(facts.slice(0, FIRST_FACTS)),
      folded("More of this pair", factsList(facts.slice(FIRST_FACTS)), noted(reasons)),
    ),
  );
}

function otherPairs(pairs) {
  if (!pairs.length) return null;
  const items = pairs.map(({ short, long, sentence }) =>
    make("li", {}, frameLink(short), " and ", frameLink(long), `: ${sentence}`),
  );
  const words = pairs.length === 1 ? "1 other pairing" : `${pairs.length} other pairings`;
  return folded(`${words} of the same long frames`, make("ul", {}, ...items));
}

function bracketPart({ title, sentence, steps, facts, notes }) {
  const axis = ladderAxis(steps);
  const rungs = steps.map((step) => {
    const place = make(
      "div",
      { class: "rung-bar", "aria-hidden": "true" },
      rung(step, axis, null),
    );
    if (step.frame !== null) {
      detailOf(step.frame).then((detail) => {
        const green = detail.rows.find(({ name }) => name[0] === "G") ?? detail.rows[0];
        place.replaceChildren(rung(step, axis, green));
      });
    }
    const job = step.job || (step.needed ? "needed" : "not needed");
    return make(
      "li",
      { class: step.needed ? "rung needed" : "rung" },
      make("span", {}, frameLink(step.frame)),
      place,
      make("span", {}, `holds ${step.covered} `, make("span", { class: "job" }, job)),
    );
  });
  return make(
    "section",
    { class: "part bracket" },
    make("h3", {}, title),
    make("p", { class: "telling" }, sentence),
    make(
      "p",
      { class: "ladder-axis soft", "aria-hidden": "true" },
      make("span", {}, "darker parts of the scene"),
      make("span", {}, "brighter parts"),
    ),
    make("ol", { class: "ladder" }, ...rungs),
    factsList(facts),
    noted(notes),
  );
}

/* Where the filter's edge lies, and where the bright part of the scene ends. */
function withLines(figure, lines) {
  figure?.querySelector(".sheet")?.append(lines);
  return figure;
}

function gradPart(grad) {
  const lines = [{ ends: [grad.edge, grad.edge], kind: "edge-line" }];
  const horizon = grad.horizon === null ? [] : [{ ends: grad.horizon, kind: "water-line" }];
  const without = withLines(shot(grad.without, "without"), linesOver(horizon));
  const behind = withLines(shot(grad.with, "with the filter"), linesOver([...lines, ...horizon]));
  const lineWords =
    grad.horizon === null
      ? "Dashed in the picture: the filter's edge."
      : "In the pictures: dashed the filter's edge, dotted where the sky ends.";
  return make(
    "section",
    { class: "part pair" },
    make("div", { class: "sides" }, without, behind),
    make(
      "div",
      { class: "told" },
      make("h3", {}, "Graduated filter"),
      make("p", { class: "telling" }, grad.sentence),
      make("div", { class: "profile", "aria-hidden": "true" }, profileOf(grad)),
      make("p", { class: "soft" }, lineWords),
      besideLink(grad.without, grad.with),
    ),
    make("div", { class: "across" }, factsList(grad.facts), noted(grad.notes)),
  );
}

function keeperPart({ frame, kind, why, others, against, print }) {
  const told = new Set(against.map((other) => other.frame));
  const rest = others.filter((number) => !told.has(number)).slice(0, 6);
  const behind = against.map(({ frame: number, text }) =>
    make("li", {}, frameLink(number), ` ${text}`),
  );
  return make(
    "section",
    { class: "part keeper" },
    shot(frame, `Suggested: keep`),
    make(
      "div",
      { class: "told" },
      make("h3", {}, kind),
      ...why.map((reason) => make("p", {}, reason)),
      behind.length
        ? folded(`Why ahead of ${others.length} more`, make("ul", {}, ...behind))
        : null,
      rest.length
        ? make(
            "p",
            { class: "soft" },
            "Then ",
            rest.flatMap((number, index) => [index ? ", " : "", frameLink(number)]),
          )
        : null,
      print
        ? folded(
            "On paper",
            make("p", {}, print.sentence),
            factsList(print.sizes),
            noted(print.notes),
          )
        : null,
    ),
  );
}

/* Where the picture moved in one frame against the others of its set-up. */
function movedPart({ frame, text, places, shift }) {
  const said = places.length
    ? "outlined: what blurred by itself"
    : "arrow: where the picture went";
  return make(
    "section",
    { class: "part keeper moved-part" },
    withLines(shot(frame, said), movedOver(places, shift)),
    make("div", { class: "told" }, make("h3", {}, "What moved"), make("p", {}, text)),
  );
}

function nextTimePart({ text, why }) {
  return make(
    "section",
    { class: "part next-time" },
    make("h3", {}, "Next time, in the same light"),
    make("p", { class: "telling" }, text),
    ...why.map((reason) => make("p", { class: "soft" }, reason)),
  );
}

/* How the sky stands over the foreground, and the line where it ends in one picture. */
export function skyPart({ skies, horizon, grads }) {
  if (!skies.length) return null;
  const lines = make("ul", { class: "skies" }, ...skies.map((line) => make("li", {}, line)));
  if (horizon === null || grads.length) return lines;
  const line = linesOver([{ ends: horizon.ends, kind: "water-line" }]);
  const drawn = withLines(shot(horizon.frame, "dotted: where the sky ends"), line);
  return make("section", { class: "part keeper" }, drawn, make("div", { class: "told" }, lines));
}

/* The first parts of a kind; where there are very many the rest is folded, and again in it; not
   so on paper. */
const MOST_PARTS = 6;
function someOf(parts, build, words, onPaper) {
  const shown = onPaper ? parts : parts.slice(0, MOST_PARTS);
  const rest = parts.slice(shown.length);
  const more = () =>
    foldedLate(`${rest.length} more ${words}`, () => someOf(rest, build, words, onPaper));
  return [...shown.map(build), ...(rest.length ? [more()] : [])];
}

/* All parts of a set-up that set something side by side, on the page as on paper. */
export function setupParts(detail, onPaper = false) {
  const { keepers, pairs, brackets, grads, moved, nextTime } = detail;
  const chosen = keepers.filter(({ others }) => others.length);
  const suggested = someOf(chosen, keeperPart, "suggestions", onPaper);
  const best = pairs.filter((pair) => pair.best);
  return [
    nextTime ? nextTimePart(nextTime) : null,
    chosen.length ? make("div", { class: "keepers" }, ...suggested) : null,
    ...someOf(best, pairPart, "pairs", onPaper),
    otherPairs(pairs.filter((pair) => !pair.best)),
    ...someOf(brackets, bracketPart, "brackets", onPaper),
    ...someOf(grads, gradPart, "graduated filters", onPaper),
    ...someOf(moved, movedPart, "frames that moved", onPaper),
  ].filter(Boolean);
}
