// A short sentence that everybody notices, by eye or by ear.

import { byId } from "./dom.js";

let timer = 0;

/** @param {string} words */
export function say(words) {
  const place = byId("said");
  place.textContent = words;
  clearTimeout(timer);
  timer = window.setTimeout(() => (place.textContent = ""), 3500 + 45 * words.length);
}
