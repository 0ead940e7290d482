// Where one looks: which place of the sheet is in the middle of the stage, and how large a millimetre is. CSS px throughout.

import { byId } from "./build.js";
import { state } from "./state.js";
import { shapes } from "./shapes.js";

/** The largest that a pixel of the picture gets, CSS px. */
const LARGEST_PIXEL = 32;
/** Bare stage kept round a piece that is shown whole, CSS px; below it there are buttons besides. */
const MARGIN = 40;
const GLIDE_MS = 220;

/** `above`: stage taken up by a legend; `whole`: the piece is shown whole, and nobody has moved it since. */
export const camera = { x: 0, y: 0, scale: 1, width: 1, height: 1, above: 0, whole: false };

let redraw = () => {};
let gliding = 0;

export const drawn = (by) => {
  redraw = by;
};

export const toScreen = ([x, y]) => [(x - camera.x) * camera.scale + camera.width / 2, (y - camera.y) * camera.scale + camera.height / 2];
export const toMm = ([x, y]) => [(x - camera.width / 2) / camera.scale + camera.x, (y - camera.height / 2) / camera.scale + camera.y];

const frameBox = () => {
  const f = state.look?.frame;
  if (!f) return null;
  const [x, y] = f.origin_mm;
  return [x, y, x + (f.width - 1) / f.px_per_mm, y + (f.height - 1) / f.px_per_mm];
};

const below = () => byId("stage-tools").offsetHeight;

const fitting = (box) => {
  const [w, h] = [Math.max(box[2] - box[0], 1), Math.max(box[3] - box[1], 1)];
  const room = (all, bare) => Math.max(all - bare, all * 0.5);
  return Math.min(room(camera.width, 2 * MARGIN) / w, room(camera.height, 2 * MARGIN + camera.above + below()) / h);
};

const held = () => {
  const box = frameBox() ?? shapes()[state.piece]?.box;
  if (!box) return;
  const finest = state.look?.frame?.px_per_mm ?? 10;
  camera.scale = Math.min(Math.max(camera.scale, fitting(box) * 0.5), LARGEST_PIXEL * finest);
  camera.x = Math.min(Math.max(camera.x, box[0]), box[2]);
  camera.y = Math.min(Math.max(camera.y, box[1]), box[3]);
};

const settle = () => {
  held();
  redraw();
};

export const pan = (dx, dy) => {
  cancelAnimationFrame(gliding);
  camera.whole = false;
  camera.x -= dx / camera.scale;
  camera.y -= dy / camera.scale;
  settle();
};

/** Zooms about a place of the stage, which stays where it is. */
export const zoom = (factor, [x, y] = [camera.width / 2, camera.height / 2]) => {
  cancelAnimationFrame(gliding);
  camera.whole = false;
  const before = toMm([x, y]);
  camera.scale *= factor;
  held();
  const after = toMm([x, y]);
  camera.x += before[0] - after[0];
  camera.y += before[1] - after[1];
  settle();
};

/** Goes to a place, gliding unless motion is not wanted. */
export const goTo = ([x, y], scale = camera.scale) => {
  cancelAnimationFrame(gliding);
  camera.whole = false;
  const from = { ...camera };
  if (matchMedia("(prefers-reduced-motion: reduce)").matches) {
    Object.assign(camera, { x, y, scale });
    settle();
    return;
  }
  const start = performance.now();
  const step = (now) => {
    const t = Math.min(1, Math.max(0, (now - start) / GLIDE_MS));
    const e = t * t * (3 - 2 * t);
    camera.scale = from.scale * (scale / from.scale) ** e;
    camera.x = from.x + (x - from.x) * e;
    camera.y = from.y + (y - from.y) * e;
    settle();
    if (t < 1) gliding = requestAnimationFrame(step);
  };
  gliding = requestAnimationFrame(step);
};

/** Shows the piece whole. */
export const fit = (glide = true) => {
  const box = shapes()[state.piece]?.box ?? frameBox();
  if (!box) return;
  const scale = fitting(box);
  const to = [(box[0] + box[2]) / 2, (box[1] + box[3]) / 2 + (below() - camera.above) / 2 / scale];
  if (glide) goTo(to, scale);
  else {
    cancelAnimationFrame(gliding);
    Object.assign(camera, { x: to[0], y: to[1], scale });
    settle();
  }
  camera.whole = true;
};

/** Leaves so much of the stage bare above a piece that is shown whole, CSS px. */
export const leaveAbove = (px) => {
  if (camera.above === px) return;
  camera.above = px;
  if (camera.whole) fit();
};

/** One pixel of the picture as one of the screen. */
export const toPixels = () => goTo([camera.x, camera.y], (state.look?.frame?.px_per_mm ?? 10) / devicePixelRatio);

/** Near enough to mend a place. */
export const close = (at) => goTo(at, Math.max(camera.scale, Math.min(2 * (state.look?.frame?.px_per_mm ?? 5), camera.width / 40)));
