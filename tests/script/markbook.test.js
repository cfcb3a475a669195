import assert from "node:assert/strict";
import test from "node:test";
import { MarkBook, SCHEMA } from "../../auditor/report/templates/script/markbook.js";

const frames = ["a", "b", "c"].map((id) => ({ id, file: `100/${id}.dng`, input: 0 }));
const book = () => new MarkBook(frames, "2031-09-14T21:40:03+01:00", ["/card"]);
const marked = (mark, note = "") => ({ mark, note });

test("a step of several frames is taken back as one, notes stay", () => {
  const marks = book();
  marks.set([[0, marked(null, "glow")]]);
  marks.set([
    [0, marked("keep", "glow")],
    [1, marked("second")],
  ]);
  assert.deepEqual(marks.counts(), { keep: 1, second: 1, drop: 0, notes: 1, unmarked: 1 });
  assert.deepEqual(marks.back(), [0, 1]);
  assert.deepEqual(marks.of(0), marked(null, "glow"));
  assert.deepEqual(marks.of(1), marked(null));
  assert.deepEqual(marks.back(), [0]);
  assert.deepEqual(marks.back(), []);
});

test("what is saved is read again", () => {
  const marks = book();
  marks.set([[2, marked("drop", 'a "note"')]]);
  const file = JSON.parse(JSON.stringify(marks.file("now")));
  assert.equal(file.schema, SCHEMA);
  assert.deepEqual(file.inputs, ["/card"]);
  const other = book();
  assert.deepEqual(other.take(file), { taken: 1, strange: 0 });
  assert.deepEqual(other.of(2), marked("drop", 'a "note"'));
});

test("older files and their words are read, by id or by place", () => {
  const marks = book();
  const table = {
    schema: "exposure-auditor marks 1",
    marks: [
      { frame: "a", mark: "keeper" },
      { frame: "gone", file: "100/b.dng", mark: "spare" },
      { frame: "c", mark: "best" },
      { frame: "elsewhere", mark: "drop" },
      null,
    ],
  };
  assert.deepEqual(marks.take(table), { taken: 2, strange: 3 });
  assert.equal(marks.of(0).mark, "keep");
  assert.equal(marks.of(1).mark, "second");
});

test("what holds no marks is refused, also words of another schema", () => {
  for (const table of [null, [], {}, { schema: "other", marks: [] }, { schema: SCHEMA }]) {
    assert.throws(() => book().take(table));
  }
  const mixed = { schema: SCHEMA, marks: [{ frame: "a", mark: "keeper" }] };
  assert.deepEqual(book().take(mixed), { taken: 0, strange: 1 });
});

test("what another window marked is held, but for what was marked just now", () => {
  const [here, there] = [book(), book()];
  here.set([[0, marked("keep")]]);
  here.set([[1, marked("drop")]]);
  there.set([
    [0, marked("second")],
    [1, marked("second")],
    [2, marked(null, "fog")],
  ]);
  here.catchUp(there.file("now"), [1]);
  assert.deepEqual(
    [0, 1, 2].map((number) => here.of(number)),
    [marked("second"), marked("drop"), marked(null, "fog")],
  );
  here.catchUp({ schema: SCHEMA, marks: [] }, []);
  assert.equal(here.kept.size, 0);
  assert.throws(() => here.catchUp([], []));
});
