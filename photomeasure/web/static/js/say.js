// A short sentence that everybody notices, by eye or by ear.

import { byId } from "./dom.js";

const LEAST_MS = 1200;
let timer = 0;
let since = 0;

// Whoever goes on has read it, and it may lie over what is meant next.
addEventListener("pointerdown", () => { if (performance.now() - since > LEAST_MS) hush(); }, true);

const hush = () => { byId("said").textContent = ""; };

/** @param {string} words */
export function say(words) {
  const place = byId("said");
  place.textContent = words;
  since = performance.now();
  clearTimeout(timer);
  timer = window.setTimeout(hush, 2500 + 45 * words.length);
}
