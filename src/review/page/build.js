// Elements from words. Names come from strangers, so all text goes in as text.

export const byId = (id) => document.getElementById(id);

/** An element with properties (`class`, `on…`, `data-…`, `aria-…` and any attribute) and children: elements, words, nothing. */
export const build = (tag, properties = {}, ...children) => {
  const element = document.createElement(tag);
  for (const [name, value] of Object.entries(properties)) {
    if (value === null || value === undefined || value === false) continue;
    if (name.startsWith("on")) element.addEventListener(name.slice(2), value);
    else if (name === "class") element.className = value;
    else if (name === "value") element.value = value;
    else element.setAttribute(name, value === true ? "" : String(value));
  }
  element.append(...children.flat(Infinity).filter((child) => child !== null && child !== undefined && child !== false));
  return element;
};

export const button = (words, act, properties = {}) => build("button", { type: "button", onclick: act, ...properties }, words);

let fields = 0;

/** A labelled field; `make` gets the id that the label names. */
export const field = (words, make) => {
  fields += 1;
  const id = `field-${fields}`;
  return build("div", {}, build("label", { for: id }, words), make(id));
};

export const ticked = (words, properties = {}) =>
  build("label", { class: "tick" }, build("input", { type: "checkbox", ...properties }), words);

export const choices = (id, all, chosen, name) =>
  build(
    "select",
    { id, name },
    all.map(([value, words]) => build("option", { value, selected: value === chosen }, words)),
  );

/** Puts new content into an element and keeps the focus where it was when something with the same `data-key` is there again. */
export const fill = (element, ...children) => {
  const key = element.contains(document.activeElement) ? document.activeElement.dataset.key : null;
  const top = element.scrollTop;
  element.replaceChildren(...children.flat(Infinity).filter(Boolean));
  element.scrollTop = top;
  if (key) element.querySelector(`[data-key="${CSS.escape(key)}"]`)?.focus({ preventScroll: true });
};
