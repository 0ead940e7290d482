// The tools: what each takes (a corner, an edge, places), what it says to do, and what it asks for when it has them.

import { byId } from "./build.js";
import { changed, on, piece, state } from "./state.js";
import { camera, pan, toMm, toScreen } from "./camera.js";
import { cornerNear, edgeNear } from "./near.js";
import { mend, throughPoint } from "./mend.js";
import { say, wrong } from "./say.js";

/** Places set this near to a corner are taken to be meant there, CSS px. */
const SNAP = 11;
/** The cross-hair moves by so much a key press, CSS px: with Shift, as it is, with Alt. */
const STEPS = { fine: 1, usual: 8, coarse: 48 };

const named = (corner) => piece().corners[corner].name;
const edgeName = (edge) => piece().edges[edge].name;
const chosenName = () => byId("tool-name")?.value.trim() || null;

export const TOOLS = [
  {
    id: "corner",
    key: "c",
    words: "Move a corner",
    hint: "Drag a corner, or click it and then its right place. By keys: c goes to the next corner, arrows move it (Shift finer, Alt coarser), Enter sets it.",
    wants: "corner and place",
  },
  {
    id: "through",
    key: "t",
    words: "Through-point",
    hint: "Click where the line really runs. It is sought again there, over 60 mm either way; where no edge runs through the place, it is bent to it.",
    wants: "place",
    act: (at) => throughPoint(at),
  },
  {
    id: "seam",
    key: "s",
    words: "Seam within",
    hint: "Click where the seam within the piece begins, places between if it bends far, and where it ends. Then Enter or Done.",
    wants: "places",
    least: 2,
    snaps: true,
    name: "corners",
    act: (through) => mend({ do: "draw seam", name: chosenName(), through }, "Seam drawn"),
  },
  {
    id: "keep",
    key: "k",
    words: "Keep a region",
    hint: "Click round what belongs to the piece. The border is the outline wherever it comes near, so draw it across the cloth or clear of it. Then Enter or Done.",
    wants: "places",
    least: 3,
    closed: true,
    act: (border) => mend({ do: "region", is: "kept", border }, "Region kept"),
  },
  {
    id: "leave",
    key: "l",
    words: "Leave out",
    hint: "Click round what does not belong to the piece: a tag, a hanger, a fold of tissue. Then Enter or Done.",
    wants: "places",
    least: 3,
    closed: true,
    act: (border) => mend({ do: "region", is: "left out", border }, "Region left out"),
  },
  {
    id: "straight",
    key: "e",
    words: "Straight edge",
    hint: "Click an edge that is straight in truth.",
    wants: "edge",
    act: ({ edge }) => mend({ do: "edge", piece: state.piece, edge, straight: true }, `${edgeName(edge)} made straight`),
  },
  {
    id: "name",
    key: "m",
    words: "Name",
    hint: "Click a corner or an edge and type its name. Left and right are the wearer's.",
    wants: "corner or edge",
    act: (what) => {
      state.naming = what;
      changed("naming");
    },
  },
  {
    id: "add",
    key: "d",
    words: "Add a corner",
    hint: "Click where a corner is missing, then give it a name.",
    wants: "place",
    act: (at) => {
      state.adding = at;
      changed("naming");
    },
  },
  {
    id: "bend",
    key: "f",
    words: "No corner here",
    hint: "Click a corner that is none: the edge only bends there.",
    wants: "corner",
    act: (corner) => mend({ do: "no corner", piece: state.piece, corner }, `${named(corner)} is no corner`),
  },
  {
    id: "split",
    key: "v",
    words: "Split pieces",
    hint: "Click along the line that parts two pieces which were taken for one. Then Enter or Done.",
    wants: "places",
    least: 2,
    act: (line) => mend({ do: "split", line }, "Pieces split"),
  },
  {
    id: "centre",
    key: "j",
    words: "Centre line",
    hint: "Click two places on the piece's centre line.",
    wants: "places",
    least: 2,
    most: 2,
    act: (spots) => mend({ do: "centre", piece: state.piece, spots }, "Centre line placed"),
  },
  {
    id: "notch",
    key: "y",
    words: "Notch",
    hint: "Click on the edge where the notch belongs.",
    wants: "edge",
    notch: true,
    act: ({ edge, far }) => {
      const [style, count] = [byId("notch-style")?.value, byId("notch-count")?.value];
      const m = { do: "notch", piece: state.piece, edge, at_mm: Math.round(far * 10) / 10 };
      return mend({ ...m, ...(style ? { style } : {}), ...(count ? { count: Number(count) } : {}) }, `Notch set on ${edgeName(edge)}`);
    },
  },
];

/** The cross-hair that stands for the mouse, sheet mm; nothing while a mouse or finger does. */
let cross = null;
/** The corner that waits for its new place. */
let chosen = null;

export const takeTool = (id) => {
  const tool = TOOLS.find((t) => t.id === id) ?? null;
  if (tool && !state.look?.mendable) {
    wrong(state.look?.why_not ?? "Nothing can be mended here.");
    return;
  }
  if (tool && !state.look.record) {
    wrong("There is no outline to mend. Another setting may help: sheet, squares, number of pieces.");
    return;
  }
  state.tool = tool;
  [state.places, state.naming, state.adding, chosen, cross] = [[], null, null, null, null];
  changed("tool", "places", "naming");
  if (tool) byId("stage").focus({ preventScroll: true });
};

export const putDown = () => {
  if (!state.tool) return false;
  const kept = state.places.length;
  takeTool(null);
  say(kept ? "Tool put down; the places are gone." : "Tool put down.");
  return true;
};

const carryOut = async (...what) => {
  const { tool, places } = state;
  const good = await tool.act(...what);
  // What was refused keeps its places, so that nothing has to be clicked twice.
  if (good && state.tool === tool && state.places === places) {
    state.places = [];
    changed("places");
  }
};

/** Ends a tool that takes any number of places. */
export const done = () => {
  const { tool, places } = state;
  if (!tool?.least) return;
  if (places.length < tool.least)
    say(`${tool.least - places.length} more ${tool.least - places.length === 1 ? "place is" : "places are"} needed.`);
  else carryOut(places);
};

export const takeBack = () => {
  if (state.places.length === 0) return;
  state.places = state.places.slice(0, -1);
  changed("places");
};

const choose = (corner) => {
  chosen = corner;
  say(`Corner ${named(corner)}: now click its right place.`);
};

/** A corner was pointed at itself. */
export const pointed = (corner) => {
  const { wants } = state.tool;
  if (wants === "corner") carryOut(corner);
  else if (wants === "corner or edge") carryOut({ corner });
  else if (wants === "corner and place") choose(corner);
  else place(piece().corners[corner].at);
};

const moveChosen = (to) => {
  const corner = chosen;
  chosen = null;
  return mend({ do: "move corner", piece: state.piece, corner, to }, `Moved the corner ${named(corner)}`);
};

/** A place was pointed at with the tool in hand. */
export const place = (at) => {
  const { tool } = state;
  const corner = cornerNear(at);
  const edge = edgeNear(at);
  if (tool.wants === "corner and place") {
    if (chosen !== null) moveChosen(at);
    else if (corner !== null) choose(corner);
    else say("Click a corner first.");
  } else if (tool.wants === "corner") {
    if (corner === null) say("There is no corner near that place.");
    else carryOut(corner);
  } else if (tool.wants === "edge") {
    if (edge === null) say("There is no edge near that place.");
    else carryOut(edge);
  } else if (tool.wants === "corner or edge") {
    if (corner === null && edge === null) say("There is neither corner nor edge near that place.");
    else carryOut(corner === null ? { edge: edge.edge } : { corner });
  } else if (tool.wants === "place") carryOut(at);
  else {
    const near = tool.snaps ? cornerNear(at, SNAP) : null;
    state.places = [...state.places, near === null ? at : piece().corners[near].at];
    changed("places");
    if (tool.most === state.places.length) done();
  }
};

/** Moves the cross-hair by a key; it starts in the middle. */
export const moveCross = ([dx, dy], event) => {
  const by = event.shiftKey ? STEPS.fine : event.altKey ? STEPS.coarse : STEPS.usual;
  const [x, y] = toScreen(cross ?? [camera.x, camera.y]);
  cross = toMm([x + dx * by, y + dy * by]);
  const [nx, ny] = toScreen(cross);
  if (nx < 20 || ny < 20 || nx > camera.width - 20 || ny > camera.height - 20) pan(-dx * by, -dy * by);
  changed("places");
};

/** Sets a place where the cross-hair is. */
export const placeCross = () => {
  cross ??= [camera.x, camera.y];
  place(cross);
};

export const showCross = () => {
  const mark = byId("cross");
  mark.hidden = !cross || !state.tool;
  if (mark.hidden) return;
  const [x, y] = toScreen(cross);
  mark.style.transform = `translate(${x}px, ${y}px)`;
};

byId("stage").addEventListener("pointermove", () => {
  cross = null;
});
// Places set stay when somebody else changed the tracing; a corner's number may mean another one then.
on("look piece", () => {
  chosen = null;
});
