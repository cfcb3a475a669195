/* All frames in rows, of which only those near the window are there. */
import { frames, setups } from "./data.js";
import { byId, counted, make } from "./dom.js";
import { isGrouped, shownFrames } from "./filters.js";
import { setupHash } from "./hash.js";
import { showMark } from "./marks.js";
import { grouped } from "./order.js";
import { firstBelow, layOut, tileGrid } from "./rows.js";
import { setTabs, tileOf } from "./tile.js";

const AHEAD_PX = 500;
const list = byId("tiles");
const alive = new Map();
let plan = { rows: [], tall: 0 };
let columns = 1;
let size = "medium";
let width = 0;
let current = null;

/* Whole pixels that are surely there: a list of 729.6 has no room for 730. */
const roomWide = () => Math.floor(list.getBoundingClientRect().width);
const rem = () => Number.parseFloat(getComputedStyle(document.documentElement).fontSize);
export const currentFrame = () => current;
export const columnsNow = () => columns;

export function setSize(name) {
  size = name;
  list.dataset.size = name;
  renew();
}

/* Lay out anew what is shown; the frame that was looked at stays in its place. */
export function renew() {
  width = roomWide();
  if (!width) return;
  const grid = tileGrid(width, size, rem());
  columns = grid.columns;
  const shown = shownFrames();
  const groups = isGrouped() ? grouped(shown, frames) : [{ numbers: shown }];
  plan = layOut(groups, grid, rem());
  list.style.setProperty("--columns", columns);
  list.style.setProperty("--tile", `${grid.wide}px`);
  list.style.setProperty("--gap", `${grid.gap}px`);
  list.style.height = `${plan.tall}px`;
  list.dataset.lines = grid.lines;
  const held = list.contains(document.activeElement);
  alive.clear();
  list.replaceChildren();
  if (!shown.includes(current)) current = shown[0] ?? null;
  render();
  if (held && current !== null) focusFrame(current);
}

/* Build the rows that came near, let go of those that went; the focused one stays. */
export function render() {
  const top = -list.getBoundingClientRect().top;
  const from = firstBelow(plan.rows, top - AHEAD_PX);
  const until = top + innerHeight + AHEAD_PX;
  const wanted = new Set();
  for (let row = from; row < plan.rows.length && plan.rows[row].top < until; row += 1)
    wanted.add(row);
  for (const [row, element] of alive) {
    if (wanted.has(row) || element.contains(document.activeElement)) continue;
    element.remove();
    alive.delete(row);
  }
  for (const row of wanted) if (!alive.has(row)) put(row);
}

function put(row) {
  const { top, tall, heads, numbers } = plan.rows[row];
  const element = make("div", { class: "row-of-tiles", role: "presentation" });
  for (const { column, span, group } of heads) {
    const head = headingOf(group, manyDays && (span > 2 || firstOfDay.has(group.numbers[0])));
    head.style.gridColumn = `${column + 1} / span ${Math.max(span, lastSpan(heads, column))}`;
    element.append(head);
  }
  element.append(...numbers.map((number) => tileOf(number, size)));
  if (heads.length) element.classList.add("with-heads");
  Object.assign(element.style, { top: `${top}px`, height: `${tall}px` });
  element.dataset.row = row;
  const next = [...list.children].find((other) => Number(other.dataset.row) > row);
  list.insertBefore(element, next ?? null);
  alive.set(row, element);
  const tile = current === null ? null : element.querySelector(`[data-number="${current}"]`);
  if (tile) setTabs(tile, 0);
}

/* The last head of a row may run on to its end. */
const lastSpan = (heads, column) => (heads.at(-1).column === column ? columns - column : 0);

function headingOf({ day, setup, numbers }, withDay) {
  const head = make("h3", {});
  const about = setups[(setup ?? 0) - 1];
  if (about) {
    head.append(make("a", { href: setupHash(setup), tabIndex: -1 }, about.title));
    head.append(make("span", {}, [about.short, about.holds].filter(Boolean).join(" · ")));
  } else head.append("No set-up ", make("span", {}, counted(numbers.length, "frame")));
  if (withDay) head.append(make("span", { class: "day" }, day));
  return make("div", { class: "group", role: "listitem" }, head);
}
/* Over one or two columns there is room for the day only where it begins. */
const firsts = new Map();
frames.forEach(({ day }, number) => {
  if (day && !firsts.has(day)) firsts.set(day, number);
});
const firstOfDay = new Set(firsts.values());
const manyDays = firsts.size > 1;

export function tileIn(number) {
  return list.querySelector(`[data-number="${number}"]`);
}

/* While another part of the page is open, no row is kept. */
export function letGo() {
  alive.clear();
  list.replaceChildren();
}

/* Bring a frame into sight and give it the focus. */
export function focusFrame(number, { scroll = true } = {}) {
  const row = plan.rows.find(({ numbers }) => numbers?.includes(number));
  if (!row) return;
  makeCurrent(number);
  if (scroll) bringIntoSight(row);
  render();
  const index = plan.rows.indexOf(row);
  if (!alive.has(index)) put(index);
  tileIn(number)?.querySelector(".picture").focus({ preventScroll: true });
}

function bringIntoSight({ top, tall }) {
  const above = byId("bar").offsetHeight + 8;
  const place = list.getBoundingClientRect().top + top;
  if (place < above) scrollBy(0, place - above - 40);
  else if (place + tall > innerHeight) scrollBy(0, place + tall - innerHeight + 12);
}

export function makeCurrent(number) {
  if (current !== null) {
    const before = tileIn(current);
    if (before) setTabs(before, -1);
  }
  current = number;
  const tile = tileIn(number);
  if (tile) setTabs(tile, 0);
}

export function showMarks(numbers) {
  if (numbers === null) {
    for (const tile of list.querySelectorAll(".tile")) showMark(tile, Number(tile.dataset.number));
  } else {
    for (const number of numbers) {
      const tile = tileIn(number);
      if (tile) showMark(tile, number);
    }
  }
}

export function startGrid() {
  let waiting = false;
  addEventListener("scroll", () => {
    if (waiting || list.closest("section").hidden) return;
    waiting = true;
    requestAnimationFrame(() => {
      waiting = false;
      render();
    });
  });
  new ResizeObserver(() => {
    if (roomWide() !== width) renew();
  }).observe(list);
}
