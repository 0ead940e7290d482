// The reviewer's opinion, and others' once this one is given.

import { build, button, byId, fill } from "./build.js";
import { on, state } from "./state.js";
import { post, Refused } from "./ask.js";
import { show, open } from "./looking.js";
import { undoMend } from "./mend.js";
import { say, wrong } from "./say.js";
import { asked } from "./dialogs.js";
import { nameAsked } from "./reviewer.js";
import { step } from "./queue.js";
import { close } from "./camera.js";
import { day, small } from "./units.js";

const FRAGILE =
  "The notes call this garment fragile. Do not pin, weight, press or flatten it for another picture, and do not handle it more than need be: ask a conservator whether and how it may be laid again.";
const MAYBE_FRAGILE =
  "Old or fragile cloth is not pinned, weighted or flattened for another picture: ask a conservator whether and how it may be laid again.";

/** Outlines no further apart are the same, mm. */
const SAME = 0.005;

/** The last opinion given, so that undo can take it back after going on. */
let last = null;

const give = async (word, note = "") => {
  if (!state.look || !(await nameAsked())) return false;
  const { at, look } = state;
  try {
    const now = await post("opinion", { at, seen: look.version, word, note });
    last = { at, word: look.opinion?.word ?? null, note: look.opinion?.note ?? "" };
    show(now, at);
    return true;
  } catch (fault) {
    if (!(fault instanceof Refused)) throw fault;
    if (fault.look) show(fault.look, at);
    wrong(fault.status === 409 ? `${fault.message} Look at the new state, then give your opinion.` : fault.message);
    return false;
  }
};

const goOn = (words) => {
  const on_ = step(1, true);
  say(on_ ? words : `${words} Nothing is left to look at among those shown.`);
};

export const accept = async () => {
  if (!state.look?.record) {
    say("There is no outline to accept: ask for a retake, or try another setting.");
    return;
  }
  const { title } = state.look;
  if (await give("accepted")) goOn(`Accepted: ${title}.`);
};

export const acceptWithNote = async () => {
  if (!state.look?.record) return;
  const { title, opinion } = state.look;
  const note = await asked({
    head: "Accept with a note",
    words: "What should the next person know?",
    value: opinion?.note ?? "",
    long: true,
    yes: "Accept and go on",
  });
  if (note && (await give("accepted with a note", note))) goOn(`Accepted with a note: ${title}.`);
};

export const retake = async () => {
  if (!state.look) return;
  const { title, fragile, say: why } = state.look;
  const caution = fragile === false ? null : fragile ? FRAGILE : MAYBE_FRAGILE;
  const note = await asked({
    head: "Ask for another picture",
    words: "What should be done differently?",
    caution,
    value: why ?? "",
    long: true,
    optional: true,
    yes: "Ask for a retake",
  });
  if (note !== null && (await give("retake", note))) goOn(`Retake asked for: ${title}.`);
};

export const withdraw = async () => {
  if (!state.look?.opinion) say("You gave no opinion here.");
  else if (await give(null)) say("Opinion withdrawn.");
};

/** Takes back what was done last: an opinion just given, else the last mend of the entry on the screen. */
export const undo = async () => {
  if (!last) {
    await undoMend();
    return;
  }
  const back = last;
  if (state.at !== back.at) await open(back.at);
  if (state.at === back.at && (await give(back.word, back.note)))
    say(back.word ? `Your opinion is again: ${back.word}.` : "Opinion taken back.");
  last = null;
};

const differs = (o) => {
  if (o.differs_mm === null || o.differs_mm === undefined) return "";
  if (o.differs_mm < SAME) return "The outline looked at then is this one. ";
  return `The outline looked at then lies within ${small(o.differs_mm)} of this one (95 % of it). `;
};

const card = (o, own) =>
  build(
    "div",
    { class: "opinion" },
    build("p", {}, build("strong", {}, own ? "You" : o.by), `: ${o.word}`),
    o.note ? build("p", {}, `“${o.note}”`) : null,
    build("p", { class: "quiet" }, day(o.on), o.stale ? " · the outline was changed since" : ""),
    own
      ? null
      : build(
          "p",
          {},
          differs(o),
          o.where && o.differs_mm >= SAME
            ? button("Where it differs most", () => close(o.where), { class: "plain", "data-key": `differs ${o.by}` })
            : null,
        ),
  );

const panel = () => {
  const look = state.look;
  if (!look) {
    fill(byId("opinions"));
    return;
  }
  const hidden = look.others_hidden;
  fill(
    byId("opinions"),
    build("h2", {}, "Yours"),
    look.opinion
      ? [card(look.opinion, true), button("Withdraw it", withdraw, { "data-key": "withdraw", "aria-keyshortcuts": "x" })]
      : build("p", { class: "quiet" }, "You gave none yet."),
    build("h2", {}, "Others'"),
    hidden > 0
      ? build(
          "p",
          { class: "note" },
          `${hidden === 1 ? "One other person has" : `${hidden} others have`} looked at this. What they say is shown once you gave your own opinion, so that it is your own.`,
        )
      : null,
    look.others.map((o) => card(o, false)),
    hidden === 0 && look.others.length === 0
      ? build("p", { class: "quiet" }, look.opinion ? "Nobody else has looked at it." : "Nobody has looked at it yet.")
      : null,
    look.fragile ? build("p", { class: "note" }, FRAGILE) : null,
  );
};

const buttons = () => {
  const { look } = state;
  for (const [id, can] of [
    ["accept", look?.record],
    ["accept-note", look?.record],
    ["retake", look],
    ["redo", look?.mendable],
  ])
    byId(id).disabled = !can;
  byId("undo").title = look?.undo ? `Undo: ${look.undo}` : "";
};

export const start = () => {
  for (const [id, act] of [
    ["accept", accept],
    ["accept-note", acceptWithNote],
    ["retake", retake],
    ["undo", undo],
  ])
    byId(id).addEventListener("click", act);
  on("look unit", panel);
  on("look", buttons);
  // A mend is undone before an opinion that was given earlier.
  on("mended", () => {
    last = null;
  });
};
