/* A stage for pictures: fitted, zoomed to a place, moved by pointer and keys. */
import { make } from "./dom.js";

const MOST = 24;
const STEP = 1.35;

export function makeStage(label, { content = [] } = {}) {
  const move = make("div", { class: "stage-move" }, ...content);
  const element = make(
    "div",
    { class: "stage", tabIndex: 0, role: "group", "aria-label": label },
    move,
  );
  const stage = { element, move, shape: 1.5, scale: 1, x: 0.5, y: 0.5, sensorWide: 0, hear: null };
  new ResizeObserver(() => place(stage)).observe(element);
  listen(stage);
  return stage;
}

/* Size of the picture when it just fits. */
function fitted({ element, shape }) {
  const [wide, tall] = [element.clientWidth, element.clientHeight];
  return wide / tall > shape ? [tall * shape, tall] : [wide, wide / shape];
}

function place(stage) {
  const { element, move, scale } = stage;
  const [wide, tall] = fitted(stage);
  if (!wide || !tall) return;
  const clamp = (at, size, room) =>
    size * scale <= room
      ? 0.5
      : Math.min(1 - room / 2 / (size * scale), Math.max(room / 2 / (size * scale), at));
  stage.x = clamp(stage.x, wide, element.clientWidth);
  stage.y = clamp(stage.y, tall, element.clientHeight);
  const left = element.clientWidth / 2 - stage.x * wide * scale;
  const top = element.clientHeight / 2 - stage.y * tall * scale;
  Object.assign(move.style, {
    width: `${wide * scale}px`,
    height: `${tall * scale}px`,
    transform: `translate(${left}px, ${top}px)`,
  });
  element.style.setProperty("--shown", ((wide * scale) / 360).toFixed(2));
  element.classList.toggle("zoomed", scale > 1.01);
  stage.hear?.();
}

export function setShape(stage, [width, height]) {
  stage.shape = width / height;
  place(stage);
}

export function fit(stage) {
  Object.assign(stage, { scale: 1, x: 0.5, y: 0.5 });
  place(stage);
}

export function zoom(stage, factor, at = null) {
  const scale = Math.max(1, Math.min(MOST, stage.scale * factor));
  if (at) {
    stage.x += (at.x - stage.x) * (1 - stage.scale / scale);
    stage.y += (at.y - stage.y) * (1 - stage.scale / scale);
  }
  stage.scale = scale;
  place(stage);
}

/* Zoom so that a box (fractions of the picture) fills about a half of the stage. */
export function zoomTo(stage, { left, top, right, bottom }) {
  const [wide, tall] = fitted(stage);
  const across = (0.5 * stage.element.clientWidth) / Math.max(1, (right - left) * wide);
  const down = (0.5 * stage.element.clientHeight) / Math.max(1, (bottom - top) * tall);
  const full = stage.sensorWide ? stage.sensorWide / wide / devicePixelRatio : MOST;
  const scale = Math.max(1, Math.min(across, down, Math.max(4, full), MOST));
  Object.assign(stage, { scale, x: (left + right) / 2, y: (top + bottom) / 2 });
  place(stage);
}

/* One of the sensor's pixels on one of the screen's. */
export function zoomFull(stage) {
  const [wide] = fitted(stage);
  const scale = stage.sensorWide / wide / devicePixelRatio;
  stage.scale = Math.max(1, Math.min(MOST, scale || 8));
  place(stage);
}

/* Where on the picture a pointer is, fractions; outside of 0 to 1 it is beside the picture. */
export function placeUnder(stage, event) {
  const box = stage.move.getBoundingClientRect();
  return { x: (event.clientX - box.left) / box.width, y: (event.clientY - box.top) / box.height };
}

export function stageKey(stage, event) {
  const shift = 0.12 / stage.scale;
  const moves = {
    ArrowLeft: [-shift, 0],
    ArrowRight: [shift, 0],
    ArrowUp: [0, -shift],
    ArrowDown: [0, shift],
  };
  if (event.key === "+" || event.key === "=") zoom(stage, STEP);
  else if (event.key === "-") zoom(stage, 1 / STEP);
  else if (event.key === "0") fit(stage);
  else if (event.shiftKey && moves[event.key] && stage.scale > 1) {
    stage.x += moves[event.key][0];
    stage.y += moves[event.key][1];
    place(stage);
  } else return false;
  return true;
}

function listen(stage) {
  const { element } = stage;
  const held = new Map();
  let apart = 0;
  const spread = () => {
    const [one, other] = [...held.values()];
    return Math.hypot(one.clientX - other.clientX, one.clientY - other.clientY);
  };
  element.addEventListener(
    "wheel",
    (event) => {
      event.preventDefault();
      zoom(stage, event.deltaY < 0 ? STEP : 1 / STEP, placeUnder(stage, event));
    },
    { passive: false },
  );
  element.addEventListener("dblclick", (event) => {
    if (stage.scale > 1.01) fit(stage);
    else zoom(stage, 4, placeUnder(stage, event));
  });
  element.addEventListener("pointerdown", (event) => {
    held.set(event.pointerId, event);
    element.setPointerCapture(event.pointerId);
    if (held.size === 2) apart = spread();
  });
  element.addEventListener("pointermove", (event) => {
    const before = held.get(event.pointerId);
    if (!before) return;
    held.set(event.pointerId, event);
    if (held.size === 2) {
      const now = spread();
      zoom(stage, now / Math.max(1, apart), placeUnder(stage, event));
      apart = now;
    } else if (stage.scale > 1) {
      stage.x -= (event.clientX - before.clientX) / stage.move.clientWidth;
      stage.y -= (event.clientY - before.clientY) / stage.move.clientHeight;
      place(stage);
    }
  });
  for (const end of ["pointerup", "pointercancel"]) {
    element.addEventListener(end, (event) => held.delete(event.pointerId));
  }
}
