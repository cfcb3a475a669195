/* Culling marks with notes and a way back. Nothing here touches the page. */
export const SCHEMA = "exposure-auditor marks 2";
const OLDER = "exposure-auditor marks 1";
export const WORDS = { keep: "keep", second: "second", drop: "drop" };
const OLD_WORDS = { keeper: "keep", spare: "second", drop: "drop" };
export const LONGEST_NOTE = 2000;
const NOTHING = { mark: null, note: "" };

export class MarkBook {
  constructor(frames, auditMadeAt, inputs) {
    this.frames = frames;
    this.auditMadeAt = auditMadeAt;
    this.inputs = inputs;
    this.kept = new Map();
    this.steps = [];
    this.byId = new Map(frames.map((frame, number) => [frame.id, number]));
    this.byFile = new Map(frames.map((frame, number) => [`${frame.input}:${frame.file}`, number]));
  }

  of(number) {
    return this.kept.get(number) ?? NOTHING;
  }

  /* Set some frames in one step that can be taken back as one. */
  set(entries) {
    if (!entries.length) return;
    this.steps.push(entries.map(([number]) => [number, this.of(number)]));
    for (const [number, entry] of entries) this.put(number, entry);
  }

  put(number, { mark, note }) {
    const kept = { mark, note: note.slice(0, LONGEST_NOTE) };
    if (kept.mark || kept.note) this.kept.set(number, kept);
    else this.kept.delete(number);
  }

  /* Take the last step back; returns the frames that it touched. */
  back() {
    const step = this.steps.pop() ?? [];
    for (const [number, entry] of step) this.put(number, entry);
    return step.map(([number]) => number);
  }

  counts() {
    const counts = { keep: 0, second: 0, drop: 0, notes: 0 };
    for (const { mark, note } of this.kept.values()) {
      if (mark) counts[mark] += 1;
      if (note) counts.notes += 1;
    }
    return { ...counts, unmarked: this.frames.length - counts.keep - counts.second - counts.drop };
  }

  numbers(mark) {
    return this.frames.map((_, n) => n).filter((n) => this.of(n).mark === mark);
  }

  file(madeAt) {
    const marks = [...this.kept]
      .sort(([one], [other]) => one - other)
      .map(([number, { mark, note }]) => {
        const { id, file, input } = this.frames[number];
        return { frame: id, file, input, mark, note };
      });
    return {
      schema: SCHEMA,
      made_at: madeAt,
      audit_made_at: this.auditMadeAt,
      inputs: this.inputs,
      marks,
    };
  }

  /* Take marks from a table, of today's schema or the older one. Returns how many were taken, and
     how many belong to no frame here or hold no mark. */
  take(table) {
    const { entries, strange } = this.read(table);
    this.set(entries);
    return { taken: entries.length, strange };
  }

  /* Hold what a table holds and no more, but for some frames; no step that can be taken back. */
  catchUp(table, numbers) {
    const { entries } = this.read(table);
    const own = numbers.map((number) => [number, this.of(number)]);
    this.kept.clear();
    for (const [number, entry] of [...entries, ...own]) this.put(number, entry);
  }

  read(table) {
    const words = { [SCHEMA]: WORDS, [OLDER]: OLD_WORDS }[table?.schema];
    if (!words || !Array.isArray(table.marks)) throw new Error("holds no marks");
    const entries = [];
    let strange = 0;
    for (const entry of table.marks) {
      const number = this.numberFor(entry);
      const word = entry?.mark ?? null;
      const note = entry?.note ?? "";
      const isMark = word === null || Object.hasOwn(words, word);
      if (number === undefined || !isMark || typeof note !== "string") strange += 1;
      else entries.push([number, { mark: word === null ? null : words[word], note }]);
    }
    return { entries, strange };
  }

  numberFor(entry) {
    return this.byId.get(entry?.frame) ?? this.byFile.get(`${entry?.input ?? 0}:${entry?.file}`);
  }
}
