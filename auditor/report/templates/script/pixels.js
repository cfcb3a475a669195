/* The small pictures' pixels: where a tone lies, what lies at a place, how two differ. */
import { addressesOf, data } from "./data.js";
import { make } from "./dom.js";
import { differences, linearTable, medianDifference, shadeOf, stopsOf } from "./tones.js";

const table = linearTable(data.curve);
const CHANNELS = ["R", "G", "B"];
const MOST_KEPT = 6;
const kept = new Map();

/* Pictures in the page can be read; those beside it cannot, by the browser's rule for files. */
export async function pixelsOf(number) {
  if (kept.has(number)) return kept.get(number);
  const { small } = addressesOf(number);
  if (!small) return null;
  const image = make("img", { src: small });
  await image.decode();
  const [width, height] = [image.naturalWidth, image.naturalHeight];
  const canvas = make("canvas", { width, height });
  const context = canvas.getContext("2d", { willReadFrequently: true });
  context.drawImage(image, 0, 0);
  const found = { width, height, codes: context.getImageData(0, 0, width, height).data };
  kept.set(number, found);
  if (kept.size > MOST_KEPT) kept.delete(kept.keys().next().value);
  return found;
}

const offsetFor = (offsets, channel) => offsets[channel] ?? offsets.L ?? 0;

/* Stops below saturation of each colour at a place, fractions of the picture. */
export function tonesAt(pixels, offsets, x, y) {
  const col = Math.min(pixels.width - 1, Math.max(0, Math.floor(x * pixels.width)));
  const row = Math.min(pixels.height - 1, Math.max(0, Math.floor(y * pixels.height)));
  const at = (row * pixels.width + col) * 4;
  const tones = {};
  CHANNELS.forEach((name, channel) => {
    const linear = table[pixels.codes[at + channel]];
    tones[name] = stopsOf(linear, offsetFor(offsets, name));
  });
  tones.L = tones.G;
  return tones;
}

/* Paint the places where a colour lies within a part of the axis. */
export function paintTone(canvas, pixels, offsets, channel, { from, to }) {
  const { width, height, codes } = pixels;
  Object.assign(canvas, { width, height });
  const context = canvas.getContext("2d");
  const image = context.createImageData(width, height);
  const index = Math.max(0, CHANNELS.indexOf(channel));
  const offset = offsetFor(offsets, channel);
  const isIn = Array.from(table, (linear) => {
    const stops = stopsOf(linear, offset);
    return stops !== null && stops >= from && stops < to;
  });
  for (let at = 0; at < codes.length; at += 4) {
    const lit = isIn[codes[at + index]];
    image.data[at] = lit ? 12 : 0;
    image.data[at + 1] = lit ? 196 : 0;
    image.data[at + 2] = lit ? 208 : 0;
    image.data[at + 3] = lit ? 235 : 110;
  }
  context.putImageData(image, 0, 0);
}

/* The second frame against the first; null where the two pictures are not of one shape. */
export async function compare(first, second) {
  const [one, other] = await Promise.all([pixelsOf(first), pixelsOf(second)]);
  if (!one || !other || one.width !== other.width || one.height !== other.height) return null;
  const found = differences(one.codes, other.codes, table);
  return { width: one.width, height: one.height, stops: found, median: medianDifference(found) };
}

/* A map of the difference, around ``zero`` stops: hatched white where nothing can be said. */
export function paintDifference(canvas, { width, height, stops }, zero) {
  Object.assign(canvas, { width, height });
  const context = canvas.getContext("2d");
  const image = context.createImageData(width, height);
  stops.forEach((value, pixel) => {
    const at = pixel * 4;
    const unknown = value === null;
    const stripe = (pixel % width) + Math.floor(pixel / width);
    const shade = unknown ? (stripe % 6 ? 128 : 168) : shadeOf(value - zero);
    image.data.fill(shade, at, at + 3);
    image.data[at + 3] = 255;
  });
  context.putImageData(image, 0, 0);
}
