// Changes: each is sent with the version it was made upon, and the new state is shown.

import { post, Refused } from "./ask.js";
import { changed, state } from "./state.js";
import { say, wrong } from "./say.js";
import { show } from "./looking.js";
import { nearest } from "./path.js";
import { shapes } from "./shapes.js";
import { small } from "./units.js";

/** A line this near a place passes through it, mm; and farther off than this nobody's hand slipped. */
const FOLLOWED = 0.4;
const HAND = 1.5;

let running = false;

export const busy = () => running;

const working = (words) => {
  state.waiting = words;
  changed("waiting");
};

/** Sends a change of the entry on the screen; gives how long it took, ms, or nothing when it was refused (and told). `again` is offered
 * when the tracing was changed by somebody else meanwhile. */
export const send = async (what, body, { doing, again } = {}) => {
  if (running) {
    say("Still working on the last change.");
    return null;
  }
  const { at, look } = state;
  if (!look) return null;
  running = true;
  working(doing ?? "Working");
  const start = performance.now();
  try {
    show(await post(what, { at, seen: look.version, ...body }), at);
    return performance.now() - start;
  } catch (fault) {
    if (!(fault instanceof Refused)) throw fault;
    if (fault.status === 409 && fault.look) {
      show(fault.look, at);
      const offered =
        again && again(fault.look)
          ? [["Do it all the same", () => send(what, body, { doing }).then((took) => took !== null && say("Done."))]]
          : [];
      wrong(`${fault.message} What is shown now is the new state; your change was not made.`, ...offered);
    } else wrong(fault.message);
    return null;
  } finally {
    running = false;
    working(null);
  }
};

/** Whether a mend means the same in another state: its corner or edge is still called the same. */
const same = (m, before) => (look) => {
  const named = (of) => {
    const p = of.record?.pieces?.[m.piece];
    return JSON.stringify([
      m.corner === undefined ? null : p?.corners?.[m.corner]?.name,
      m.edge === undefined ? null : p?.edges?.[m.edge]?.name,
    ]);
  };
  return m.piece === undefined || (Boolean(look.record) && named(look) === named(before));
};

/** Mends the outline; says what was done and how long it took. */
export const mend = async (m, words) => {
  if (state.look && !state.look.mendable) {
    wrong(state.look.why_not ?? "This tracing can't be mended here.");
    return false;
  }
  const took = await send("mend", { mend: m }, { doing: "Finding the line again", again: same(m, state.look) });
  if (took === null) return false;
  changed("mended");
  say(`${words}: line found again in ${(took / 1000).toFixed(2)} s.`);
  document.body.dataset.took = String(Math.round(took));
  return true;
};

/** How far the nearest outline or hole runs from a place, mm. */
const passes = (at) => Math.min(...shapes().flatMap(({ outline, holes }) => [outline, ...holes]).map((line) => nearest(line.chords, at).off));

/** Sets a through-point, and says where the line runs now: one that is nearer to the line than a hand points is not followed. */
export const throughPoint = async (at) => {
  if (!(await mend({ do: "through", at }, "Through-point set"))) return;
  const off = passes(at);
  if (off > FOLLOWED) {
    const why = off < HAND ? "what the picture shows there is surer than a hand" : "it is too far off to be taken for a place of this edge";
    say(`Through-point set, but the line runs ${small(off)} from it: ${why}.`);
  }
};

export const undoMend = async () => {
  if (running) {
    say("Still working on the last change; undo it when it is done.");
    return;
  }
  const what = state.look?.undo;
  if (!what) {
    say("There is nothing to undo here.");
    return;
  }
  const took = await send("undo", {}, { doing: "Going back" });
  if (took !== null) say(`Undone: ${what}.`);
};
