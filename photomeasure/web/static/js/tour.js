// A walk over the sample job, for the first time. It says one thing at a time and follows along.

import { h } from "./dom.js";
import { job, set, state } from "./store.js";

const STOPS = [
  { step: "point", words: "This is a sample: a motor's bracket beside a gear guard, on a printed sheet. Everything has been touched already. Drag and pinch the picture, or use the wheel." },
  { step: "point", words: "Open a measurement in the list. You see the value, what may be off 19 times in 20 (±), and the verdict against a rule." },
  { step: "point", words: "Now measure one yourself: press “Measure something”, choose “gap”, and touch both edges as asked. Hold a finger still to aim with the magnifier." },
  { step: "report", words: "Here the report waits, to look at or to save. The sample is thrown away when the program stops; go back to your own job when you are ready." },
];
let at = 0;

/** The strip of the tour, above the panel; nothing in one's own job. */
export function tourStrip() {
  if (!state.tour || !job().photos.length) return null;
  const stop = STOPS[at];
  return h("div", { class: "card tour", role: "note", "aria-label": "Tour" },
    h("p", {}, `${at + 1} of ${STOPS.length}: ${stop.words}`),
    h("div", { class: "row" },
      at > 0 && h("button", { id: "tour-back", onclick: () => go(at - 1) }, "Back"),
      at + 1 < STOPS.length && h("button", { id: "tour-on", class: "main", onclick: () => go(at + 1) }, "Go on"),
      h("a", { class: "button", href: "../" }, "To my own job")));
}

/** @param {number} stop */
function go(stop) {
  at = stop;
  set({ step: STOPS[at].step });
}
