/* Small pictures, and what is lost in them drawn in. */
import { addressesOf, detailNow, detailOf, frames } from "./data.js";
import { draw, make } from "./dom.js";
import {
  apartFrom,
  areaOf,
  cellsOf,
  dotsOf,
  dotWidth,
  outlineOf,
  outlineWeight,
} from "./tiles.js";

const SHAPE = { wide: 360 };

function styled(path, values) {
  for (const [name, value] of Object.entries(values))
    path.style.setProperty(name, value.toFixed(2));
  return path;
}

function lostPaths(runs, maps, size, kind) {
  const cells = cellsOf(runs, maps.rows, maps.cols);
  const [wide, tall] = size;
  const outline = outlineOf(cells, maps.rows, maps.cols);
  const scale = { transform: `scale(${wide / maps.cols} ${tall / maps.rows})` };
  const weight = outlineWeight(cells, maps.rows, maps.cols, wide, tall);
  const style = { "--weight": weight };
  const area = areaOf(cells, maps.rows, maps.cols, wide, tall);
  return [
    draw("path", { d: area, class: `area ${kind}` }),
    ...["halo", "outline"].map((part) =>
      styled(draw("path", { d: outline, ...scale, class: `${part} ${kind}` }), style),
    ),
  ];
}

/* Which map is drawn: lost in any channel, or in one of them. Points get a dot a tile. */
export function lostAreas(detail, channel = "any") {
  const { maps, size } = detail;
  if (!maps || !size) return null;
  const { areas, points, blocked } = maps;
  if (!areas[channel] && !points[channel] && !blocked) return null;
  const tall = Math.round((SHAPE.wide * size[1]) / size[0]);
  const box = { viewBox: `0 0 ${SHAPE.wide} ${tall}`, class: `lost c-${channel}` };
  const hidden = { "aria-hidden": "true", focusable: "false", preserveAspectRatio: "none" };
  const made = draw("svg", { ...box, ...hidden });
  const shape = [SHAPE.wide, tall];
  if (blocked) made.append(...lostPaths(blocked, maps, shape, "blocked"));
  if (areas[channel]) made.append(...lostPaths(areas[channel], maps, shape, "blown"));
  if (points[channel]) made.append(...dots(maps, channel, shape));
  return made;
}

/* Points at the rim of an area are its rim. */
function dots({ rows, cols, areas, points, pointShare }, channel, [wide, tall]) {
  const [here, area] = [points, areas].map((runs) => cellsOf(runs[channel], rows, cols));
  const cells = apartFrom(here, area, rows, cols);
  const d = dotsOf(cells, rows, cols, wide, tall);
  const count = cells.reduce((sum, cell) => sum + cell, 0);
  const width = dotWidth(count, pointShare[channel], (wide / cols) * (tall / rows));
  const style = { "--dot": width };
  return ["halo", "outline"].map((part) =>
    styled(draw("path", { d, class: `dots ${part}` }), style),
  );
}

/* The picture of one frame with its lost areas, or words where there is none. */
export function photoOf(number, { eager = false, lost: withLost = true } = {}) {
  const frame = frames[number];
  const box = make("span", { class: "photo" });
  const { small } = addressesOf(number);
  if (!small) {
    box.classList.add("empty");
    box.append(frame.verdictText);
    return box;
  }
  const image = make("img", { alt: "", decoding: eager ? "sync" : "async", src: small });
  const sheet = make("span", { class: "sheet" }, image);
  box.append(sheet);
  const fill = (detail) => {
    const [width, height] = detail.size ?? [3, 2];
    box.classList.toggle("tall", height > width);
    sheet.style.setProperty("--shape", `${width} / ${height}`);
    const lost = withLost && lostAreas(detail);
    if (lost) sheet.append(lost);
  };
  const ready = detailNow(number);
  if (ready) fill(ready);
  else detailOf(number).then(fill);
  return box;
}

/* The small picture at once, the large one in its place as soon as it is there; where the page was
   taken along without the files beside it, the small one stays. */
export function sharpen(image, small, large) {
  if (!small) {
    image.removeAttribute("src");
    return;
  }
  image.src = small;
  if (!large) return;
  const better = make("img", { src: large, alt: "" });
  better.decode().then(
    () => {
      if (image.getAttribute("src") === small) image.src = large;
    },
    () => {},
  );
}

/* The ring round the largest lost patch, however small it is. */
export function ringOf(detail) {
  const [wide, tall] = [300, (300 * detail.size[1]) / detail.size[0]];
  const [left, top, right, bottom] = detail.loss.box;
  const made = draw("svg", {
    viewBox: `0 0 ${wide} ${tall}`,
    class: "ring-over",
    "aria-hidden": "true",
    focusable: "false",
  });
  const place = {
    cx: ((left + right) / 2) * wide,
    cy: ((top + bottom) / 2) * tall,
    rx: Math.max(13, ((right - left) / 2) * wide * 1.25),
    ry: Math.max(13, ((bottom - top) / 2) * tall * 1.25),
  };
  made.append(draw("ellipse", { ...place, class: "ring-halo" }));
  made.append(draw("ellipse", { ...place, class: "ring" }));
  return made;
}
