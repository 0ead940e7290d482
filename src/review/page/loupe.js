// A round window that shows the place a corner is moved to four times as large: a finger covers what it points at.

import { byId } from "./build.js";
import { toScreen } from "./camera.js";

const LARGER = 4;

export const showLoupe = (at) => {
  const loupe = byId("loupe");
  loupe.hidden = !at;
  if (!at) return;
  const picture = byId("picture");
  const context = loupe.getContext("2d");
  const density = picture.width / Math.max(picture.clientWidth, 1);
  const [x, y] = toScreen(at).map((v) => v * density);
  const side = (loupe.width / LARGER / 2) * density;
  context.imageSmoothingEnabled = false;
  context.fillStyle = "#888";
  context.fillRect(0, 0, loupe.width, loupe.height);
  context.drawImage(picture, x - side / 2, y - side / 2, side, side, 0, 0, loupe.width, loupe.height);
  const middle = loupe.width / 2;
  for (const [colour, width] of [
    ["#111", 5],
    ["#fff", 2],
  ]) {
    context.strokeStyle = colour;
    context.lineWidth = width;
    context.beginPath();
    for (const [dx, dy] of [
      [1, 0],
      [-1, 0],
      [0, 1],
      [0, -1],
    ]) {
      context.moveTo(middle + 10 * dx, middle + 10 * dy);
      context.lineTo(middle + 46 * dx, middle + 46 * dy);
    }
    context.stroke();
  }
};
