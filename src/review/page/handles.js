// Corners as things to take hold of: dragged, or moved by the arrow keys once they have the focus.

import { build, byId, fill } from "./build.js";
import { on, piece, state } from "./state.js";
import { camera, pan, toScreen } from "./camera.js";
import { shapes } from "./shapes.js";
import { nearest } from "./path.js";
import { mend } from "./mend.js";
import { say } from "./say.js";
import { length, small } from "./units.js";
import { showLoupe } from "./loupe.js";
import { done, pointed } from "./tools.js";

/** A press that moved less than this moves nothing, CSS px. */
const STILL = 4;
/** Arrow keys move a corner by so much, mm: with Shift, as it is, with Alt. */
const STEPS = { fine: 0.1, usual: 0.5, coarse: 5 };
const ARROWS = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] };

const box = byId("handles");
let handles = [];
let held = null;
let dragged = false;

const letGo = () => {
  held = null;
  showLoupe(null);
  label();
  placeHandles();
};

const set = async () => {
  const { corner, to, from } = held;
  held.waiting = true;
  placeHandles();
  if (Math.hypot(to[0] - from[0], to[1] - from[1]) > 1e-6) {
    await mend({ do: "move corner", piece: state.piece, corner, to }, `Moved the corner ${piece()?.corners[corner]?.name ?? ""}`);
  }
  letGo();
};

const take = (corner) => {
  if (held?.waiting || !state.look?.mendable) return false;
  const at = piece().corners[corner].at;
  if (held?.corner !== corner) held = { corner, from: at, to: at, moved: 0, waiting: false };
  return true;
};

const key = (event, corner) => {
  const arrow = ARROWS[event.key];
  if (arrow && !event.ctrlKey && !event.metaKey) {
    event.preventDefault();
    event.stopPropagation();
    if (!take(corner)) return;
    const by = event.shiftKey ? STEPS.fine : event.altKey ? STEPS.coarse : STEPS.usual;
    held.to = [held.to[0] + arrow[0] * by, held.to[1] + arrow[1] * by];
    follow();
    say(
      `${small(Math.hypot(held.to[0] - held.from[0], held.to[1] - held.from[1]))} from where it was. Enter sets it, Escape puts it back.`,
    );
  } else if (event.key === "Escape" && held) {
    event.stopPropagation();
    letGo();
    say("Put back.");
  } else if (event.key === "Enter" && state.tool?.least) {
    event.preventDefault();
    event.stopPropagation();
    done();
  } else if ((event.key === "Enter" || event.key === " ") && held) {
    event.preventDefault();
    event.stopPropagation();
    if (!held.waiting) set();
  }
};

/** Keeps the corner that is moved in view. */
const follow = () => {
  const [x, y] = toScreen(held.to);
  const margin = 60;
  const out = (v, all) => (v < margin ? margin - v : v > all - margin ? all - margin - v : 0);
  const [dx, dy] = [out(x, camera.width), out(y, camera.height)];
  if (dx || dy) pan(dx, dy);
  showLoupe(held.to);
  placeHandles();
};

const press = (event, corner) => {
  if (event.button !== 0) return;
  if (state.tool ? state.tool.id !== "corner" : event.pointerType === "touch") return;
  if (!take(corner)) return;
  event.preventDefault();
  const handle = event.currentTarget;
  handle.focus({ preventScroll: true });
  handle.setPointerCapture(event.pointerId);
  const start = [event.clientX, event.clientY];
  const from = held.to;
  const over = new AbortController();
  const move = (e) => {
    if (!held) return;
    held.moved = Math.max(held.moved, Math.hypot(e.clientX - start[0], e.clientY - start[1]));
    if (held.moved < STILL) return;
    held.to = [from[0] + (e.clientX - start[0]) / camera.scale, from[1] + (e.clientY - start[1]) / camera.scale];
    showLoupe(held.to);
    placeHandles();
  };
  const end = (e) => {
    over.abort();
    if (!held) return;
    dragged = held.moved >= STILL;
    if (e.type === "pointerup" && dragged) set();
    else letGo();
  };
  handle.addEventListener("pointermove", move, { signal: over.signal });
  for (const name of ["pointerup", "pointercancel"]) handle.addEventListener(name, end, { signal: over.signal });
};

const click = (event, corner) => {
  event.stopPropagation();
  // Whoever points with a mouse goes on with the stage's keys.
  if (state.tool && state.tool.id !== "corner" && event.detail > 0) byId("stage").focus({ preventScroll: true });
  // A drag ends with a click too.
  if (state.tool && !dragged) pointed(corner);
  dragged = false;
};

/** What a corner is called in a list and by a screen reader. */
const label = () => {
  (piece()?.corners ?? []).forEach((corner, k) => {
    const [x, y] = held?.corner === k ? held.to : corner.at;
    const off = shapes()[state.piece] ? nearest(shapes()[state.piece].outline.chords, [x, y]).off : 0;
    const inside = off > 0.05 ? `, ${small(off)} off the line` : "";
    handles[k]?.setAttribute(
      "aria-label",
      `Corner ${corner.name}, ${length(x)} across, ${length(y)} down, may be out by ${small(corner.error_mm)}${inside}`,
    );
  });
};

const make = () => {
  held = null;
  showLoupe(null);
  handles = (piece()?.corners ?? []).map((corner, k) =>
    build(
      "button",
      {
        type: "button",
        class: "handle",
        "data-key": `corner ${k}`,
        onpointerdown: (event) => press(event, k),
        onkeydown: (event) => key(event, k),
        onclick: (event) => click(event, k),
        onblur: () => {
          if (held && !held.waiting && held.corner === k) letGo();
        },
      },
      build("span", { "aria-hidden": "true" }, corner.name),
    ),
  );
  fill(box, handles);
  label();
  placeHandles();
};

export const placeHandles = () => {
  (piece()?.corners ?? []).forEach((corner, k) => {
    const handle = handles[k];
    if (!handle) return;
    const own = held?.corner === k;
    const [x, y] = toScreen(own ? held.to : corner.at);
    handle.style.transform = `translate(${x.toFixed(1)}px, ${y.toFixed(1)}px)`;
    handle.style.visibility = x < -20 || y < -20 || x > camera.width + 20 || y > camera.height + 20 ? "hidden" : "";
    handle.classList.toggle("left", x > camera.width - 170);
    handle.classList.toggle("held", own);
    handle.classList.toggle("waiting", own && held.waiting);
  });
};

/** The next corner gets the focus. */
export const nextCorner = (by = 1) => {
  if (handles.length === 0) return;
  const now = handles.indexOf(document.activeElement);
  const k = (now + by + handles.length) % handles.length;
  const at = toScreen(piece().corners[k].at);
  if (at[0] < 0 || at[1] < 0 || at[0] > camera.width || at[1] > camera.height) pan(camera.width / 2 - at[0], camera.height / 2 - at[1]);
  handles[k].style.visibility = "";
  handles[k].focus({ preventScroll: true });
};

on("look piece", make);
on("unit", label);
