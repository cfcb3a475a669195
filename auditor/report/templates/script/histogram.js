/* The histogram: a row a colour over one axis of stops, with the range bar on the same axis. */
import { DEPTH } from "./data.js";
import { draw, drawText, make, picture } from "./dom.js";
import { readBin, shareText } from "./tones.js";
import { cap, grey } from "./wedge.js";

const WIDE = 400;
const LEFT = 44;
const RIGHT = 368;
const ROW = 74;
const ABOVE = 1; /* stops shown above saturation, where nothing is */
const FOOT = 64;
const xOf = (stops) => RIGHT - (Math.max(-ABOVE, Math.min(DEPTH, stops)) / DEPTH) * (RIGHT - LEFT);
const stopsAt = (x) => ((RIGHT - x) / (RIGHT - LEFT)) * DEPTH;

/* Heights are square roots, so that little is seen too. */
function silhouette({ first, shares }, step, most, base, high) {
  let path = "";
  shares.forEach((share, bin) => {
    const height = Math.sqrt(share / most) * high;
    if (!path) path = `M${xOf(first).toFixed(1)} ${base}`;
    path += `V${(base - height).toFixed(1)}H${xOf(first + (bin + 1) * step).toFixed(1)}`;
  });
  return path && `${path}V${base}`;
}

function rowOf(row, index, most) {
  const base = 8 + (index + 1) * ROW;
  const high = ROW - 12;
  const made = [];
  const path = silhouette(row, row.step, most, base, high);
  if (path) made.push(draw("path", { d: `${path}Z`, class: `ridge c-${row.name[0]}` }));
  for (const second of row.second) {
    const line = silhouette(second, row.step, most, base, high);
    made.push(draw("path", { d: line, class: `ridge-line c-${row.name[0]}` }));
  }
  const { floor, bright, median, blown, blocked } = row.bar;
  if (floor !== null)
    made.push(draw("path", { d: `M${xOf(floor)} ${base}v${-high}`, class: "floor" }));
  if (median !== null)
    made.push(draw("path", { d: `M${xOf(median)} ${base + 1}v4`, class: "notch" }));
  made.push(draw("path", { d: `M${LEFT} ${base}H${RIGHT}`, class: "track" }));
  const over = cap(blown, 26);
  const under = cap(blocked, 22);
  const box = { height: 13, class: "cap" };
  if (over) {
    made.push(
      draw("rect", { ...box, x: RIGHT + 3, y: base - 13, width: over, fill: "url(#hatch)" }),
    );
  }
  if (under) {
    const x = LEFT - 2 - under;
    made.push(draw("rect", { ...box, x, y: base - 13, width: under, fill: "url(#stipple)" }));
  }
  if (bright !== null && bright > 0.3) {
    const d = `M${xOf(bright)} ${base - 6}H${RIGHT - 2}m-5 -3.5l5 3.5l-5 3.5`;
    made.push(draw("path", { d, class: "headroom" }));
  }
  const label = row.second.length ? [row.name, ...row.second.map(({ name }) => name)] : [row.name];
  made.push(drawText(label.join(" "), { x: 2, y: base - 18, class: "letter" }));
  return made;
}

/* The wedge with the part that the frame's tones take, on the very axis of the rows. */
function foot(bar, top) {
  const steps = Math.round(DEPTH);
  const made = [];
  for (let step = 0; step < steps; step += 1) {
    const x = xOf(step + 1);
    const inside = bar.bright !== null && step + 1 > bar.bright && step < bar.begin;
    made.push(
      draw("rect", {
        x,
        y: inside ? top : top + 5,
        width: xOf(step) - x,
        height: inside ? 16 : 6,
        fill: grey(step),
      }),
    );
  }
  made.push(
    draw("rect", {
      x: xOf(steps),
      y: top,
      width: xOf(0) - xOf(steps),
      height: 16,
      class: "frame",
    }),
  );
  for (let stop = 0; stop <= steps; stop += 2) {
    const words = stop ? `−${stop}` : "0";
    made.push(drawText(words, { x: xOf(stop), y: top + 33, "text-anchor": "middle" }));
  }
  made.push(drawText("stops below saturation", { x: RIGHT, y: top + 49, "text-anchor": "end" }));
  return made;
}

function previewLimit(clips, rows, tall) {
  const made = [];
  rows.forEach((row, index) => {
    const stops = clips[row.name[0]];
    if (stops === undefined) return;
    const base = 8 + (index + 1) * ROW;
    made.push(draw("path", { d: `M${xOf(stops)} ${base}v${12 - ROW}`, class: "preview-limit" }));
  });
  return made.length && tall ? made : [];
}

/* Returns the figure, and what moves in it when a tone is pointed at. */
export function histogram(detail, bar) {
  const { rows } = detail;
  const most = Math.max(
    1,
    ...rows.flatMap((row) => [...row.shares, ...row.second.flatMap((s) => s.shares)]),
  );
  const top = rows.length * ROW + 20;
  const tall = top + FOOT - 10;
  const made = picture(WIDE, tall, { class: "ridges" });
  rows.forEach((row, index) => {
    made.append(...rowOf(row, index, most));
  });
  made.append(draw("path", { d: `M${RIGHT} 4V${top + 18}`, class: "post" }));
  made.append(...previewLimit(detail.previewClips, rows, tall), ...foot(bar, top));
  const cursor = draw("path", { d: "", class: "cursor" });
  const spots = draw("g", {});
  made.append(cursor, spots);
  const reading = make("p", { class: "reading" }, hint(rows));
  const slider = make(
    "div",
    {
      class: "tones",
      role: "slider",
      tabIndex: 0,
      "aria-label": "Tones: arrow keys read how much lies at a tone",
      "aria-valuemin": 0,
      "aria-valuemax": Math.round(DEPTH),
      "aria-valuenow": 0,
      "aria-valuetext": "0 stops below saturation",
    },
    made,
  );
  const element = make("div", {}, slider, reading);
  return { element, slider, cursor, spots, reading, rows, made, stops: 0 };
}

const hint = (rows) =>
  rows.length ? "Point at a tone to see where it lies; point at the picture to read a place." : "";

/* The row and the tone under the pointer. */
export function toneUnder(figure, event) {
  const box = figure.made.getBoundingClientRect();
  const x = ((event.clientX - box.left) / box.width) * WIDE;
  const y = ((event.clientY - box.top) / box.height) * figure.made.viewBox.baseVal.height;
  const index = Math.max(0, Math.min(figure.rows.length - 1, Math.floor((y - 8) / ROW)));
  return { stops: Math.max(0, Math.min(DEPTH, stopsAt(x))), index };
}

export function showTone(figure, stops) {
  figure.stops = stops;
  const x = xOf(stops);
  const tall = figure.rows.length * ROW + 8;
  figure.cursor.setAttribute("d", `M${x} 4V${tall}`);
  figure.spots.replaceChildren();
  const parts = figure.rows.map((row) => {
    const { here, brighter } = readBin(row, stops);
    return `${row.name} ${shareText(here)}, brighter ${shareText(brighter)}`;
  });
  const words = `−${stops.toFixed(1)} stops: ${parts.join("; ")}`;
  figure.reading.textContent = words;
  figure.slider.setAttribute("aria-valuenow", stops.toFixed(1));
  figure.slider.setAttribute("aria-valuetext", words);
}

/* Where a place of the picture lies on each row. */
export function showPlace(figure, tones) {
  figure.cursor.setAttribute("d", "");
  const parts = [];
  const dots = figure.rows.map((row, index) => {
    const stops = tones[row.name[0]];
    if (stops === undefined || stops === null) return "";
    parts.push(`${row.name} −${Math.max(0, stops).toFixed(1)}`);
    return draw("circle", { cx: xOf(stops), cy: 8 + (index + 1) * ROW, r: 5, class: "spot" });
  });
  figure.spots.replaceChildren(...dots.filter(Boolean));
  figure.reading.textContent = parts.length
    ? `Here, about: ${parts.join(", ")} stops below saturation`
    : hint(figure.rows);
}

export function forgetTone(figure) {
  figure.cursor.setAttribute("d", "");
  figure.spots.replaceChildren();
  figure.reading.textContent = hint(figure.rows);
}
