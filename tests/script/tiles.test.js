import assert from "node:assert/strict";
import test from "node:test";
import {
  apartFrom,
  areaOf,
  cellsOf,
  dotsOf,
  dotWidth,
  outlineOf,
  outlineWeight,
  patchesOf,
} from "../../auditor/report/templates/script/tiles.js";

test("runs become cells, off first", () => {
  assert.deepEqual([...cellsOf("2 3 1", 2, 3)], [0, 0, 1, 1, 1, 0]);
  assert.deepEqual([...cellsOf("", 1, 2)], [0, 0]);
  assert.deepEqual([...cellsOf("0 2", 1, 2)], [1, 1]);
});

test("one tile has four edges", () => {
  const path = outlineOf(cellsOf("4 1 4", 3, 3), 3, 3);
  assert.equal(path, "M1 1H2M1 2H2M1 1V2M2 1V2");
});

test("an edge at the border of the picture is drawn", () => {
  assert.equal(outlineOf(cellsOf("0 1", 1, 1), 1, 1), "M0 0H1M0 1H1M0 0V1M1 0V1");
});

test("an area is laid over a picture of any size", () => {
  assert.equal(areaOf(cellsOf("1 2 1", 2, 2), 2, 2, 100, 50), "M50 0h50v25h-50zM0 25h50v25h-50z");
});

test("points at the rim of an area are left to its outline", () => {
  const area = Uint8Array.from([1, 0, 0, 0, 0, 0, 0, 0]);
  const points = Uint8Array.from([0, 1, 0, 1, 0, 1, 0, 0]);
  assert.deepEqual([...apartFrom(points, area, 2, 4)], [0, 0, 0, 1, 0, 0, 0, 0]);
});

test("a point is a dot in the middle of its tile", () => {
  assert.equal(dotsOf(cellsOf("3 1", 2, 2), 2, 2, 100, 50), "M75 37.5h0");
});

test("patches hold together by corners too, the largest first", () => {
  const cells = Uint8Array.from([1, 0, 0, 0, 0, 0, 0, 0, 1, 1, 0, 1]);
  const found = patchesOf(cells, 2, 6);
  assert.deepEqual(
    found.map(({ tiles }) => tiles),
    [2, 1, 1],
  );
  assert.deepEqual(found[0], { tiles: 2, left: 2 / 6, top: 0.5, right: 4 / 6, bottom: 1 });
  const corner = patchesOf(Uint8Array.from([1, 0, 0, 1]), 2, 2);
  assert.equal(corner.length, 1);
});

test("a few dots are each seen, and very many take no more than what is lost", () => {
  const tile = (360 / 192) * (240 / 128);
  assert.equal(dotWidth(1, 0.001, tile), 2.4);
  assert.equal(dotWidth(40, 0.001, tile), 2.4);
  const ink = (count, share) => (count * Math.PI * dotWidth(count, share, tile) ** 2) / 4;
  const most = ink(40, 0.001);
  for (const count of [80, 300, 1000]) assert.ok(Math.abs(ink(count, 0.001) - most) < 1);
  const dense = ink(8000, 0.4);
  const lost = 8000 * 0.4 * tile;
  assert.ok(Math.abs(dense / lost - 1) < 0.01);
  assert.ok(ink(8000, 0.001) < 0.02 * 360 * 240);
});

test("one tile keeps its whole outline, thousands step back", () => {
  const [rows, cols] = [128, 192];
  const cells = new Uint8Array(rows * cols);
  cells[5000] = 1;
  assert.equal(outlineWeight(cells, rows, cols, 360, 240), 1);
  cells.fill(1, 2000, 9000);
  assert.equal(outlineWeight(cells, rows, cols, 360, 240), 1, "one area, however large");
  for (let at = 0; at < cells.length; at += 3) cells[at] = 1 - cells[at];
  assert.equal(outlineWeight(cells, rows, cols, 360, 240), 0.25);
});
