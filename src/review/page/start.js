// The page's parts are put to work, then the queue is asked for.

import { byId } from "./build.js";
import { on, state } from "./state.js";
import { Refused } from "./ask.js";
import { own } from "./own.js";
import { wrong } from "./say.js";
import { fit, toPixels, zoom } from "./camera.js";
import { lookAgain, open, prepare, remembered } from "./looking.js";
import { toSettings } from "./settings.js";
import * as ahead from "./ahead.js";
import * as checks from "./checks.js";
import * as head from "./head.js";
import * as keys from "./keys.js";
import * as layers from "./layers.js";
import * as mending from "./mending.js";
import * as opinions from "./opinions.js";
import * as places from "./places.js";
import * as queue from "./queue.js";
import * as reviewer from "./reviewer.js";
import * as stage from "./stage.js";
import * as tabs from "./tabs.js";
import * as toolBar from "./tool_bar.js";
import * as words from "./words.js";

const ZOOM = 1.5;

for (const part of [words, tabs, head, queue, stage, toolBar, layers, places, mending, checks, opinions, reviewer, keys, ahead])
  part.start();
byId("zoom-in").addEventListener("click", () => zoom(ZOOM));
byId("zoom-out").addEventListener("click", () => zoom(1 / ZOOM));
byId("zoom-fit").addEventListener("click", () => fit());
byId("zoom-pixel").addEventListener("click", toPixels);
byId("redo").addEventListener("click", toSettings);
document.addEventListener("visibilitychange", () => {
  if (!document.hidden) lookAgain();
});
addEventListener("focus", () => lookAgain());

const begin = async () => {
  const before = remembered();
  // Asked for beside the queue, not after it.
  if (before.at) prepare(before.at);
  try {
    await queue.load();
  } catch (fault) {
    if (!(fault instanceof Refused)) throw fault;
    wrong(fault.message, ["Try again", begin]);
    return;
  }
  const first = state.entries.find((e) => e.at === before.at) ?? state.entries.find((e) => !e.opinion) ?? state.entries[0];
  if (first) open(first.at, first.at === before.at ? before.piece : 0);
};

// Another reviewer has other opinions, and sees others' where that one gave theirs.
on("by", begin);
begin();
if (!own.by) reviewer.askName();
