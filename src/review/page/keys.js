// Keys: what each does, the list of them, and the switch that turns single keys off.

import { build, byId, ticked } from "./build.js";
import { state } from "./state.js";
import { keep, own } from "./own.js";
import { shown } from "./dialogs.js";
import { hush } from "./say.js";
import { fit, pan, toPixels, zoom } from "./camera.js";
import { bare, switchLayer } from "./layers.js";
import { accept, acceptWithNote, retake, undo, withdraw } from "./opinions.js";
import { closeDrawer, focusQueue, focusSearch, step } from "./queue.js";
import { dropPiece } from "./mending.js";
import { done, moveCross, placeCross, putDown, takeBack, takeTool, TOOLS } from "./tools.js";
import { goToWorst, nextWorst } from "./places.js";
import { nextCorner } from "./handles.js";
import { showPiece } from "./looking.js";
import { showTab } from "./tabs.js";
import { toSettings } from "./settings.js";
import { switchUnit } from "./head.js";

/** Arrow keys move the picture by so much, CSS px. */
const PAN = 64;
const ZOOM = 1.3;

const tool = (id) => () => {
  showTab("mending");
  takeTool(id);
};

/** Groups of `[keys, words, what they do]`. */
const KEYS = [
  [
    "Going through",
    [
      [["n"], "next picture", () => step(1)],
      [["p"], "previous picture", () => step(-1)],
      [["[", "]"], "previous and next piece in the picture", (event) => showPiece(state.piece + (event.key === "]" ? 1 : -1))],
      [["q"], "to the list of pictures", focusQueue],
      [["/"], "search", focusSearch],
    ],
  ],
  [
    "Opinion",
    [
      [["a"], "accept and go on", accept],
      [["w"], "accept with a note", acceptWithNote],
      [["r"], "retake", retake],
      [["o"], "trace again with another setting", toSettings],
      [["x"], "withdraw your opinion", withdraw],
      [["u"], "undo (also Ctrl and z)", undo],
    ],
  ],
  [
    "Looking",
    [
      [["1", "2", "3"], "to the worst places", (event) => goToWorst(Number(event.key) - 1)],
      [["g"], "grid layer", () => switchLayer("grid")],
      [["h"], "how far the edge may be out", () => switchLayer("out")],
      [["b"], "held: the bare picture", () => bare(true)],
      [["+", "="], "zoom in", () => zoom(ZOOM)],
      [["-", "_"], "zoom out", () => zoom(1 / ZOOM)],
      [["0"], "show the whole piece", () => fit()],
      [["9"], "one pixel of the picture as one of the screen", toPixels],
      [["."], "next worst place", nextWorst],
      [["i"], "mm or inches", switchUnit],
      [
        ["4", "5", "6", "7"],
        "doubts, mend, checks, opinions",
        (event) => showTab(["places", "mending", "checks", "opinions"][Number(event.key) - 4], true),
      ],
    ],
  ],
  [
    "Tools",
    [
      [
        ["c"],
        "move a corner; again: the next corner",
        () => {
          if (state.tool?.id !== "corner") tool("corner")();
          nextCorner();
        },
      ],
      ...TOOLS.filter((t) => t.id !== "corner").map((t) => [[t.key], t.words.toLowerCase(), tool(t.id)]),
      [["z"], "drop this piece", dropPiece],
    ],
  ],
];

/** Keys that act with the picture or a tool in hand; told in the list. */
const OTHERS = [
  ["arrows", "move the picture; with a tool in hand the cross-hair; on a corner the corner (Shift finer, Alt coarser)"],
  ["space", "set a place at the cross-hair"],
  ["Enter", "end what is drawn; set the corner moved"],
  ["Backspace", "take the last place back"],
  ["Esc", "put the tool down, close what is open"],
  ["?", "this list"],
];

const BY_KEY = new Map(KEYS.flatMap(([, all]) => all.flatMap(([keys, , act]) => keys.map((key) => [key, act]))));
const ARROWS = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] };

const list = () =>
  shown(
    "Keys",
    (close) =>
      build(
        "div",
        {},
        ticked("Single keys act (turn this off if they get in your way)", {
          checked: own.keys,
          onchange: (event) => keep({ keys: event.target.checked }),
        }),
        build(
          "div",
          { class: "columns" },
          [...KEYS, ["With a tool in hand", OTHERS.map(([key, words]) => [[key], words])]].map(([head, all]) =>
            build(
              "section",
              {},
              build("h3", {}, head),
              build(
                "dl",
                {},
                all.map(([keys, words]) => [
                  build(
                    "dt",
                    {},
                    keys.map((key) => build("kbd", {}, key)),
                  ),
                  build("dd", {}, words),
                ]),
              ),
            ),
          ),
        ),
        build("p", { class: "quiet" }, "Wheel or two fingers zoom, dragging moves the picture, a double click goes near."),
        build(
          "div",
          { class: "row" },
          build("button", { type: "button", class: "strong", autofocus: true, onclick: () => close(true) }, "Close"),
        ),
      ),
    () => true,
    "keys",
  );

const typing = (element) => element.closest("input:not([type=checkbox]), select, textarea, dialog") !== null;

/** Keys of the stage itself. */
const onStage = (event) => {
  const arrow = ARROWS[event.key];
  if (arrow) {
    if (state.tool && state.tool.id !== "corner") moveCross(arrow, event);
    else pan(-arrow[0] * PAN, -arrow[1] * PAN);
    return true;
  }
  if (event.key === " " && state.tool) {
    placeCross();
    return true;
  }
  if (event.key === "Enter" && state.tool) {
    if (state.tool.least) done();
    else placeCross();
    return true;
  }
  if (event.key === "Backspace" && state.tool) {
    takeBack();
    return true;
  }
  return false;
};

const escape = () => {
  hush();
  return closeDrawer() || putDown();
};

const down = (event) => {
  if (event.defaultPrevented || event.isComposing) return;
  const { target } = event;
  if (event.key === "Escape" && !target.closest("dialog")) {
    if (escape()) event.preventDefault();
    else if (typing(target)) target.blur();
    return;
  }
  if (typing(target)) return;
  if ((event.ctrlKey || event.metaKey) && event.key === "z" && !event.shiftKey) {
    event.preventDefault();
    undo();
    return;
  }
  // Some keyboards have brackets and the slash on AltGr, which comes as Control and Alt.
  const graph = event.getModifierState("AltGraph");
  if (!graph && (event.ctrlKey || event.metaKey || (event.altKey && !ARROWS[event.key]))) return;
  if ((target.id === "stage" || target === document.body) && onStage(event)) {
    event.preventDefault();
    return;
  }
  if (event.key === "?") {
    event.preventDefault();
    list();
    return;
  }
  const act = own.keys ? BY_KEY.get(event.key) : null;
  if (!act || (event.repeat && !["+", "=", "-", "_", "n", "p"].includes(event.key))) return;
  event.preventDefault();
  act(event);
};

export const start = () => {
  document.addEventListener("keydown", down);
  document.addEventListener("keyup", (event) => {
    if (event.key === "b") bare(false);
  });
  byId("keys-open").addEventListener("click", list);
};
