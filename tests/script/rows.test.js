import assert from "node:assert/strict";
import test from "node:test";
import {
  firstBelow,
  layOut,
  SIZES,
  tileGrid,
} from "../../auditor/report/templates/script/rows.js";

test("tiles fill the width and are never narrower than they may be", () => {
  for (const size of Object.keys(SIZES)) {
    const { columns, wide, gap } = tileGrid(1216, size, 16);
    assert.ok(wide >= SIZES[size].least);
    assert.ok(columns * wide + (columns - 1) * gap <= 1216);
  }
  assert.equal(tileGrid(328, "large", 16).columns, 1);
  assert.equal(tileGrid(328, "small", 16).columns, 2);
  assert.equal(tileGrid(1216, "medium", 16).lines, 1);
  const phone = tileGrid(328, "medium", 16);
  assert.equal(phone.lines, 2);
  assert.ok(phone.tall - (phone.wide * 2) / 3 >= (SIZES.medium.text + 1.5) * 16 - 1);
});

test("every frame stands in one row, and single frames share rows", () => {
  const grid = tileGrid(1216, "medium", 16);
  const groups = [
    { setup: 1, numbers: [0, 1, 2, 3, 4] },
    { setup: 2, numbers: [5] },
    { setup: 3, numbers: [6] },
    { setup: 4, numbers: [7, 8] },
  ];
  const { rows, tall } = layOut(groups, grid, 16);
  assert.deepEqual(
    rows.flatMap(({ numbers }) => numbers),
    [0, 1, 2, 3, 4, 5, 6, 7, 8],
  );
  assert.deepEqual(
    rows.map(({ heads }) => heads.map(({ column }) => column)),
    [[0], [], [0, 1, 2]],
  );
  assert.equal(tall, rows.at(-1).top + rows.at(-1).tall + grid.gap);
});

test("the first row in sight is found", () => {
  const rows = [0, 100, 200].map((top) => ({ top, tall: 90 }));
  assert.equal(firstBelow(rows, 0), 0);
  assert.equal(firstBelow(rows, 95), 1);
  assert.equal(firstBelow(rows, 500), 3);
});
