narrowed(Array.from(document.querySelectorAll("ul.rail > li")), "", (form) => {
  const facets = Array.from(form.querySelectorAll("select"));
  return (item) => facets.every((f) => !f.value || item.dataset[f.name] === f.value);
});
