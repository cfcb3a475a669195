import assert from "node:assert/strict";
import test from "node:test";
import {
  differences,
  linearTable,
  medianDifference,
  readBin,
  shareText,
  stopsOf,
} from "../../auditor/report/templates/script/tones.js";

/* IEC 61966-2-1, as the page gets it. */
const curve = { toe: 0.0031308, slope: 12.92, scale: 1.055, offset: 0.055, power: 2.4 };
const table = linearTable(curve);
const codeOf = (linear) =>
  Math.round(255 * (linear <= curve.toe ? 12.92 * linear : 1.055 * linear ** (1 / 2.4) - 0.055));

test("codes go back to light by the standard's own values", () => {
  /* IEC 61966-2-1: code 128 is 0.2158 of linear light, code 10 lies on the straight part. */
  assert.ok(Math.abs(table[128] - 0.2158) < 1e-4);
  assert.ok(Math.abs(table[10] - 10 / 255 / 12.92) < 1e-12);
  assert.equal(table[0], 0);
  assert.equal(table[255], 1);
});

test("stops are counted below saturation, with the white of the rendering put in", () => {
  assert.equal(stopsOf(1, 0), 0);
  assert.equal(stopsOf(0.25, 0.5), 2.5);
  assert.equal(stopsOf(0, 0), null);
});

test("a difference in stops is found again, whatever is white or dark in one of them", () => {
  const pixels = (linear) => [...Array(3).fill(codeOf(linear)), 255];
  const first = [0.02, 0.05, 0.1, 0.2, 0.3, 1.0, 0.0005].flatMap(pixels);
  const second = [0.04, 0.1, 0.2, 0.4, 0.6, 1.0, 0.001].flatMap(pixels);
  const found = differences(first, second, table);
  assert.equal(found[5], null);
  assert.equal(found[6], null);
  assert.ok(Math.abs(medianDifference(found) - 1) < 0.05);
});

test("nothing is said where next to nothing is recorded by both", () => {
  const known = [1, ...Array(99).fill(null)];
  assert.equal(medianDifference(known), null);
});

test("a bin is read with what is brighter and darker", () => {
  const row = { first: 0, step: 0.5, shares: [100, 300, 600] };
  const { here, brighter, darker } = readBin(row, 0.7);
  assert.ok(Math.abs(here - 0.3) < 1e-9);
  assert.ok(Math.abs(brighter - 0.1) < 1e-9);
  assert.ok(Math.abs(darker - 0.6) < 1e-9);
  assert.deepEqual(readBin(row, 9), { here: 0, brighter: 1, darker: 0 });
});

test("a share never says nothing or all where it is not", () => {
  assert.equal(shareText(0), "0 %");
  assert.equal(shareText(1e-7), "< 0.01 %");
  assert.equal(shareText(0.99999), "> 99.99 %");
  assert.equal(shareText(1), "100 %");
  assert.equal(shareText(0.0123), "1.2 %");
});
