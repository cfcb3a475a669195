import assert from "node:assert/strict";
import test from "node:test";
import {
  apartFrom,
  areaOf,
  cellsOf,
  dotsOf,
  outlineOf,
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
