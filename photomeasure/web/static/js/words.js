// Verdicts as shape and word, and other small pieces that several panels show.

import { h, svg } from "./dom.js";

const SHAPES = {
  conforms: '<circle cx="12" cy="12" r="10"/><path d="M7 12.5l3.5 3.5L17 8.5"/>',
  "does not conform": '<path class="body" d="M7.5 1.5h9l6 6v9l-6 6h-9l-6-6v-9z"/><path class="mark" d="M8 8l8 8M16 8l-8 8"/>',
  "cannot tell":
    '<path class="body" d="M12 1.5L22.5 12 12 22.5 1.5 12z"/><path d="M9.3 9.6a2.8 2.8 0 1 1 4 2.6c-.9.5-1.3 1-1.3 2"/><circle class="dot" cx="12" cy="17" r=".6"/>',
};
const CLASSES = { conforms: "conforms", "does not conform": "fails", "cannot tell": "untold" };

/** @typedef {keyof typeof SHAPES} VerdictWord */

/**
 * Ring, octagon or diamond, as in the report; advice has them hollow.
 * @param {string} verdict
 * @param {boolean} canFail
 */
export function sign(verdict, canFail = true) {
  const word = /** @type {VerdictWord} */ (verdict);
  const kind = `sign ${CLASSES[word]}${canFail ? "" : " advice"}`;
  return svg(`<svg xmlns="http://www.w3.org/2000/svg" class="${kind}" viewBox="0 0 24 24" aria-hidden="true">${SHAPES[word]}</svg>`);
}

/**
 * What a photo is good for, in the same shapes.
 * @param {number} rank
 */
export const fitnessSign = (rank) => sign(["conforms", "cannot tell", "does not conform"][rank] || "cannot tell");

/** @param {string} text */
export const note = (text) => h("p", { class: "note" }, text);

/**
 * @param {string} id
 * @param {string} label
 * @param {Object<string, any>} attributes
 * @param {string} [hint]
 */
export function field(id, label, attributes, hint = "") {
  return h("div", { class: "field" },
    h("label", { for: id }, label),
    h("input", { id, autocomplete: "off", ...attributes }),
    hint && h("span", { class: "small soft" }, hint));
}

/**
 * One of several, by the words beside each value.
 * @param {string} id
 * @param {string} label
 * @param {Object<string, string>} options
 * @param {string} chosen
 */
export const choice = (id, label, options, chosen) => h("div", { class: "field" },
  h("label", { for: id }, label),
  h("select", { id }, Object.entries(options).map(([value, words]) => h("option", { value, selected: value === chosen }, words))));

/** @param {string} id */
export const valueOf = (id) => /** @type {HTMLInputElement|null} */ (document.getElementById(id))?.value.trim() || "";

/**
 * What was typed as a length: a number of mm, or words such as "7/16 in" that the program reads.
 * @param {string} text
 * @returns {number|string}
 */
export function length(text) {
  const plain = text.replace(",", ".");
  return plain !== "" && Number.isFinite(Number(plain)) ? Number(plain) : text;
}

/**
 * With a full stop at its end.
 * @param {string} text
 */
export const sentence = (text) => (text && !/[.!?]$/.test(text) ? `${text}.` : text);
