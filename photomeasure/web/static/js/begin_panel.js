// An empty folder: the three steps, and a sample to try first.

import { h } from "./dom.js";
import { addBox } from "./photo_panel.js";
import { set, state } from "./store.js";

export function beginPanel() {
  const step = (/** @type {number} */ nth, /** @type {string} */ title, /** @type {string} */ words, /** @type {Node|null} */ act) =>
    h("article", { class: "card" }, h("span", { class: "nth", "aria-hidden": "true" }, String(nth)), h("h3", {}, title), h("p", {}, words), act);
  return h("div", { class: "begin" },
    h("h2", {}, "Millimetres from a photo, in three steps"),
    h("div", { class: "three" },
      step(1, "Print", "Print the sheet at actual size and read its two bars with a caliper.",
        h("button", { onclick: () => set({ step: "print" }) }, "Choose a sheet")),
      step(2, "Photograph", "Lay the part in the window of the sheet and take a photo from above, a little tilted.",
        addBox()),
      step(3, "Point", "Touch one edge, then the other. Out comes the size with its ±, and what it means against your limit. Or have a flat part outlined, with files to cut it from.", null)),
    state.choices.sample && !state.tour && h("p", {}, "First time? ", h("a", { href: "sample/" }, "Try it on a sample job"), ", where nothing can go wrong."));
}
