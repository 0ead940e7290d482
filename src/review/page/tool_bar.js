// What the tool in hand wants next, above the picture, with buttons for those who have no keys.

import { build, byId, choices, fill } from "./build.js";
import { on, state } from "./state.js";
import { done, putDown, takeBack } from "./tools.js";
import { proposals } from "./words.js";

const show = () => {
  const { tool, places } = state;
  byId("told-tool").hidden = !tool;
  if (!tool) return;
  byId("tool-back").hidden = !tool.least;
  byId("tool-back").disabled = places.length === 0;
  byId("tool-done").hidden = !tool.least || tool.most === tool.least;
  byId("tool-done").disabled = places.length < (tool.least ?? 0);
};

const options = (tool) => {
  if (tool.name) {
    return [
      build("label", { for: "tool-name" }, "Name (may be left empty)"),
      build("input", { id: "tool-name", list: proposals("edges"), autocomplete: "off" }),
    ];
  }
  if (tool.notch) {
    return [
      build("label", { for: "notch-style" }, "Style"),
      choices(
        "notch-style",
        [
          ["", "as usual"],
          ["slit", "slit"],
          ["V", "V"],
        ],
        "",
      ),
      build("label", { for: "notch-count" }, "Number"),
      choices(
        "notch-count",
        [
          ["", "as usual"],
          ["1", "single"],
          ["2", "double"],
          ["3", "triple"],
        ],
        "",
      ),
    ];
  }
  return [];
};

const fresh = () => {
  const { tool } = state;
  if (tool) fill(byId("tool-hint"), build("strong", {}, `${tool.words}. `), tool.hint);
  fill(byId("tool-options"), tool ? options(tool) : []);
  show();
};

export const start = () => {
  byId("tool-back").addEventListener("click", takeBack);
  byId("tool-done").addEventListener("click", done);
  byId("tool-down").addEventListener("click", putDown);
  on("tool", fresh);
  on("places", show);
};
