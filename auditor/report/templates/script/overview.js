/* The first screen: what became of the frames, the largest losses, the way on. */
import { data, detailOf, frames } from "./data.js";
import { byId, make } from "./dom.js";
import { askOnly } from "./filters.js";
import { frameHash } from "./hash.js";
import { photoOf, ringOf } from "./photo.js";
import { go } from "./route.js";

function lossOf(number) {
  const frame = frames[number];
  const link = make(
    "a",
    { class: "picture", href: frameHash(frame.id) },
    photoOf(number, { eager: true }),
  );
  const caption = make(
    "figcaption",
    {},
    make("b", {}, frame.name),
    make("span", {}, frame.verdictLine),
  );
  detailOf(number).then((detail) => {
    if (!detail.loss) return;
    link.querySelector(".sheet")?.append(ringOf(detail));
    caption.lastChild.textContent = detail.loss.text;
    link.setAttribute("aria-label", `${frame.name}: ${detail.loss.text}`);
  });
  link.setAttribute("aria-label", `${frame.name}: ${frame.verdictLine}`);
  return make("figure", { class: "loss" }, link, caption);
}

export function startOverview() {
  byId("losses").replaceChildren(...data.losses.map(lossOf));
  for (const made of document.querySelectorAll("[data-outcome-only]")) {
    made.addEventListener("click", () => {
      askOnly({ outcome: made.dataset.outcomeOnly });
      go("#frames");
    });
  }
}
