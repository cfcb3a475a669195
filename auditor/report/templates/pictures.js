/* Thumbnails, and what is lost in them drawn in. */
function tilesPath(runs, [columns, rows], wide, tall) {
  if (!runs) return "";
  const w = wide / columns, h = tall / rows;
  let at = 0, on = false, path = "";
  for (const run of runs.split(" ")) {
    const length = parseInt(run, 36);
    if (on) path += runPath(at, length, columns, w, h);
    at += length;
    on = !on;
  }
  return path;
}

function runPath(at, length, columns, w, h) {
  let path = "";
  while (length > 0) {
    const column = at % columns, here = Math.min(length, columns - column);
    path += `M${(column * w).toFixed(1)} ${(Math.floor(at / columns) * h).toFixed(1)}h${(here * w).toFixed(1)}v${h.toFixed(1)}h${(-here * w).toFixed(1)}z`;
    at += here;
    length -= here;
  }
  return path;
}

function lostAreas(detail) {
  if (!detail.size || !detail.tiles || !(detail.blown || detail.blocked)) return null;
  const [wide, tall] = detail.size;
  const picture = draw("svg", { viewBox: `0 0 ${wide} ${tall}`, class: "lost", "aria-hidden": "true", focusable: "false" });
  for (const [runs, fill] of [[detail.blown, "hatch-photo"], [detail.blocked, "stipple-photo"]]) {
    const path = tilesPath(runs, detail.tiles, wide, tall);
    if (path) picture.append(draw("path", { d: path, fill: `url(#${fill})` }));
  }
  return picture;
}

/* The picture of one frame with its lost areas, or words where there is none. */
function pictureOf(number, which = "thumb") {
  const detail = detailsOf(number), frame = frames[number];
  const box = make("span", { class: "photo" });
  const address = detail[which] ?? detail.thumb;
  if (!address) {
    box.classList.add("empty");
    box.append(frame.verdictText);
    return box;
  }
  const [width, height] = detail.size;
  box.classList.toggle("tall", height > width);
  const sheet = make("span", { class: "sheet" });
  sheet.append(make("img", { src: address, alt: "", width, height, decoding: "async" }));
  const lost = lostAreas(detail);
  if (lost) sheet.append(lost);
  box.append(sheet);
  return box;
}

/* Shots stand in set-ups: picture and bar are filled when they come near. */
function fillShot(shot) {
  if (shot.dataset.filled) return;
  shot.dataset.filled = "yes";
  const number = Number(shot.dataset.shot);
  shot.querySelector(".picture").append(pictureOf(number));
  shot.querySelector("[data-bar]").append(rangeBar(frames[number].bar));
}
const nearShots = whenNear(fillShot);
document.querySelectorAll("[data-shot]").forEach((shot) => nearShots.observe(shot));
