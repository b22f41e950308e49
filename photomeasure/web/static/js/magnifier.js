// The picture under the finger, enlarged beside it, with a cross where it touches.

import { context, paintPicture } from "./viewer.js";

/** @typedef {import("./types.js").Pair} Pair */

const LEAST = 2; // screen px per px of the picture
const TIMES = 3.5;
const AWAY = 100; // px from the finger to the middle of the magnifier

/**
 * @param {HTMLCanvasElement} canvas
 * @param {import("./viewer.js").Viewer} viewer
 * @param {Pair|null} at screen position; null puts it away
 * @param {(context: CanvasRenderingContext2D, place: (world: Pair) => Pair) => void} draw
 */
export function magnify(canvas, viewer, at, draw) {
  canvas.hidden = !at || !viewer.scene;
  if (!at || !viewer.scene) return;
  const side = 152;
  const ratio = Math.min(3, window.devicePixelRatio || 1);
  if (canvas.width !== side * ratio) canvas.width = canvas.height = side * ratio;
  stand(canvas, viewer, at, side);
  const scale = Math.max(LEAST, viewer.scale * TIMES);
  const [wx, wy] = viewer.toWorld(at);
  const left = side / 2 - wx * scale;
  const top = side / 2 - wy * scale;
  const glass = context(canvas);
  glass.setTransform(1, 0, 0, 1, 0, 0);
  glass.fillStyle = "#2a2d30";
  glass.fillRect(0, 0, canvas.width, canvas.height);
  paintPicture(glass, viewer.scene, scale * ratio, left * ratio, top * ratio);
  glass.setTransform(ratio, 0, 0, ratio, 0, 0);
  draw(glass, ([x, y]) => [x * scale + left, y * scale + top]);
  cross(glass, [side / 2, side / 2], 16);
}

/**
 * Above the finger; beside it where there is no room above.
 * @param {HTMLCanvasElement} canvas
 * @param {import("./viewer.js").Viewer} viewer
 * @param {Pair} at
 * @param {number} side
 */
function stand(canvas, viewer, [x, y], side) {
  const above = y > AWAY + side / 2 + 4;
  const left = above ? x : x + (x > viewer.width / 2 ? -AWAY - 10 : AWAY + 10);
  const top = above ? y - AWAY : y;
  const inside = (/** @type {number} */ v, /** @type {number} */ most) => Math.min(most - side - 4, Math.max(4, v - side / 2));
  canvas.style.left = `${inside(left, viewer.width)}px`;
  canvas.style.top = `${inside(top, viewer.height)}px`;
}

/**
 * A cross that is open in the middle, dark and light, so that it shows on anything.
 * @param {CanvasRenderingContext2D} on
 * @param {Pair} at
 * @param {number} arm
 */
export function cross(on, [x, y], arm) {
  for (const [width, colour] of /** @type {[number, string][]} */ ([[3.5, "#23262a"], [1.5, "#fdfbf6"]])) {
    on.lineWidth = width;
    on.strokeStyle = colour;
    on.beginPath();
    for (const [dx, dy] of [[1, 0], [-1, 0], [0, 1], [0, -1]]) {
      on.moveTo(x + 4 * dx, y + 4 * dy);
      on.lineTo(x + arm * dx, y + arm * dy);
    }
    on.stroke();
  }
}
