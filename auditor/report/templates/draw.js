/* The visual language: slices of a step wedge on a stops axis; hatch is blown, stipple blocked. */
const BAR = { left: 26, right: 274, top: 7, high: 14, wide: 300, tall: 28 };
const HEIGHTS = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz-_";
const HEIGHT_OF = new Map([...HEIGHTS].map((character, height) => [character, height]));

/* Grey of one wedge step: even in lightness, from near black at the floor to white. */
function grey(step, steps) {
  const lightness = 10 + 87 * (1 - step / Math.max(1, steps - 1));
  const level = Math.round(255 * Math.pow((lightness + 16) / 116, 3 / 2.2));
  return `rgb(${level},${level},${level})`;
}

/* A stepped gradient along one axis; from saturation (first) down to the floor (last). */
function wedgeFill(id, x1, y1, x2, y2) {
  const steps = Math.max(1, Math.round(DEPTH));
  const fill = draw("linearGradient", { id, x1, y1, x2, y2, gradientUnits: "userSpaceOnUse" });
  for (let step = 0; step < steps; step += 1) {
    for (const edge of [step / steps, (step + 1) / steps]) {
      fill.append(draw("stop", { offset: edge, "stop-color": grey(step, steps) }));
    }
  }
  return fill;
}

byId("patterns").querySelector("defs").append(
  wedgeFill("wedge-across", BAR.right, 0, BAR.left, 0));

/* Length of a hatch or stipple cap: grows with the logarithm of the share, never hides any. */
function cap(share, longest) {
  if (!share) return 0;
  const part = (Math.log10(Math.max(share, 1e-5)) + 5) / 5;
  return Math.max(3, longest * part);
}

const across = (stops) => BAR.right - (Math.max(0, Math.min(DEPTH, stops)) / DEPTH) * (BAR.right - BAR.left);

/* Range bar: floor post, track with stop ticks, the slice of wedge, median notch, caps. */
function rangeBar([floor, dark, bright, median, blown, blocked]) {
  const middle = BAR.top + BAR.high / 2;
  const picture = draw("svg", { viewBox: `0 0 ${BAR.wide} ${BAR.tall}`, class: "range", "aria-hidden": "true", focusable: "false" });
  if (floor === null && bright === null) return picture;
  let ticks = `M${across(floor ?? DEPTH)} ${middle}H${BAR.right}`;
  for (let stop = 1; stop < DEPTH; stop += 1) ticks += `M${across(stop)} ${middle - 2}v4`;
  picture.append(draw("path", { d: ticks, class: "track" }));
  picture.append(draw("path", { d: `M${BAR.right} ${BAR.top - 4}v${BAR.high + 8}`, class: "post" }));
  if (floor !== null) picture.append(draw("path", { d: `M${across(floor)} ${BAR.top - 1}v${BAR.high + 2}`, class: "post thin" }));
  if (bright !== null) {
    const from = across(dark ?? floor ?? DEPTH);
    const to = Math.max(across(bright), from + 2);
    picture.append(draw("rect", { x: from, y: BAR.top, width: to - from, height: BAR.high, fill: "url(#wedge-across)", class: "slice" }));
  }
  if (median !== null) picture.append(draw("path", { d: `M${across(median)} ${BAR.top - 4}v${BAR.high + 8}`, class: "notch-halo" }),
    draw("path", { d: `M${across(median)} ${BAR.top - 4}v${BAR.high + 8}`, class: "notch" }));
  const over = cap(blown, 23);
  if (over) picture.append(draw("rect", { x: BAR.right + 1.5, y: BAR.top, width: over, height: BAR.high, class: "cap", fill: "url(#hatch)" }));
  const under = cap(blocked, 23);
  if (under) picture.append(draw("rect", { x: BAR.left - 1.5 - under, y: BAR.top, width: under, height: BAR.high, class: "cap", fill: "url(#stipple)" }));
  return picture;
}

/* Ridges: one row a channel, the histogram over the stops axis, the wedge at its foot. */
function ridges(channels, { row = 40, labels = true } = {}) {
  const wide = 480, left = 58, right = 452, foot = labels ? 34 : 12;
  const depth = DEPTH + 1;
  const x = (stops) => right - (Math.max(-1, Math.min(depth, stops)) / depth) * (right - left);
  const tall = channels.length * row + foot + 6;
  const picture = draw("svg", { viewBox: `0 0 ${wide} ${tall}`, class: "ridges", "aria-hidden": "true", focusable: "false" });
  channels.forEach((channel, index) => {
    const base = 4 + (index + 1) * row;
    picture.append(ridge(channel, base, row - 6, x));
    const [floor, , , median, blown, blocked] = channel.bar;
    if (floor !== null) picture.append(draw("path", { d: `M${x(floor)} ${base}v${8 - row}`, class: "floor" }));
    if (median !== null) picture.append(draw("path", { d: `M${x(median)} ${base + 1}v4`, class: "notch" }));
    picture.append(draw("path", { d: `M${left} ${base}H${right}`, class: "track" }));
    const over = cap(blown, 22), under = cap(blocked, 22);
    if (over) picture.append(draw("rect", { x: right + 2, y: base - 12, width: over, height: 12, class: "cap", fill: "url(#hatch)" }));
    if (under) picture.append(draw("rect", { x: left - 2 - under, y: base - 9, width: under, height: 9, class: "cap", fill: "url(#stipple)" }));
    const letter = draw("text", { x: 2, y: base - 14, class: "letter" });
    letter.textContent = channel.name;
    picture.append(letter);
  });
  picture.append(draw("path", { d: `M${right} 2V${tall - foot}`, class: "post" }));
  picture.append(...wedgeFoot(x, tall - foot + 3, labels));
  return picture;
}

function ridge(channel, base, high, x) {
  let path = "", last = null;
  [...channel.heights].forEach((character, bin) => {
    const height = (HEIGHT_OF.get(character) / 63) * high;
    const from = x(channel.first + bin * channel.step), to = x(channel.first + (bin + 1) * channel.step);
    path += last === null ? `M${from.toFixed(1)} ${base}` : "";
    path += `V${(base - height).toFixed(1)}H${to.toFixed(1)}`;
    last = to;
  });
  if (last !== null) path += `V${base}Z`;
  return draw("path", { d: path, class: `ridge c-${channel.name[0]}` });
}

function wedgeFoot(x, top, labels) {
  const made = [], steps = Math.round(DEPTH);
  for (let step = 0; step < steps; step += 1) {
    made.push(draw("rect", { x: x(step + 1), y: top, width: x(step) - x(step + 1), height: 8, fill: grey(step, steps) }));
  }
  made.push(draw("rect", { x: x(steps), y: top, width: x(0) - x(steps), height: 8, class: "frame" }));
  if (labels) {
    for (let stop = 0; stop <= steps; stop += 2) {
      const text = draw("text", { x: x(stop), y: top + 21, class: "axis", "text-anchor": "middle" });
      text.textContent = stop ? `−${stop}` : "0";
      made.push(text);
    }
  }
  return made;
}

/* Which parts of the scene each frame of a bracket could record, on the scene's own light. */
function ladder(steps, wide) {
  const known = steps.filter(([offset]) => offset !== null);
  const deepest = Math.max(DEPTH, ...known.map(([offset, bar]) => offset + (bar[0] ?? DEPTH)));
  const x = (stops) => wide - 44 - (stops / deepest) * (wide - 74);
  return steps.map(([offset, [floor, dark, bright, , blown, blocked]]) => {
    const picture = draw("svg", { viewBox: `0 0 ${wide} 24`, class: "range", "aria-hidden": "true", focusable: "false" });
    if (offset === null) return picture;
    const end = offset + (floor ?? DEPTH);
    const id = `rung-${offset}-${Math.random().toString(36).slice(2)}`;
    picture.append(draw("defs", {}, wedgeFill(id, x(offset), 0, x(end), 0)));
    picture.append(draw("rect", { x: x(end), y: 4, width: x(offset) - x(end), height: 16, class: "window" }));
    if (bright !== null) {
      const from = x(offset + (dark ?? floor ?? DEPTH)), to = Math.max(x(offset + bright), from + 2);
      picture.append(draw("rect", { x: from, y: 4, width: to - from, height: 16, fill: `url(#${id})`, class: "slice" }));
    }
    const over = cap(blown, 40), under = cap(blocked, 26);
    if (over) picture.append(draw("rect", { x: x(offset), y: 6, width: over, height: 12, class: "cap", fill: "url(#hatch)" }));
    if (under) picture.append(draw("rect", { x: x(end) - under, y: 6, width: under, height: 12, class: "cap", fill: "url(#stipple)" }));
    return picture;
  });
}

/* A rule round the filter's own stops: where each channel lies on it. */
function castRule(channels, centre) {
  const reach = Math.max(0.5, Math.ceil(2 * Math.max(...channels.map(([, stops]) => Math.abs(stops - centre))) + 0.2) / 2);
  const x = (stops) => 150 + ((stops - centre) / reach) * 128;
  const tall = 48 + channels.length * 15, foot = tall - 34;
  const picture = draw("svg", { viewBox: `0 0 300 ${tall}`, class: "rule", "aria-hidden": "true", focusable: "false" });
  let ticks = `M${x(centre - reach)} ${foot}H${x(centre + reach)}`;
  for (let tick = -10; tick <= 10; tick += 1) ticks += `M${x(centre + (tick / 10) * reach)} ${foot}v${tick % 5 ? 3 : 7}`;
  picture.append(draw("path", { d: ticks, class: "track" }));
  picture.append(draw("path", { d: `M150 6V${foot}`, class: "floor" }));
  channels.forEach(([name, stops], index) => {
    const y = 14 + index * 15;
    picture.append(draw("path", { d: `M150 ${y}H${x(stops)}`, class: `lean c-${name[0]}` }));
    picture.append(draw("circle", { cx: x(stops), cy: y, r: 4, class: `bead c-${name[0]}` }));
    const side = centre - stops > 0.005 ? -1 : 1;
    const letter = draw("text", { x: x(stops) + side * 8, y: y + 4, class: "letter", "text-anchor": side < 0 ? "end" : "start" });
    letter.textContent = name;
    picture.append(letter);
  });
  const say = (at, height, words, anchor = "middle") => {
    const text = draw("text", { x: at, y: height, class: "axis", "text-anchor": anchor });
    text.textContent = words;
    picture.append(text);
  };
  for (const part of [-1, -0.5, 0.5, 1]) say(x(centre + part * reach), tall - 17, `${part < 0 ? "−" : "+"}${Math.abs(part * reach)}`);
  say(150, tall - 17, `${centre.toFixed(1)} stops`);
  say(x(centre - reach), tall - 3, "held back less", "start");
  say(x(centre + reach), tall - 3, "held back more", "end");
  return picture;
}

/* A grad's density down the height of the picture. */
function profile({ edge, stops }) {
  const most = Math.max(1, Math.ceil(Math.max(...stops, 0)));
  const x = (value) => 40 + (Math.max(0, value) / most) * 240;
  const y = (place) => 8 + place * 132;
  const picture = draw("svg", { viewBox: "0 0 300 168", class: "rule", "aria-hidden": "true", focusable: "false" });
  const points = stops.map((value, index) => `${x(value).toFixed(1)} ${y(index / Math.max(1, stops.length - 1)).toFixed(1)}`);
  picture.append(draw("path", { d: `M40 8L${points.join("L")}L40 140Z`, class: "density" }));
  picture.append(draw("path", { d: `M34 ${y(edge)}H284`, class: "floor" }), draw("path", { d: "M40 8V140H284", class: "track" }));
  const say = (at, height, words, anchor) => {
    const text = draw("text", { x: at, y: height, class: "axis", "text-anchor": anchor });
    text.textContent = words;
    picture.append(text);
  };
  say(34, 16, "top", "end");
  say(34, y(edge) + 4, "edge", "end");
  for (let stop = 0; stop <= most; stop += 1) say(x(stop), 156, `${stop}`, "middle");
  say(284, 167, "stops held back", "end");
  return picture;
}
