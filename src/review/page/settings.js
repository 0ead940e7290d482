// Settings of the picture: what a person knows and the tracing rests on.

import { build, byId, choices, field } from "./build.js";
import { state } from "./state.js";
import { mend } from "./mend.js";
import { say } from "./say.js";
import { showTab } from "./tabs.js";

const SHEETS = ["lines", "dots", "crosses", "checker", "mat", "coded", "plain"];
const FIELDS = ["sheet", "pitch", "thickness", "allowance", "line", "pieces", "piece"];

const save = (event) => {
  event.preventDefault();
  const had = state.look.settings;
  const m = { do: "settings" };
  for (const name of FIELDS) {
    const typed = event.target.elements[name]?.value.trim() ?? "";
    const value = typed === "" ? null : name === "pieces" ? Number(typed) : typed;
    if (value !== (had[name] ?? null)) m[name] = value;
  }
  if (Object.keys(m).length === 1) say("Nothing was changed.");
  else mend(m, "Settings kept");
};

const text = (name, words, example, properties = {}) =>
  field(words, (id) =>
    build("input", {
      id,
      name,
      value: state.look.settings[name] ?? "",
      placeholder: example,
      autocomplete: "off",
      "data-key": `setting ${name}`,
      ...properties,
    }),
  );

export const settings = () => {
  if (!state.look.settings) return null;
  return [
    build("h2", { id: "settings-head" }, "Settings"),
    build(
      "form",
      { class: "small", id: "settings", onsubmit: save, "aria-labelledby": "settings-head" },
      build("div", { class: "pair" }, text("sheet", "Sheet", "found by itself", { list: "sheets" }), text("pitch", "One square", "1 in")),
      build("div", { class: "pair" }, text("thickness", "Cloth's height", "1.5 mm"), text("allowance", "Allowance shown", "none")),
      build(
        "div",
        { class: "pair" },
        field("Line followed", (id) =>
          choices(
            id,
            [
              ["", "not said"],
              ["rim", "outer edge"],
              ["seam", "stitch line"],
            ],
            state.look.settings.line ?? "",
            "line",
          ),
        ),
        text("pieces", "Number of pieces", "found by itself", { type: "number", min: 1, max: 99, step: 1 }),
      ),
      text("piece", "Name of the piece", "front"),
      build(
        "datalist",
        { id: "sheets" },
        SHEETS.map((value) => build("option", { value })),
      ),
      build("div", { class: "row" }, build("button", { class: "strong" }, "Trace with these")),
      build("p", { class: "quiet" }, "An emptied field is taken out of the notes."),
    ),
  ];
};

/** Redo with another setting: goes to the form. */
export const toSettings = () => {
  if (!state.look) return;
  showTab("mending");
  const form = byId("settings");
  form?.scrollIntoView({ block: "nearest" });
  form?.elements.thickness.focus();
};
