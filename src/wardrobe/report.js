
"use strict";
(() => {
  const list = document.getElementById("pictures");
  const form = document.getElementById("ask");
  const told = document.getElementById("count");
  const cards = Array.from(list.children);
  const words = new Map();
  const plain = (text) => text.normalize("NFKD").replace(/[\u0300-\u036f]/g, "").toLowerCase();
  const text = (card) => {
    if (!words.has(card)) words.set(card, plain(card.textContent));
    return words.get(card);
  };
  const orders = {
    worst: (a, b) => a.dataset.worst - b.dataset.worst,
    out: (a, b) => b.dataset.out - a.dataset.out || a.dataset.worst - b.dataset.worst,
    coarse: (a, b) => a.dataset.px - b.dataset.px || a.dataset.worst - b.dataset.worst,
    name: (a, b) => a.dataset.name - b.dataset.name,
  };
  let order = "worst";
  const show = () => {
    const asked = plain(form.elements.words.value).split(/\s+/).filter(Boolean);
    const kinds = new Set(Array.from(form.querySelectorAll("input[type=checkbox]:checked"), (box) => box.value));
    if (form.elements.order.value !== order) {
      order = form.elements.order.value;
      const all = document.createDocumentFragment();
      all.append(...cards.slice().sort(orders[order]));
      list.append(all);
    }
    let shown = 0;
    for (const card of cards) {
      const fits = kinds.has(card.dataset.standing) && asked.every((word) => text(card).includes(word));
      if (card.hidden === fits) card.hidden = !fits;
      if (fits) shown += 1;
    }
    told.textContent = shown === cards.length ? `All ${shown} pictures are shown.` : `${shown} of ${cards.length} pictures are shown.`;
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
