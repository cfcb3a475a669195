/* Addresses within the page: "#frames", "#frame=<id>", "#setup=<n>", "#side=<id>,<id>". */
const PLAIN = new Set(["overview", "timeline", "frames", "setups", "measured", "take-away"]);

/* A name with half a character in it cannot stand in an address; it goes as JSON, with a mark. */
const MARK = "~";

const decoded = (text) => {
  try {
    const plain = decodeURIComponent(text);
    return plain.startsWith(`${MARK}"`) ? JSON.parse(plain.slice(1)) : plain;
  } catch {
    return text;
  }
};

/* An id may hold commas itself: the one place is taken where both sides are known. */
function twoOf(text, isKnown) {
  for (let at = text.indexOf(","); at >= 0; at = text.indexOf(",", at + 1)) {
    const two = [text.slice(0, at), text.slice(at + 1)].map(decoded);
    if (two.every(isKnown)) return two;
  }
  return null;
}

export function parseHash(hash, isKnown) {
  const text = hash.replace(/^#/, "");
  if (PLAIN.has(text)) return { view: text };
  const [, kind, value] = /^(frame|side|setup|panorama)=(.*)$/s.exec(text) ?? [];
  if (kind === "frame") {
    const id = isKnown(value) ? value : decoded(value);
    return isKnown(id) ? { view: "frame", id } : null;
  }
  if (kind === "side") {
    const ids = twoOf(value, isKnown);
    return ids && { view: "side", ids };
  }
  if (kind && /^\d+$/.test(value)) return { view: kind, number: Number(value) };
  return null;
}

const encoded = (id) => {
  const plain = id.isWellFormed?.() ?? !/\p{Surrogate}/u.test(id);
  return encodeURIComponent(plain ? id : MARK + JSON.stringify(id)).replaceAll("%2F", "/");
};
export const frameHash = (id) => `#frame=${encoded(id)}`;
export const sideHash = (one, other) => `#side=${encoded(one)},${encoded(other)}`;
export const setupHash = (number) => `#setup=${number}`;
