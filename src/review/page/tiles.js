// The straightened picture in tiles: the level that fits the zoom, coarser ones where it is not there yet.

import { state } from "./state.js";
import { address } from "./ask.js";
import { camera, toMm } from "./camera.js";

/** Tiles kept: some 160 MB at most. */
const MOST = 160;
/** Tiles asked for at once; the rest wait, the middle of the stage first. */
const AT_ONCE = 6;

const kept = new Map();
let asked = 0;
let wanted = [];
let arrived = () => {};

export const whenTilesCome = (by) => {
  arrived = by;
};

const name = (z, x, y) => `${state.at}\n${state.look.picture_hash}\n${z} ${x} ${y}`;

const load = ({ key, z, x, y }) => {
  const image = new Image();
  const tile = { image, ready: false, failed: false };
  kept.set(key, tile);
  asked += 1;
  image.onload = image.onerror = (event) => {
    asked -= 1;
    if (event.type === "load") tile.ready = true;
    else kept.delete(key);
    next();
    if (tile.ready) arrived();
  };
  image.src = address("tile", { at: state.at, v: state.look.picture_hash, z, x, y });
};

const next = () => {
  while (asked < AT_ONCE && wanted.length > 0) {
    const tile = wanted.shift();
    if (!kept.has(tile.key) && state.look?.frame && tile.key.startsWith(`${state.at}\n${state.look.picture_hash}\n`)) load(tile);
  }
  for (const key of kept.keys()) {
    if (kept.size <= MOST) break;
    if (kept.get(key).ready) kept.delete(key);
  }
};

const ready = (key) => {
  const tile = kept.get(key);
  if (!tile?.ready) return null;
  // Used just now: last to be forgotten.
  kept.delete(key);
  kept.set(key, tile);
  return tile.image;
};

/** The level whose pixels are nearest to the screen's, never coarser than they are. */
const level = (frame, density) =>
  Math.min(Math.max(Math.floor(Math.log2(Math.max(frame.px_per_mm / (camera.scale * density), 1)) + 0.05), 0), frame.levels - 1);

/** Draws what is there and asks for what is not. `whole` tells whether nothing is missing. */
export const drawTiles = (context, density) => {
  const frame = state.look?.frame;
  if (!frame) return true;
  const z = level(frame, density);
  const px = 2 ** z;
  // A level's pixel k covers the finest level's k * px to (k + 1) * px - 1; pixel centres are whole numbers.
  const toDevice = (v, axis) => {
    const mm = frame.origin_mm[axis] + (v - 0.5) / frame.px_per_mm;
    return axis === 0
      ? ((mm - camera.x) * camera.scale + camera.width / 2) * density
      : ((mm - camera.y) * camera.scale + camera.height / 2) * density;
  };
  const [left, top] = toMm([0, 0]);
  const [right, bottom] = toMm([camera.width, camera.height]);
  const side = frame.tile * px;
  const first = (mm, axis) => Math.max(0, Math.floor(((mm - frame.origin_mm[axis]) * frame.px_per_mm + 0.5) / side));
  const last = (mm, axis, size) =>
    Math.min(Math.ceil(size / side) - 1, Math.floor(((mm - frame.origin_mm[axis]) * frame.px_per_mm + 0.5) / side));
  context.imageSmoothingEnabled = (camera.scale * density * px) / frame.px_per_mm < 3;
  context.imageSmoothingQuality = "high";
  wanted = [];
  let whole = true;
  const missing = new Map();
  for (let y = first(top, 1); y <= last(bottom, 1, frame.height); y += 1) {
    for (let x = first(left, 0); x <= last(right, 0, frame.width); x += 1) {
      const [x0, y0] = [Math.round(toDevice(x * side, 0)), Math.round(toDevice(y * side, 1))];
      const [x1, y1] = [
        Math.round(toDevice(Math.min((x + 1) * side, frame.width), 0)),
        Math.round(toDevice(Math.min((y + 1) * side, frame.height), 1)),
      ];
      const key = name(z, x, y);
      const image = ready(key);
      if (image) {
        context.drawImage(image, x0, y0, x1 - x0, y1 - y0);
        continue;
      }
      whole = false;
      missing.set(key, {
        key,
        z,
        x,
        y,
        far: Math.hypot((x0 + x1) / 2 - (camera.width * density) / 2, (y0 + y1) / 2 - (camera.height * density) / 2),
      });
      coarser(context, frame, { z, x, y, x0, y0, x1, y1 });
    }
  }
  // The coarsest level is one or a few tiles: with it there is always something to see.
  if (!whole) {
    const top = frame.levels - 1;
    const span = frame.tile * 2 ** top;
    for (let y = 0; y < Math.ceil(frame.height / span); y += 1)
      for (let x = 0; x < Math.ceil(frame.width / span); x += 1)
        if (!kept.has(name(top, x, y))) missing.set(name(top, x, y), { key: name(top, x, y), z: top, x, y, far: -1 });
  }
  wanted = [...missing.values()].filter((tile) => !kept.has(tile.key)).sort((a, b) => a.far - b.far);
  next();
  return whole;
};

/** The part of the nearest coarser tile that is there. */
const coarser = (context, frame, { z, x, y, x0, y0, x1, y1 }) => {
  for (let up = 1; z + up < frame.levels; up += 1) {
    const image = ready(name(z + up, x >> up, y >> up));
    if (!image) continue;
    const part = frame.tile / 2 ** up;
    const [sx, sy] = [(x % 2 ** up) * part, (y % 2 ** up) * part];
    context.drawImage(image, sx, sy, Math.min(part, image.width - sx), Math.min(part, image.height - sy), x0, y0, x1 - x0, y1 - y0);
    return;
  }
};
