// Which entry is on the screen, and what the server tells of it.

import { get, Refused } from "./ask.js";
import { changed, state } from "./state.js";
import { wrong } from "./say.js";
import { fit } from "./camera.js";

let running = null;

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
  state.look = look;
  state.checks = null;
  state.piece = Math.min(state.piece, Math.max((look.record?.pieces?.length ?? 1) - 1, 0));
  if (state.layers.grid) state.residuals = null;
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
    const look = await get("look", { at }, signal);
    state.waiting = null;
    show(look);
    fit(false);
    changed("waiting");
  } catch (fault) {
    if (fault.name === "AbortError") return;
    state.waiting = null;
    changed("waiting");
    if (!(fault instanceof Refused)) throw fault;
    wrong(fault.message, ["Try again", () => open(at, piece)]);
  }
};

/** Looks whether the entry was changed elsewhere while this page was not looked at. */
export const lookAgain = async () => {
  const { at, look } = state;
  if (!look || state.waiting) return;
  try {
    const now = await get("look", { at });
    if (at !== state.at || state.waiting || state.look !== look || now.version === look.version) return;
    show(now);
    wrong("This tracing was changed in another tab or by hand. What is shown now is the new state.");
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
