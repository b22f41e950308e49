// What the program is doing for an outline, told without drawing the panels anew.

import { fill, h } from "./dom.js";

/** @param {string} words "" for nothing */
export const doingLine = (words) => words && h("p", { class: "row" }, h("span", { class: "busy" }), `Outlining: ${words} …`);

/** @param {string} words */
export function showDoing(words) {
  const place = document.getElementById("outline-doing");
  if (place) fill(place, doingLine(words));
}
