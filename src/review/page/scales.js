// Fixed scales of the layers. They never change from garment to garment, so that colours can be learnt. From dark blue to pale yellow
// lightness only rises, which every kind of colour vision sees; the width of the line says the same again.

const COLOURS = ["#3d66b8", "#4f8ac0", "#6fb3a3", "#a9cc7f", "#e4d961", "#fff3b0"];
const WIDTHS = [2, 3.2, 4.6, 6.2, 8, 10];

const scale = (limits) =>
  COLOURS.map((colour, k) => ({ below: limits[k] ?? Infinity, from: limits[k - 1] ?? 0, colour, width: WIDTHS[k] }));

/** How far an edge may be out, mm. */
export const OUT = scale([0.1, 0.2, 0.4, 0.8, 1.6]);
/** How far a node of the grid lies from where the view has it, mm. */
export const GRID = scale([0.025, 0.05, 0.1, 0.2, 0.4]);
/** Nodes' errors are drawn this many times as long. */
export const LONGER = 200;

export const step = (of, mm) => of.find((s) => mm <= s.below) ?? of[of.length - 1];

export const words = ({ from, below }) =>
  below === Infinity ? `over ${from} mm` : from === 0 ? `up to ${below} mm` : `${from} to ${below} mm`;

/** For the legend's picture. */
export const short = ({ from, below }) => (below === Infinity ? `> ${from}` : `≤ ${below}`);
