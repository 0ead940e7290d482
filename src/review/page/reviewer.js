// Who looks: asked once, kept by the browser, sent with all that is done.

import { byId } from "./build.js";
import { changed } from "./state.js";
import { keep, own } from "./own.js";
import { asked } from "./dialogs.js";

const show = () => {
  byId("reviewer").textContent = own.by || "Your name";
  byId("reviewer").setAttribute("aria-label", own.by ? `Reviewer: ${own.by}. Change the name` : "Say your name");
};

/** Asks for the name; gives whether there is one now. */
export const askName = async () => {
  const name = await asked({
    head: "Who is looking?",
    words: "Your name, as it shall stand beside your opinions and ticks",
    value: own.by,
    yes: "That is me",
  });
  if (name && name !== own.by) {
    keep({ by: name });
    show();
    changed("by");
  }
  return Boolean(own.by);
};

export const nameAsked = async () => Boolean(own.by) || askName();

export const start = () => {
  byId("reviewer").addEventListener("click", askName);
  show();
};
