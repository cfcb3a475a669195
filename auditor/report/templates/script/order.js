/* Which frames are shown, and in which order. Nothing here touches the page. */
const names = new Intl.Collator("en", { numeric: true });

/* What to sort by: a value a frame (null goes last), and which end comes first. */
export const SORTS = {
  time: { value: (frame) => frame.takenS, way: 1 },
  name: { value: null, way: 1 },
  blown: { value: (frame) => frame.bar.blown, way: -1 },
  blocked: { value: (frame) => frame.bar.blocked, way: -1 },
  headroom: { value: (frame) => frame.headroom, way: -1 },
  range: { value: (frame) => frame.range, way: -1 },
  shutter: { value: (frame) => frame.timeS, way: -1 },
  ev: { value: (frame) => frame.ev, way: -1 },
  findings: { value: (frame) => frame.findings.length, way: -1 },
};

export function ordered(frames, sort, reverse) {
  const { value, way } = SORTS[sort] ?? SORTS.time;
  const turn = reverse ? -way : way;
  const numbers = frames.map((_, number) => number);
  if (!value) {
    const compare = (a, b) => names.compare(frames[a].place, frames[b].place);
    return numbers.sort((a, b) => turn * compare(a, b) || a - b);
  }
  const values = frames.map(value);
  return numbers.sort((a, b) => {
    const [one, other] = [values[a] ?? null, values[b] ?? null];
    if (one === null || other === null) return (one === null) - (other === null) || a - b;
    return turn * (one - other) || a - b;
  });
}

/* The switches that stand as chips: each asks one question of a frame. */
export const CHIPS = {
  lost: { words: "Lost", asks: (frame) => frame.outcome === "lost" },
  unfiltered: {
    words: "Unfiltered",
    asks: (frame) => !frame.filtered && frame.status === "measured",
  },
  filtered: { words: "Filtered", asks: (frame) => frame.filtered },
  bracket: { words: "Bracket", asks: (frame) => frame.bracket.length > 0 },
  suggested: { words: "Suggested", asks: (frame) => frame.suggested !== "" },
  unmarked: { words: "Unmarked", asks: (_, mark) => !mark.mark },
};

export function searchText(frame, kinds) {
  const parts = [frame.place, frame.name, frame.camera, frame.lens, frame.exposure];
  parts.push(frame.verdictText, frame.outcome, frame.why, ...frame.roles);
  parts.push(...frame.findings.map(({ code }) => kinds[code].title));
  if (frame.setup) parts.push(`set-up ${frame.setup}`);
  // as one types it: "10-stop" is held together by a joiner that nobody sees
  return parts.join("\n").replaceAll("\u2060", "").toLowerCase();
}

function answersMark(mark, wanted) {
  if (wanted === "none") return !mark.mark;
  if (wanted === "note") return mark.note !== "";
  return mark.mark === wanted;
}

/* The questions asked now; a frame is shown when it answers all of them. Chips of one kind
   (filtered, unfiltered) exclude each other by themselves. */
export function questions(asked) {
  const found = [];
  for (const chip of asked.chips) found.push(CHIPS[chip].asks);
  for (const word of asked.search.trim().toLowerCase().split(/\s+/).filter(Boolean)) {
    found.push((_, mark, text) => text.includes(word) || mark.note.toLowerCase().includes(word));
  }
  const { outcome, finding, camera, lens, mark: wanted, setup, day, span } = asked;
  if (outcome) found.push((frame) => frame.outcome === outcome);
  if (finding) found.push((frame) => frame.findings.some(({ code }) => code === finding));
  if (camera) found.push((frame) => frame.camera === camera);
  if (lens) found.push((frame) => frame.lens === lens);
  if (wanted) found.push((_, mark) => answersMark(mark, wanted));
  if (setup) found.push((frame) => frame.setup === setup);
  if (day) found.push((frame) => frame.day === day);
  if (span) {
    found.push(({ takenS }) => takenS !== null && takenS >= span.startS && takenS <= span.endS);
  }
  return found;
}

/* Numbers grouped by day and set-up, in the order given; a group ends where the next begins. */
export function grouped(numbers, frames) {
  const groups = [];
  for (const number of numbers) {
    const { day, setup } = frames[number];
    const last = groups.at(-1);
    if (last && last.day === day && last.setup === setup) last.numbers.push(number);
    else groups.push({ day, setup, numbers: [number] });
  }
  return groups;
}
