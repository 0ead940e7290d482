// Checks beside the picture: measures, tape readings, left against right, joins.

import { build, byId, field, fill, ticked } from "./build.js";
import { changed, on, piece, state } from "./state.js";
import { get, Refused } from "./ask.js";
import { send } from "./mend.js";
import { say } from "./say.js";
import { doubt } from "./places.js";
import { length, small } from "./units.js";

const table = (caption, heads, rows) =>
  build(
    "table",
    {},
    build("caption", {}, caption),
    build(
      "thead",
      {},
      build(
        "tr",
        {},
        heads.map(([words, numeric]) => build("th", { scope: "col", class: numeric ? "n" : null }, words)),
      ),
    ),
    build("tbody", {}, rows),
  );

const row = (head, ...cells) =>
  build(
    "tr",
    {},
    build("th", { scope: "row" }, head),
    cells.map(([content, kind]) => build("td", { class: kind ?? null }, content)),
  );

const measures = (all) => {
  if (all.length === 0) return build("p", { class: "quiet" }, "None could be taken of this piece.");
  const several = new Set(all.map((m) => m.piece)).size > 1;
  const name = (m) =>
    [[m.name, m.side].filter(Boolean).join(" "), m.half_round ? " (half round)" : "", m.darts_closed_mm ? " (darts closed)" : "", several ? ` · ${m.piece}` : ""].join("");
  return table(
    "As the garment lies flat",
    [["Measure"], ["Length", true], ["Out by", true]],
    all.map((m) => row(name(m), [length(m.mm), "n"], [small(m.bound_mm), "n"])),
  );
};

const tape = (all) =>
  all.length === 0
    ? null
    : table(
        "What the tape says, and by how much it differs",
        [["Reading"], ["Tape", true], ["Differs", true]],
        all.map((t) =>
          row(
            [[t.what, t.piece].filter(Boolean).join(", "), t.round ? " (all round)" : ""].join(""),
            [length(t.mm), "n"],
            [
              t.off_mm === null || t.off_mm === undefined
                ? "not seen"
                : [small(t.off_mm), t.agrees === false ? build("div", {}, "too much") : null],
              t.agrees === false ? "n off" : "n",
            ],
          ),
        ),
      );

const sides = (all) =>
  all.length === 0
    ? build("p", { class: "quiet" }, "No pair of edges is named left and right.")
    : table(
        "A laid garment is never even",
        [["Left and right"], ["Lengths", true], ["Apart", true]],
        all.map((s) =>
          row(
            [build("div", {}, s.left), build("div", {}, s.right)],
            [[s.left_mm, s.right_mm].map((mm) => build("div", {}, length(mm))), "n"],
            [small(s.differs_mm), "n"],
          ),
        ),
      );

const joins = (all) =>
  all.length === 0
    ? build("p", { class: "quiet" }, "The notes name no edges that are sewn together.")
    : table(
        "Edges that are sewn together",
        [["Join"], ["Lengths", true], ["Differs", true]],
        all.map((j) =>
          row(
            j.edges.join(" to "),
            [j.lengths_mm.map((mm) => build("div", {}, length(mm))), "n"],
            [j.differs_mm === null || j.differs_mm === undefined ? "not known" : small(j.differs_mm), "n"],
          ),
        ),
      );

const add = async (event) => {
  event.preventDefault();
  const { what, reading, of, round } = event.target.elements;
  const body = { what: what.value.trim(), reading: reading.value.trim(), piece: of.value || null, round: round.checked };
  const took = await send("tape", body, { doing: "Writing the reading down" });
  if (took !== null) say(`Kept: ${body.what} ${body.reading}.`);
};

const form = (known) => {
  const names = [...new Set([...known.measures.map((m) => m.name), "chest", "waist", "hem", "sleeve length", "length"])];
  return build(
    "form",
    { class: "small", onsubmit: add, "aria-label": "A tape reading" },
    build(
      "div",
      { class: "pair" },
      field("What was taped", (id) =>
        build("input", { id, name: "what", required: true, list: "taped", autocomplete: "off", "data-key": "tape what" }),
      ),
      field("Reading", (id) =>
        build("input", { id, name: "reading", required: true, placeholder: "19 1/8 in", autocomplete: "off", "data-key": "tape reading" }),
      ),
    ),
    field("Of which piece", (id) =>
      build(
        "select",
        { id, name: "of" },
        build("option", { value: "" }, "the whole garment"),
        (state.look.record?.pieces ?? []).map((p) => build("option", { value: p.name }, p.name)),
      ),
    ),
    ticked("Held all round", { name: "round" }),
    build(
      "datalist",
      { id: "taped" },
      names.map((value) => build("option", { value })),
    ),
    build("div", { class: "row" }, build("button", { class: "strong" }, "Keep the reading")),
  );
};

const panel = () => {
  const box = byId("checks");
  const known = state.checks;
  if (!state.look) fill(box);
  else if (!known) fill(box, build("p", { class: "quiet" }, "Measuring …"));
  else if (known.say) fill(box, build("p", { class: "note" }, known.say));
  else {
    // Half-typed readings stay when something else changes.
    const typing = box.querySelector("form.small");
    const keep = typing && typing.dataset.at === state.at && [...typing.elements].some((e) => e.value && e.required) ? typing : form(known);
    keep.dataset.at = state.at;
    fill(
      box,
      build("h2", {}, "Measures"),
      measures(known.measures.filter((m) => !piece() || known.measures.every((o) => o.piece !== piece().name) || m.piece === piece().name)),
      build("h2", {}, "Tape"),
      tape(known.tape),
      state.look.garment_at === null ? build("p", { class: "quiet" }, "Readings need a garment.toml beside the picture.") : keep,
      build("h2", {}, "Left against right"),
      sides(known.sides),
      build("h2", {}, "Joins"),
      joins(known.joins),
      known.doubts.length ? [build("h2", {}, "Doubts of the garment"), build("ul", {}, known.doubts.map(doubt))] : [],
    );
  }
};

const load = async () => {
  const { at, look } = state;
  if (!look || state.checks || byId("checks").hidden) return;
  let told;
  try {
    told = await get("checks", { at });
  } catch (fault) {
    if (!(fault instanceof Refused)) throw fault;
    told = { say: fault.message };
  }
  if (state.look !== look) return;
  state.checks = told;
  changed("checks");
};

export const start = () => {
  on("look checks piece unit", panel);
  on("look", load);
  new MutationObserver(load).observe(byId("checks"), { attributeFilter: ["hidden"] });
};
