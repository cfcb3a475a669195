/* Marks on the page: kept in this browser, saved to and loaded from a small file, spoken. */
import { on, tell } from "./bus.js";
import { data, frames } from "./data.js";
import { button, byId, counted, isPressed, make, pressed, say } from "./dom.js";
import { LONGEST_NOTE, MarkBook, WORDS } from "./markbook.js";

const PLACE = `exposure-auditor marks ${data.audit.key}`;
export const book = new MarkBook(frames, data.audit.madeAt, data.inputs);
export const LABELS = { keep: "Keep", second: "Second", drop: "Drop" };
export const MARK_KEYS = { 1: "keep", 2: "second", 3: "drop" };
export const LONGEST = LONGEST_NOTE;
let canKeep = true;
let isSaved = true;

function keep() {
  try {
    localStorage.setItem(PLACE, JSON.stringify(book.file(new Date().toISOString())));
    canKeep = true;
  } catch {
    canKeep = false;
  }
  isSaved = canKeep;
}

/* What another window of this report has marked meanwhile, but for the frames marked just now. */
function catchUp(numbers = []) {
  if (!canKeep) return;
  try {
    const kept = localStorage.getItem(PLACE);
    if (kept) book.catchUp(JSON.parse(kept), numbers);
  } catch {
    /* What cannot be read back is left where it is. */
  }
}

/* Every change goes this way: kept, then told to whoever shows marks. */
function changed(numbers) {
  if (numbers) catchUp(numbers);
  keep();
  tell("marks", numbers);
}

export function setMarks(entries) {
  book.set(entries);
  changed(entries.map(([number]) => number));
}

/* The same mark again takes it away. Returns the mark that the frame has now. */
export function toggleMark(number, mark) {
  const { mark: before, note } = book.of(number);
  const next = before === mark ? null : mark;
  setMarks([[number, { mark: next, note }]]);
  say(`${frames[number].name}: ${next ? WORDS[next] : "no mark"}`);
  return next;
}

export function setNote(number, note) {
  setMarks([[number, { mark: book.of(number).mark, note }]]);
}

export function takeBack() {
  const numbers = book.back();
  if (!numbers.length) {
    say("Nothing to take back.");
    return null;
  }
  changed(numbers);
  const { mark } = book.of(numbers[0]);
  const one = `${frames[numbers[0]].name}: ${mark ? WORDS[mark] : "no mark"} again`;
  say(numbers.length === 1 ? one : `Taken back on ${numbers.length} frames.`);
  return numbers[0];
}

/* Buttons for one frame's mark; what they do is said by whoever builds them. */
export function markButtons(number, act, settings = {}) {
  const { mark: now } = book.of(number);
  return Object.entries(LABELS).map(([mark, words]) => {
    const onClick = (_, event) => event.detail > 1 || act(mark, event); // a double click is one
    const made = button(words, onClick, { data: { mark }, ...settings });
    pressed(made, now === mark);
    return made;
  });
}

export function showMark(holder, number) {
  const { mark } = book.of(number);
  if (mark) holder.dataset.marked = mark;
  else delete holder.dataset.marked;
  for (const made of holder.querySelectorAll("[data-mark]")) {
    const is = made.dataset.mark === mark;
    if (isPressed(made) !== is) pressed(made, is);
  }
}

export function acceptable() {
  return frames.flatMap((frame, number) =>
    frame.suggested && !book.of(number).mark ? [[number, frame.suggested]] : [],
  );
}

export function acceptAll() {
  const found = acceptable();
  setMarks(found.map(([number, mark]) => [number, { mark, note: book.of(number).note }]));
  say(`Accepted ${counted(found.length, "suggestion")}. Backspace takes them back.`);
}

function showCounts() {
  const { keep: kept, second, drop, notes, unmarked } = book.counts();
  const parts = [
    [kept, "keep"],
    [second, "second"],
    [drop, "drop"],
    [notes, "noted"],
  ].filter(([count]) => count);
  const words = parts.map(([count, word]) => `${count} ${word}`).join(", ");
  const told = words ? `${words}, ${unmarked} unmarked` : "No marks";
  byId("marks-state").textContent = isSaved
    ? told
    : `${told}; not kept by this browser: save them`;
  for (const made of document.querySelectorAll("[data-save]"))
    made.disabled = book.kept.size === 0;
}

export function saveFile(name, text, type) {
  const link = make("a", {
    href: URL.createObjectURL(new Blob([text], { type })),
    download: name,
  });
  link.click();
  setTimeout(() => URL.revokeObjectURL(link.href), 10000);
}

function saveMarks() {
  const file = book.file(new Date().toISOString());
  saveFile("marks.json", JSON.stringify(file, null, 1), "application/json");
  isSaved = true;
  showCounts();
  const many = counted(book.kept.size, "mark");
  say(`Saved ${many} to marks.json. “auditor apply” writes them beside the raw files.`);
}

async function loadMarks(file) {
  try {
    const table = JSON.parse(await file.text());
    catchUp();
    const { taken, strange } = book.take(table);
    changed(null);
    const belong =
      strange === 1 ? "belongs to no frame here and was" : "belong to no frame here and were";
    say(`Loaded ${counted(taken, "mark")}${strange ? `; ${strange} ${belong} left out` : ""}.`);
  } catch {
    say("That file holds no marks of this report. Choose a marks.json that was saved here.");
  }
}

export function startMarks() {
  on("marks", showCounts);
  for (const made of document.querySelectorAll("[data-save]"))
    made.addEventListener("click", saveMarks);
  byId("marks-load").addEventListener("click", () => byId("marks-file").click());
  byId("marks-file").addEventListener("change", (event) => {
    if (event.target.files[0]) loadMarks(event.target.files[0]);
    event.target.value = "";
  });
  addEventListener("beforeunload", (event) => {
    if (!isSaved) event.preventDefault();
  });
  addEventListener("storage", ({ key }) => {
    if (key === PLACE) readAgain();
  });
  addEventListener("pageshow", readAgain); // one that the browser put aside heard nothing
  readAgain();
}

function readAgain() {
  catchUp();
  tell("marks", null);
}
