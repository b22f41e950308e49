// What weakens a number, on its card: in a word on each, with the way to mend it on the open one.

import { layOn } from "./changes.js";
import { h } from "./dom.js";
import { chooseHeight } from "./heights.js";
import { edit, set, state } from "./store.js";
import { note } from "./words.js";

/** @typedef {import("./types.js").Doubt} Doubt */
/** @typedef {import("./types.js").MeasurementTable} MeasurementTable */

const MEND = {
  bars: { words: "Enter the bars", act: (/** @type {Doubt} */ _) => set({ step: "print" }) },
  height: { words: "Say how high", act: (/** @type {Doubt} */ doubt) => void sayHeight(doubt) },
};

/** @param {Doubt[]} doubts @param {boolean} open */
export function doubtful(doubts, open) {
  if (!doubts.length) return null;
  if (!open) return h("p", { class: "note small" }, doubts.map((doubt) => doubt.short).join(" "));
  return doubts.map((doubt) => h("div", { class: "note stack small" },
    h("p", {}, h("b", {}, doubt.short), " ", doubt.words),
    h("button", { id: `mend-${doubt.mend}`, onclick: () => MEND[doubt.mend].act(doubt) }, MEND[doubt.mend].words)));
}

/** @param {Doubt} doubt */
async function sayHeight(doubt) {
  const plane = await chooseHeight();
  if (plane) await edit(layOn(doubt.features, plane));
}

/**
 * What was said of the features that a measurement rests on.
 * @param {MeasurementTable} table
 */
export function featureWarnings(table) {
  const used = new Set(Object.values(table.of).flat());
  const found = (state.results?.features || []).filter((f) => used.has(f.name));
  return found.flatMap((f) => (f.located?.warnings || []).map((words) => note(`${f.name}: ${words}`)));
}
