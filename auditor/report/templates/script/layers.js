/* The picture of a close-up in layers: rendering, crops, lost areas, places of a tone. */

import { siblingOf } from "./actions.js";
import { addressesOf, frames } from "./data.js";
import { byId, isPressed, make, pressed, say } from "./dom.js";
import { exposeBy, signed } from "./exposure.js";
import { forgetTone, histogram, showPlace, showTone, toneUnder } from "./histogram.js";
import { lostAreas, sharpen } from "./photo.js";
import { compare, paintTone, pixelsOf, tonesAt } from "./pixels.js";
import { fit, makeStage, placeUnder, setShape, zoom, zoomFull, zoomTo } from "./stage.js";
import { cellsOf, patchesOf } from "./tiles.js";

const HALF_BIN_STOPS = 0.15;

export function pictureLayers(place) {
  const image = make("img", { class: "whole", alt: "", draggable: false });
  const crops = make("div", { class: "crops" });
  const lost = make("div", { class: "lost-layer" });
  const tones = make("canvas", { class: "tone-layer", hidden: true });
  const stage = makeStage("Picture: plus and minus zoom, shift and arrows move it", {
    content: [image, crops, lost, tones],
  });
  place.replaceChildren(stage.element);
  const layers = { stage, image, crops, lost, tones, number: null, detail: null, figure: null };
  Object.assign(layers, { channel: "any", patch: -1, ready: null });
  return Object.assign(layers, {
    begin: (number) => begin(layers, number),
    show: (detail) => show(layers, detail),
    histogram: (number, detail) => figureOf(layers, number, detail),
    key: (key) => keyOf(layers, key),
    clear: () => image.removeAttribute("src"),
  });
}

/* The small picture is there at once; whatever is asked for meanwhile waits for the details. */
function begin(layers, number) {
  const { image, lost, tones } = layers;
  const frame = frames[number];
  let isReady = null;
  const ready = new Promise((done) => {
    isReady = done;
  });
  Object.assign(layers, { number, detail: null, patch: -1, figure: null, ready, isReady });
  pressed(byId("as-preview"), false);
  byId("as-preview").disabled = !addressesOf(number).preview;
  image.alt = `${frame.name}: ${frame.verdictLine}`;
  lost.replaceChildren();
  byId("channels").replaceChildren();
  tones.hidden = true;
  showRendering(layers);
}

/* Do something to the frame that is shown now, as soon as its details are there. */
async function soon(layers, act) {
  const { number, ready } = layers;
  await ready;
  if (layers.number === number) act(layers);
}

function show(layers, detail) {
  const { stage, number } = layers;
  layers.detail = detail;
  layers.isReady();
  stage.element.classList.toggle("empty", !detail.size);
  showRendering(layers);
  if (!detail.size) return;
  stage.sensorWide = detail.sensor?.[0] ?? 0;
  setShape(stage, detail.size);
  fit(stage);
  setExposure(layers, 0);
  byId("as-sibling").disabled = siblingOf(number) === null;
  const channels = Object.keys(detail.maps?.areas ?? {}).filter((name) => name !== "any");
  if (!channels.includes(layers.channel)) layers.channel = "any";
  showChannels(layers, channels);
  showLost(layers);
  const patches = patchesHere(layers).length;
  byId("next-patch").disabled = patches === 0;
  byId("patches").textContent = patches
    ? `${patches} blown ${patches === 1 ? "patch" : "patches"}`
    : "nothing blown";
}

function showRendering({ image, crops, number, detail }) {
  const { small } = addressesOf(number);
  crops.replaceChildren();
  sharpen(image, small, detail?.pictures?.large?.src);
  if (!small) return;
  for (const crop of detail?.pictures?.crops ?? []) {
    const made = make("img", { src: crop.src, alt: "", loading: "lazy" });
    made.addEventListener("error", () => made.remove());
    for (const side of ["left", "top", "width", "height"])
      made.style[side] = `${100 * crop[side]}%`;
    crops.append(made);
  }
}

function showChannels(layers, channels) {
  const place = byId("channels");
  const names = channels.length > 1 ? ["any", ...channels] : ["any"];
  place.replaceChildren(
    ...names.map((name) => {
      const made = make("button", { type: "button", class: `c-${name}` }, name);
      pressed(made, name === layers.channel);
      made.addEventListener("click", () => {
        layers.channel = name;
        layers.patch = -1;
        showChannels(layers, channels);
        showLost(layers);
      });
      return made;
    }),
  );
}

function showLost({ lost, detail, channel }) {
  const made = lostAreas(detail, channel);
  lost.replaceChildren(...(made ? [made] : []));
}

function patchesHere({ detail, channel }) {
  const { maps } = detail;
  if (!maps) return [];
  const { rows, cols, areas, points } = maps;
  const patches = (runs) => patchesOf(cellsOf(runs, rows, cols), rows, cols);
  return [...patches(areas[channel]), ...patches(points[channel])];
}

function nextPatch(layers) {
  const patches = patchesHere(layers);
  if (!patches.length) return say("Nothing is blown here.");
  layers.patch = (layers.patch + 1) % patches.length;
  zoomTo(layers.stage, patches[layers.patch]);
  return say(`Blown patch ${layers.patch + 1} of ${patches.length}, the largest first.`);
}

function togglePreview(layers) {
  const made = byId("as-preview");
  const { preview } = addressesOf(layers.number);
  if (!preview) return say("The camera's preview was not kept for this frame.");
  pressed(made, !isPressed(made));
  if (isPressed(made)) layers.image.src = preview;
  else showRendering(layers);
  return say(
    isPressed(made) ? "As the camera's preview shows it." : "The raw data, plainly rendered.",
  );
}

function setExposure(layers, stops) {
  byId("brighter").value = stops;
  byId("brighter-says").textContent = stops ? signed(stops) : "as recorded";
  exposeBy(layers.image, stops);
}

async function equalise(layers) {
  const { number } = layers;
  const sibling = siblingOf(number);
  if (sibling === null) return say("This frame has no sibling.");
  const found = await compare(sibling, number);
  if (layers.number !== number) return null;
  if (found?.median === null || found === null) return say("Too little is recorded by both.");
  setExposure(layers, Math.round(-10 * found.median) / 10);
  return say(`Shown ${signed(-found.median)}, as bright as ${frames[sibling].name}.`);
}

const KEYS = { b: nextPatch, m: togglePreview, q: equalise };

function keyOf(layers, key) {
  if (!(key in KEYS)) return false;
  soon(layers, KEYS[key]);
  return true;
}

/* The histogram beside the picture; each lights the other up. */
function figureOf(layers, number, detail) {
  if (!detail.rows.length) return null;
  const figure = histogram(detail, frames[number].bar);
  layers.figure = figure;
  const read = (stops, index) => lightUp(layers, stops, index);
  figure.slider.addEventListener("pointermove", (event) => {
    const { stops, index } = toneUnder(figure, event);
    read(stops, index);
  });
  figure.slider.addEventListener("pointerleave", () => forget(layers));
  figure.slider.addEventListener("blur", () => forget(layers));
  figure.slider.addEventListener("keydown", (event) => {
    const step = { ArrowLeft: 0.25, ArrowDown: 0.25, ArrowRight: -0.25, ArrowUp: -0.25 }[
      event.key
    ];
    if (!step) return;
    event.preventDefault();
    const most = Number(figure.slider.getAttribute("aria-valuemax"));
    const next = Math.max(0, Math.min(most, figure.stops + step));
    read(next, Math.min(1, figure.rows.length - 1));
  });
  return figure.element;
}

async function lightUp(layers, stops, index) {
  const { figure, number, detail } = layers;
  showTone(figure, stops);
  const pixels = await pixelsOf(number);
  if (!pixels || layers.figure !== figure) return;
  const channel = figure.rows[index].name[0];
  const part = { from: stops - HALF_BIN_STOPS, to: stops + HALF_BIN_STOPS };
  paintTone(layers.tones, pixels, detail.toneOffsets, channel, part);
  layers.tones.hidden = false;
}

function forget(layers) {
  layers.tones.hidden = true;
  if (layers.figure) forgetTone(layers.figure);
}

async function readPlace(layers, event) {
  const { figure, detail, number } = layers;
  if (!figure || event.buttons) return;
  const { x, y } = placeUnder(layers.stage, event);
  if (x < 0 || y < 0 || x > 1 || y > 1) return forgetTone(figure);
  const pixels = await pixelsOf(number);
  if (pixels && layers.figure === figure) {
    showPlace(figure, tonesAt(pixels, detail.toneOffsets, x, y));
  }
}

export function startLayers(layers) {
  const { stage } = layers;
  byId("zoom-fit").addEventListener("click", () => fit(stage));
  byId("zoom-full").addEventListener("click", () => zoomFull(stage));
  byId("zoom-in").addEventListener("click", () => zoom(stage, 1.6));
  byId("next-patch").addEventListener("click", () => soon(layers, nextPatch));
  byId("as-preview").addEventListener("click", () => soon(layers, togglePreview));
  byId("as-sibling").addEventListener("click", () => soon(layers, equalise));
  byId("brighter").addEventListener("input", (event) =>
    setExposure(layers, Number(event.target.value)),
  );
  stage.element.addEventListener("pointermove", (event) => readPlace(layers, event));
  stage.element.addEventListener("pointerleave", () => layers.figure && forgetTone(layers.figure));
}
