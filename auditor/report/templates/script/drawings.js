/* Drawings of the set-ups: a filter's cast, a graduated filter's profile, a bracket's ladder. */
import { DEPTH } from "./data.js";
import { draw, drawText, picture } from "./dom.js";
import { cap, wedgeFill } from "./wedge.js";

/* A rule round the filter's own stops: where each channel lies on it. */
export function castRule(channels, centre) {
  const most = Math.max(...channels.map(({ stops }) => Math.abs(stops - centre)));
  const reach = Math.max(0.5, Math.ceil(2 * most + 0.2) / 2);
  const x = (stops) => 150 + ((stops - centre) / reach) * 128;
  const tall = 48 + channels.length * 15;
  const foot = tall - 34;
  const made = picture(300, tall, { class: "rule" });
  let ticks = `M${x(centre - reach)} ${foot}H${x(centre + reach)}`;
  for (let tick = -10; tick <= 10; tick += 1) {
    ticks += `M${x(centre + (tick / 10) * reach)} ${foot}v${tick % 5 ? 3 : 7}`;
  }
  made.append(draw("path", { d: ticks, class: "track" }));
  made.append(draw("path", { d: `M150 6V${foot}`, class: "floor" }));
  channels.forEach(({ name, stops }, index) => {
    const y = 14 + index * 15;
    const side = centre - stops > 0.005 ? -1 : 1;
    const anchor = side < 0 ? "end" : "start";
    made.append(
      draw("path", { d: `M150 ${y}H${x(stops)}`, class: `lean c-${name[0]}` }),
      draw("circle", { cx: x(stops), cy: y, r: 4, class: `bead c-${name[0]}` }),
      drawText(name, { x: x(stops) + side * 8, y: y + 4, class: "letter", "text-anchor": anchor }),
    );
  });
  for (const part of [-1, -0.5, 0.5, 1]) {
    const words = `${part < 0 ? "−" : "+"}${Math.abs(part * reach)}`;
    made.append(
      drawText(words, { x: x(centre + part * reach), y: tall - 17, "text-anchor": "middle" }),
    );
  }
  made.append(
    drawText(`${centre.toFixed(1)} stops`, { x: 150, y: tall - 17, "text-anchor": "middle" }),
    drawText("lets more through", { x: 22, y: tall - 3 }),
    drawText("lets less through", { x: 278, y: tall - 3, "text-anchor": "end" }),
  );
  return made;
}

/* How far a filter's stops reach over the picture, to either side of its own. */
export function densityReach(rows, centre) {
  const off = rows.flat().filter((stops) => stops !== null);
  return Math.max(0.5, Math.ceil(2 * Math.max(...off.map((s) => Math.abs(s - centre)))) / 2);
}

/* Light where a filter lets more through, dark where less; an even one leaves the picture as it
   is. A small cross: not measured there. */
function densityCell(off) {
  const opacity = Math.min(1, Math.abs(off)) * 0.85;
  return { class: off < 0 ? "thinner" : "denser", "fill-opacity": opacity.toFixed(2) };
}

export function densityOver(rows, centre) {
  const reach = densityReach(rows, centre);
  const wide = rows[0].length * 20;
  const tall = rows.length * 20;
  const made = picture(wide, tall, { class: "lines-over", preserveAspectRatio: "none" });
  for (const [place, stops] of rows.flat().entries()) {
    const [left, top] = [(place % rows[0].length) * 20, Math.floor(place / rows[0].length) * 20];
    if (stops === null) {
      const cross = `M${left + 7} ${top + 7}l6 6m0-6l-6 6`;
      made.append(draw("path", { d: cross, class: "unknown halo" }));
      made.append(draw("path", { d: cross, class: "unknown" }));
    } else {
      const box = { x: left, y: top, width: 20, height: 20 };
      made.append(draw("rect", { ...box, ...densityCell((stops - centre) / reach) }));
    }
  }
  return made;
}

export function densityScale(rows, centre) {
  const reach = densityReach(rows, centre);
  const made = picture(300, 50, { class: "rule" });
  for (let step = -4; step <= 4; step += 1) {
    const box = { x: 24 + (step + 4) * 28, y: 2, width: 28, height: 12 };
    made.append(
      draw("rect", { ...box, class: "plain" }),
      draw("rect", { ...box, ...densityCell(step / 4) }),
    );
  }
  for (const part of [-1, 0, 1]) {
    const words = (centre + part * reach).toFixed(1);
    const x = 150 + part * 112;
    made.append(drawText(part ? words : `${words} stops`, { x, y: 29, "text-anchor": "middle" }));
  }
  made.append(
    drawText("lets more through", { x: 22, y: 45 }),
    drawText("lets less through", { x: 278, y: 45, "text-anchor": "end" }),
  );
  return made;
}

/* Where a picture moved: an outline round each cell that blurred by itself, and an arrow the way
   that the camera's shift took the picture; its length says nothing. */
export function movedOver(places, shift) {
  const [wide, tall] = places.length ? [places[0].length * 20, places.length * 20] : [480, 320];
  const made = picture(wide, tall, { class: "lines-over", preserveAspectRatio: "none" });
  const lines = [];
  for (const [place, moved] of places.flat().entries()) {
    const [left, top] = [(place % (wide / 20)) * 20, Math.floor(place / (wide / 20)) * 20];
    if (moved) lines.push(`M${left + 2} ${top + 2}h16v16h-16z`);
  }
  if (shift) {
    const far = Math.hypot(...shift);
    const [x, y] = shift.map((part) => (part / far) * Math.min(wide, tall) * 0.25);
    const [tipX, tipY] = [wide / 2 + x, tall / 2 + y];
    const head = (turn) => `M${tipX} ${tipY}l${(turn * y - x) * 0.35} ${(-turn * x - y) * 0.35}`;
    lines.push(`M${wide / 2 - x} ${tall / 2 - y}L${tipX} ${tipY}${head(0.6)}${head(-0.6)}`);
  }
  for (const kind of ["moved halo", "moved"]) {
    made.append(draw("path", { d: lines.join(""), class: kind }));
  }
  return made;
}

/* A graduated filter's density down the height of the picture. */
export function profileOf({ edge, profile }) {
  const most = Math.max(1, Math.ceil(Math.max(...profile, 0)));
  const x = (value) => 40 + (Math.max(0, value) / most) * 240;
  const y = (place) => 8 + place * 132;
  const made = picture(300, 168, { class: "rule" });
  const points = profile.map((value, index) => {
    const place = index / Math.max(1, profile.length - 1);
    return `${x(value).toFixed(1)} ${y(place).toFixed(1)}`;
  });
  made.append(
    draw("path", { d: `M40 8L${points.join("L")}L40 140Z`, class: "density" }),
    draw("path", { d: `M34 ${y(edge)}H284`, class: "floor" }),
    draw("path", { d: "M40 8V140H284", class: "track" }),
    drawText("top", { x: 34, y: 16, "text-anchor": "end" }),
    drawText("edge", { x: 34, y: y(edge) + 4, "text-anchor": "end" }),
    drawText("stops", { x: 284, y: 167, "text-anchor": "end" }),
  );
  for (let stop = 0; stop <= most; stop += 1) {
    made.append(drawText(`${stop}`, { x: x(stop), y: 156, "text-anchor": "middle" }));
  }
  return made;
}

/* Lines laid over a picture, each from its left to its right end: fractions from the top. */
export function linesOver(lines) {
  const made = draw("svg", {
    viewBox: "0 0 300 200",
    preserveAspectRatio: "none",
    class: "lines-over",
    "aria-hidden": "true",
    focusable: "false",
  });
  for (const { ends, kind } of lines) {
    const d = `M0 ${ends[0] * 200}L300 ${ends[1] * 200}`;
    made.append(draw("path", { d, class: `${kind} halo` }), draw("path", { d, class: kind }));
  }
  return made;
}

const RUNG = { wide: 600, tall: 58, right: 556, left: 26, base: 34 };

/* One axis for a whole bracket: stops of the scene's own light, brightest right. */
export function ladderAxis(steps) {
  const known = steps.filter(({ offset }) => offset !== null);
  const ends = known.map(({ offset, bar }) => offset + (bar.floor ?? DEPTH));
  const deepest = Math.max(DEPTH, ...ends);
  return (stops) => RUNG.right - (stops / deepest) * (RUNG.right - RUNG.left);
}

let fills = 0;

/* What one frame of a bracket could record, with its histogram behind. */
export function rung({ offset, bar }, x, row) {
  const made = picture(RUNG.wide, RUNG.tall, { class: "range" });
  if (offset === null) return made;
  const end = x(offset + (bar.floor ?? DEPTH));
  fills += 1;
  const id = `rung-${fills}`;
  made.append(draw("defs", {}, wedgeFill(id, x(offset), 0, end, 0)));
  if (row) made.append(draw("path", { d: behind(row, offset, x), class: "behind" }));
  const { base } = RUNG;
  made.append(
    draw("rect", { x: end, y: base, width: x(offset) - end, height: 16, class: "window" }),
  );
  if (bar.bright !== null) {
    const from = x(offset + bar.begin);
    const width = Math.max(x(offset + bar.bright) - from, 2);
    made.append(
      draw("rect", { x: from, y: base, width, height: 16, fill: `url(#${id})`, class: "slice" }),
    );
  }
  const over = cap(bar.blown, 40);
  const under = cap(bar.blocked, 26);
  const box = { y: base + 2, height: 12, class: "cap" };
  if (over) made.append(draw("rect", { ...box, x: x(offset), width: over, fill: "url(#hatch)" }));
  if (under)
    made.append(draw("rect", { ...box, x: end - under, width: under, fill: "url(#stipple)" }));
  return made;
}

function behind({ first, step, shares }, offset, x) {
  const most = Math.max(1, ...shares);
  let path = `M${x(offset + first).toFixed(1)} ${RUNG.base}`;
  shares.forEach((share, bin) => {
    const y = RUNG.base - Math.sqrt(share / most) * (RUNG.base - 3);
    path += `V${y.toFixed(1)}H${x(offset + first + (bin + 1) * step).toFixed(1)}`;
  });
  return `${path}V${RUNG.base}Z`;
}
