import assert from "node:assert/strict";
import test from "node:test";
import {
  axisOf,
  daysOf,
  nearestFrame,
  ticksOf,
} from "../../auditor/report/templates/script/clock.js";

const at = (clock, seconds = 0) => ({
  clock,
  day: clock.slice(0, 10),
  takenS: Date.parse(`${clock}Z`) / 1000 + seconds,
});

test("days stand apart, long gaps are folded, frames without a clock are left out", () => {
  const frames = [
    at("2031-09-14T18:00"),
    at("2031-09-14T18:05"),
    at("2031-09-14T19:30"),
    { clock: "", day: "", takenS: null },
    at("2031-09-15T06:00"),
  ];
  const days = daysOf(frames);
  assert.deepEqual(
    days.map(({ stretches }) => stretches.map(({ frames: held }) => held)),
    [[[0, 1], [2]], [[4]]],
  );
});

test("a slope means the same in every stretch of a day", () => {
  const frames = ["18:00", "18:10", "19:30", "19:40"].map((time) => at(`2031-09-14T${time}`));
  const [day] = daysOf(frames);
  const { xOf, parts, scale } = axisOf(day, 40, 1000);
  const x = frames.map(({ takenS }) => xOf(takenS));
  assert.ok(Math.abs(x[1] - x[0] - (x[3] - x[2])) < 1e-9);
  assert.ok(Math.abs((x[1] - x[0]) / 600 - scale) < 1e-9);
  assert.equal(parts[0].gapS, 80 * 60);
  assert.ok(x[2] - x[1] < 100, "the gap of 80 minutes takes no room");
});

test("a day of many stretches stays within the width", () => {
  for (const count of [1, 2, 6, 30, 80]) {
    const start = Date.parse("2031-09-14T00:00Z") / 1000;
    const frames = Array.from({ length: count }, (_, n) => ({
      ...at("2031-09-14T00:00"),
      takenS: start + n * 17 * 60,
    }));
    const [day] = daysOf(frames);
    assert.equal(day.stretches.length, count);
    const { xOf, end } = axisOf(day, 46, 300);
    const places = frames.map(({ takenS }) => xOf(takenS));
    assert.ok(end <= 346 + 1e-9, `${count}: ${end}`);
    assert.ok(
      places.every((x, n) => x >= 46 && x <= 346 && (n === 0 || x > places[n - 1])),
      `${count}`,
    );
  }
});

test("a place on the axis gives its time back", () => {
  const frames = ["18:00", "18:10", "19:30", "19:50"].map((time) => at(`2031-09-14T${time}`));
  const axis = axisOf(daysOf(frames)[0], 40, 900);
  for (const { takenS } of frames) {
    assert.ok(Math.abs(axis.timeAt(axis.xOf(takenS)) - takenS) < 1e-6);
  }
});

test("labels are round times of the camera's clock and no nearer than asked", () => {
  const start = Date.parse("2031-09-14T18:07:00Z") / 1000;
  const ticks = ticksOf({ start, end: start + 3600 }, 0.1, 56);
  assert.ok(ticks.length > 3);
  assert.ok(ticks.every((seconds) => seconds % 600 === 0));
});

test("every frame under one pixel is reached by the height of the pointer", () => {
  const placed = Array.from({ length: 5 }, (_, number) => ({ number, x: 100 }));
  const reached = new Set(
    [0, 0.3, 0.5, 0.7, 0.99].map((part) => nearestFrame(placed, 101, part).number),
  );
  assert.equal(reached.size, 5);
});
