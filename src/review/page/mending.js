// The tab for mending: tools, a corner's or an edge's name, all corners and edges, hints given, settings.

import { build, button, byId, choices, field, fill, ticked } from "./build.js";
import { changed, on, piece, state } from "./state.js";
import { TOOLS, takeTool } from "./tools.js";
import { mend } from "./mend.js";
import { close } from "./camera.js";
import { shapes } from "./shapes.js";
import { along } from "./path.js";
import { proposals } from "./words.js";
import { showTab } from "./tabs.js";
import { length, small } from "./units.js";
import { hints } from "./hints.js";
import { settings } from "./settings.js";

const tools = () =>
  build(
    "div",
    { class: "tools", role: "group", "aria-label": "Tools" },
    TOOLS.map((tool) =>
      build(
        "button",
        {
          type: "button",
          "aria-pressed": String(state.tool?.id === tool.id),
          "aria-keyshortcuts": tool.key,
          title: tool.hint,
          "data-key": `tool ${tool.id}`,
          onclick: () => takeTool(state.tool?.id === tool.id ? null : tool.id),
        },
        tool.words,
        build("kbd", { "aria-hidden": "true" }, tool.key),
      ),
    ),
    build(
      "button",
      {
        type: "button",
        title: "The piece that is shown is no piece: leave it out.",
        "aria-keyshortcuts": "z",
        "data-key": "drop piece",
        onclick: dropPiece,
      },
      "Drop this piece",
      build("kbd", { "aria-hidden": "true" }, "z"),
    ),
  );

export const dropPiece = () => {
  const shown = piece();
  if (shown) mend({ do: "drop piece", piece: state.piece }, `Piece ${shown.name} left out`);
};

const LINES = [
  ["", "as found"],
  ["rim", "outer edge"],
  ["seam", "seam"],
  ["fold", "fold"],
];

const nameCorner = (k) => {
  const corner = piece().corners[k];
  const save = (event) => {
    event.preventDefault();
    const name = event.target.elements.name.value.trim();
    state.naming = null;
    if (name && name !== corner.name) mend({ do: "name corner", piece: state.piece, corner: k, name }, `Corner named ${name}`);
    changed("naming");
  };
  return build(
    "form",
    { class: "small", onsubmit: save, "aria-label": `Corner ${corner.name}` },
    field(`Name of the corner ${corner.name}`, (id) =>
      build("input", { id, name: "name", list: proposals("corners"), autocomplete: "off", "data-key": "naming", placeholder: corner.name }),
    ),
    build(
      "div",
      { class: "row" },
      build("button", { class: "strong" }, "Name it"),
      cancel(),
      button("No corner here", () => {
        state.naming = null;
        mend({ do: "no corner", piece: state.piece, corner: k }, `${corner.name} is no corner`);
      }),
    ),
  );
};

const cancel = () =>
  button("Leave it", () => {
    [state.naming, state.adding] = [null, null];
    changed("naming");
  });

const hintOf = (edge) => {
  const [from, to] = [edge.from, edge.to].map((k) => piece().corners[k]?.name);
  return state.look.hints.edges.find((h) => (h.from === from && h.to === to) || (h.from === to && h.to === from)) ?? null;
};

const editEdge = (k) => {
  const edge = piece().edges[k];
  const given = hintOf(edge);
  const save = (event) => {
    event.preventDefault();
    const { name, line, is, straight } = event.target.elements;
    const m = { do: "edge", piece: state.piece, edge: k };
    const told = {
      name: name.value.trim() || null,
      line: line.value || null,
      is: is.value.trim() || null,
      straight: straight.checked || null,
    };
    const had = { name: given?.name ?? null, line: given?.line ?? null, is: given?.is ?? null, straight: given?.straight || null };
    for (const [word, value] of Object.entries(told)) if (value !== had[word]) m[word] = value;
    state.naming = null;
    if (Object.keys(m).length > 3) mend(m, `Edge ${told.name ?? edge.name} told`);
    changed("naming");
  };
  return build(
    "form",
    { class: "small", onsubmit: save, "aria-label": `Edge ${edge.name}` },
    field(`Name of the edge ${edge.name}`, (id) =>
      build("input", {
        id,
        name: "name",
        list: proposals("edges"),
        autocomplete: "off",
        "data-key": "naming",
        value: given?.name ?? "",
        placeholder: edge.name,
      }),
    ),
    build(
      "div",
      { class: "pair" },
      field("Seen as", (id) => choices(id, LINES, given?.line ?? "", "line")),
      field("It is", (id) => choices(id, [["", "not said"], ...state.look.words.is.map((word) => [word, word])], given?.is ?? "", "is")),
    ),
    ticked("It is straight", { name: "straight", checked: given?.straight }),
    build("div", { class: "row" }, build("button", { class: "strong" }, "Keep"), cancel()),
  );
};

const addCorner = () => {
  const save = (event) => {
    event.preventDefault();
    const { name, round } = event.target.elements;
    const m = { do: "add corner", at: state.adding, name: name.value.trim(), round: round.checked };
    state.adding = null;
    mend(m, `Corner ${m.name} added`);
    changed("naming");
  };
  return build(
    "form",
    { class: "small", onsubmit: save, "aria-label": "New corner" },
    field("Name of the new corner", (id) =>
      build("input", { id, name: "name", required: true, list: proposals("corners"), autocomplete: "off", "data-key": "naming" }),
    ),
    ticked("Only a tight bend, no corner", { name: "round" }),
    build("div", { class: "row" }, build("button", { class: "strong" }, "Add it"), cancel()),
  );
};

const form = () => {
  if (state.adding) return addCorner();
  if (state.naming?.corner !== undefined && piece()?.corners[state.naming.corner]) return nameCorner(state.naming.corner);
  if (state.naming?.edge !== undefined && piece()?.edges[state.naming.edge]) return editEdge(state.naming.edge);
  return null;
};

const name = (what) => {
  state.naming = what;
  changed("naming");
};

const list = () => {
  const shown = piece();
  if (!shown) return null;
  const corners = shown.corners.map((corner, k) =>
    build(
      "tr",
      {},
      build(
        "th",
        { scope: "row" },
        button(corner.name, () => close(corner.at), { class: "plain", "data-key": `see corner ${k}` }),
      ),
      build("td", { class: "n" }, small(corner.error_mm)),
      build(
        "td",
        {},
        button("Name", () => name({ corner: k }), {
          class: "plain",
          "aria-label": `Name the corner ${corner.name}`,
          "data-key": `name corner ${k}`,
        }),
      ),
    ),
  );
  const edges = shown.edges.map((edge, k) => {
    const line = shapes()[state.piece].edges[k].chords;
    return build(
      "tr",
      {},
      build(
        "th",
        { scope: "row" },
        button(edge.name, () => close(along(line, line.length / 2)), { class: "plain", "data-key": `see edge ${k}` }),
      ),
      build("td", { class: "n" }, length(edge.length_mm), build("br"), `± ${small(edge.bound_mm)}`),
      build(
        "td",
        {},
        button("Tell", () => name({ edge: k }), {
          class: "plain",
          "aria-label": `Name, kind and line of the edge ${edge.name}`,
          "data-key": `name edge ${k}`,
        }),
      ),
    );
  });
  return build(
    "details",
    { "data-open": "list" },
    build("summary", {}, "All corners and edges"),
    build("table", {}, build("caption", {}, "Corners, and how far each may be out"), build("tbody", {}, corners)),
    build("table", {}, build("caption", {}, "Edges, with length and how far each may be out"), build("tbody", {}, edges)),
  );
};

const panel = () => {
  const look = state.look;
  const box = byId("mending");
  if (!look) {
    fill(box);
    return;
  }
  const open = new Set([...box.querySelectorAll("details[open]")].map((d) => d.dataset.open));
  fill(
    box,
    look.mendable ? null : build("p", { class: "note" }, look.why_not ?? "This tracing can't be mended here."),
    form(),
    look.record ? tools() : null,
    hints(),
    list(),
    settings(),
  );
  for (const d of box.querySelectorAll("details")) if (open.has(d.dataset.open)) d.open = true;
};

const naming = () => {
  panel();
  if (!state.naming && !state.adding) {
    if (document.activeElement === document.body) byId("stage").focus({ preventScroll: true });
    return;
  }
  showTab("mending");
  byId("mending").scrollTop = 0;
  byId("mending").querySelector("form.small input")?.focus();
};

const pressed = () => {
  for (const tool of TOOLS)
    byId("mending")
      .querySelector(`[data-key="tool ${tool.id}"]`)
      ?.setAttribute("aria-pressed", String(state.tool?.id === tool.id));
};

export const start = () => {
  on("look piece", () => {
    // What is being typed stays; a corner's number may mean another one in a new state.
    if (!byId("mending").contains(document.activeElement) || !byId("mending").querySelector("form.small :focus")) {
      state.naming = null;
    }
    panel();
  });
  on("unit", panel);
  on("naming", naming);
  on("tool", pressed);
};
