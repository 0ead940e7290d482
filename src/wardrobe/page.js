"use strict";
// A list narrowed to what holds the words asked for and fits the page's own choice; `chosen` reads the form and gives a test of an item.
const narrowed = (items, called, chosen) => {
  const form = document.getElementById("ask");
  const told = document.getElementById("count");
  const words = new Map();
  const plain = (text) => text.normalize("NFKD").replace(/[\u0300-\u036f]/g, "").toLowerCase();
  const text = (item) => {
    if (!words.has(item)) words.set(item, plain(item.textContent + " " + (item.dataset.words || "")));
    return words.get(item);
  };
  const show = () => {
    const own = chosen(form);
    const asked = plain(form.elements.words.value).split(/\s+/).filter(Boolean);
    let shown = 0;
    for (const item of items) {
      const fits = own(item) && asked.every((word) => text(item).includes(word));
      if (item.hidden === fits) item.hidden = !fits;
      if (fits) shown += 1;
    }
    told.textContent = shown === items.length ? `All ${shown}${called} are shown.` : `${shown} of ${items.length}${called} are shown.`;
  };
  let waiting = 0;
  form.addEventListener("input", () => {
    clearTimeout(waiting);
    waiting = setTimeout(show, 120);
  });
  form.addEventListener("submit", (event) => event.preventDefault());
  form.hidden = false;
  show();
};
