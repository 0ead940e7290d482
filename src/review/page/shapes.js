// The record's lines, ready to be drawn and asked: made once a look, not once a frame.

import { state } from "./state.js";
import { around, chords } from "./path.js";

let of = null;
let made = [];

const line = (data) => ({ data, drawn: new Path2D(data), chords: chords(data) });

/** For every piece: outline, edges, seams within, holes, and the rectangle round it. */
export const shapes = () => {
  const record = state.look?.record ?? null;
  if (record === of) return made;
  of = record;
  made = (record?.pieces ?? []).map((piece) => {
    const outline = line(piece.outline);
    return {
      outline,
      edges: (piece.edges ?? []).map((edge) => line(edge.path)),
      inner: (piece.inner ?? []).map((seam) => line(seam.path)),
      holes: (piece.holes ?? []).map((hole) => line(hole)),
      box: around(outline.chords.points),
    };
  });
  return made;
};
