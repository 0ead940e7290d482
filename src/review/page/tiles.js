// The straightened picture in tiles: the level that fits the zoom, coarser ones where it is not there yet, and below them what was
// shown before, so that a mend never leaves the stage bare.

import { state } from "./state.js";
import { address } from "./ask.js";
import { camera, toMm } from "./camera.js";

/** Tiles kept: some 160 MB at most. */
const MOST = 160;
/** Tiles asked for at once; the rest wait, the middle of the stage first. */
const AT_ONCE = 6;
/** From so many screen pixels a pixel of the picture on they are shown as the squares they are. */
const SQUARES = 3;

const kept = new Map();
let asked = 0;
let wanted = [];
let arrived = () => {};
/** The picture on the screen, and the one that was there before of the same entry: which it is, and its frame. */
let shown = null;
let before = null;

export const whenTilesCome = (by) => {
  arrived = by;
};

const sheetOf = (look) =>
  look?.frame ? { id: `${look.at}\n${look.picture_hash}`, at: look.at, hash: look.picture_hash, frame: look.frame } : null;

const nameOf = (sheet, z, x, y) => `${sheet.id}\n${z} ${x} ${y}`;

const load = ({ key, sheet, z, x, y }) => {
  const image = new Image();
  const tile = { image, ready: false };
  kept.set(key, tile);
  asked += 1;
  image.onload = image.onerror = (event) => {
    asked -= 1;
    if (event.type === "load") tile.ready = true;
    else kept.delete(key);
    next();
    if (tile.ready) arrived();
  };
  image.src = address("tile", { at: sheet.at, v: sheet.hash, z, x, y });
};

const next = () => {
  while (asked < AT_ONCE && wanted.length > 0) {
    const tile = wanted.shift();
    if (!kept.has(tile.key) && tile.sheet.id === shown?.id) load(tile);
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

/** Where a level's tiles lie on the screen's pixels, and which of them are in view. A level's pixel k covers the finest level's k * px
 * to (k + 1) * px - 1; pixel centres are whole numbers. */
const layout = ({ frame }, z, density) => {
  const px = 2 ** z;
  const side = frame.tile * px;
  const middle = [camera.width / 2, camera.height / 2];
  const at = [camera.x, camera.y];
  const toDevice = (v, axis) =>
    Math.round(((frame.origin_mm[axis] + (v - 0.5) / frame.px_per_mm - at[axis]) * camera.scale + middle[axis]) * density);
  const tileOf = (mm, axis) => Math.floor(((mm - frame.origin_mm[axis]) * frame.px_per_mm + 0.5) / side);
  const [low, high] = [toMm([0, 0]), toMm([camera.width, camera.height])];
  const range = (axis, size) => [Math.max(0, tileOf(low[axis], axis)), Math.min(Math.ceil(size / side) - 1, tileOf(high[axis], axis))];
  return { px, side, toDevice, across: range(0, frame.width), down: range(1, frame.height) };
};

/** The part of the nearest coarser tile that is there. */
const coarser = (context, sheet, { z, x, y, x0, y0, x1, y1 }) => {
  for (let up = 1; z + up < sheet.frame.levels; up += 1) {
    const image = ready(nameOf(sheet, z + up, x >> up, y >> up));
    if (!image) continue;
    const part = sheet.frame.tile / 2 ** up;
    const [sx, sy] = [(x % 2 ** up) * part, (y % 2 ** up) * part];
    context.drawImage(image, sx, sy, Math.min(part, image.width - sx), Math.min(part, image.height - sy), x0, y0, x1 - x0, y1 - y0);
    return;
  }
};

/** Draws what is there of a picture; gives the tiles in view that are not. */
const drawSheet = (context, sheet, density) => {
  const { frame } = sheet;
  const z = level(frame, density);
  const { px, side, toDevice, across, down } = layout(sheet, z, density);
  context.imageSmoothingEnabled = (camera.scale * density * px) / frame.px_per_mm < SQUARES;
  context.imageSmoothingQuality = "high";
  const missing = [];
  for (let y = down[0]; y <= down[1]; y += 1) {
    for (let x = across[0]; x <= across[1]; x += 1) {
      const key = nameOf(sheet, z, x, y);
      const image = ready(key);
      const end = (axis, k, size, own) => toDevice(own ? k * side + own * px : Math.min((k + 1) * side, size), axis);
      const [x0, y0] = [toDevice(x * side, 0), toDevice(y * side, 1)];
      const [x1, y1] = [end(0, x, frame.width, image?.width), end(1, y, frame.height, image?.height)];
      if (image) context.drawImage(image, x0, y0, x1 - x0, y1 - y0);
      else {
        const far = Math.hypot((x0 + x1 - camera.width * density) / 2, (y0 + y1 - camera.height * density) / 2);
        missing.push({ key, sheet, z, x, y, far });
        coarser(context, sheet, { z, x, y, x0, y0, x1, y1 });
      }
    }
  }
  return missing;
};

/** The coarsest level, which is one tile: with it there is always something to see. */
const coarsest = (sheet) => {
  const z = sheet.frame.levels - 1;
  return { key: nameOf(sheet, z, 0, 0), sheet, z, x: 0, y: 0, far: -1 };
};

/** Draws what is there and asks for what is not; tells whether nothing is missing. */
export const drawTiles = (context, density) => {
  const sheet = sheetOf(state.look);
  if (sheet?.id !== shown?.id) {
    before = shown && sheet?.at === shown.at ? shown : null;
    shown = sheet;
  }
  if (!sheet) return true;
  if (before) drawSheet(context, before, density);
  const missing = drawSheet(context, sheet, density);
  if (missing.length === 0) before = null;
  wanted = (missing.length ? [coarsest(sheet), ...missing] : []).filter((tile) => !kept.has(tile.key)).sort((a, b) => a.far - b.far);
  next();
  return missing.length === 0;
};
