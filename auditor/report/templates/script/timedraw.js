/* One day of the time line: set-ups, slices of the wedge, light and sun. */
import { axisOf, ticksOf } from "./clock.js";
import { addressesOf, DEPTH, data, frames, setups } from "./data.js";
import { draw, drawText, picture } from "./dom.js";
import { curve, LEFT } from "./timecurve.js";
import { cap, grey, wedgeFill } from "./wedge.js";

const TALL = {
  full: { blocks: 52, cap: 22, high: 190, under: 18, clock: 22, light: 84, sun: 64 },
  small: { blocks: 0, cap: 14, high: 84, under: 12, clock: 20, light: 0, sun: 0 },
  beside: { blocks: 0, cap: 14, high: 124, under: 12, clock: 20, light: 84, sun: 0 },
};
const BIN_PX = 6;
const lightOf = new Map(data.light.map((moment) => [moment.frame, moment]));
export const lightWords = (number) => lightOf.get(number)?.text ?? "";

const known = (values) =>
  values.filter((value) => value !== null && value !== undefined).sort((a, b) => a - b);
const middle = (values) => (values.length ? values[values.length >> 1] : null);
const mean = (values) => values.reduce((sum, value) => sum + (value ?? 0), 0) / values.length;

/* Frames nearer than a slice is wide share one: the median of their ends, how far they reach. */
function binsOf(placed) {
  const bins = [];
  for (const { number, x } of placed) {
    const last = bins.at(-1);
    if (last && x - last.x < BIN_PX) last.members.push(number);
    else bins.push({ x, members: [number] });
  }
  return bins.map(({ x, members }) => {
    const bars = members.map((number) => frames[number].bar);
    const shown = bars.filter(({ bright }) => bright !== null);
    const darks = known(shown.map(({ dark }) => dark));
    const brights = known(shown.map(({ bright }) => bright));
    return {
      x,
      single: members.length === 1,
      floor: middle(known(bars.map(({ floor }) => floor))),
      dark: middle(darks),
      begin: middle(known(shown.map(({ begin }) => begin))),
      bright: middle(brights),
      median: members.length === 1 ? bars[0].median : null,
      reach: brights.length && darks.length ? [brights[0], darks.at(-1)] : null,
      blown: mean(bars.map(({ blown }) => blown)),
      blocked: mean(bars.map(({ blocked }) => blocked)),
      suggested: members.some((number) => frames[number].suggested === "keep"),
      unread: members.every((number) => frames[number].status === "unreadable"),
    };
  });
}

export function drawDay(day, wide, kind, id) {
  const tall = TALL[kind];
  const right = wide >= 700 && kind === "full" ? 84 : 14;
  const axis = axisOf(day, LEFT, wide - LEFT - right);
  const top = tall.blocks + tall.cap + 8;
  const foot = top + tall.high;
  const clockY = foot + tall.under + tall.clock;
  const placed = day.stretches.flatMap((stretch) =>
    stretch.frames.map((number) => ({ number, x: axis.xOf(frames[number].takenS) })),
  );
  placed.sort((one, other) => one.x - other.x || one.number - other.number);
  const end = wide - right;
  const field = { axis, top, foot, end, tall, id };
  const made = [
    draw("defs", {}, wedgeFill(id, 0, top, 0, foot)),
    ...(tall.blocks ? blocks(field) : []),
    ...stopsAxis(field, right > 60),
    ...slices(binsOf(placed), field),
    ...clockLabels(field, day, clockY),
    ...folds(field, clockY),
  ];
  let height = clockY + 10;
  const moments = placed.map(({ number, x }) => ({ x, ...lightOf.get(number) }));
  const lit = moments.filter(({ ev }) => ev !== undefined && ev !== null);
  if (tall.light && lit.length > 1) {
    made.push(
      ...curve(lit, field, {
        from: height + 6,
        high: tall.light,
        of: "ev",
        unit: "EV ",
        words: right > 60,
      }),
    );
    height += tall.light + 26;
    const suns = lit.filter(({ sun }) => sun !== null);
    if (tall.sun && suns.length > 1) {
      made.push(
        ...curve(suns, field, {
          from: height,
          high: tall.sun,
          of: "sun",
          unit: "",
          words: right > 60,
        }),
      );
      height += tall.sun + 18;
    }
  }
  const band = draw("path", { d: "", class: "brush" });
  const cursor = draw("path", { d: "", class: "cursor" });
  const svg = picture(wide, height, { width: wide, height }, ...made, band, cursor);
  return { svg, placed, axis, band, cursor, height, day };
}

const yOf = ({ top, tall }, stops) =>
  top + (Math.max(0, Math.min(DEPTH, stops)) / DEPTH) * tall.high;

const BLOCK_TOP = 8;
const [LEAST_PICTURE, MOST_PICTURE] = [30, 66];

/* A block a set-up, with its number and, where there is room, its picture. Blocks of a kind are one
   path, so that a thousand of them are no burden. */
function blocks({ axis, foot, end, tall }) {
  const d = { block: "", "block even": "", "band even": "" };
  const labels = [];
  let free = 0;
  for (const { number, frames: held } of setups) {
    const [begin, close] = [axis.parts[0].start, axis.parts.at(-1).end];
    const times = known(held.map((frame) => frames[frame].takenS));
    const here = times.filter((time) => time >= begin && time <= close);
    if (!here.length) continue;
    const [first, last] = [here[0], here.at(-1)];
    const from = axis.xOf(first) - 4;
    const wide = Math.max(axis.xOf(last) - axis.xOf(first) + 8, 8);
    const even = number % 2 === 0;
    d[even ? "block even" : "block"] += `M${from} ${BLOCK_TOP}h${wide}V${tall.blocks}h${-wide}z`;
    if (even) d["band even"] += `M${from} ${tall.blocks}h${wide}V${foot}h${-wide}z`;
    const small = wide >= LEAST_PICTURE ? addressesOf(held[0]).small : null;
    if (small) {
      const width = Math.min(MOST_PICTURE, wide);
      const place = { x: from, y: BLOCK_TOP, width, height: tall.blocks - BLOCK_TOP, href: small };
      labels.push(draw("image", { ...place, preserveAspectRatio: "xMidYMid slice" }));
    }
    const x = from + (small && wide > MOST_PICTURE + 20 ? MOST_PICTURE + 4 : 3);
    if (x < free || x + 9 * `${number}`.length > end + 14) continue;
    labels.push(
      drawText(`${number}`, { x, y: BLOCK_TOP + 14, class: small ? "letter haloed" : "letter" }),
    );
    free = x + 9 * `${number}`.length + 3;
  }
  const paths = Object.entries(d).map(([kind, path]) => draw("path", { d: path, class: kind }));
  return [...paths, ...labels];
}

function stopsAxis(field, words) {
  const { top, foot, end, tall } = field;
  const made = [];
  const steps = Math.round(DEPTH);
  for (let step = 0; step < steps; step += 1) {
    const y = yOf(field, step);
    const box = { x: 30, y, width: 9, height: yOf(field, step + 1) - y, fill: grey(step) };
    made.push(draw("rect", box));
  }
  made.push(draw("rect", { x: 30, y: top, width: 9, height: foot - top, class: "frame" }));
  const apart = tall.high < 100 ? 4 : 2;
  for (let stop = 0; stop <= steps; stop += apart) {
    const y = yOf(field, stop);
    made.push(drawText(stop ? `−${stop}` : "0", { x: 25, y: y + 4, "text-anchor": "end" }));
    made.push(draw("path", { d: `M${LEFT} ${y}H${end}`, class: "grid" }));
  }
  made.push(draw("path", { d: `M${LEFT - 4} ${top}H${end}`, class: "post" }));
  const floors = known(frames.map(({ bar }) => bar.floor));
  if (words && floors.length) {
    made.push(drawText("saturation", { x: end + 8, y: top + 4 }));
    made.push(drawText("noise floor", { x: end + 8, y: yOf(field, middle(floors)) + 4 }));
  }
  return made;
}

function slices(bins, field) {
  const { top, foot, tall, id } = field;
  const d = {
    slice: "",
    open: "",
    reach: "",
    notch: "",
    hatch: "",
    stipple: "",
    dot: "",
    cross: "",
    floor: "",
  };
  const width = BIN_PX - 1;
  for (const bin of bins) {
    const left = bin.x - width / 2;
    if (bin.bright !== null) {
      const from = yOf(field, bin.bright);
      const to = Math.max(from + 2, yOf(field, bin.begin));
      d[bin.dark === null ? "open" : "slice"] += `M${left} ${from}h${width}V${to}h${-width}z`;
    }
    if (bin.floor !== null) d.floor += `M${left - 1} ${yOf(field, bin.floor)}h${width + 2}`;
    if (!bin.single && bin.reach) {
      d.reach += `M${bin.x} ${yOf(field, bin.reach[0])}V${yOf(field, bin.reach[1])}`;
    }
    if (bin.median !== null) d.notch += `M${left - 2} ${yOf(field, bin.median)}h${width + 4}`;
    const over = cap(bin.blown, tall.cap - 4);
    const under = cap(bin.blocked, tall.under - 2);
    if (over) d.hatch += `M${left} ${top - 1.5}h${width}v${-over}h${-width}z`;
    if (under) d.stipple += `M${left} ${foot + 1.5}h${width}v${under}h${-width}z`;
    if (bin.suggested)
      d.dot += `M${bin.x - 2.5} ${foot + tall.under + 2}a2.5 2.5 0 1 0 5 0a2.5 2.5 0 1 0 -5 0`;
    if (bin.unread) d.cross += `M${bin.x - 4} ${(top + foot) / 2 - 4}l8 8m0 -8l-8 8`;
  }
  return [
    draw("path", { d: d.floor, class: "floor" }),
    draw("path", { d: d.reach, class: "reach" }),
    draw("path", { d: d.slice, class: "slice", fill: `url(#${id})` }),
    draw("path", { d: d.open, class: "slice open", fill: `url(#${id})` }),
    draw("path", { d: d.notch, class: "notch-halo" }),
    draw("path", { d: d.notch, class: "notch" }),
    draw("path", { d: d.hatch, class: "cap", fill: "url(#hatch)" }),
    draw("path", { d: d.stipple, class: "cap", fill: "url(#stipple)" }),
    draw("path", { d: d.dot, class: "dot" }),
    draw("path", { d: d.cross, class: "cross" }),
  ];
}

/* The camera's clock beside true time, in seconds. */
export function clockOffset(day) {
  const { clock, takenS } = frames[day.stretches[0].frames[0]];
  const shown = Date.parse(`${clock}Z`) / 1000;
  return Math.round((shown - takenS) / 900) * 900;
}

export const clockText = (seconds, offset) =>
  new Date((seconds + offset) * 1000).toISOString().slice(11, 16);

function clockLabels({ axis, end }, day, y) {
  const offset = clockOffset(day);
  const made = [];
  let free = 0;
  let marks = "";
  for (const part of axis.parts) {
    const ticks = ticksOf({ ...part, clockOffsetS: offset }, axis.scale, 56);
    for (const seconds of ticks.length ? ticks : [part.start]) {
      const x = axis.xOf(seconds);
      if (x < free || x > end - 30) continue;
      made.push(drawText(clockText(seconds, offset), { x, y, "text-anchor": "middle" }));
      marks += `M${x} ${y - 17}v5`;
      free = x + 48;
    }
  }
  return [...made, draw("path", { d: marks, class: "track" })];
}

const gapText = (seconds) =>
  seconds < 5400 ? `${Math.round(seconds / 60)} min` : `${(seconds / 3600).toFixed(1)} h`;

/* Where the axis is folded, a zigzag with the time that is left out. */
function folds({ axis, top, foot }, clockY) {
  const made = [];
  let d = "";
  let free = 0;
  for (const [index, part] of axis.parts.slice(0, -1).entries()) {
    const x = (part.to + axis.parts[index + 1].from) / 2;
    d += `M${x} ${top}`;
    for (let y = top; y < foot; y += 12) d += "l4 3l-8 6l4 3";
    if (x < free) continue;
    const place = { x, y: clockY - 14, class: "axis gap", "text-anchor": "middle" };
    made.push(drawText(gapText(part.gapS), place));
    free = x + 52;
  }
  return [draw("path", { d, class: "fold" }), ...made];
}
