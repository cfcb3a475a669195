/* What the reader takes along: paths, the command, the marks, paper. */
import { on } from "./bus.js";
import { data, frames, setupDetail, setups } from "./data.js";
import { button, byId, counted, make, say } from "./dom.js";
import { shownFrames } from "./filters.js";
import { book, LABELS, saveFile } from "./marks.js";
import { photoOf } from "./photo.js";
import { addView, openView } from "./route.js";
import { setupParts } from "./setupparts.js";
import { glyph } from "./tile.js";
import { drawForPaper } from "./timeline.js";

const RATINGS = { keep: "4", second: "2", drop: "rejected (−1)" };
const isPlain = (text) => !/[\p{Cc}\p{Cf}\p{Zl}\p{Zp}]/u.test(text);

/* Names that hold invisible characters are no lines of a list. */
function pathsOf(mark) {
  const paths = book.numbers(mark).map((number) => {
    const { input, file } = frames[number];
    const top = data.inputs[input] ?? "";
    return top.endsWith(`/${file}`) || top === file ? top : `${top.replace(/\/+$/, "")}/${file}`;
  });
  return { plain: paths.filter(isPlain), strange: paths.length - paths.filter(isPlain).length };
}

function copy(text, what) {
  const done = () => say(`Copied ${what}.`);
  const failed = () =>
    say("This browser does not copy for a page from disk. Select the text and copy it.");
  if (navigator.clipboard) navigator.clipboard.writeText(text).then(done, failed);
  else failed();
}

function pathsPart(mark) {
  const { plain, strange } = pathsOf(mark);
  const text = plain.join("\n");
  const name = `${mark}.txt`;
  const field = make("textarea", {
    value: text,
    readOnly: true,
    rows: Math.min(8, Math.max(2, plain.length)),
  });
  field.setAttribute("aria-label", `Paths of the frames marked ${mark}`);
  return make(
    "div",
    { class: "paths" },
    make("h3", {}, `${LABELS[mark]}: ${counted(plain.length + strange, "frame")}`),
    plain.length ? field : null,
    strange
      ? make(
          "p",
          { class: "soft" },
          `${strange} with invisible characters in their names are left out here.`,
        )
      : null,
    plain.length
      ? make(
          "p",
          { class: "row" },
          button("Copy", () => copy(text, counted(plain.length, "path"))),
          button(`Save as ${name}`, () => saveFile(name, `${text}\n`, "text/plain")),
        )
      : null,
  );
}

function sidecarRows() {
  const rows = Object.keys(LABELS).map((mark) => {
    const count = book.numbers(mark).length;
    return make(
      "tr",
      {},
      make("th", { scope: "row" }, LABELS[mark]),
      make("td", {}, RATINGS[mark]),
      make("td", {}, LABELS[mark]),
      make("td", {}, counted(count, "file")),
    );
  });
  byId("sidecars").replaceChildren(...rows);
}

function fill() {
  byId("paths").replaceChildren(...Object.keys(LABELS).map(pathsPart));
  const { unmarked } = book.counts();
  byId("take-says").textContent =
    `${frames.length - unmarked} of ${frames.length} frames are marked.`;
  sidecarRows();
}

/* The contact sheet on paper holds what the list shows now. */
function contactSheet() {
  const items = shownFrames().map((number) => {
    const frame = frames[number];
    const { mark } = book.of(number);
    return make(
      "li",
      {},
      photoOf(number, { eager: true }),
      make("p", {}, glyph(frame), make("b", {}, frame.name), mark ? ` ${mark}` : ""),
      make("p", {}, frame.exposure),
      make("p", {}, frame.verdictLine),
    );
  });
  return make(
    "section",
    {},
    make("h2", {}, "Contact sheet"),
    make("ol", { class: "contact" }, ...items),
  );
}

async function setupSheets() {
  const made = make("section", {}, make("h2", {}, "Set-ups"));
  for (const setup of setups.filter(({ holds }) => holds)) {
    const detail = await setupDetail(setup);
    const head = make("h3", {}, `${setup.title} `, make("small", {}, setup.about));
    made.append(make("article", { class: "paper-setup" }, head, ...setupParts(detail, true)));
  }
  return made;
}

/* Everything is there before the print dialog opens: what is drawn late would be missing. */
async function print() {
  const paper = byId("paper");
  drawForPaper();
  paper.replaceChildren();
  document.documentElement.dataset.paperAnswers = byId("print-answers").checked ? "yes" : "no";
  if (byId("print-setups").checked) paper.append(await setupSheets());
  if (byId("print-contact").checked) paper.append(contactSheet());
  await Promise.all(
    [...paper.querySelectorAll("img")].map((image) => image.decode().catch(() => {})),
  );
  await new Promise((done) => setTimeout(done, 50));
  globalThis.print();
}

/* What was asked for stays until another part is opened: then it is the answers again. */
function clearPaper() {
  byId("paper").replaceChildren();
  delete document.documentElement.dataset.paperAnswers;
}

export function startTakeAway() {
  byId("print").addEventListener("click", print);
  byId("copy-command").addEventListener("click", () =>
    copy(byId("command").textContent, "the command"),
  );
  addView("take-away", { open: fill, close: clearPaper });
  on("marks", () => openView() === "take-away" && fill());
}
