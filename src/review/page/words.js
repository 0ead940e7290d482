// Names to propose, as lists that fields point at.

import { build, byId } from "./build.js";
import { on, state } from "./state.js";

const KINDS = ["corners", "edges"];

/** The id of the list that holds proposals of a kind: corners, edges. */
export const proposals = (kind) => `proposed-${kind}`;

export const start = () => {
  for (const kind of KINDS) document.body.append(build("datalist", { id: proposals(kind) }));
  on("look", () => {
    for (const kind of KINDS)
      byId(proposals(kind)).replaceChildren(...(state.look?.words?.[kind] ?? []).map((value) => build("option", { value })));
  });
};
