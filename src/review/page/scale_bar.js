// The scale bar: a round length in mm and one in inches, as large as fit.

import { byId } from "./build.js";
import { state } from "./state.js";
import { camera } from "./camera.js";
import { MM_PER_INCH } from "./units.js";

/** Longest bar, CSS px. */
const LONGEST = 150;
const ROUND_MM = [0.1, 0.2, 0.5, 1, 2, 5, 10, 20, 50, 100, 200, 500, 1000];
const ROUND_INCHES = [1 / 64, 1 / 32, 1 / 16, 1 / 8, 1 / 4, 1 / 2, 1, 2, 4, 6, 12, 24, 36];

const most = (all, unit) => all.findLast((v) => v * unit * camera.scale <= LONGEST) ?? all[0];

export const drawScaleBar = () => {
  const bar = byId("scale-bar");
  // A picture that could not be traced has no millimetres.
  bar.hidden = !state.look?.record;
  if (bar.hidden) return;
  const [mm, inch] = [most(ROUND_MM, 1), most(ROUND_INCHES, MM_PER_INCH)];
  const [upper, lower] = bar.querySelectorAll("i");
  upper.style.width = `${mm * camera.scale}px`;
  lower.style.width = `${inch * MM_PER_INCH * camera.scale}px`;
  byId("scale-mm").textContent = `${mm} mm`;
  const words = inch < 1 ? `1/${1 / inch} in` : `${inch} in`;
  byId("scale-inches").textContent = words;
  bar.setAttribute("aria-label", `Scale bar: ${mm} mm and ${words}`);
};
