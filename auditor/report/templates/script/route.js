/* One part of the page is open at a time; its address says which. */
import { tell } from "./bus.js";
import { numberOf, setups } from "./data.js";
import { byId, isModified } from "./dom.js";
import { parseHash } from "./hash.js";

const SECTIONS = {
  overview: "overview",
  timeline: "timeline",
  frames: "frames",
  frame: "close-up",
  side: "side-by-side",
  setups: "set-ups",
  setup: "set-ups",
  panorama: "set-ups",
  measured: "measured",
  "take-away": "take-away",
};
const views = new Map();
const title = document.title;
let open = null;
let base = "#overview";
let returning = false;
let listPlace = 0;
let shown = null;

export function addView(name, view) {
  views.set(name, view);
}

export const openView = () => open?.view ?? null;

/* Where the list stood is kept with its entry in the history: a way back finds it again, while a
   jump to the list begins at its head. */
function keepPlace() {
  if (open?.view !== "frames") return;
  listPlace = scrollY;
  history.replaceState({ scroll: scrollY }, "");
}

/* Shown at once: a key struck before the browser tells of the change must not meet the old part. */
export function go(hash, { replace = false } = {}) {
  keepPlace();
  if (replace) history.replaceState(null, "", hash);
  else if (hash !== location.hash) location.hash = hash;
  show();
}

/* Back to where a close-up was opened from. */
export function goBack() {
  returning = true;
  go(base);
}

function onLink(event) {
  const link = event.target.closest?.('a[href^="#"]');
  if (!link || event.defaultPrevented || event.shiftKey || isModified(event)) return null;
  event.preventDefault();
  if (link.hash !== location.hash) return go(link.hash);
  history.replaceState(null, "");
  return show();
}

/* The rest of a double click is for what its first click met, not for what came in its place. */
let pressedOn = null;
function onRest(event) {
  if (event.type === "mousedown" && event.detail === 1) pressedOn = event.target;
  else if (event.detail > 1 && !pressedOn?.getClientRects().length) {
    event.preventDefault();
    event.stopImmediatePropagation();
  }
}

function routeNow() {
  const route = parseHash(location.hash, (id) => numberOf.has(id));
  if (!route) return { view: "overview" };
  if (route.view === "setups" && setups.length) return { view: "setup", number: null };
  return route;
}

function show() {
  const before = open;
  shown = location.hash;
  open = routeNow();
  const section = SECTIONS[open.view];
  if (before && SECTIONS[before.view] !== section) views.get(before.view)?.close?.();
  for (const name of new Set(Object.values(SECTIONS))) byId(name).hidden = name !== section;
  document.documentElement.dataset.view = section;
  if (open.view !== "frame" && open.view !== "side") base = location.hash || "#overview";
  showNav(section);
  const isReturn = returning || history.state?.scroll !== undefined;
  returning = false;
  if (open.view === "frames" && before)
    listPlace = isReturn ? (history.state?.scroll ?? listPlace) : 0;
  scrollTo(0, open.view === "frames" ? listPlace : 0);
  views.get(open.view)?.open?.(open, isReturn ? before : null);
  const heading = byId(section).querySelector("h1, h2");
  document.title = `${heading.textContent.trim()}, ${title}`;
  if (before && !byId(section).contains(document.activeElement))
    heading.focus({ preventScroll: true });
  tell("view", open.view);
}

function showNav(section) {
  for (const link of document.querySelectorAll(".nav a")) {
    if (link.dataset.for === section) link.setAttribute("aria-current", "page");
    else link.removeAttribute("aria-current");
  }
}

export function startRoutes() {
  history.scrollRestoration = "manual";
  addEventListener("hashchange", () => {
    if (location.hash !== shown) show();
  });
  addEventListener("click", onLink);
  for (const part of ["mousedown", "click", "dblclick"]) addEventListener(part, onRest, true);
  show();
}
