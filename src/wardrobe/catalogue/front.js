
"use strict";
(() => {
  const form = document.getElementById("ask");
  const told = document.getElementById("count");
  const all = Array.from(document.querySelectorAll("ul.rail > li"));
  const facets = Array.from(form.querySelectorAll("select"));
  const words = new Map();
  const plain = (text) => text.normalize("NFKD").replace(/[\u0300-\u036f]/g, "").toLowerCase();
  const text = (item) => {
    if (!words.has(item)) words.set(item, plain(item.textContent + " " + (item.dataset.words || "")));
    return words.get(item);
  };
  const show = () => {
    const asked = plain(form.elements.words.value).split(/\s+/).filter(Boolean);
    let shown = 0;
    for (const item of all) {
      const fits = facets.every((f) => !f.value || item.dataset[f.name] === f.value) && asked.every((word) => text(item).includes(word));
      if (item.hidden === fits) item.hidden = !fits;
      if (fits) shown += 1;
    }
    told.textContent = shown === all.length ? `All ${shown} are shown.` : `${shown} of ${all.length} are shown.`;
  };
  let waiting = 0;
  form.addEventListener("input", () => {
    clearTimeout(waiting);
    waiting = setTimeout(show, 120);
  });
  form.addEventListener("submit", (event) => event.preventDefault());
  form.hidden = false;
  show();
})();
