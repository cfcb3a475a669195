/* The time line: every frame's slice of the wedge, and the light of the scene below it. */
const line = byId("line");
const LINE = { left: 46, right: 14, words: 78, cap: 26, high: 232, floorCap: 22, gap: 40, light: 92 };
let lineAt = 0;
let lineColumns = [];

const lightOf = new Map(data.light.map(([number, ev, sun, filtered, text]) => [number, { ev, sun, filtered, text }]));

/* Where frames outnumber what the width can show, neighbours share one column: its slice is the
   middle of their ends, a thin line reaches to the outermost, shares are averages. */
function columnsFor(wide) {
  const single = frames.length <= wide / 5;
  const count = single ? frames.length : Math.max(1, Math.floor(wide / 9));
  const groups = Array.from({ length: count }, () => []);
  frames.forEach((_, number) => groups[Math.floor((number * count) / frames.length)].push(number));
  byId("line-gathered").hidden = single;
  return groups.filter((members) => members.length).map(columnOver);
}

const known = (values) => values.filter((value) => value !== null).sort((a, b) => a - b);
const middle = (values) => (values.length ? values[values.length >> 1] : null);
const mean = (values) => values.reduce((sum, value) => sum + (value ?? 0), 0) / values.length;

function columnOver(members) {
  const bars = members.map((number) => frames[number].bar);
  const darks = known(bars.map(([floor, dark, bright]) => (bright === null ? null : dark ?? floor)));
  const brights = known(bars.map((bar) => bar[2]));
  const single = members.length === 1;
  return {
    frames: members, floor: middle(known(bars.map((bar) => bar[0]))),
    dark: middle(darks), bright: middle(brights), median: single ? bars[0][3] : null,
    darkest: darks.at(-1) ?? null, brightest: brights[0] ?? null,
    blown: mean(bars.map((bar) => bar[4])), blocked: mean(bars.map((bar) => bar[5])),
    keeper: single && frames[members[0]].keeper, unread: single && frames[members[0]].status === "unreadable",
  };
}

/* Where there is room, the names of the levels stand beside the plot. */
const hasWords = () => line.clientWidth >= 700;
const lineEnd = () => line.clientWidth - (hasWords() ? LINE.words : LINE.right);
const plotWidth = () => lineEnd() - LINE.left;

function drawLine() {
  const wide = line.clientWidth;
  if (!wide || !frames.length) return;
  const plot = plotWidth();
  lineColumns = columnsFor(plot);
  const pitch = plot / lineColumns.length;
  const top = LINE.cap + 12, foot = top + LINE.high;
  const hasLight = data.light.length > 1;
  const tall = foot + LINE.floorCap + LINE.gap + (hasLight ? LINE.light + 22 : 0);
  const y = (stops) => top + (Math.max(0, Math.min(DEPTH, stops)) / DEPTH) * LINE.high;
  const x = (column) => LINE.left + (column + 0.5) * pitch;
  const picture = draw("svg", { viewBox: `0 0 ${wide} ${tall}`, width: wide, height: tall, "aria-hidden": "true", focusable: "false" });
  picture.append(draw("defs", {}, wedgeFill("wedge-down", 0, top, 0, foot)));
  picture.append(...bands(pitch, top, foot), ...lineAxis(y, top, foot));
  picture.append(...slices(x, y, Math.min(16, Math.max(1.5, pitch * 0.6)), top, foot));
  picture.append(...clockLabels(pitch, foot + LINE.floorCap + 16));
  if (hasLight) picture.append(...lightCurve(pitch, tall - LINE.light - 14, LINE.light));
  picture.append(draw("path", { id: "line-cursor", class: "cursor", d: "" }));
  line.replaceChildren(picture);
  line.dataset.tall = tall;
  moveLine(lineAt, false);
}

const columnOf = (number) => Math.floor((number * lineColumns.length) / frames.length);

/* Every other set-up lies on a faint band, so that compositions can be told apart. */
function bands(pitch, top, foot) {
  let path = "";
  data.setups.forEach(([, members], index) => {
    if (index % 2 || !members.length) return;
    const columns = members.map(columnOf);
    const from = Math.min(...columns), to = Math.max(...columns) + 1;
    path += `M${LINE.left + from * pitch} ${top - LINE.cap}h${(to - from) * pitch}V${foot + LINE.floorCap}h${-(to - from) * pitch}z`;
  });
  return [draw("path", { d: path, class: "band" })];
}

function lineAxis(y, top, foot) {
  const made = [], steps = Math.round(DEPTH);
  for (let step = 0; step < steps; step += 1) {
    made.push(draw("rect", { x: 30, y: y(step), width: 9, height: y(step + 1) - y(step), fill: grey(step, steps) }));
  }
  made.push(draw("rect", { x: 30, y: top, width: 9, height: foot - top, class: "frame" }));
  for (let stop = 0; stop <= steps; stop += 2) {
    const text = draw("text", { x: 25, y: y(stop) + 4, class: "axis", "text-anchor": "end" });
    text.textContent = stop ? `−${stop}` : "0";
    made.push(text, draw("path", { d: `M${LINE.left} ${y(stop)}H${lineEnd()}`, class: "grid" }));
  }
  made.push(draw("path", { d: `M${LINE.left - 4} ${top}H${lineEnd()}`, class: "post" }));
  const floors = frames.map((frame) => frame.bar[0]).filter((floor) => floor !== null).sort((a, b) => a - b);
  made.push(...levelName("saturation", top), ...levelName("noise floor", y(floors[floors.length >> 1] ?? DEPTH)));
  return made;
}

function levelName(words, height) {
  if (!hasWords()) return [];
  const text = draw("text", { x: lineEnd() + 8, y: height + 4, class: "axis" });
  text.textContent = words;
  return [text];
}

function slices(x, y, width, top, foot) {
  const paths = { slice: "", reach: "", notch: "", hatch: "", stipple: "", dot: "", cross: "", floor: "" };
  lineColumns.forEach((column, index) => {
    const left = x(index) - width / 2;
    if (column.bright !== null) {
      const from = y(column.bright), to = Math.max(from + 2, y(column.dark ?? DEPTH));
      paths.slice += `M${left} ${from}h${width}V${to}h${-width}z`;
    }
    if (column.floor !== null) paths.floor += `M${left - 1} ${y(column.floor)}h${width + 2}`;
    if (column.frames.length > 1 && column.brightest !== null) paths.reach += `M${x(index)} ${y(column.brightest)}V${y(column.darkest)}`;
    if (column.median !== null && width > 3) paths.notch += `M${left - 2} ${y(column.median)}h${width + 4}`;
    const over = cap(column.blown, LINE.cap - 4), under = cap(column.blocked, LINE.floorCap);
    if (over) paths.hatch += `M${left} ${top - 1.5}h${width}v${-over}h${-width}z`;
    if (under) paths.stipple += `M${left} ${foot + 1.5}h${width}v${under}h${-width}z`;
    if (column.keeper) paths.dot += `M${x(index) - 3} ${foot + LINE.floorCap + 2}a3 3 0 1 0 6 0a3 3 0 1 0 -6 0`;
    if (column.unread) paths.cross += `M${x(index) - 4} ${(top + foot) / 2 - 4}l8 8m0 -8l-8 8`;
  });
  return [
    draw("path", { d: paths.floor, class: "floor" }),
    draw("path", { d: paths.reach, class: "reach" }),
    draw("path", { d: paths.slice, class: "slice", fill: "url(#wedge-down)" }),
    draw("path", { d: paths.notch, class: "notch-halo" }), draw("path", { d: paths.notch, class: "notch" }),
    draw("path", { d: paths.hatch, class: "cap", fill: "url(#hatch)" }),
    draw("path", { d: paths.stipple, class: "cap", fill: "url(#stipple)" }),
    draw("path", { d: paths.dot, class: "dot" }), draw("path", { d: paths.cross, class: "cross" }),
  ];
}

function clockLabels(pitch, height) {
  const made = [];
  let free = 0, day = "", before = "";
  lineColumns.forEach((column, index) => {
    const frame = frames[column.frames[0]];
    const at = LINE.left + index * pitch;
    if (!frame || !frame.clock || at < free || at > LINE.left + lineColumns.length * pitch - 34) return;
    const [date, clock] = frame.clock.split("T");
    const words = day && date !== day ? `${date.slice(5)} ${clock}` : clock;
    if (words === before) return;
    [day, before] = [date, words];
    const text = draw("text", { x: at, y: height, class: "axis" });
    text.textContent = words;
    made.push(text, draw("path", { d: `M${at} ${height - 18}v6`, class: "track" }));
    free = at + words.length * 7 + 26;
  });
  return made;
}

function lightCurve(pitch, top, high) {
  const evs = data.light.map(([, ev]) => ev), suns = data.light.map(([, , sun]) => sun).filter((sun) => sun !== null);
  const low = Math.floor(Math.min(...evs)), peak = Math.max(low + 1, Math.ceil(Math.max(...evs)));
  const at = (number) => LINE.left + (columnOf(number) + 0.5) * pitch;
  const y = (ev) => top + high - ((ev - low) / (peak - low)) * high;
  const made = [];
  for (const ev of [low, peak]) {
    const text = draw("text", { x: 38, y: y(ev) + 4, class: "axis", "text-anchor": "end" });
    text.textContent = `EV ${ev}`.replace("-", "−");
    made.push(text, draw("path", { d: `M${LINE.left} ${y(ev)}H${lineEnd()}`, class: "grid" }));
  }
  const ordered = [...data.light].sort((a, b) => a[0] - b[0]);
  made.push(draw("path", { d: ordered.map(([number, ev], index) => `${index ? "L" : "M"}${at(number).toFixed(1)} ${y(ev).toFixed(1)}`).join(""), class: "light" }));
  if (lineColumns.length === frames.length && pitch > 7) for (const [number, ev, , filtered] of ordered) made.push(draw("circle", { cx: at(number), cy: y(ev), r: 3, class: filtered ? "moment filtered" : "moment" }));
  if (suns.length > 1) made.push(...sunCurve(ordered, at, top, high, suns));
  return made;
}

function sunCurve(ordered, at, top, high, suns) {
  const low = Math.min(-2, ...suns), peak = Math.max(2, ...suns);
  const y = (sun) => top + high - ((sun - low) / (peak - low)) * high;
  const known = ordered.filter(([, , sun]) => sun !== null);
  const path = known.map(([number, , sun], index) => `${index ? "L" : "M"}${at(number).toFixed(1)} ${y(sun).toFixed(1)}`).join("");
  return [draw("path", { d: `M${LINE.left} ${y(0)}H${lineEnd()}`, class: "horizon" }), draw("path", { d: path, class: "sun" }), ...levelName("horizon", y(0))];
}

function lineWords(number) {
  const frame = frames[number], light = lightOf.get(number);
  return [frame.name, frame.taken, frame.exposure, frame.verdictLine, light && light.text].filter(Boolean).join(" · ");
}

function moveLine(number, tell = true) {
  if (!frames.length) return;
  lineAt = Math.max(0, Math.min(frames.length - 1, number));
  line.setAttribute("aria-valuenow", lineAt + 1);
  line.setAttribute("aria-valuetext", lineWords(lineAt));
  if (!tell) return;
  byId("line-says").textContent = lineWords(lineAt);
  const pitch = plotWidth() / lineColumns.length;
  const at = LINE.left + (columnOf(lineAt) + 0.5) * pitch;
  byId("line-cursor")?.setAttribute("d", `M${at} 4V${Number(line.dataset.tall) - 10}`);
}

function frameUnder(event) {
  const box = line.getBoundingClientRect();
  const pitch = plotWidth() / lineColumns.length;
  const column = Math.floor((event.clientX - box.left - LINE.left) / pitch);
  return lineColumns[Math.max(0, Math.min(lineColumns.length - 1, column))].frames[0];
}

const LINE_KEYS = { ArrowRight: 1, ArrowUp: 1, ArrowLeft: -1, ArrowDown: -1, PageDown: 10, PageUp: -10, Home: -Infinity, End: Infinity };
line.addEventListener("keydown", (event) => {
  if (event.key === "Enter" || event.key === " ") openDetail(lineAt, line);
  else if (event.key in LINE_KEYS) moveLine(lineAt + LINE_KEYS[event.key]);
  else return;
  event.preventDefault();
});
line.addEventListener("focus", () => moveLine(lineAt));
line.addEventListener("pointermove", (event) => { if (event.pointerType === "mouse") moveLine(frameUnder(event)); });
line.addEventListener("click", (event) => { moveLine(frameUnder(event)); openDetail(lineAt, line); });
