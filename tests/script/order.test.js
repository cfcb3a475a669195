import assert from "node:assert/strict";
import test from "node:test";
import {
  grouped,
  ordered,
  questions,
  searchText,
} from "../../auditor/report/templates/script/order.js";

const frame = (number, more = {}) => ({
  place: `IMG_${number}.DNG`,
  takenS: number,
  bar: { blown: null, blocked: null },
  outcome: "clean",
  status: "measured",
  filtered: false,
  bracket: [],
  suggested: "",
  findings: [],
  ...more,
});
const NOTHING = { mark: null, note: "" };
const asked = (more) => ({ chips: [], search: "", ...more });

test("the unmeasured come last, whichever way round", () => {
  const frames = [0.2, null, 0.5].map((blown, n) => frame(n, { bar: { blown } }));
  assert.deepEqual(ordered(frames, "blown", false), [2, 0, 1]);
  assert.deepEqual(ordered(frames, "blown", true), [0, 2, 1]);
});

test("names are sorted as people number them", () => {
  const frames = ["IMG_10", "IMG_9", "IMG_100"].map((place, n) => frame(n, { place }));
  assert.deepEqual(ordered(frames, "name", false), [1, 0, 2]);
});

test("chips and words all have to be answered", () => {
  const frames = [frame(0, { outcome: "lost" }), frame(1, { outcome: "lost", filtered: true })];
  const texts = ["harbour", "harbour long"];
  const shown = (wanted) =>
    frames.flatMap((each, n) =>
      questions(wanted).every((answers) => answers(each, NOTHING, texts[n])) ? [n] : [],
    );
  assert.deepEqual(shown(asked({ chips: ["lost"] })), [0, 1]);
  assert.deepEqual(shown(asked({ chips: ["lost", "filtered"] })), [1]);
  assert.deepEqual(shown(asked({ search: "HARBOUR long" })), [1]);
  assert.deepEqual(shown(asked({ span: { startS: 1, endS: 3 } })), [1]);
  assert.deepEqual(shown(asked({ mark: "none" })), [0, 1]);
  assert.deepEqual(shown(asked({ mark: "keep" })), []);
});

test("groups end where the set-up or the day changes", () => {
  const frames = [1, 1, 2, 1].map((setup, n) => ({ ...frame(n), setup, day: "a" }));
  assert.deepEqual(
    grouped([0, 1, 2, 3], frames).map(({ numbers }) => numbers),
    [[0, 1], [2], [3]],
  );
});

test("a strength is found as one types it", () => {
  const told = { name: "", camera: "", lens: "", exposure: "", verdictText: "", roles: [] };
  const text = searchText(frame(1, { ...told, why: "behind the 10-\u2060stop filter" }), {});
  assert.ok(text.includes("10-stop"));
});
