import assert from "node:assert/strict";
import test from "node:test";
import { frameHash, parseHash, sideHash } from "../../auditor/report/templates/script/hash.js";

const ids = ["100/A.dng", "100/B,C.dng", "1:100/ü #%.dng", "__proto__", "100/\ud83d.dng"];
const isKnown = (id) => ids.includes(id);

test("an address leads back to its frame, whatever the name holds", () => {
  for (const id of ids) assert.deepEqual(parseHash(frameHash(id), isKnown), { view: "frame", id });
});

test("two frames are told apart, commas in their names or not", () => {
  for (const one of ids) {
    for (const other of ids) {
      const route = parseHash(sideHash(one, other), isKnown);
      assert.deepEqual(route, { view: "side", ids: [one, other] });
    }
  }
  assert.deepEqual(
    parseHash("#side=100/B,C.dng,100/A.dng", isKnown).ids,
    ids.slice(0, 2).reverse(),
  );
});

test("parts and set-ups have plain addresses, the unknown has none", () => {
  assert.deepEqual(parseHash("#frames", isKnown), { view: "frames" });
  assert.deepEqual(parseHash("#setup=7", isKnown), { view: "setup", number: 7 });
  for (const hash of ["", "#", "#frame=x", "#setup=x", "#side=100/A.dng", "#constructor"]) {
    assert.equal(parseHash(hash, isKnown), null);
  }
});
