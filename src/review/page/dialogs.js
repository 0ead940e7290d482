// Questions that want an answer before going on.

import { build, field } from "./build.js";

/** Shows a dialog and gives what `answer` makes of it once it is closed; Escape gives nothing. */
export const shown = (head, content, answer = () => true, kind = null) =>
  new Promise((resolve) => {
    let told = null;
    const before = document.activeElement;
    const id = "dialog-head";
    const dialog = build(
      "dialog",
      { class: kind, "aria-labelledby": id },
      build("h2", { id }, head),
      content(
        (value) => {
          told = answer(value);
          dialog.close();
        },
        () => dialog.close(),
      ),
    );
    dialog.addEventListener("close", () => {
      dialog.remove();
      if (before?.isConnected) before.focus({ preventScroll: true });
      resolve(told);
    });
    document.body.append(dialog);
    dialog.showModal();
    dialog.querySelector("[autofocus]")?.focus();
  });

/** Asks for words; nothing when it was left. */
export const asked = ({ head, words, value = "", caution = null, long = false, optional = false, yes }) =>
  shown(
    head,
    (close, leave) =>
      build(
        "form",
        {
          method: "dialog",
          onsubmit: (event) => {
            event.preventDefault();
            const typed = event.target.elements.words.value.trim();
            if (typed || optional) close(typed);
          },
        },
        caution ? build("p", { class: "note" }, caution) : null,
        field(words, (id) => {
          const properties = { id, name: "words", autocomplete: "off", required: !optional, autofocus: true, maxlength: long ? 2000 : 80 };
          const made = build(long ? "textarea" : "input", { ...properties, value });
          if (long) {
            made.addEventListener("keydown", (event) => {
              if (event.key === "Enter" && (event.ctrlKey || event.metaKey)) made.form.requestSubmit();
            });
          }
          return made;
        }),
        long ? build("p", { class: "quiet" }, "Ctrl and Enter sends it.") : null,
        build(
          "div",
          { class: "row" },
          build("button", { type: "button", onclick: leave }, "Leave it"),
          build("button", { class: "strong" }, yes),
        ),
      ),
    (value) => value,
  );
