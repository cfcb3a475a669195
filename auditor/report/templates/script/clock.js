/* The axis of time: true to the clock within a stretch of work, long gaps folded, days apart. */
const GAP_S = 15 * 60; /* longer without a frame is folded */
const FOLD_PX = 34;
const LEAST_STRETCH_PX = 26;
const MOST_FOR_FOLDS = 0.6; /* of the width, however many stretches a day has */

/* Days, each with stretches of frames that lie near each other in time. */
export function daysOf(frames) {
  const days = [];
  frames.forEach((frame, number) => {
    if (frame.takenS === null) return;
    const date = frame.clock.slice(0, 10);
    let day = days.at(-1);
    if (day?.date !== date) {
      day = { date, text: frame.day, stretches: [] };
      days.push(day);
    }
    const stretch = day.stretches.at(-1);
    if (stretch && frame.takenS - stretch.end <= GAP_S) {
      stretch.end = Math.max(stretch.end, frame.takenS);
      stretch.frames.push(number);
    } else day.stretches.push({ start: frame.takenS, end: frame.takenS, frames: [number] });
  });
  return days;
}

/* Lay a day out over a width: every stretch by one scale, so that slopes can be compared. */
export function axisOf(day, left, width) {
  const count = day.stretches.length;
  const wanted = (count - 1) * FOLD_PX + count * LEAST_STRETCH_PX;
  const narrow = Math.min(1, (MOST_FOR_FOLDS * width) / wanted);
  const fold = narrow * FOLD_PX;
  const room = width - narrow * wanted;
  const seconds = day.stretches.reduce((sum, { start, end }) => sum + (end - start), 0);
  const scale = room / Math.max(60, seconds);
  const least = narrow * LEAST_STRETCH_PX + (room - seconds * scale) / count;
  let x = left;
  const parts = day.stretches.map((stretch, index) => {
    const from = x + least / 2;
    const to = from + (stretch.end - stretch.start) * scale;
    x = to + least / 2 + fold;
    const next = day.stretches[index + 1];
    return { ...stretch, from, to, gapS: next ? next.start - stretch.end : 0 };
  });
  const xOf = (seconds_) => {
    const part = parts.find(({ end }) => seconds_ <= end) ?? parts.at(-1);
    return Math.max(part.from, part.from + (seconds_ - part.start) * scale);
  };
  const timeAt = (at) => {
    const part = parts.find(({ to }) => at <= to + least / 2 + fold / 2);
    const found = part ?? parts.at(-1);
    return Math.min(found.end, Math.max(found.start, found.start + (at - found.from) / scale));
  };
  return { parts, scale, xOf, timeAt, end: x - fold };
}

/* Round times for the labels of one stretch: no nearer than so many pixels. */
export function ticksOf({ start, end, clockOffsetS = 0 }, scale, apart) {
  const steps = [60, 120, 300, 600, 900, 1800, 3600, 7200, 14400];
  const step = steps.find((seconds) => seconds * scale >= apart) ?? steps.at(-1);
  const found = [];
  const first = Math.ceil((start + clockOffsetS) / step) * step - clockOffsetS;
  for (let at = first; at <= end; at += step) found.push(at);
  return found;
}

/* Of several frames under one pixel the height of the pointer chooses. */
export function nearestFrame(placed, x, part) {
  const least = Math.min(...placed.map((frame) => Math.abs(frame.x - x)));
  const near = placed.filter((frame) => Math.abs(frame.x - x) <= least + 0.75);
  return near[Math.min(near.length - 1, Math.floor(Math.max(0, part) * near.length))];
}
