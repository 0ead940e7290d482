// What will be wanted next is asked for ahead: the picture that follows, and the stages of one that is about to be mended.

import { byId } from "./build.js";
import { on, state } from "./state.js";
import { prepare } from "./looking.js";
import { upcoming } from "./queue.js";
import { fetchResiduals } from "./layers.js";

/** Whoever looks at a picture for so long, ms, may mend it: its stages are laid out. */
const WARM_MS = 400;
/** And so long after it was drawn the next one is opened. */
const NEXT_MS = 1200;
/** The server keeps two pictures of this size at hand, px; of larger ones the next would push the one on the screen out. */
const LARGEST = 13e6;

let waiting = [];

const later = (ms, act) => waiting.push(setTimeout(act, ms));

const rest = () => {
  const { look } = state;
  waiting.forEach(clearTimeout);
  waiting = [];
  if (!look) return;
  const size = (look.record?.pictures ?? []).reduce((sum, p) => sum + p.width_px * p.height_px, 0);
  const next = upcoming();
  if (next && size <= LARGEST) later(NEXT_MS, () => prepare(next));
  later(WARM_MS, warm);
};

/** Has the server lay out the stages of the picture, so that the first mend is as quick as the next ones. */
const warm = () => {
  if (state.look?.mendable && state.look.record && state.look.frame) fetchResiduals({ quietly: true });
};

export const start = () => {
  on("whole", rest);
  on("tool", () => {
    if (state.tool) warm();
  });
  byId("tab-mending").addEventListener("click", warm);
  byId("handles").addEventListener("pointerover", warm);
  byId("handles").addEventListener("focusin", warm);
};
