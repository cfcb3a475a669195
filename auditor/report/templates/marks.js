/* Culling marks: kept in this browser, saved to and loaded from a small file. */
const MARKS_SCHEMA = "exposure-auditor marks 2";
const OLDER_SCHEMA = "exposure-auditor marks 1";
const MARK_WORDS = { keep: "keep", second: "second", drop: "drop" };
const OLDER_WORDS = { keeper: "keep", spare: "second", drop: "drop" };
const MARKS_PLACE = `exposure-auditor marks ${data.audit.key}`;
const LONGEST_NOTE = 2000;
const marks = new Map();
const markWatchers = [];

const numberOf = new Map(frames.map((frame, number) => [frame.id, number]));
const numberAt = new Map(frames.map((frame, number) => [`${frame.input}:${frame.file}`, number]));
const markOf = (number) => marks.get(number)?.mark ?? null;
const noteOf = (number) => marks.get(number)?.note ?? "";

function setMark(number, mark, note) {
  const kept = { mark, note: note.slice(0, LONGEST_NOTE) };
  if (kept.mark || kept.note) marks.set(number, kept);
  else marks.delete(number);
  keepMarks();
  markWatchers.forEach((tell) => tell(number));
}

function toggleMark(number, mark) {
  const next = markOf(number) === mark ? null : mark;
  setMark(number, next, noteOf(number));
  say(next ? `${frames[number].name}: ${MARK_WORDS[next]}` : `${frames[number].name}: no mark`);
}

function marksFile() {
  const entries = [...marks].sort((a, b) => a[0] - b[0]).map(([number, { mark, note }]) => ({
    frame: frames[number].id, file: frames[number].file, input: frames[number].input, mark, note,
  }));
  return { schema: MARKS_SCHEMA, made_at: new Date().toISOString(), audit_made_at: data.audit.made_at, inputs: data.audit.inputs, marks: entries };
}

let canKeep = true;
function keepMarks() {
  showMarks();
  try {
    localStorage.setItem(MARKS_PLACE, JSON.stringify(marksFile()));
  } catch {
    if (canKeep) say("This browser keeps no marks. Save them to a file before you close the page.");
    canKeep = false;
  }
}

/* Take marks from a table; returns how many were taken and how many have no frame here. */
function takeMarks(table) {
  const older = table?.schema === OLDER_SCHEMA ? OLDER_WORDS : {};
  if (![MARKS_SCHEMA, OLDER_SCHEMA].includes(table?.schema) || !Array.isArray(table.marks)) throw new Error("not marks");
  let taken = 0, strange = 0;
  for (const entry of table.marks) {
    const number = numberOf.get(entry?.frame) ?? numberAt.get(`${entry?.input ?? 0}:${entry?.file}`);
    const word = entry?.mark ?? null, mark = Object.hasOwn(older, word) ? older[word] : word, note = entry?.note ?? "";
    if (number === undefined || (mark !== null && !Object.hasOwn(MARK_WORDS, mark)) || typeof note !== "string") { strange += 1; continue; }
    marks.set(number, { mark, note: note.slice(0, LONGEST_NOTE) });
    taken += 1;
  }
  return { taken, strange };
}

function showMarks() {
  const counts = { keep: 0, second: 0, drop: 0, notes: 0 };
  for (const { mark, note } of marks.values()) {
    if (mark) counts[mark] += 1;
    if (note) counts.notes += 1;
  }
  const told = [["keep", "keep"], ["second", "second"], ["drop", "drop"], ["notes", "noted"]].filter(([key]) => counts[key]).map(([key, word]) => `${counts[key]} ${word}`);
  byId("marks-state").textContent = told.join(", ") || "No marks";
  byId("marks-save").disabled = marks.size === 0;
}

function saveMarks() {
  const blob = new Blob([JSON.stringify(marksFile(), null, 1)], { type: "application/json" });
  const link = make("a", { href: URL.createObjectURL(blob), download: "marks.json" });
  link.click();
  setTimeout(() => URL.revokeObjectURL(link.href), 10000);
  say(`Saved ${marks.size} ${marks.size === 1 ? "mark" : "marks"} to marks.json. “auditor apply” writes them beside the raw files.`);
}

async function loadMarks(file) {
  try {
    const { taken, strange } = takeMarks(JSON.parse(await file.text()));
    keepMarks();
    markWatchers.forEach((tell) => tell(null));
    say(`Loaded ${taken} ${taken === 1 ? "mark" : "marks"}${strange ? `; ${strange} ${strange === 1 ? "belongs to no frame here and was" : "belong to no frame here and were"} left out` : ""}.`);
  } catch {
    say("That file holds no marks of this report. Choose a marks.json that was saved here.");
  }
}

byId("marks-save").addEventListener("click", saveMarks);
byId("marks-load").addEventListener("click", () => byId("marks-file").click());
byId("marks-file").addEventListener("change", (event) => {
  if (event.target.files[0]) loadMarks(event.target.files[0]);
  event.target.value = "";
});

try {
  const kept = localStorage.getItem(MARKS_PLACE);
  if (kept) takeMarks(JSON.parse(kept));
} catch { /* What cannot be read back is left where it is. */ }
showMarks();
