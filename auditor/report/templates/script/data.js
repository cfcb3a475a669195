/* What the page was given: frames at once, details and pictures when they are looked at. */
import { byId } from "./dom.js";

export const data = JSON.parse(byId("page-data").textContent);
const EMPTY = {
  bracket: [],
  camera: "",
  clock: "",
  day: "",
  ev: null,
  filtered: false,
  findings: [],
  headroom: null,
  lens: "",
  range: null,
  roles: [],
  setup: null,
  siblings: [],
  suggested: "",
  takenS: null,
  timeS: null,
  why: "",
};
export const frames = data.frames.map((frame) => ({ ...EMPTY, ...frame }));
export const numberOf = new Map(frames.map((frame, number) => [frame.id, number]));
export const DEPTH = data.depth;
export const setups = data.setups;
export const setupOf = (number) => setups[(frames[number].setup ?? 0) - 1] ?? null;

async function inflated(text) {
  const bytes = Uint8Array.from(atob(text), (letter) => letter.charCodeAt(0));
  const stream = new Blob([bytes]).stream().pipeThrough(new DecompressionStream("deflate-raw"));
  return JSON.parse(await new Response(stream).text());
}

/* Chunks are unpacked once; their text is let go. */
function unpacker(name) {
  const waiting = new Map();
  const ready = new Map();
  const chunk = (place) => {
    if (!waiting.has(place)) {
      const holder = byId(`${name}-${place}`);
      const found = inflated(holder.textContent).then((records) => {
        ready.set(place, records);
        return records;
      });
      holder.remove();
      waiting.set(place, found);
    }
    return waiting.get(place);
  };
  const placeOf = (number) => Math.floor(number / data.chunk);
  return {
    soon: async (number) => (await chunk(placeOf(number)))[number % data.chunk],
    now: (number) => ready.get(placeOf(number))?.[number % data.chunk] ?? null,
  };
}

const details = unpacker("details");
export const detailOf = details.soon;
export const detailNow = details.now;
const setupDetails = unpacker("setups");
export const setupDetail = (setup) => setupDetails.soon(setup.number - 1);

const addresses = new Map();
export function addressesOf(number) {
  const place = Math.floor(number / data.chunk);
  if (!addresses.has(place)) {
    const holder = byId(`pictures-${place}`);
    addresses.set(place, JSON.parse(holder.textContent));
    holder.remove();
  }
  return addresses.get(place)[number % data.chunk];
}
