/* One part of the page is open at a time; its address says which. */
import { tell } from "./bus.js";
import { numberOf, setups } from "./data.js";
import { byId } from "./dom.js";
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
const places = new Map();
const title = document.title;
let open = null;
let base = "#overview";

export function addView(name, view) {
  views.set(name, view);
}

export const openView = () => open?.view ?? null;

/* Where Escape leads from a close-up. */
export const baseHash = () => base;

export function go(hash, { replace = false } = {}) {
  if (hash === location.hash) show();
  else if (replace) location.replace(hash);
  else location.hash = hash;
}

function routeNow() {
  const route = parseHash(location.hash, (id) => numberOf.has(id));
  if (!route) return { view: "overview" };
  if (route.view === "setups" && setups.length) return { view: "setup", number: null };
  return route;
}

function show() {
  const before = open;
  open = routeNow();
  const section = SECTIONS[open.view];
  if (before) places.set(before.view, scrollY);
  if (before && SECTIONS[before.view] !== section) views.get(before.view)?.close?.();
  for (const name of new Set(Object.values(SECTIONS))) byId(name).hidden = name !== section;
  document.documentElement.dataset.view = section;
  if (open.view !== "frame" && open.view !== "side") base = location.hash || "#overview";
  showNav(section);
  const back = before && open.view === "frames" ? (places.get("frames") ?? 0) : 0;
  scrollTo(0, back);
  views.get(open.view)?.open?.(open, before);
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
  addEventListener("hashchange", show);
  show();
}
