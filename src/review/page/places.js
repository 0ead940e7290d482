// The worst places, and doubts to be ticked off with name and time.

import { build, button, byId, fill } from "./build.js";
import { changed, on, piece, state, worst } from "./state.js";
import { close, fit } from "./camera.js";
import { post, Refused } from "./ask.js";
import { say, wrong } from "./say.js";
import { show } from "./looking.js";
import { nameAsked } from "./reviewer.js";
import { day, length, small } from "./units.js";

/** Goes to a worst place by its number; beyond the last one the piece is shown whole. */
export const goToWorst = (k) => {
  const all = worst();
  if (all.length === 0) {
    say("No place is known worse than the rest.");
    return;
  }
  const here = all[k];
  if (!here) {
    state.worst = -1;
    fit();
    return;
  }
  state.worst = k;
  close(here.at);
  say(`Place ${k + 1} of ${all.length}: ${here.say}`);
  changed("worst");
};

export const nextWorst = () => goToWorst(state.worst + 1);

export const tick = async (doubt, on_) => {
  const { at } = state;
  if (!(await nameAsked())) {
    changed("look");
    return;
  }
  try {
    show(await post("tick", { at, doubt, ticked: on_ }), at);
    say(on_ ? "Ticked off." : "Open again.");
  } catch (fault) {
    if (!(fault instanceof Refused)) throw fault;
    wrong(fault.message);
    changed("look");
  }
};

/** A doubt with its box; garments' doubts have no place. */
export const doubt = (d) => {
  const id = `doubt-${d.id}`;
  return build(
    "li",
    { class: "doubt" },
    build("input", {
      type: "checkbox",
      id,
      "data-key": id,
      checked: Boolean(d.ticked),
      onchange: (event) => tick(d.id, event.target.checked),
    }),
    build("label", { for: id }, d.say),
    build(
      "span",
      { class: "quiet" },
      d.ticked
        ? `Looked at by ${d.ticked.by}, ${day(d.ticked.on)}. `
        : d.matters === false
          ? "Only a remark: nobody measured or told this. "
          : "",
      d.where
        ? button("Go there", () => close(d.where), { class: "plain", "data-key": `go ${d.id}`, "aria-label": `Go there: ${d.say}` })
        : null,
    ),
  );
};

const figures = () => {
  const shown = piece();
  if (!shown) return [];
  const bound = Number.isFinite(shown.bound_mm) ? `95 % of it lie within ${small(shown.bound_mm)}` : "no bound is known";
  const words = `${shown.name}: ${length(shown.perimeter_mm)} round, ${shown.corners.length} corners; ${bound}. ${shown.laid ?? ""}`;
  return [build("p", { class: "quiet" }, words)];
};

const panel = () => {
  const look = state.look;
  if (!look) {
    fill(byId("places"), build("p", { class: "quiet" }, state.waiting ? `${state.waiting} …` : "Choose a picture."));
    return;
  }
  const places = worst().map((w, k) =>
    build(
      "li",
      {},
      button(`${k + 1}. ${w.say}`, () => goToWorst(k), { class: "goto", "data-key": `worst ${k}`, "aria-keyshortcuts": String(k + 1) }),
    ),
  );
  if (!look.record) {
    const how = look.mendable ? " Other settings may help; else take the picture again." : "";
    fill(byId("places"), build("h2", {}, "Not traced"), build("p", {}, `There is no outline, and so nothing is known of its places.${how}`));
    return;
  }
  const order = [...look.doubts].sort(
    (a, b) => Number(b.matters) - Number(a.matters) || Number(Boolean(a.ticked)) - Number(Boolean(b.ticked)),
  );
  fill(
    byId("places"),
    figures(),
    build("h2", {}, "Worst places"),
    places.length ? build("ol", {}, places) : build("p", { class: "quiet" }, "No place is known worse than the rest."),
    build("h2", {}, "Doubts"),
    order.length ? build("ul", {}, order.map(doubt)) : build("p", { class: "quiet" }, "There are none."),
  );
};

const buttons = () => {
  fill(
    byId("worst"),
    worst().map((w, k) =>
      button(String(k + 1), () => goToWorst(k), {
        "aria-label": `Go to worst place ${k + 1}: ${w.say}`,
        "aria-keyshortcuts": String(k + 1),
        "aria-pressed": String(state.worst === k),
        "data-key": `at ${k}`,
      }),
    ),
  );
};

export const start = () => {
  on("look piece unit", panel);
  on("piece", () => {
    state.worst = -1;
  });
  on("look piece worst", buttons);
};
