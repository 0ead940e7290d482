// The stage: the canvas, and what mouse, fingers and wheel do on it.

import { byId } from "./build.js";
import { changed, on, state } from "./state.js";
import { camera, close, drawn, fit, pan, toMm, zoom } from "./camera.js";
import { drawTiles, whenTilesCome } from "./tiles.js";
import { drawLines } from "./lines.js";
import { placeHandles } from "./handles.js";
import { drawScaleBar } from "./scale_bar.js";
import { place, showCross } from "./tools.js";

/** A press that moved less than this is a click, CSS px. */
const STILL = 5;
/** Two clicks within this time are a double click, ms. */
const DOUBLE = 350;

const stage = byId("stage");
const canvas = byId("picture");
let waiting = 0;
let density = 1;

const draw = () => {
  waiting = 0;
  const context = canvas.getContext("2d", { alpha: false });
  context.setTransform(1, 0, 0, 1, 0, 0);
  context.fillStyle = getComputedStyle(stage.parentElement).backgroundColor;
  context.fillRect(0, 0, canvas.width, canvas.height);
  const whole = drawTiles(context, density);
  drawLines(context, density);
  placeHandles();
  showCross();
  drawScaleBar();
  const done = String(whole && Boolean(state.look));
  if (stage.dataset.whole === done) return;
  stage.dataset.whole = done;
  if (whole) changed("whole");
};

export const redraw = () => {
  waiting ||= requestAnimationFrame(draw);
};

const resize = () => {
  density = Math.min(devicePixelRatio || 1, 3);
  const box = stage.getBoundingClientRect();
  const first = camera.width <= 1;
  [camera.width, camera.height] = [Math.max(box.width, 1), Math.max(box.height, 1)];
  [canvas.width, canvas.height] = [Math.round(camera.width * density), Math.round(camera.height * density)];
  if (first || camera.whole) fit(false);
  redraw();
};

const pointers = new Map();
let moved = 0;
let lastClick = { time: 0, x: 0, y: 0 };

const spread = () => {
  const [a, b] = [...pointers.values()];
  return { far: Math.hypot(a.x - b.x, a.y - b.y), middle: [(a.x + b.x) / 2, (a.y + b.y) / 2] };
};

const inStage = (event) => {
  const box = stage.getBoundingClientRect();
  return { x: event.clientX - box.left, y: event.clientY - box.top };
};

const down = (event) => {
  if (event.button > 1) return;
  // A finger that only wants to move the picture must not move a corner by mistake: that takes the tool for corners.
  if (event.target.closest(".handle") && (state.tool || event.pointerType !== "touch")) return;
  stage.setPointerCapture(event.pointerId);
  pointers.set(event.pointerId, inStage(event));
  if (pointers.size === 1) moved = 0;
  else moved = Infinity;
};

const move = (event) => {
  const before = pointers.get(event.pointerId);
  if (!before) return;
  const now = inStage(event);
  if (pointers.size === 2) {
    const old = spread();
    pointers.set(event.pointerId, now);
    const fresh = spread();
    pan(fresh.middle[0] - old.middle[0], fresh.middle[1] - old.middle[1]);
    if (old.far > 0) zoom(fresh.far / old.far, fresh.middle);
    return;
  }
  moved += Math.hypot(now.x - before.x, now.y - before.y);
  pointers.set(event.pointerId, now);
  if (moved < STILL) return;
  stage.classList.add("dragging");
  pan(now.x - before.x, now.y - before.y);
};

const up = (event) => {
  if (!pointers.delete(event.pointerId)) return;
  stage.classList.remove("dragging");
  if (event.type === "pointercancel" || moved >= STILL || event.button !== 0) return;
  const at = inStage(event);
  const again = event.timeStamp - lastClick.time < DOUBLE && Math.hypot(at.x - lastClick.x, at.y - lastClick.y) < 3 * STILL;
  lastClick = { time: again ? 0 : event.timeStamp, ...at };
  if (state.tool) place(toMm([at.x, at.y]));
  else if (again) close(toMm([at.x, at.y]));
};

const wheel = (event) => {
  event.preventDefault();
  const { x, y } = inStage(event);
  const lines = event.deltaMode === 1 ? 16 : event.deltaMode === 2 ? camera.height : 1;
  // A trackpad's pinch comes as a wheel with Control held, in small steps.
  zoom(Math.exp(-event.deltaY * lines * (event.ctrlKey ? 0.01 : 0.0016)), [x, y]);
};

export const start = () => {
  drawn(redraw);
  whenTilesCome(redraw);
  new ResizeObserver(resize).observe(stage);
  stage.addEventListener("pointerdown", down);
  stage.addEventListener("pointermove", move);
  stage.addEventListener("pointerup", up);
  stage.addEventListener("pointercancel", up);
  stage.addEventListener("wheel", wheel, { passive: false });
  matchMedia("(prefers-color-scheme: dark)").addEventListener("change", redraw);
  on("look piece layers bare places tool residuals unit", redraw);
  on("bare", () => stage.parentElement.classList.toggle("bare", state.bare));
  on("tool", () => stage.classList.toggle("tool", Boolean(state.tool)));
  resize();
};
