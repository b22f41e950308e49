// Questions on a sheet of their own. Escape is always "leave it".

import { drawn, h } from "./dom.js";

/**
 * Open a sheet; `build` gets a function that closes it with an answer.
 * @template T
 * @param {string} title
 * @param {(close: (answer: T) => void) => (Node|string|null|false)[]} build
 * @returns {Promise<T|undefined>} undefined when it was left
 */
export function open(title, build) {
  return new Promise((resolve) => {
    /** @type {T|undefined} */
    let answer;
    const dialog = h("dialog", { "aria-labelledby": "dialog-title" });
    /** @param {T} [given] */
    const close = (given) => {
      answer = given;
      dialog.close();
    };
    dialog.append(h("div", { class: "sheet" },
      h("header", {},
        h("h2", { id: "dialog-title" }, title),
        h("button", { class: "bare icon", "aria-label": "Close", onclick: () => close() }, drawn("M6 6l12 12M18 6L6 18"))),
      ...build(close)));
    dialog.addEventListener("close", () => {
      dialog.remove();
      resolve(answer);
    });
    dialog.addEventListener("click", (event) => {
      if (event.target === dialog) close();
    });
    document.body.append(dialog);
    dialog.showModal();
  });
}

/**
 * @param {string} title
 * @param {string} words
 * @param {string} yes
 * @returns {Promise<boolean>}
 */
export async function confirmed(title, words, yes) {
  return Boolean(await open(title, (/** @type {(answer: boolean) => void} */ close) => [
    h("p", {}, words),
    h("div", { class: "row" },
      h("button", { class: "main", onclick: () => close(true) }, yes),
      h("button", { onclick: () => close(false) }, "Leave it")),
  ]));
}

/** The job was changed elsewhere: whether the change made here goes on top. */
export function chooseVersion() {
  return confirmed(
    "The job was changed elsewhere",
    "Another tab, or somebody at the command line, saved the job after this page last read it. " +
      "It is shown here as it is now. Your last change is not in it yet. Nothing is lost either way: " +
      "every version can be brought back with Undo.",
    "Put my change on top",
  );
}

/**
 * @param {string} title
 * @param {string} label
 * @param {string} value
 * @returns {Promise<string|undefined>}
 */
export function typed(title, label, value) {
  return open(title, (/** @type {(answer: string) => void} */ close) => {
    const input = h("input", { id: "dialog-text", value, maxlength: 80, required: true, autocomplete: "off" });
    return [
      h("form", { class: "stack", onsubmit: (/** @type {Event} */ event) => {
        event.preventDefault();
        if (input.value.trim()) close(input.value.trim());
      } },
      h("div", { class: "field" }, h("label", { for: "dialog-text" }, label), input),
      h("button", { class: "main" }, "Keep")),
    ];
  });
}
