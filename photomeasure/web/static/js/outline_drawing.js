// The outline over the photo: as seen, as it will be cut, and what was pointed out.

import { BRIGHT, CHALK, line, PLAIN, tag } from "./drawing.js";
import { cross } from "./magnifier.js";
import { openedPart, photoOf } from "./parts.js";
import { state } from "./store.js";

/** @typedef {import("./types.js").Pair} Pair */
/** @typedef {import("./scene.js").Scene} Scene */

/**
 * @param {CanvasRenderingContext2D} on
 * @param {Scene} scene
 * @param {(world: Pair) => Pair} place
 * @param {boolean} words
 */
export function drawOutline(on, scene, place, words) {
  const table = openedPart()?.table;
  if (!table || photoOf(table)?.name !== scene.photo.name) return;
  const spots = (/** @type {Pair[]} */ chain) => chain.map((px) => place(scene.fromPhoto(px)));
  const answer = state.outline?.part === state.part ? state.outline.answer : null;
  /** @type {[Pair, string, string][]} */
  const tags = [];
  for (const chain of answer?.seen || []) line(on, spots(chain), CHALK, 2.2);
  for (const ring of answer?.cut || []) {
    const closed = spots([...ring.chain_px, ring.chain_px[0]]);
    const chosen = state.chosen?.type === "hole" && state.chosen.name === ring.name;
    line(on, closed, BRIGHT, chosen ? 3.5 : 1.4, chosen ? [] : [7, 6], chosen);
    if (chosen || (ring.name !== "outline" && wide(closed))) tags.push([closed[0], ring.name, chosen ? BRIGHT : PLAIN]);
  }
  for (const bend of answer?.bends || []) {
    line(on, spots(bend.chain_px), PLAIN, 1.8, [14, 4, 3, 4]);
    tags.push([place(scene.fromPhoto(bend.chain_px[0])), bend.name, PLAIN]);
  }
  if (answer) tags.unshift(...axes(on, spots(answer.frame_px)));
  if (words) for (const [at, name, colour] of tags) tag(on, at, name, colour); // no line runs over them
  for (const stroke of [...(table.strokes || []), state.hint?.touches || []]) {
    line(on, spots(stroke), PLAIN, 1.8, [2, 5]);
    for (const at of spots(stroke)) cross(on, at, 8);
  }
  for (const px of table.inside || []) mark(on, place(scene.fromPhoto(px)), "in");
  for (const px of table.outside || []) mark(on, place(scene.fromPhoto(px)), "out");
}

/**
 * Where places in mm are counted from, and which way.
 * @param {CanvasRenderingContext2D} on
 * @param {Pair[]} frame
 * @returns {[Pair, string, string][]}
 */
function axes(on, [x, origin, y]) {
  line(on, [x, origin, y], PLAIN, 2);
  return [[x, "x", PLAIN], [y, "y", PLAIN]];
}

/**
 * Whether a ring is so wide on the screen that its name does not hide it.
 * @param {Pair[]} spots
 */
const wide = (spots) => Math.max(...spots.map(([x]) => x)) - Math.min(...spots.map(([x]) => x)) > 14;

/**
 * @param {CanvasRenderingContext2D} on
 * @param {Pair} at
 * @param {string} words
 */
function mark(on, at, words) {
  cross(on, at, 10);
  tag(on, at, words, PLAIN);
}
