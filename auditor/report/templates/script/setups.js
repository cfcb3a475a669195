/* Set-ups: an index, and one of them a screen. Panoramas stand after them. */
import { data, setupDetail, setups } from "./data.js";
import { button, byId, isModified, isTyping, make } from "./dom.js";
import { askOnly } from "./filters.js";
import { setupHash } from "./hash.js";
import { addView, go, openView } from "./route.js";
import { setupParts, skyPart } from "./setupparts.js";
import { noted, stripItem } from "./shot.js";

const MOST_IN_STRIP = 60;
const panoramas = data.panoramas.map((run, index) => ({ ...run, number: index + 1 }));
let at = null;

/* One line a set-up; those that hold nothing to set side by side are only named. */
function indexLine({ number, title, short, holds }) {
  const link = make("a", { href: setupHash(number), data: { setup: number } });
  link.append(
    make("b", {}, title),
    make("span", {}, short),
    make("span", { class: "holds" }, holds),
  );
  return make("li", {}, link);
}

function fillIndex() {
  const words = byId("setup-search").value.trim().toLowerCase().split(/\s+/).filter(Boolean);
  const asks = ({ title, about, holds }) => {
    const text = `${title} ${about} ${holds}`.toLowerCase();
    return words.every((word) => text.includes(word));
  };
  const lines = setups.filter(asks);
  const items = lines.slice(0, MOST_LINES).map(indexLine);
  if (lines.length > MOST_LINES) {
    items.push(
      make("li", { class: "soft" }, `${lines.length - MOST_LINES} more: search by time or number`),
    );
  }
  const runs = panoramas.filter((run) =>
    asks({ title: run.title, about: run.sentence, holds: "panorama" }),
  );
  for (const { number, title, frames: held } of runs.slice(0, MOST_LINES)) {
    const link = make("a", { href: `#panorama=${number}`, data: { panorama: number } });
    link.append(make("b", {}, title), make("span", {}, `${held.length} frames`));
    items.push(make("li", {}, link));
  }
  byId("setup-index").replaceChildren(...items);
  byId("setup-none").hidden = items.length > 0;
  showCurrent();
}
const MOST_LINES = 300;

function showCurrent() {
  for (const link of byId("setup-index").querySelectorAll("a")) {
    const is = at && link.getAttribute("href") === location.hash;
    if (is) link.setAttribute("aria-current", "true");
    else link.removeAttribute("aria-current");
  }
  const here = byId("setup-index").querySelector("[aria-current]");
  if (!here) return;
  const list = byId("setup-index");
  const top = here.offsetTop - list.offsetTop;
  if (top < list.scrollTop || top + here.offsetHeight > list.scrollTop + list.clientHeight) {
    list.scrollTop = top - list.clientHeight / 3;
  }
}

/* On a narrow page the index stands under the set-up. */
function findSetup() {
  byId("setup-search").scrollIntoView();
  byId("setup-index").querySelector("[aria-current]")?.focus({ preventScroll: true });
}

function firstTelling() {
  return (setups.find(({ holds }) => holds) ?? setups[0])?.number ?? null;
}

async function open({ view, number }) {
  if (view === "panorama") return openPanorama(panoramas[number - 1]);
  const setup = setups[(number ?? firstTelling()) - 1];
  byId("setup-tools").hidden = !setup;
  if (!setup) {
    at = null;
    fillIndex();
    byId("setup-h").textContent = "No such set-up";
    byId("setup-about").textContent = "";
    for (const id of ["setup-strip", "setup-parts"]) byId(id).replaceChildren();
    return null;
  }
  if (number === null) history.replaceState(null, "", setupHash(setup.number));
  at = { setup: setup.number };
  showHead(setup.title, [setup.about, setup.holds].filter(Boolean).join(" · "), setup.frames);
  byId("setup-frames").hidden = false;
  fillIndex();
  const detail = await setupDetail(setup);
  if (at?.setup !== setup.number) return null;
  return byId("setup-parts").replaceChildren(...partsOf(setup, detail));
}

function partsOf(setup, detail) {
  const parts = setupParts(detail);
  parts.push(...[skyPart(detail), noted(detail.notes)].filter(Boolean));
  if (detail.pairs.length || detail.grads.length)
    parts.push(byId("ground").content.cloneNode(true));
  if (setup.frames.length < 2) {
    parts.unshift(
      make("p", { class: "soft" }, "A single frame: there is nothing to set beside it."),
    );
  }
  return parts;
}

function openPanorama(run) {
  if (!run) return go("#setups", { replace: true });
  byId("setup-tools").hidden = false;
  at = { panorama: run.number };
  showHead(run.title, run.sentence, run.frames);
  byId("setup-frames").hidden = true;
  fillIndex();
  return byId("setup-parts").replaceChildren(...[noted(run.notes)].filter(Boolean));
}

function showHead(title, about, numbers) {
  byId("setup-h").textContent = title;
  byId("setup-about").textContent = about;
  byId("setup-strip").replaceChildren(
    ...numbers.slice(0, MOST_IN_STRIP).map((number) => stripItem(number).item),
  );
  const left = numbers.length - MOST_IN_STRIP;
  if (left > 0) byId("setup-strip").append(make("li", { class: "left" }, `and ${left} more`));
  byId("setup-previous").disabled = !neighbour(-1);
  byId("setup-next").disabled = !neighbour(1);
}

const neighbour = (by) => {
  if (!at) return null;
  if (at?.setup) return setups[at.setup - 1 + by] ? setupHash(at.setup + by) : null;
  return panoramas[at.panorama - 1 + by] ? `#panorama=${at.panorama + by}` : null;
};

function turn(by) {
  const hash = neighbour(by);
  if (hash) go(hash, { replace: true });
}

function onKey(event) {
  if (!["setup", "panorama"].includes(openView()) || event.defaultPrevented) return;
  if (isTyping(event.target) || isModified(event)) return;
  if (event.key === "ArrowRight") turn(1);
  else if (event.key === "ArrowLeft") turn(-1);
  else if (event.key === "/") byId("setup-search").focus();
  else return;
  event.preventDefault();
}

export function startSetups() {
  const close = () => {
    for (const id of ["setup-index", "setup-parts", "setup-strip"]) byId(id).replaceChildren();
  };
  for (const view of ["setups", "setup", "panorama"]) addView(view, { open, close });
  byId("setup-search").addEventListener("input", fillIndex);
  byId("setup-find").addEventListener("click", findSetup);
  byId("setup-previous").addEventListener("click", () => turn(-1));
  byId("setup-next").addEventListener("click", () => turn(1));
  byId("setup-tools").append(
    button(
      "Its frames in the list",
      () => {
        askOnly({ setup: String(at.setup) });
        go("#frames");
      },
      { id: "setup-frames" },
    ),
  );
  addEventListener("keydown", onKey);
}
