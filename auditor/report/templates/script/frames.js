/* The list of all frames: sizes, keys, the way back from a close-up. */
import { goKey, markKey, openFrame } from "./actions.js";
import { on, tell } from "./bus.js";
import { frames, numberOf } from "./data.js";
import { byId, counted, isHeld, isModified, isTyping, pressed } from "./dom.js";
import { choose, shownFrames } from "./filters.js";
import {
  columnsNow,
  currentFrame,
  focusFrame,
  letGo,
  makeCurrent,
  renew,
  setSize,
  showMarks,
  startGrid,
} from "./grid.js";
import { acceptAll, acceptable, takeBack } from "./marks.js";
import { addView, openView } from "./route.js";
import { SIZES } from "./rows.js";

const SIZE_PLACE = "exposure-auditor size";
const list = byId("tiles");

function keptSize() {
  try {
    const kept = localStorage.getItem(SIZE_PLACE);
    return kept in SIZES ? kept : "medium";
  } catch {
    return "medium";
  }
}

function chooseSize(name) {
  for (const made of document.querySelectorAll("[data-size-choice]")) {
    pressed(made, made.dataset.sizeChoice === name);
  }
  setSize(name);
  try {
    localStorage.setItem(SIZE_PLACE, name);
  } catch {
    /* It holds for this visit. */
  }
}

function move(number, key) {
  const shown = shownFrames();
  const columns = columnsNow();
  const steps = {
    ArrowRight: 1,
    ArrowLeft: -1,
    ArrowDown: columns,
    ArrowUp: -columns,
    PageDown: 4 * columns,
    PageUp: -4 * columns,
    Home: -shown.length,
    End: shown.length,
  };
  if (!(key in steps)) return false;
  const to = Math.max(0, Math.min(shown.length - 1, shown.indexOf(number) + steps[key]));
  if (shown.length) focusFrame(shown[to]);
  return true;
}

function onKey(event) {
  const tile = event.target.closest(".tile");
  if (!tile || isModified(event)) return;
  const number = Number(tile.dataset.number);
  const meant =
    isHeld(event) ||
    move(number, event.key) ||
    markKey(number, event.key, focusFrame) ||
    goKey(number, event.key);
  if (!meant && event.key === "n") {
    openFrame(number);
    tell("note");
  } else if (!meant) return;
  event.preventDefault();
}

/* Keys that need no frame: the way back, and the search. */
function onPageKey(event) {
  if (isTyping(event.target) || event.defaultPrevented) return;
  const view = openView();
  const plainZ = event.key === "z" && (event.ctrlKey || event.metaKey);
  if (event.key === "Backspace" || plainZ) {
    if (!["frames", "frame", "side"].includes(view)) return;
    const number = isHeld(event) ? null : takeBack();
    if (number !== null && view === "frames") focusFrame(number);
  } else if (event.key === "/" && view === "frames") byId("q").focus();
  else return;
  event.preventDefault();
}

function showSuggestions() {
  const count = acceptable().length;
  const made = byId("accept-all");
  made.hidden = !frames.some(({ suggested }) => suggested);
  made.disabled = count === 0;
  made.textContent = count ? `Accept ${counted(count, "suggestion")}` : "All suggestions answered";
}

function open(_, before) {
  if (list.dataset.size) renew();
  else chooseSize(keptSize());
  if (before?.view === "frame" || before?.view === "side") {
    focusFrame(numberOf.get(before.id ?? before.ids[0]));
  }
}

export function startFrames() {
  startGrid();
  addView("frames", { open, close: letGo });
  for (const made of document.querySelectorAll("[data-size-choice]")) {
    made.addEventListener("click", () => chooseSize(made.dataset.sizeChoice));
  }
  list.addEventListener("keydown", onKey);
  list.addEventListener("focusin", (event) => {
    const tile = event.target.closest(".tile");
    if (tile && Number(tile.dataset.number) !== currentFrame())
      makeCurrent(Number(tile.dataset.number));
  });
  addEventListener("keydown", onPageKey);
  byId("accept-all").addEventListener("click", acceptAll);
  on("shown", () => {
    if (openView() === "frames") renew();
  });
  on("marks", (numbers) => {
    showMarks(numbers);
    showSuggestions();
  });
  choose();
}
