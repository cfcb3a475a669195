/* Modules tell each other of what happened without importing each other in a circle. */
const hearers = new Map();

export function on(what, hear) {
  hearers.set(what, [...(hearers.get(what) ?? []), hear]);
}

export function tell(what, ...given) {
  for (const hear of hearers.get(what) ?? []) hear(...given);
}
