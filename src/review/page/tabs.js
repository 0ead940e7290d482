// The panel's tabs, operated as WAI-ARIA's authoring practices have them: arrows between tabs, Tab into the panel.

import { byId } from "./build.js";

const NAMES = ["places", "mending", "checks", "opinions"];

export const showTab = (name, focus = false) => {
  for (const other of NAMES) {
    const tab = byId(`tab-${other}`);
    tab.setAttribute("aria-selected", String(other === name));
    tab.tabIndex = other === name ? 0 : -1;
    byId(other).hidden = other !== name;
  }
  if (focus) byId(`tab-${name}`).focus();
};

export const start = () => {
  NAMES.forEach((name, k) => {
    const tab = byId(`tab-${name}`);
    tab.addEventListener("click", () => showTab(name));
    tab.addEventListener("keydown", (event) => {
      const by = { ArrowRight: 1, ArrowLeft: -1 }[event.key];
      if (!by) return;
      event.preventDefault();
      showTab(NAMES[(k + by + NAMES.length) % NAMES.length], true);
    });
  });
};
