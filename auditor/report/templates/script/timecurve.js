/* Light and sun over the time line, each on its own scale. */
import { draw, drawText } from "./dom.js";

export const LEFT = 46;
const MOST_MOMENTS = 120;
const WORDS_PX = 112; /* what the slope's key says, left of it */

/* A curve on its own scale; not drawn across folds, where its slope would mean nothing. */
export function curve(points, { axis, end }, { from, high, of, unit, words }) {
  const values = points.map((point) => point[of]);
  const low = Math.floor(Math.min(...values));
  const peak = Math.max(low + 1, Math.ceil(Math.max(...values)));
  const y = (value) => from + 8 + high - ((value - low) / (peak - low)) * high;
  const made = [];
  for (const value of [low, peak]) {
    const label = `${unit}${value}${unit ? "" : "°"}`.replace("-", "−");
    made.push(drawText(label, { x: 40, y: y(value) + 4, "text-anchor": "end" }));
    made.push(draw("path", { d: `M${LEFT} ${y(value)}H${end}`, class: "grid" }));
  }
  let line = "";
  for (const part of axis.parts) {
    const inside = points.filter(({ x }) => x >= part.from - 0.5 && x <= part.to + 0.5);
    inside.forEach((point, index) => {
      line += `${index ? "L" : "M"}${point.x.toFixed(1)} ${y(point[of]).toFixed(1)}`;
    });
    if (inside.length === 1) line += "h.01"; // a dot
  }
  made.push(draw("path", { d: line, class: of === "ev" ? "light" : "sun" }));
  if (of === "ev" && points.length < MOST_MOMENTS) made.push(...moments(points, y));
  if (of === "ev") {
    const drawn = points.map((point) => [point.x, y(point[of])]);
    made.push(
      ...slopeKey(axis.scale, { left: LEFT, end, top: from + 8, high }, peak - low, drawn),
    );
  }
  if (of === "sun" && low < 0 && peak > 0) {
    made.push(draw("path", { d: `M${LEFT} ${y(0)}H${end}`, class: "horizon" }));
    if (words) made.push(drawText("horizon", { x: end + 8, y: y(0) + 4 }));
  }
  if (of === "sun" && words) made.push(drawText("sun", { x: end + 8, y: from + 12 }));
  return made;
}

/* Frames behind a filter are open circles. */
function moments(points, y) {
  const d = { moment: "", "moment filtered": "" };
  for (const { x, ev, filtered } of points) {
    d[filtered ? "moment filtered" : "moment"] +=
      `M${x - 2.6} ${y(ev)}a2.6 2.6 0 1 0 5.2 0a2.6 2.6 0 1 0 -5.2 0`;
  }
  return Object.entries(d).map(([kind, path]) => draw("path", { d: path, class: kind }));
}

/* What a slope means here: one stop in so many minutes, in the corner where the curve is least. */
function slopeKey(scale, { left, end, top: above, high }, stops, drawn) {
  const minutes = [1, 2, 5, 10, 20, 60, 120].find((each) => each * 60 * scale > 22);
  if (!minutes) return [];
  const wide = minutes * 60 * scale;
  if (wide > 160) return [];
  const stopPx = high / stops;
  const covered = ([x, top]) =>
    drawn.filter(
      ([over, y]) =>
        over > x - WORDS_PX && over < x + wide + 6 && y > top - 8 && y < top + stopPx + 8,
    ).length;
  const corners = [end - wide - 6, left + WORDS_PX].flatMap((x) => [
    [x, above],
    [x, above + high - stopPx],
  ]);
  const [x, top] = corners.reduce((best, each) => (covered(each) < covered(best) ? each : best));
  const d = `M${x} ${top}l${wide} ${stopPx}h${-wide}z`;
  const words = `1 stop in ${minutes} min`;
  return [
    draw("path", { d, class: "slope-key" }),
    drawText(words, { x: x - 5, y: top + stopPx, "text-anchor": "end", class: "axis haloed" }),
  ];
}
