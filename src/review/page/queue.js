// The queue: all entries worst first, narrowed to what is asked for.

import { build, byId, choices } from "./build.js";
import { changed, on, state } from "./state.js";
import { address, get } from "./ask.js";
import { open } from "./looking.js";

const looked = (e) => Boolean(e.opinion) && !e.stale;

const FILTERS = [
  ["all", "all", () => true],
  ["open", "not looked at yet", (e) => !looked(e)],
  ["doubtful", "doubtful", (e) => e.standing === "doubtful"],
  ["failed", "not traced", (e) => e.standing === "failed" || e.standing === "unread"],
  ["retake", "retake", (e) => e.opinion === "retake"],
  ["accepted", "accepted", (e) => Boolean(e.opinion?.startsWith("accepted"))],
];

const plain = (text) =>
  text
    .normalize("NFKD")
    .replace(/[\u0300-\u036f]/g, "")
    .toLowerCase();

let items = new Map();
let texts = new Map();

const given = (e) => (e.opinion ? (e.stale ? `${e.opinion}; changed since` : e.opinion) : null);

const none = () => build("span", { class: "none" }, "no picture");

const content = (e) => [
  e.thumbnail
    ? build("img", {
        src: address("thumbnail", { at: e.at }),
        loading: "lazy",
        decoding: "async",
        alt: "",
        width: 64,
        height: 64,
        onerror: (event) => event.target.replaceWith(none()),
      })
    : none(),
  build("span", { class: "name" }, e.garment ?? e.title),
  build("span", { class: "of" }, e.garment ? [e.pieces.join(", "), e.title].filter(Boolean).join(" · ") : e.at),
  build("span", { class: "reason" }, e.reason),
  build(
    "span",
    { class: "marks" },
    build("span", { class: `state ${e.standing}` }, e.standing_word),
    given(e) ? build("span", { class: "given" }, `✓ ${given(e)}`) : null,
    e.others > 0 ? build("span", { class: "quiet" }, `${e.others} other${e.others === 1 ? "" : "s"}`) : null,
  ),
];

const item = (e) => {
  const inside = build("button", { type: "button", class: "entry", onclick: () => chosen(e.at) }, content(e));
  return { li: build("li", {}, inside), button: inside, shown: JSON.stringify(e) };
};

const chosen = (at) => {
  closeDrawer();
  open(at);
};

/** Entries that fit the filter and the words searched for. */
export const fitting = () => {
  const [, , fits] = FILTERS.find(([name]) => name === byId("filter").value) ?? FILTERS[0];
  const asked = plain(byId("words").value).split(/\s+/).filter(Boolean);
  return state.entries.filter((e) => (fits(e) || e.at === state.at) && asked.every((word) => texts.get(e.at).includes(word)));
};

const narrow = () => {
  const shown = new Set(fitting().map((e) => e.at));
  for (const [at, { li }] of items) if (li.hidden === shown.has(at)) li.hidden = !shown.has(at);
  byId("count").textContent =
    shown.size === state.entries.length ? `All ${shown.size} are shown.` : `${shown.size} of ${state.entries.length} are shown.`;
};

const progress = () => {
  const [n, all] = [state.entries.filter(looked).length, state.entries.length];
  byId("looked-words").textContent = `${n} of ${all} looked at`;
  Object.assign(byId("looked"), { max: Math.max(all, 1), value: n });
  const filter = byId("filter");
  for (const option of filter.options) {
    const [, words, fits] = FILTERS.find(([name]) => name === option.value);
    const told = `${words} (${state.entries.filter(fits).length})`;
    if (option.textContent !== told) option.textContent = told;
  }
};

/** Brings what is shown up to date; only what changed is made anew. */
const update = () => {
  for (const e of state.entries) {
    const has = items.get(e.at);
    if (!has || has.shown === JSON.stringify(e)) continue;
    has.shown = JSON.stringify(e);
    has.button.replaceChildren(...content(e).filter(Boolean));
  }
  progress();
  narrow();
};

const current = () => {
  for (const [at, { button }] of items) {
    if (at === state.at) {
      if (button.getAttribute("aria-current") !== "true") {
        button.setAttribute("aria-current", "true");
        button.scrollIntoView({ block: "nearest" });
      }
    } else if (button.hasAttribute("aria-current")) button.removeAttribute("aria-current");
  }
};

export const load = async () => {
  const told = await get("queue");
  [state.folder, state.entries] = [told.folder, told.entries];
  items = new Map(told.entries.map((e) => [e.at, item(e)]));
  texts = new Map(told.entries.map((e) => [e.at, plain([e.title, e.garment, e.at, e.reason, ...e.pieces].filter(Boolean).join(" "))]));
  byId("entries").replaceChildren(...[...items.values()].map(({ li }) => li));
  changed("queue");
  current();
};

/** The entry so many on among those shown; `looking` passes by what has an opinion already, and begins anew at the end. */
const further = (by, looking) => {
  const all = fitting();
  const now = all.findIndex((e) => e.at === state.at);
  const wanted = (e) => !looking || !looked(e);
  for (let k = now + by; k >= 0 && k < all.length; k += by) if (wanted(all[k])) return all[k].at;
  return looking ? (all.find((e) => wanted(e) && e.at !== state.at)?.at ?? null) : null;
};

/** Goes so many entries on; says whether there was one. */
export const step = (by, looking = false) => {
  const at = further(by, looking);
  if (at === null) return false;
  open(at);
  return true;
};

/** What is looked at next when the one on the screen is done with. */
export const upcoming = () => further(1, true);

export const focusSearch = () => {
  openDrawer();
  byId("words").focus();
};

export const focusQueue = () => {
  openDrawer();
  (items.get(state.at)?.button ?? byId("filter")).focus();
};

const openDrawer = () => {
  byId("queue").classList.add("open");
  byId("queue-open").setAttribute("aria-expanded", "true");
};

export const closeDrawer = () => {
  const was = byId("queue").classList.contains("open");
  byId("queue").classList.remove("open");
  byId("queue-open").setAttribute("aria-expanded", "false");
  return was;
};

const arrows = (event) => {
  const by = { ArrowDown: 1, ArrowUp: -1 }[event.key];
  const inside = event.target.closest(".entry");
  if (!by || !inside) return;
  event.preventDefault();
  let li = inside.parentElement;
  do li = by > 0 ? li.nextElementSibling : li.previousElementSibling;
  while (li?.hidden);
  li?.firstElementChild.focus();
};

export const start = () => {
  const filter = byId("filter");
  filter.replaceWith(
    choices(
      "filter",
      FILTERS.map(([name, words]) => [name, words]),
      "all",
    ),
  );
  let waiting = 0;
  const soon = () => {
    clearTimeout(waiting);
    waiting = setTimeout(narrow, 100);
  };
  byId("filter").addEventListener("change", narrow);
  byId("words").addEventListener("input", soon);
  byId("entries").addEventListener("keydown", arrows);
  byId("queue-open").addEventListener("click", () => {
    if (!closeDrawer()) focusQueue();
  });
  document.addEventListener("pointerdown", (event) => {
    if (!event.target.closest("#queue, #queue-open")) closeDrawer();
  });
  on("queue", update);
  on("at", () => {
    current();
    narrow();
  });
};
