// Places pointed at in the photo that are no feature: help for an outline, a thing of known size.

import { set, state } from "./store.js";

/** @typedef {import("./types.js").Hint} Hint */
/** @typedef {import("./types.js").Pair} Pair */

/** @param {Omit<Hint, "touches">} hint */
export function beginHint(hint) {
  set({ hint: { ...hint, touches: [] }, step: "point", chosen: null });
  document.getElementById("drawing")?.focus({ preventScroll: true }); // so that keys aim at once
}

export function stopHint() {
  set({ hint: null });
}

/** @param {Pair} px */
export async function hintAt(px) {
  const hint = state.hint;
  if (!hint) return;
  const touches = [...hint.touches, px];
  const full = touches.length === hint.count;
  set({ hint: full ? null : { ...hint, touches } });
  if (full) await hint.done(touches);
}

/** @returns {boolean} whether there was a touch to take away */
export function backHint() {
  const hint = state.hint;
  if (!hint || !hint.touches.length) return false;
  set({ hint: { ...hint, touches: hint.touches.slice(0, -1) } });
  return true;
}

/** Take the touches made so far, where as many are wanted as one likes. */
export async function keepHint() {
  const hint = state.hint;
  set({ hint: null });
  await hint?.done(hint.touches);
}
