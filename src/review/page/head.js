// The line at the top: which picture, how it stands, and the page's own switches.

import { build, button, byId, fill } from "./build.js";
import { changed, on, piece, state } from "./state.js";
import { sentence } from "./ask.js";
import { keep, own } from "./own.js";
import { showPiece } from "./looking.js";
import { step } from "./queue.js";
import { say } from "./say.js";

export const switchUnit = () => {
  keep({ inches: !own.inches });
  changed("unit");
  say(own.inches ? "Lengths in inches." : "Lengths in mm.");
};

const unit = () => {
  byId("unit").textContent = own.inches ? "inches" : "mm";
  byId("unit").setAttribute("aria-label", own.inches ? "Lengths in inches; change to mm" : "Lengths in mm; change to inches");
};

const head = () => {
  const { look, entries, at } = state;
  const entry = look ?? entries.find((e) => e.at === at);
  const title = entry ? [entry.garment, entry.title].filter(Boolean).join(" · ") : "Checking outlines";
  byId("title").textContent = title;
  document.title = entry ? `${title} – checking` : title;
  if (entry)
    fill(
      byId("standing"),
      build("span", { class: `state ${entry.standing}` }, entry.standing_word),
      build("span", { title: entry.reason }, entry.reason),
    );
  else fill(byId("standing"), entries.length ? "Choose a picture." : "There is nothing to look at in this folder.");
};

const waiting = () => {
  document.body.classList.toggle("waiting", Boolean(state.waiting));
  byId("stage").setAttribute("aria-busy", String(Boolean(state.waiting)));
  byId("working").hidden = !state.waiting;
  byId("working").textContent = state.waiting ? `${state.waiting} …` : "";
};

const pieces = () => {
  const all = state.look?.record?.pieces ?? [];
  byId("pieces").hidden = all.length < 2;
  fill(
    byId("pieces"),
    all.map((p, k) => button(p.name, () => showPiece(k), { "aria-pressed": String(k === state.piece), "data-key": `piece ${k}` })),
  );
};

const stage = () => {
  const shown = piece();
  const words = shown ? `Straightened picture with the outline of ${shown.name}, ${shown.corners.length} corners` : "Straightened picture";
  byId("stage").setAttribute("aria-label", words);
};

const untraced = () => {
  const { look } = state;
  byId("stage-tools").hidden = Boolean(look) && !look.record && !look.frame;
  // Where the picture can be shown as it is, the words stand clear of it.
  byId("untraced").classList.toggle("over", Boolean(look?.frame));
  byId("untraced").hidden = !look || Boolean(look.record);
  byId("untraced").textContent = look && !look.record ? sentence(look.say ?? look.reason ?? "") : "";
};

export const start = () => {
  byId("unit").addEventListener("click", switchUnit);
  byId("previous").addEventListener("click", () => step(-1));
  byId("next").addEventListener("click", () => step(1));
  on("look at queue", head);
  on("look piece", pieces);
  on("look", untraced);
  on("look piece", stage);
  on("unit", unit);
  on("waiting", waiting);
  unit();
};
