/* Tones read back from a plain rendering, and differences of two renderings in stops. */

/* Linear light, 0 to 1, of each of the 256 codes, by the rendering's own curve. */
export function linearTable({ toe, slope, scale, offset, power }) {
  const knee = slope * toe;
  return Float64Array.from({ length: 256 }, (_, code) => {
    const value = code / 255;
    return value <= knee ? value / slope : ((value + offset) / scale) ** power;
  });
}

/* Stops below saturation of a code; the white of the rendering may lie under saturation. */
export const stopsOf = (linear, offset) => (linear > 0 ? offset - Math.log2(linear) : null);

const WHITE = 254;
const DARK = 8; /* codes so low are steps of half a stop and more: no claim rests on them */
const MOST_SAMPLES = 20000;

const isUsable = (pixels, at) => {
  for (let channel = 0; channel < 3; channel += 1) {
    const code = pixels[at + channel];
    if (code >= WHITE || code <= DARK) return false;
  }
  return true;
};

const lightOf = (pixels, at, table) =>
  0.2126 * table[pixels[at]] + 0.7152 * table[pixels[at + 1]] + 0.0722 * table[pixels[at + 2]];

/* Second over first in stops, a value a pixel; null where one of them is white or dark there. */
export function differences(first, second, table) {
  const found = new Array(first.length / 4);
  for (let pixel = 0; pixel < found.length; pixel += 1) {
    const at = pixel * 4;
    found[pixel] =
      isUsable(first, at) && isUsable(second, at)
        ? Math.log2(lightOf(second, at, table) / lightOf(first, at, table))
        : null;
  }
  return found;
}

/* The median over what both pictures record; null where that is next to nothing. */
export function medianDifference(found) {
  const step = Math.max(1, Math.floor(found.length / MOST_SAMPLES));
  const known = [];
  for (let pixel = 0; pixel < found.length; pixel += step) {
    if (found[pixel] !== null) known.push(found[pixel]);
  }
  if (known.length * step < found.length / 50) return null;
  return known.sort((one, other) => one - other)[known.length >> 1];
}

/* A difference as a colour: grey where equal, lighter where more, darker where less; two stops
   and more are the ends of the scale. */
export function shadeOf(stops) {
  const part = Math.max(-1, Math.min(1, stops / 2));
  return Math.round(128 + 112 * part);
}

/* How much of a channel lies in, above and under one bin of its histogram, as fractions. */
export function readBin({ first, step, shares }, stops) {
  const total = shares.reduce((sum, share) => sum + share, 0) || 1;
  const bin = Math.floor((stops - first) / step);
  const brighter = shares.slice(0, Math.max(0, bin)).reduce((sum, share) => sum + share, 0);
  const here = shares[bin] ?? 0;
  return { here: here / total, brighter: brighter / total, darker: 1 - (here + brighter) / total };
}

/* A fraction that never says nothing where there is something. */
export function shareText(part) {
  const percent = 100 * part;
  if (!part) return "0 %";
  if (percent < 0.01) return "< 0.01 %";
  if (percent > 99.99 && percent < 100) return "> 99.99 %";
  return `${percent.toFixed(percent < 1 ? 2 : percent < 10 ? 1 : 0)} %`;
}
