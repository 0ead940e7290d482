// Layers over the picture, their legend, and the bare picture while a key or button is held.

import { build, byId, fill } from "./build.js";
import { changed, on, state } from "./state.js";
import { get, Refused } from "./ask.js";
import { wrong } from "./say.js";
import { leaveAbove } from "./camera.js";
import { GRID, LONGER, OUT, short, words } from "./scales.js";
import { small } from "./units.js";

/** A stretch of line as the layer draws it. */
const sample = ({ colour, width }, thin) => {
  const canvas = build("canvas", { width: 88, height: 32, "aria-hidden": "true" });
  const context = canvas.getContext("2d");
  const w = 2 * (thin ? 1 + width / 3 : width);
  for (const [style, extra] of thin
    ? [
        ["#111", 6],
        [colour, 0],
      ]
    : [
        ["#111", 10],
        ["#fff", 4.8],
        [colour, 0],
      ]) {
    context.strokeStyle = style;
    context.lineWidth = w + extra;
    context.lineCap = "round";
    context.beginPath();
    context.moveTo(18, 16);
    context.lineTo(70, 16);
    context.stroke();
  }
  return canvas;
};

const scale = (of, thin) =>
  build(
    "ul",
    {},
    of.map((step) =>
      build(
        "li",
        {},
        sample(step, thin),
        build("span", { "aria-hidden": "true" }, short(step)),
        build("span", { class: "unseen" }, words(step)),
      ),
    ),
  );

const legend = () => {
  const { out, grid } = state.layers;
  byId("legend").hidden = !out && !grid;
  fill(
    byId("legend"),
    out ? [build("h2", {}, "The edge may be out by, mm"), scale(OUT, false)] : [],
    grid
      ? [
          build("h2", {}, "Grid lines lie off the view by, mm"),
          scale(GRID, true),
          build("p", {}, `Drawn ${LONGER} times as long as they are.${state.residuals ? ` Mostly ${small(state.residuals.rms_mm)}.` : ""}`),
        ]
      : [],
  );
  leaveAbove(out || grid ? byId("legend").offsetHeight : 0);
  byId("layer-out").setAttribute("aria-pressed", String(out));
  byId("layer-grid").setAttribute("aria-pressed", String(grid));
};

let asked = null;
let leaving = new AbortController();

/** Asks for the residuals once a picture; a mend moves no node of the grid. */
export const fetchResiduals = async ({ quietly = false } = {}) => {
  const { at, look } = state;
  const key = `${at}\n${look?.picture_hash}`;
  if (!look?.record || state.residuals || asked === key) return;
  asked = key;
  try {
    const told = await get("residuals", { at }, leaving.signal);
    if (state.at === at && state.look?.picture_hash === look.picture_hash) {
      state.residuals = told;
      changed("residuals");
    }
  } catch (fault) {
    if (fault.name === "AbortError") return;
    if (!(fault instanceof Refused)) throw fault;
    if (!quietly) wrong(fault.message);
  } finally {
    asked = null;
  }
};

const residuals = () => {
  if (state.layers.grid) fetchResiduals();
};

export const switchLayer = (name) => {
  state.layers[name] = !state.layers[name];
  changed("layers");
};

export const bare = (is) => {
  if (state.bare === is) return;
  state.bare = is;
  changed("bare");
};

export const start = () => {
  byId("layer-out").addEventListener("click", () => switchLayer("out"));
  byId("layer-grid").addEventListener("click", () => switchLayer("grid"));
  const hold = byId("bare");
  hold.addEventListener("pointerdown", (event) => {
    hold.setPointerCapture(event.pointerId);
    bare(true);
  });
  for (const end of ["pointerup", "pointercancel", "blur"]) hold.addEventListener(end, () => bare(false));
  hold.addEventListener("keydown", (event) => {
    if (event.key === " " || event.key === "Enter") bare(true);
  });
  hold.addEventListener("keyup", () => bare(false));
  hold.addEventListener("contextmenu", (event) => event.preventDefault());
  addEventListener("blur", () => bare(false));
  on("bare", () => hold.setAttribute("aria-pressed", String(state.bare)));
  on("layers residuals unit", legend);
  on("layers look", residuals);
  on("at", () => {
    leaving.abort();
    leaving = new AbortController();
    asked = null;
  });
};
