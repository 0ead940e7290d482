// What happened, in words: shown for a while, and read out by screen readers.

import { build, byId } from "./build.js";

const SHOWN_MS = 6000;
let hiding = 0;

const show = (words, bad, buttons) => {
  clearTimeout(hiding);
  const box = byId("said");
  box.classList.add("shown");
  box.classList.toggle("bad", bad);
  byId("said-words").textContent = words;
  const hide = () => box.classList.remove("shown");
  const made = buttons.map(([name, act]) =>
    build(
      "button",
      {
        type: "button",
        onclick: () => {
          hide();
          act();
        },
      },
      name,
    ),
  );
  byId("said-more").replaceChildren(
    ...made,
    ...(bad || buttons.length ? [build("button", { type: "button", onclick: hide }, "Close")] : []),
  );
  // What went wrong, or asks something, stays until it is read.
  if (!bad && buttons.length === 0) hiding = setTimeout(hide, SHOWN_MS);
};

/** `buttons`: pairs of words and what to do. */
export const say = (words, ...buttons) => show(words, false, buttons);

export const wrong = (words, ...buttons) => {
  show(words, true, buttons);
  byId("alarm").textContent = "";
  byId("alarm").textContent = words;
};

export const hush = () => byId("said").classList.remove("shown");
