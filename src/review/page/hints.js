// What was told of this picture so far, as it stands in the notes, each with a button that takes it away.

import { build, button } from "./build.js";
import { state } from "./state.js";
import { mend } from "./mend.js";
import { close } from "./camera.js";

const pieceOf = (name) => (state.look.record?.pieces ?? []).findIndex((p) => p.name === name);

/** Which piece and edge a hint between two corners means now. */
const edgeOf = ({ from, to }) => {
  for (const [k, p] of (state.look.record?.pieces ?? []).entries()) {
    const j = p.edges.findIndex((e) => {
      const ends = [p.corners[e.from]?.name, p.corners[e.to]?.name];
      return (ends[0] === from && ends[1] === to) || (ends[0] === to && ends[1] === from);
    });
    if (j >= 0) return { piece: k, edge: j };
  }
  return null;
};

const edgeWords = (h) => {
  const told = [h.name && `named ${h.name}`, h.straight && "straight", h.line && `seen as ${h.line}`, h.is && `a ${h.is}`].filter(Boolean);
  return `Edge ${h.from} to ${h.to}${told.length ? `: ${told.join(", ")}` : ""}`;
};

/** Words, a place to look at, and the change that takes the hint away (nothing: it can't be done here). */
const all = () => {
  const h = state.look.hints;
  const out = [];
  for (const c of h.corners) out.push([c.round ? `No corner: ${c.name}` : `Corner ${c.name}`, c.at, { do: "drop corner", name: c.name }]);
  for (const t of h.through) out.push([`Through-point ${t.n + 1}`, t.at, { do: "drop through", n: t.n }]);
  for (const s of h.inner) out.push([s.name ? `Seam ${s.name}` : `Seam within ${s.n + 1}`, s.through[0], { do: "drop seam", n: s.n }]);
  for (const r of h.regions) out.push([`Region ${r.is}`, r.border[0], { do: "drop region", n: r.n }]);
  for (const e of h.edges) {
    const at = edgeOf(e);
    out.push([edgeWords(e), null, at && { do: "edge", ...at, name: null, straight: null, line: null, is: null }]);
  }
  for (const n of h.notches)
    out.push([`Notch on ${n.edge}`, n.at, pieceOf(n.piece) >= 0 ? { do: "drop notch", piece: pieceOf(n.piece), n: n.n } : null]);
  for (const c of h.centre)
    out.push([
      `Centre line of ${c.piece}`,
      c.spots?.[0],
      pieceOf(c.piece) >= 0 ? { do: "centre", piece: pieceOf(c.piece), spots: null } : null,
    ]);
  return out;
};

const row = ([words, at, away]) =>
  build(
    "li",
    {},
    at ? button(words, () => close(at), { class: "plain", "data-key": `hint ${words}`, title: "Go there" }) : build("span", {}, words),
    away
      ? button("Take away", () => mend(away, `${words} taken away`), { "aria-label": `Take away: ${words}`, "data-key": `away ${words}` })
      : build("span", { class: "quiet" }, "what it is about is not there now"),
  );

export const hints = () => {
  const told = all();
  return [
    build("h2", {}, "Told so far"),
    told.length
      ? build("ul", { class: "hints" }, told.map(row))
      : build("p", { class: "quiet" }, `Nothing. What you tell is kept in ${state.look.settings?.notes ?? "garment.toml"}.`),
  ];
};
