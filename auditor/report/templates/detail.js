/* One frame in full, in a dialog. */
const detailView = byId("detail");
let detailAt = 0;
let detailFrom = null;

function openDetail(number, from, toNote = false) {
  if (!frames[number]) return;
  detailFrom = from ?? document.activeElement;
  fillDetail(number);
  if (!detailView.open) detailView.showModal();
  (toNote ? byId("detail-note") : byId("detail-h")).focus();
}

function fillDetail(number) {
  const frame = frames[number], detail = detailsOf(number);
  detailAt = number;
  byId("detail-h").textContent = frame.name;
  byId("detail-about").textContent = [frame.taken, frame.exposure, frame.camera, frame.setup ? `set-up ${frame.setup}` : "", ...frame.roles].filter(Boolean).join(" · ");
  byId("detail-body").replaceChildren(...(frame.status === "unreadable" ? unreadableDetail(frame) : measuredDetail(number, frame, detail)), marksDetail(number));
  detailView.scrollTop = 0;
  const order = shownCards(), here = order.indexOf(cards[number]);
  byId("previous").disabled = here === 0 || order.length < 2;
  byId("next").disabled = here === order.length - 1 || order.length < 2;
  if (document.activeElement?.disabled) byId("detail-h").focus(); /* a button at its end hears no keys */
}

function unreadableDetail(frame) {
  return [make("p", { class: "telling" }, frame.verdictLine), make("p", { class: "soft" }, frame.place)];
}

function measuredDetail(number, frame, detail) {
  return [
    make("div", { class: "detail-top" }, pictureDetail(number, detail), make("div", {}, ...histogramDetail(frame, detail))),
    ...findingsDetail(detail),
    make("div", { class: "detail-tables" }, factsDetail("The frame", detail.facts), channelsDetail(detail.channels)),
    ...notesDetail(detail),
  ];
}

function pictureDetail(number, detail) {
  const place = make("div", { class: "big" }, pictureOf(number));
  const holder = make("div", {}, place);
  if (detail.preview) {
    const button = make("button", { type: "button", "aria-pressed": "false" }, "As the camera’s preview shows it");
    button.addEventListener("click", () => {
      const on = button.getAttribute("aria-pressed") !== "true";
      button.setAttribute("aria-pressed", on);
      place.replaceChildren(pictureOf(number, on ? "preview" : "thumb"));
    });
    holder.append(button);
  }
  return holder;
}

function histogramDetail(frame, detail) {
  const bar = make("div", { class: "bar" }, rangeBar(frame.bar));
  const words = make("p", { class: "telling" }, frame.verdictLine);
  if (!detail.channels.length) return [words, bar];
  const figure = make("figure", { class: "ridge-figure" }, ridges(detail.channels),
    make("figcaption", { class: "soft" }, "Stops below saturation, a row a channel; dashed, the noise floor."));
  return [words, bar, figure];
}

function findingsDetail(detail) {
  if (!detail.findings.length) return [];
  const items = detail.findings.map(([code, severity, severityText, text]) => {
    const [title, next, caution] = data.kinds[code];
    const weight = make("span", { class: "weight", "aria-hidden": "true" });
    weight.dataset.severity = severity;
    return make("li", {}, make("h4", {}, weight, title, " ", make("small", {}, severityText)), make("p", {}, text),
      next ? make("p", { class: "soft" }, `Next time: ${next}`) : null, caution ? make("p", { class: "caution" }, caution) : null);
  });
  return [make("div", {}, make("h3", {}, "Findings"), make("ul", { class: "found" }, ...items))];
}

function factsDetail(title, facts) {
  const rows = facts.map(([label, text, remark]) => make("tr", {}, make("th", { scope: "row" }, label), make("td", {}, text, remark ? make("small", {}, ` ${remark}`) : null)));
  return make("div", {}, make("h3", {}, title), make("table", {}, make("tbody", {}, ...rows)));
}

function channelsDetail(channels) {
  if (!channels.length) return make("div");
  const head = make("tr", {}, make("td"), ...channels.map((channel) => make("th", { scope: "col", title: channel.fullName }, channel.name)));
  const rows = data.channelLabels.map((label, index) => {
    const remark = sharedRemark(channels, index);
    return make("tr", {}, make("th", { scope: "row" }, label, remark ? make("small", {}, ` ${remark}`) : null), ...channels.map((channel) => make("td", { class: "figure" }, channel.texts[index])));
  });
  const table = make("table", {}, make("thead", {}, head), make("tbody", {}, ...rows));
  return make("div", {}, make("h3", { id: "channels-h" }, "The channels"), make("div", { class: "scroll", tabIndex: 0, role: "region", "aria-labelledby": "channels-h" }, table));
}

/* A source that all channels share is told once; else each with the channels that it holds for. */
function sharedRemark(channels, index) {
  const holds = new Map();
  for (const { name, remarks } of channels) holds.set(remarks[index], [...(holds.get(remarks[index]) ?? []), name]);
  if (holds.size === 1) return channels[0].remarks[index];
  return [...holds].map(([remark, names]) => `${names.join(", ")} ${remark || "–"}`).join("; ");
}

function notesDetail(detail) {
  const planes = new Map();
  for (const { name, notes } of detail.channels) for (const note of notes) planes.set(note, [...(planes.get(note) ?? []), name]);
  const told = [...detail.notes, ...[...planes].map(([note, names]) => `${names.join(", ")}: ${note}`)];
  return told.length ? [make("ul", { class: "notes" }, ...told.map((note) => make("li", {}, note)))] : [];
}

function marksDetail(number) {
  const buttons = Object.entries({ keep: "Keep", second: "Second", drop: "Drop" }).map(([mark, words]) => {
    const button = make("button", { type: "button", "aria-pressed": markOf(number) === mark }, words);
    button.dataset.mark = mark;
    button.addEventListener("click", () => toggleMark(number, mark));
    return button;
  });
  const note = make("textarea", { id: "detail-note", rows: 2, maxLength: LONGEST_NOTE, value: noteOf(number) });
  note.addEventListener("input", () => setMark(number, markOf(number), note.value));
  return make("div", { class: "marks-detail" }, make("div", { class: "marking", role: "group", "aria-label": "Mark this frame" }, ...buttons), make("label", {}, "Note ", note));
}

markWatchers.push((number) => {
  if (!detailView.open || (number !== null && number !== detailAt)) return;
  detailView.querySelectorAll("[data-mark]").forEach((button) => button.setAttribute("aria-pressed", button.dataset.mark === markOf(detailAt)));
});

function turnDetail(step) {
  const order = shownCards(), here = order.indexOf(cards[detailAt]);
  const next = order[here < 0 ? 0 : here + step];
  if (next) fillDetail(Number(next.dataset.number));
}

byId("previous").addEventListener("click", () => turnDetail(-1));
byId("next").addEventListener("click", () => turnDetail(1));
byId("close").addEventListener("click", closeDetail);
detailView.addEventListener("click", (event) => { if (event.target === detailView) closeDetail(); });
detailView.addEventListener("cancel", (event) => {
  event.preventDefault();
  closeDetail();
});

/* Back to the frame that was shown last, or to where the dialog was opened from. */
function closeDetail() {
  detailView.close();
  const card = cards[detailAt];
  if (detailFrom?.classList.contains("card") && !card.hidden) card.focus();
  else detailFrom?.focus?.();
}
detailView.addEventListener("keydown", (event) => {
  if (isTyping(event.target) || event.ctrlKey || event.metaKey || event.altKey) return;
  if (event.key === "ArrowRight") turnDetail(1);
  else if (event.key === "ArrowLeft") turnDetail(-1);
  else if (event.key === "n") byId("detail-note").focus();
  else if (!cardKey(detailAt, event.key)) return;
  event.preventDefault();
});
document.querySelectorAll("[data-open]").forEach((button) => button.addEventListener("click", () => openDetail(Number(button.dataset.open), button)));
