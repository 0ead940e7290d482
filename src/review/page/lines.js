// What was found and what a person told, drawn over the picture as lines: sharp at every zoom, with a dark rim so that they show on any cloth.

import { state, worst } from "./state.js";
import { shapes } from "./shapes.js";
import { camera, toScreen } from "./camera.js";
import { along } from "./path.js";
import { GRID, LONGER, OUT, step } from "./scales.js";

/** Colours told apart by people with any colour vision (Okabe & Ito 2008), and by weight or dash besides. */
const OUTER = "#ffb000";
const INNER = "#56b4e9";
const FOLD = "#cc79a7";
const HINT = "#ffffff";
const WORST = "#ff7a2f";
const RIM = "rgb(17 17 17 / .85)";
const BY_LINE = { rim: OUTER, cut: OUTER, seam: INNER, fold: FOLD };

/** Draws in sheet mm; widths given in CSS px. */
const inMm = (context, density, draw) => {
  const s = camera.scale * density;
  context.save();
  context.setTransform(s, 0, 0, s, (camera.width / 2) * density - camera.x * s, (camera.height / 2) * density - camera.y * s);
  context.lineJoin = "round";
  context.lineCap = "round";
  draw(1 / camera.scale);
  context.restore();
};

const stroke = (context, px, path, colour, width, dash = []) => {
  context.setLineDash(dash.map((d) => d * px));
  context.strokeStyle = colour;
  context.lineWidth = width * px;
  context.stroke(path);
};

const rimmed = (context, px, path, colour, width, dash = []) => {
  stroke(context, px, path, RIM, width + 3);
  stroke(context, px, path, colour, width, dash);
  context.setLineDash([]);
};

const through = (points, closed = false) => {
  const path = new Path2D();
  points.forEach(([x, y], k) => (k === 0 ? path.moveTo(x, y) : path.lineTo(x, y)));
  if (closed) path.closePath();
  return path;
};

const found = (context, px) => {
  shapes().forEach((shape, k) => {
    const own = k === state.piece;
    context.globalAlpha = own ? 1 : 0.55;
    const width = own ? 2 : 1.2;
    const edges = state.look.record.pieces[k].edges ?? [];
    // The rim first and whole, so that no edge darkens its neighbour's end.
    stroke(context, px, shape.outline.drawn, RIM, width + 3);
    if (edges.length === 0) stroke(context, px, shape.outline.drawn, OUTER, width);
    shape.edges.forEach((edge, j) =>
      stroke(context, px, edge.drawn, BY_LINE[edges[j].line] ?? OUTER, width, edges[j].line === "cut" ? [7, 5] : []),
    );
    context.setLineDash([]);
    shape.holes.forEach((hole) => rimmed(context, px, hole.drawn, OUTER, width));
    shape.inner.forEach((seam) => rimmed(context, px, seam.drawn, INNER, width, [9, 4]));
  });
  context.globalAlpha = 1;
};

/** Each stretch of an edge in the colour and width of how far it may be out. */
const howFarOut = (context, px) => {
  const shape = shapes()[state.piece];
  const edges = state.look.record.pieces[state.piece]?.edges ?? [];
  const stretches = [];
  /** Neighbours of one step are one stretch, so that no joint shows. */
  const add = (of, points) => {
    const last = stretches[stretches.length - 1];
    if (last?.of === of && last.open) last.points.push(...points);
    else stretches.push({ of, points, open: true });
  };
  edges.forEach((edge, k) => {
    const told = edge.along ?? [];
    const line = shape.edges[k].chords;
    for (let j = 0; j < told.length; j += 1) {
      const [from, to] = [
        j === 0 ? 0 : (told[j - 1][0] + told[j][0]) / 2,
        j + 1 < told.length ? (told[j][0] + told[j + 1][0]) / 2 : line.length,
      ];
      const n = Math.max(1, Math.ceil((to - from) / 2));
      add(
        step(OUT, told[j][1]),
        Array.from({ length: n + 1 }, (_, i) => along(line, from + ((to - from) * i) / n)),
      );
    }
    if (stretches.length > 0) stretches[stretches.length - 1].open = false;
  });
  for (const stretch of stretches) stretch.path = through(stretch.points);
  const pass = (style, extra) => {
    for (const { of, path } of stretches) {
      context.strokeStyle = style ?? of.colour;
      context.lineWidth = (of.width + extra) * px;
      context.stroke(path);
    }
  };
  pass("rgb(17 17 17)", 5);
  pass("rgb(255 255 255)", 2.4);
  pass(null, 0);
};

const grid = (context, px) => {
  for (const [x, y, dx, dy] of state.residuals?.nodes ?? []) {
    const of = step(GRID, Math.hypot(dx, dy));
    const path = through([
      [x, y],
      [x + dx * LONGER, y + dy * LONGER],
    ]);
    rimmed(context, px, path, of.colour, 1 + of.width / 3);
    context.fillStyle = of.colour;
    context.strokeStyle = RIM;
    context.lineWidth = px;
    context.beginPath();
    context.arc(x, y, (1.5 + of.width / 4) * px, 0, 2 * Math.PI);
    context.fill();
    context.stroke();
  }
};

const told = (context, px) => {
  const hints = state.look.hints;
  for (const region of hints.regions) {
    const path = through(region.border, true);
    context.fillStyle = region.is === "kept" ? "rgb(0 158 115 / .18)" : "rgb(17 17 17 / .3)";
    context.fill(path);
    rimmed(context, px, path, HINT, 1.2, region.is === "kept" ? [2, 4] : [7, 5]);
  }
  for (const centre of hints.centre) if (centre.spots?.length === 2) rimmed(context, px, through(centre.spots), HINT, 1.2, [14, 4, 2, 4]);
};

const drawing = (context, px) => {
  if (state.places.length === 0 || !state.tool) return;
  if (state.places.length > 1) rimmed(context, px, through(state.places, state.tool.closed), HINT, 1.6, [6, 4]);
};

const spot = (context, [x, y], radius, colour) => {
  context.beginPath();
  context.arc(x, y, radius, 0, 2 * Math.PI);
  context.strokeStyle = RIM;
  context.lineWidth = 4.5;
  context.stroke();
  context.strokeStyle = colour;
  context.lineWidth = 2;
  context.stroke();
};

const numbered = (context, [x, y], words, colour) => {
  spot(context, [x, y], 15, colour);
  context.font = "600 14px system-ui, sans-serif";
  context.textAlign = "center";
  context.textBaseline = "middle";
  // Below, where no corner's name stands.
  const [nx, ny] = [x + 21, y + 21];
  context.beginPath();
  context.arc(nx, ny, 11, 0, 2 * Math.PI);
  context.fillStyle = "#111";
  context.fill();
  context.strokeStyle = colour;
  context.lineWidth = 2;
  context.stroke();
  context.fillStyle = "#fff";
  context.fillText(words, nx, ny + 1);
};

/** Names of edges at their middles, while a tool is in hand that takes edges. */
const edgeNames = (context) => {
  const edges = state.look.record?.pieces?.[state.piece]?.edges ?? [];
  context.font = "13px system-ui, sans-serif";
  context.textAlign = "center";
  context.textBaseline = "middle";
  edges.forEach((edge, k) => {
    const line = shapes()[state.piece].edges[k].chords;
    const [x, y] = toScreen(along(line, line.length / 2));
    const wide = context.measureText(edge.name).width + 12;
    context.fillStyle = "rgb(17 17 17 / .82)";
    context.fillRect(x - wide / 2, y - 10, wide, 20);
    context.fillStyle = "#fff";
    context.fillText(edge.name, x, y + 1);
  });
};

/** Marks of fixed size: worst places, through-points, notches, places set with the tool in hand. */
const spots = (context, density) => {
  context.save();
  context.setTransform(density, 0, 0, density, 0, 0);
  worst().forEach((w, k) => numbered(context, toScreen(w.at), String(k + 1), WORST));
  for (const { at } of state.look.hints.through) {
    const [x, y] = toScreen(at);
    spot(context, [x, y], 5, HINT);
    context.fillStyle = HINT;
    context.fillRect(x - 1.5, y - 1.5, 3, 3);
  }
  for (const { at } of state.look.hints.notches) if (at) spot(context, toScreen(at), 4, FOLD);
  for (const at of state.places) spot(context, toScreen(at), 4, HINT);
  if (state.tool?.wants.includes("edge")) edgeNames(context);
  context.restore();
};

export const drawLines = (context, density) => {
  if (!state.look || state.bare) return;
  inMm(context, density, (px) => {
    if (state.look.hints) told(context, px);
    if (state.layers.grid) grid(context, px);
    found(context, px);
    if (state.layers.out && shapes()[state.piece]) howFarOut(context, px);
    drawing(context, px);
  });
  spots(context, density);
};
