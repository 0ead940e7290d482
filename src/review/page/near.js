// What of the shown piece lies near a place.

import { piece, state } from "./state.js";
import { camera } from "./camera.js";
import { shapes } from "./shapes.js";
import { nearest } from "./path.js";

/** The corner nearest to a place, if it is within so many CSS px. */
export const cornerNear = (at, px = 24) => {
  const far = (piece()?.corners ?? []).map((c) => Math.hypot(c.at[0] - at[0], c.at[1] - at[1]) * camera.scale);
  const k = far.indexOf(Math.min(...far));
  return k >= 0 && far[k] <= px ? k : null;
};

/** The edge nearest to a place, if it is within so many CSS px: its number, and how far along the place is. */
export const edgeNear = (at, px = 24) => {
  const edges = shapes()[state.piece]?.edges ?? [];
  const near = edges.map((edge) => nearest(edge.chords, at));
  const k = near.reduce((best, n, j) => (best < 0 || n.off < near[best].off ? j : best), -1);
  return k >= 0 && near[k].off * camera.scale <= px ? { edge: k, far: near[k].far, at: near[k].at } : null;
};
