/* Pictures shown brighter or darker by stops, in linear light (IEC 61966-2-1), by the browser. */
import { byId } from "./dom.js";

/* One filter serves one picture at a time: "exposure" or "exposure-second". */
export function exposeBy(image, stops, filter = "exposure") {
  image.classList.toggle(filter, Boolean(stops));
  for (const part of byId(filter).querySelectorAll("feFuncR, feFuncG, feFuncB")) {
    part.setAttribute("slope", 2 ** stops);
  }
}

const plural = (stops) => (Number(Math.abs(stops).toFixed(1)) > 1 ? "stops" : "stop");
export const stopsOf = (stops) => `${Math.abs(stops).toFixed(1)} ${plural(stops)}`;
export const signed = (stops) => `${stops < 0 ? "−" : "+"}${stopsOf(stops)}`;
