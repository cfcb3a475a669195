/* The visual language: slices of a step wedge on a stops axis; hatch is blown, stipple blocked. */
import { DEPTH, data } from "./data.js";
import { byId, draw, picture } from "./dom.js";

const STEPS = data.wedge.length;
export const grey = (step) => `rgb(${data.wedge[step]},${data.wedge[step]},${data.wedge[step]})`;

/* A stepped gradient along one axis; from saturation (first) down to the floor (last). */
export function wedgeFill(id, x1, y1, x2, y2) {
  const ends = { id, x1, y1, x2, y2, gradientUnits: "userSpaceOnUse" };
  const fill = draw("linearGradient", ends);
  for (let step = 0; step < STEPS; step += 1) {
    for (const edge of [step / STEPS, (step + 1) / STEPS]) {
      fill.append(draw("stop", { offset: edge, "stop-color": grey(step) }));
    }
  }
  return fill;
}

/* Length of a hatch or stipple cap, by the rule and numbers of the pictures; none is hidden. */
export function cap(share, longest) {
  if (!share) return 0;
  const { shortest, faintest } = data.cap;
  const part = 1 - Math.log10(Math.max(share, faintest)) / Math.log10(faintest);
  return Math.max(shortest, longest * part);
}

const BAR = { left: 26, right: 274, top: 7, high: 14, wide: 300, tall: 28 };
const defs = byId("patterns").querySelector("defs");
defs.append(wedgeFill("wedge-across", BAR.right, 0, BAR.left, 0));

const across = (stops) =>
  BAR.right - (Math.max(0, Math.min(DEPTH, stops)) / DEPTH) * (BAR.right - BAR.left);

/* Range bar: floor post, track with stop ticks, the slice of wedge (open where the dark end was
   not measured), median notch, caps. */
export function rangeBar(bar) {
  const { floor, begin, dark, bright, median, blown, blocked } = bar;
  const { left, right, top, high, wide, tall } = BAR;
  const middle = top + high / 2;
  const made = picture(wide, tall, { class: "range" });
  if (floor === null && bright === null) return made;
  let ticks = `M${across(floor ?? DEPTH)} ${middle}H${right}`;
  for (let stop = 1; stop < DEPTH; stop += 1) ticks += `M${across(stop)} ${middle - 2}v4`;
  let posts = `M${right} ${top - 4}v${high + 8}`;
  if (floor !== null) posts += `M${across(floor)} ${top - 1}v${high + 2}`;
  made.append(
    draw("path", { d: ticks, class: "track" }),
    draw("path", { d: posts, class: "post" }),
  );
  if (bright !== null) {
    const from = across(begin);
    const width = Math.max(across(bright) - from, 2);
    const box = { x: from, y: top, width, height: high, fill: "url(#wedge-across)" };
    made.append(draw("rect", { ...box, class: dark === null ? "slice open" : "slice" }));
    if (dark === null) made.append(openEnd(from, top, high));
  }
  if (median !== null) {
    const notch = { d: `M${across(median)} ${top - 4}v${high + 8}` };
    made.append(draw("path", { ...notch, class: "notch-halo" }));
    made.append(draw("path", { ...notch, class: "notch" }));
  }
  const over = cap(blown, 23);
  const under = cap(blocked, 23);
  const box = { y: top, height: high, class: "cap" };
  if (over)
    made.append(draw("rect", { ...box, x: right + 1.5, width: over, fill: "url(#hatch)" }));
  if (under) {
    const x = left - 1.5 - under;
    made.append(draw("rect", { ...box, x, width: under, fill: "url(#stipple)" }));
  }
  return made;
}

/* A torn edge says that nobody knows how far the tones go. */
function openEnd(x, top, high) {
  let path = `M${x} ${top}`;
  for (let tooth = 0; tooth < 4; tooth += 1) path += `l${tooth % 2 ? 3 : -3} ${high / 4}`;
  return draw("path", { d: `${path}`, class: "torn" });
}
