(() => {
  const list = document.getElementById("pictures");
  const cards = Array.from(list.children);
  const orders = {
    worst: (a, b) => a.dataset.worst - b.dataset.worst,
    out: (a, b) => b.dataset.out - a.dataset.out || a.dataset.worst - b.dataset.worst,
    coarse: (a, b) => a.dataset.px - b.dataset.px || a.dataset.worst - b.dataset.worst,
    name: (a, b) => a.dataset.name - b.dataset.name,
  };
  let order = "worst";
  const sorted = (wanted) => {
    if (wanted === order) return;
    order = wanted;
    const all = document.createDocumentFragment();
    all.append(...cards.slice().sort(orders[order]));
    list.append(all);
  };
  narrowed(cards, " pictures", (form) => {
    sorted(form.elements.order.value);
    const kinds = new Set(Array.from(form.querySelectorAll("input[type=checkbox]:checked"), (box) => box.value));
    return (card) => kinds.has(card.dataset.standing);
  });
})();
