/* What can be done with one frame, wherever it is shown; and the keys for it. */
import { frames, setupOf } from "./data.js";
import { pressed, say } from "./dom.js";
import { shownFrames } from "./filters.js";
import { frameHash, setupHash, sideHash } from "./hash.js";
import { book, MARK_KEYS, setMarks, toggleMark } from "./marks.js";
import { go } from "./route.js";

export const openFrame = (number, settings) => go(frameHash(frames[number].id), settings);

const after = (list, number) => list[(list.indexOf(number) + 1) % list.length];

export const siblingOf = (number) => frames[number].siblings[0] ?? null;
export const nextInBracket = (number) =>
  frames[number].bracket.length > 1 ? after(frames[number].bracket, number) : null;

/* Whom a frame is set against when nothing else is asked: who is nearest to it in purpose. */
export function partnerOf(number) {
  const near = siblingOf(number) ?? nextInBracket(number);
  if (near !== null) return near;
  const held = setupOf(number)?.frames ?? [];
  if (held.length > 1) return after(held, number);
  const shown = shownFrames();
  return shown.length > 1 ? after(shown, number) : null;
}

const open = (number, missing, settings) =>
  number === null ? say(missing) : openFrame(number, settings);

export function openSide(number) {
  const other = partnerOf(number);
  if (other === null) return say("There is no other frame to set beside it.");
  return go(sideHash(frames[number].id, frames[other].id));
}

export function openSetup(number) {
  const { setup } = frames[number];
  return setup ? go(setupHash(setup)) : say("This frame belongs to no set-up.");
}

export function acceptSuggestion(number) {
  const { suggested, name } = frames[number];
  if (!suggested) return say("Nothing is suggested for this frame.");
  setMarks([[number, { mark: suggested, note: book.of(number).note }]]);
  return say(`${name}: ${suggested}, as suggested`);
}

/* The next frame without a mark, in the order shown before anything left the list. */
export function nextUnmarked(order, number) {
  const at = order.indexOf(number);
  const round = [...order.slice(at + 1), ...order.slice(0, Math.max(0, at))];
  return round.find((other) => !book.of(other).mark) ?? null;
}

export function toggleLost() {
  const off = document.documentElement.dataset.lost !== "off";
  document.documentElement.dataset.lost = off ? "off" : "on";
  for (const made of document.querySelectorAll("[data-lost-switch]")) pressed(made, !off);
  say(off ? "Lost areas are not drawn in." : "Lost areas are drawn in.");
}

/* Keys that go somewhere; true when one was meant. */
export function goKey(number, key, settings) {
  if (key === "s")
    open(siblingOf(number), "This frame has no sibling with or without a filter.", settings);
  else if (key === "k") open(nextInBracket(number), "This frame is in no bracket.", settings);
  else if (key === "v") openSetup(number);
  else if (key === "w") openSide(number);
  else if (key === "h") toggleLost();
  else return false;
  return true;
}

/* Keys that mark; returns true when one was meant. ``advance`` is told the next unmarked frame. */
export function markKey(number, key, advance) {
  const order = [...shownFrames()];
  if (key in MARK_KEYS) toggleMark(number, MARK_KEYS[key]);
  else if (key === "a") acceptSuggestion(number);
  else return false;
  if (book.of(number).mark) goOn(order, number, advance);
  else advance(number);
  return true;
}

export function goOn(order, number, advance) {
  const next = nextUnmarked(order.includes(number) ? order : [number, ...order], number);
  const { mark } = book.of(number);
  const done = `${frames[number].name}: ${mark}.`;
  say(
    next === null ? `${done} Every frame shown is marked.` : `${done} Next: ${frames[next].name}.`,
  );
  advance(next ?? number);
}

export function startActions() {
  document.documentElement.dataset.lost = "on";
  for (const made of document.querySelectorAll("[data-lost-switch]")) {
    made.addEventListener("click", toggleLost);
  }
}
