// What the page knows at the moment, and who wants to hear when it changes.

export const state = {
  folder: "",
  /** Entries of the queue, worst first. */
  entries: [],
  /** The entry on the screen. */
  at: null,
  look: null,
  /** Which of its pieces is shown. */
  piece: 0,
  checks: null,
  residuals: null,
  tool: null,
  /** Places set with the tool in hand, sheet mm. */
  places: [],
  layers: { out: false, grid: false },
  bare: false,
  /** The worst place last gone to. */
  worst: -1,
  /** What is waited for, in words. */
  waiting: null,
};

const hearers = new Map();

/** `hear` is called whenever one of the things named has changed. */
export const on = (names, hear) => {
  for (const name of names.split(" ")) hearers.set(name, [...(hearers.get(name) ?? []), hear]);
};

export const changed = (...names) => {
  const all = new Set(names.flatMap((name) => hearers.get(name) ?? []));
  for (const hear of all) hear();
};

/** The worst places of the piece that is shown, at most three. */
export const worst = () => (state.look?.worst ?? []).filter((w) => w.piece === state.piece);

export const piece = () => state.look?.record?.pieces?.[state.piece] ?? null;
