// Which entry is on the screen, and what the server tells of it.

import { address, get, Refused } from "./ask.js";
import { changed, state } from "./state.js";
import { own } from "./own.js";
import { wrong } from "./say.js";
import { fit } from "./camera.js";

let running = null;
/** The entry asked for ahead. */
let ready = null;

/** Takes a new state of an entry; that of another than the one on the screen is only put into the queue. */
export const show = (look, at = look.at) => {
  const entry = state.entries.find((e) => e.at === at);
  if (entry) {
    Object.assign(entry, { standing: look.standing, standing_word: look.standing_word, reason: look.reason, version: look.version });
    entry.opinion = look.opinion?.word ?? null;
    entry.stale = look.opinion?.stale ?? false;
    entry.doubts = look.doubts.length;
    entry.open_doubts = look.doubts.filter((d) => d.matters && !d.ticked).length;
  }
  if (at !== state.at) {
    changed("queue");
    return;
  }
  // A mend moves no node of the grid, unless the picture itself is seen otherwise now.
  if (state.look?.picture_hash !== look.picture_hash) state.residuals = null;
  state.look = look;
  state.checks = null;
  state.piece = Math.min(state.piece, Math.max((look.record?.pieces?.length ?? 1) - 1, 0));
  changed("look", "queue");
};

const remember = () => {
  const words = new URLSearchParams({ at: state.at, piece: state.piece });
  history.replaceState(null, "", `#${words}`);
};

export const remembered = () => {
  const words = new URLSearchParams(location.hash.slice(1));
  return { at: words.get("at"), piece: Number(words.get("piece")) || 0 };
};

/** Opens an entry. */
export const open = async (at, piece = 0) => {
  running?.abort();
  running = new AbortController();
  const { signal } = running;
  Object.assign(state, { at, look: null, piece, checks: null, residuals: null, worst: -1, places: [], tool: null, waiting: "Opening" });
  remember();
  changed("at", "tool", "places", "waiting", "look");
  try {
    const ahead = ready?.at === at && ready.by === own.by ? ready.look : null;
    ready = null;
    const look = await (ahead ?? get("look", { at }, signal));
    if (signal.aborted) return;
    state.waiting = null;
    show(look);
    fit(false);
    changed("waiting");
    if (ahead) lookAgain({ quietly: true });
  } catch (fault) {
    if (fault.name === "AbortError") return;
    state.waiting = null;
    changed("waiting");
    if (!(fault instanceof Refused)) throw fault;
    wrong(fault.message, ["Try again", () => open(at, piece)]);
  }
};

/** Asks for an entry ahead, and for its picture: the coarsest tile has the server open it. */
export const prepare = async (at) => {
  if (ready?.at === at || at === state.at) return;
  const asked = { at, by: own.by, look: get("look", { at }) };
  ready = asked;
  try {
    const look = await asked.look;
    if (look.frame) new Image().src = address("tile", { at, v: look.picture_hash, z: look.frame.levels - 1, x: 0, y: 0 });
  } catch (fault) {
    if (!(fault instanceof Refused)) throw fault;
    if (ready === asked) ready = null;
  }
};

/** Looks whether the entry was changed elsewhere while this page was not looked at. */
export const lookAgain = async ({ quietly = false } = {}) => {
  const { at, look } = state;
  if (!look || state.waiting) return;
  try {
    const now = await get("look", { at });
    if (at !== state.at || state.waiting || state.look !== look || now.version === look.version) return;
    show(now);
    if (!quietly) wrong("This tracing was changed in another tab or by hand. What is shown now is the new state.");
  } catch (fault) {
    if (!(fault instanceof Refused)) throw fault;
  }
};

export const showPiece = (piece) => {
  const n = state.look?.record?.pieces?.length ?? 0;
  if (n === 0) return;
  state.piece = (piece + n) % n;
  remember();
  changed("piece");
  fit();
};
