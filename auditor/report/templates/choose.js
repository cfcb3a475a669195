/* Sort, filter, search. */
const tools = byId("tools");
const choice = Object.fromEntries(["q", "by-finding", "by-camera", "by-lens", "by-mark", "from", "to", "sort"].map((id) => [id, byId(id)]));
const searchText = frames.map((frame) => [frame.place, frame.name, frame.camera, frame.lens, frame.exposure, frame.verdictText, ...frame.roles, ...frame.findings.map(([code]) => data.kinds[code][0]), frame.setup ? `set-up ${frame.setup}` : ""].join("\n").toLowerCase());

function offer(select, counts) {
  for (const [value, words, count] of counts) select.append(make("option", { value }, count === undefined ? words : `${words} (${count})`));
}

function tally(values) {
  const counts = new Map();
  for (const value of values) if (value) counts.set(value, (counts.get(value) ?? 0) + 1);
  return [...counts].sort((a, b) => b[1] - a[1]);
}

function offerChoices() {
  const verdicts = tally(frames.map((frame) => frame.verdict));
  const words = new Map(frames.map((frame) => [frame.verdict, frame.verdictText]));
  const codes = tally(frames.flatMap((frame) => [...new Set(frame.findings.map(([code]) => code))]));
  const group = (label, options) => {
    const holder = make("optgroup", { label });
    offer(holder, options);
    if (options.length) choice["by-finding"].append(holder);
  };
  group("Verdict", verdicts.map(([verdict, count]) => [`v:${verdict}`, words.get(verdict), count]));
  group("Finding", codes.map(([code, count]) => [`f:${code}`, data.kinds[code][0], count]));
  offer(choice["by-camera"], tally(frames.map((frame) => frame.camera)).map(([body, count]) => [body, body, count]));
  offer(choice["by-lens"], tally(frames.map((frame) => frame.lens)).map(([lens, count]) => [lens, lens, count]));
  const clocks = frames.map((frame) => frame.clock).filter(Boolean).sort();
  for (const id of ["from", "to"]) {
    choice[id].min = clocks[0] ?? "";
    choice[id].max = clocks.at(-1) ?? "";
    choice[id].disabled = clocks.length === 0;
  }
}

function markAnswers(number, wanted) {
  if (wanted === "none") return markOf(number) === null;
  if (wanted === "note") return noteOf(number) !== "";
  return markOf(number) === wanted;
}

/* The questions that are asked now; a frame is shown when it answers all of them. */
function questions() {
  const asked = [], value = Object.fromEntries(Object.entries(choice).map(([id, field]) => [id, field.value]));
  for (const word of value.q.trim().toLowerCase().split(/\s+/).filter(Boolean)) asked.push((frame, number) => searchText[number].includes(word) || noteOf(number).toLowerCase().includes(word));
  const [kind, code] = [value["by-finding"].slice(0, 1), value["by-finding"].slice(2)];
  if (kind === "v") asked.push((frame) => frame.verdict === code);
  if (kind === "f") asked.push((frame) => frame.findings.some(([found]) => found === code));
  if (value["by-camera"]) asked.push((frame) => frame.camera === value["by-camera"]);
  if (value["by-lens"]) asked.push((frame) => frame.lens === value["by-lens"]);
  if (value["by-mark"]) asked.push((frame, number) => markAnswers(number, value["by-mark"]));
  if (value.from) asked.push((frame) => frame.clock && frame.clock >= value.from);
  if (value.to) asked.push((frame) => frame.clock && frame.clock <= value.to);
  return asked;
}

function applyChoice() {
  const asked = questions();
  let count = 0;
  frames.forEach((frame, number) => {
    const shown = asked.every((answers) => answers(frame, number));
    if (cards[number].hidden === shown) cards[number].hidden = !shown;
    count += shown;
  });
  byId("none-shown").hidden = count > 0;
  byId("shown").textContent = `${count} of ${frames.length} frames`;
  if (!current || current.hidden) makeCurrent(shownCards()[0] ?? null);
}

/* What to sort by: a value a frame (null goes last), and which end comes first. */
const SORTS = {
  time: [(frame) => frame.takenS, 1],
  name: [null, 1],
  blown: [(frame) => frame.bar[4], -1],
  blocked: [(frame) => frame.bar[5], -1],
  spare: [(frame) => frame.headroomStops, -1],
  range: [(frame) => frame.rangeStops, -1],
  shutter: [(frame) => frame.timeS, -1],
  ev: [(frame) => frame.ev, -1],
  findings: [(frame) => frame.findings.length, -1],
};
const names = new Intl.Collator("en", { numeric: true });

function ordered() {
  const [value, way] = SORTS[choice.sort.value];
  const turn = way * (byId("reverse").getAttribute("aria-pressed") === "true" ? -1 : 1);
  const numbers = frames.map((_, number) => number);
  if (!value) return numbers.sort((a, b) => turn * names.compare(frames[a].place, frames[b].place) || a - b);
  const values = frames.map(value);
  return numbers.sort((a, b) => {
    if (values[a] === null || values[b] === null) return (values[a] === null) - (values[b] === null) || a - b;
    return turn * (values[a] - values[b]) || a - b;
  });
}

function applySort() {
  list.replaceChildren(...ordered().map((number) => cards[number]));
}

function toggleOverlay() {
  const on = document.documentElement.dataset.lost === "off";
  document.documentElement.dataset.lost = on ? "on" : "off";
  byId("overlay").setAttribute("aria-pressed", on);
  say(on ? "Lost areas are drawn in." : "Lost areas are not drawn in.");
}

function showOnly(verdict) {
  tools.reset();
  choice["by-finding"].value = `v:${verdict}`;
  applyChoice();
  byId("frames").scrollIntoView();
  shownCards()[0]?.focus({ preventScroll: true });
}

tools.addEventListener("submit", (event) => event.preventDefault());
tools.addEventListener("input", (event) => (event.target === choice.sort ? applySort() : applyChoice()));
tools.addEventListener("reset", () => setTimeout(() => {
  byId("reverse").setAttribute("aria-pressed", "false");
  applySort();
  applyChoice();
}));
byId("reverse").addEventListener("click", (event) => {
  const pressed = event.currentTarget.getAttribute("aria-pressed") !== "true";
  event.currentTarget.setAttribute("aria-pressed", pressed);
  applySort();
});
byId("overlay").addEventListener("click", toggleOverlay);
document.querySelectorAll("[data-only]").forEach((button) => button.addEventListener("click", () => showOnly(button.dataset.only)));
markWatchers.push(() => { if (choice["by-mark"].value) applyChoice(); });

offerChoices();
applySort();
applyChoice();
cards.forEach((card) => nearCards.observe(card));
