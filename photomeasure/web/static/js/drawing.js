// What is drawn over the picture: features, rivals, dimensions with their numbers, touches, grid.
// Every line has a dark rim, so that it shows on bright metal and in deep shade alike.

import { cross } from "./magnifier.js";
import { drawOutline } from "./outline_drawing.js";
import { job, state } from "./store.js";

/** @typedef {import("./types.js").Pair} Pair */
/** @typedef {import("./types.js").Located} Located */
/** @typedef {import("./scene.js").Scene} Scene */
/** @typedef {(world: Pair) => Pair} Place from the world to the canvas */

const RIM = "rgb(20 22 24 / .8)";
const DARK = "#17191b"; // words on a light ground
export const CHALK = "#fff3c9"; // features
export const BRIGHT = "#ffb37f"; // the one that is being looked at
export const PLAIN = "#fdfbf6"; // dimensions
const FONT = "650 14px 'Avenir Next', 'Segoe UI', 'Noto Sans', 'DejaVu Sans', sans-serif";
const RIMS = 8; // px that a line is wide at most
const GRID_MM = 10;
export const HANDLES = 62; // px at the right, where the buttons stand over the picture

/** @type {[number, number, number, number][]} where words stand already: left, top, right, bottom */
let plates = [];

/** @typedef {{at: Pair, nth: number, colour: string}} Flag the number of an edge that fits */

/** @type {Flag[]} drawn last, so that no touch lies over them */
let flags = [];

/**
 * @param {CanvasRenderingContext2D} on
 * @param {Scene} scene
 * @param {Place} place
 * @param {boolean} words whether numbers and names are written
 */
export function drawAll(on, scene, place, words) {
  plates = [];
  flags = [];
  if (state.grid) drawGrid(on, scene, place);
  if (state.part) return drawOutline(on, scene, place, words);
  for (const answer of state.results?.features || []) drawFeature(on, scene, place, answer);
  if (words) drawDimensions(on, scene, place);
  if (state.moving?.located) drawLocated(on, scene, place, state.moving.located, BRIGHT);
  drawScales(on, scene, place);
  if (state.draft?.located) drawLocated(on, scene, place, state.draft.located, BRIGHT);
  for (const handle of handles(scene)) drawHandle(on, place(handle.world), handle.nth);
  for (const flag of flags) drawFlag(on, flag);
}

/**
 * @param {CanvasRenderingContext2D} on
 * @param {Scene} scene
 * @param {Place} place
 * @param {import("./types.js").FeatureAnswer} answer
 */
function drawFeature(on, scene, place, answer) {
  const located = answer.located;
  if (!located || located.photo !== scene.photo.name || state.moving?.name === answer.name) return;
  const chosen = isChosen(answer.name);
  const asked = chosen && state.chosen?.type === "feature";
  drawLocated(on, scene, place, asked ? located : { ...located, rivals: [] }, chosen ? BRIGHT : CHALK);
}

/**
 * The corners of things of known size, also of the one that is being touched.
 * @param {CanvasRenderingContext2D} on
 * @param {Scene} scene
 * @param {Place} place
 */
function drawScales(on, scene, place) {
  const touched = state.hint?.scale ? [{ ...state.hint.scale, clicks: state.hint.touches }] : [];
  for (const scale of [...(job().scales || []), ...touched]) {
    if (scale.photo !== scene.photo.name || !scale.clicks.length) continue;
    const corners = scale.clicks.map((px) => place(scene.fromPhoto(px)));
    line(on, corners.length > 3 ? [...corners, corners[0]] : corners, PLAIN, 1.6, [3, 4]);
    for (const corner of corners) cross(on, corner, 8);
  }
}

/** @param {string} name of a feature */
function isChosen(name) {
  if (state.chosen?.type === "feature") return state.chosen.name === name;
  const measurement = job().measurements.find((m) => state.chosen?.type === "measurement" && m.name === state.chosen.name);
  return Boolean(measurement && Object.values(measurement.of).flat().includes(name));
}

/**
 * A feature as found, and the other edges that fit, dashed and numbered.
 * @param {CanvasRenderingContext2D} on
 * @param {Scene} scene
 * @param {Place} place
 * @param {Located} located
 * @param {string} colour
 */
function drawLocated(on, scene, place, located, colour) {
  const { sheet, height_mm: height } = located;
  for (const rival of located.rivals) {
    for (const chain of rival.chains_mm) line(on, spots(scene, place, chain, sheet, height), PLAIN, 1.5, [6, 5]);
    const middle = rival.chains_mm[0]?.[Math.floor(rival.chains_mm[0].length / 4)];
    const at = middle && scene.fromPlane(middle, sheet, height);
    if (at) flags.push({ at: place(at), nth: rival.number, colour: PLAIN });
  }
  for (const chain of located.chains_mm) line(on, spots(scene, place, chain, sheet, height), colour, 2.2);
  if (located.rivals.length) {
    const at = scene.fromPlane(located.anchor_mm, sheet, height);
    if (at) flags.push({ at: place(at), nth: located.chosen, colour });
  }
}

/**
 * @param {CanvasRenderingContext2D} on
 * @param {Scene} scene
 * @param {Place} place
 */
function drawDimensions(on, scene, place) {
  if (state.draft || state.chosen?.type === "feature") return;
  const picked = (/** @type {import("./types.js").MeasurementAnswer} */ one) => state.chosen?.name === one.name;
  const chosenFirst = [...(state.results?.measurements || [])].sort((a, b) => Number(picked(b)) - Number(picked(a)));
  for (const one of chosenFirst) {
    const drawing = one.drawing;
    if (!drawing || drawing.photo !== scene.photo.name) continue;
    const chosen = picked(one);
    const colour = chosen ? BRIGHT : PLAIN;
    for (const stroke of drawing.strokes) {
      const points = spots(scene, place, stroke.chain_mm, drawing.sheet, drawing.height_mm);
      line(on, points, colour, 1.6, stroke.role === "construction" ? [5, 4] : []);
      if (stroke.arrows) arrows(on, points, colour);
    }
    for (const label of drawing.labels) {
      const number = one.numbers.find((n) => n.name === label.quantity);
      const at = scene.fromPlane(label.at_mm, drawing.sheet, drawing.height_mm);
      if (number && at && (chosen || number.primary)) tag(on, place(at), number.figure, colour);
    }
  }
}

/**
 * @param {Scene} scene
 * @param {Place} place
 * @param {Pair[]} chain
 * @param {string} sheet
 * @param {number} height
 * @returns {Pair[]}
 */
function spots(scene, place, chain, sheet, height) {
  return scene.chain(chain, sheet, height).map(place);
}

/**
 * The touches that can be dragged: of what is being pointed at, or of the feature looked at.
 * @param {Scene} scene
 * @returns {{world: Pair, nth: number, of: string}[]}
 */
export function handles(scene) {
  const draft = state.draft;
  if (draft) return draft.clicks.map((px, k) => ({ world: scene.fromPhoto(px), nth: k + 1, of: "" }));
  const name = state.chosen?.type === "feature" ? state.chosen.name : "";
  const feature = job().features.find((f) => f.name === name && f.photo === scene.photo.name);
  const clicks = state.moving?.name === name ? state.moving.clicks : feature?.clicks || [];
  return clicks.map((px, k) => ({ world: scene.fromPhoto(px), nth: k + 1, of: name }));
}

/**
 * @param {CanvasRenderingContext2D} on
 * @param {Pair} at
 * @param {number} nth
 */
function drawHandle(on, [x, y], nth) {
  plates.push([x - 12, y - 25, x + 25, y + 12]);
  on.beginPath();
  on.arc(x, y, 11, 0, 2 * Math.PI);
  on.lineWidth = 5;
  on.strokeStyle = RIM;
  on.stroke();
  on.lineWidth = 2.4;
  on.strokeStyle = BRIGHT;
  on.stroke();
  cross(on, [x, y], 8);
  on.beginPath();
  on.arc(x + 15, y - 15, 9, 0, 2 * Math.PI);
  on.fillStyle = BRIGHT;
  on.fill();
  on.lineWidth = 1.5;
  on.strokeStyle = RIM;
  on.stroke();
  on.font = "650 12px 'Avenir Next', 'Segoe UI', 'DejaVu Sans', sans-serif";
  on.fillStyle = DARK;
  on.textBaseline = "alphabetic";
  on.fillText(String(nth), x + 15 - on.measureText(String(nth)).width / 2, y - 10.5);
}

/**
 * With its tip at the edge: touches have numbers too, but round ones.
 * @param {CanvasRenderingContext2D} on
 * @param {Flag} flag
 */
function drawFlag(on, { at: [x, y], nth, colour }) {
  const words = `No. ${nth}`;
  on.font = FONT;
  const width = on.measureText(words).width + 12;
  const spots = [[26, -26], [26, 38], [-width - 20, -26], [-width - 20, 38], [26, -60], [26, 72]];
  const [dx, dy] = spots.find(([a, b]) => isFree(x + a, y + b, width)) || spots[0];
  const [left, top] = [x + dx, y + dy];
  const near = dx > 0 ? left - 6 : left - 6 + width;
  plates.push(plateOf(left, top, width));
  on.beginPath();
  on.moveTo(x, y);
  on.lineTo(near, top - 14);
  on.lineTo(near, top + 5);
  on.closePath();
  on.rect(left - 6, top - 15, width, 21);
  on.lineWidth = 2;
  on.strokeStyle = RIM;
  on.stroke();
  on.fillStyle = colour;
  on.fill();
  on.fillStyle = DARK;
  on.textBaseline = "alphabetic";
  on.fillText(words, left, top);
}

/**
 * @param {CanvasRenderingContext2D} on
 * @param {Pair[]} points
 * @param {string} colour
 * @param {number} width
 * @param {number[]} [dashes]
 * @param {boolean} [rim]
 */
export function line(on, points, colour, width, dashes = [], rim = true) {
  if (points.length < 2 || outOfSight(on, points)) return;
  on.lineJoin = on.lineCap = "round";
  on.beginPath();
  points.forEach(([x, y], k) => (k ? on.lineTo(x, y) : on.moveTo(x, y)));
  on.setLineDash([]);
  on.lineWidth = width + 2.6;
  on.strokeStyle = RIM;
  if (rim) on.stroke();
  on.setLineDash(dashes);
  on.lineWidth = width;
  on.strokeStyle = colour;
  on.stroke();
  on.setLineDash([]);
}

/**
 * Whether all of it lies beside the canvas, whose px are never larger than those of the screen.
 * @param {CanvasRenderingContext2D} on
 * @param {Pair[]} points
 */
function outOfSight({ canvas }, points) {
  const beside = (/** @type {(at: Pair) => boolean} */ is) => points.every(is);
  return beside(([x]) => x < -RIMS) || beside(([, y]) => y < -RIMS) ||
    beside(([x]) => x > canvas.width + RIMS) || beside(([, y]) => y > canvas.height + RIMS);
}

/**
 * Heads at both ends, pointing outwards.
 * @param {CanvasRenderingContext2D} on
 * @param {Pair[]} points
 * @param {string} colour
 */
function arrows(on, points, colour) {
  if (points.length < 2) return;
  const last = points.length - 1;
  const length = Math.hypot(points[0][0] - points[last][0], points[0][1] - points[last][1]);
  const size = Math.min(11, length / 3);
  for (const [tip, back] of [[points[0], points[1]], [points[last], points[last - 1]]]) {
    const turn = Math.atan2(back[1] - tip[1], back[0] - tip[0]);
    on.beginPath();
    on.moveTo(tip[0], tip[1]);
    for (const side of [0.36, -0.36]) on.lineTo(tip[0] + size * Math.cos(turn + side), tip[1] + size * Math.sin(turn + side));
    on.closePath();
    on.lineWidth = 2;
    on.strokeStyle = RIM;
    on.stroke();
    on.fillStyle = colour;
    on.fill();
  }
}

/**
 * Words on a small plate, beside the place they are about and clear of the plates before it.
 * @param {CanvasRenderingContext2D} on
 * @param {Pair} at
 * @param {string} words
 * @param {string} colour
 */
export function tag(on, [x, y], words, colour) {
  on.font = FONT;
  const width = on.measureText(words).width + 12;
  const spots = [[10, -10], [10, 26], [-width - 4, -10], [-width - 4, 26], [10, -38], [10, 54], [-width - 4, -38], [-width - 4, 54]];
  const most = on.canvas.clientWidth - HANDLES;
  const seen = spots.filter(([dx]) => x > most || (x + dx - 6 > 0 && x + dx + width < most));
  const free = [...seen, ...spots].find(([dx, dy]) => isFree(x + dx, y + dy, width)) || spots[0];
  const [left, top] = [x + free[0], y + free[1]];
  plates.push(plateOf(left, top, width));
  label(on, words, left, top, colour);
}

/** @param {number} left @param {number} top @param {number} width @returns {[number, number, number, number]} */
const plateOf = (left, top, width) => [left - 6, top - 15, left - 6 + width, top + 6];

/** @param {number} x @param {number} y @param {number} width */
function isFree(x, y, width) {
  const [left, above, right, below] = plateOf(x, y, width);
  return !plates.some(([l, t, r, b]) => left < r && right > l && above < b && below > t);
}

/**
 * @param {CanvasRenderingContext2D} on
 * @param {string} words
 * @param {number} x
 * @param {number} y
 * @param {string} colour
 */
function label(on, words, x, y, colour) {
  const width = on.measureText(words).width;
  on.fillStyle = "rgb(20 22 24 / .88)";
  on.fillRect(x - 6, y - 15, width + 12, 21);
  on.fillStyle = colour;
  on.textBaseline = "alphabetic";
  on.fillText(words, x, y);
}

/**
 * Lines every 10 mm on the plane that is pointed at, with figures every 50 mm.
 * @param {CanvasRenderingContext2D} on
 * @param {Scene} scene
 * @param {Place} place
 */
function drawGrid(on, scene, place) {
  const plane = scene.flat?.plane || state.plane;
  const sheet = scene.photo.planes[plane];
  const view = scene.photo.views.find((v) => v.sheet === sheet);
  if (!view) return;
  const height = heightOf(plane);
  const [x0, y0, x1, y1] = view.box_mm.map((v, k) => GRID_MM * (k < 2 ? Math.ceil(v / GRID_MM) : Math.floor(v / GRID_MM)));
  on.font = "600 11px 'Avenir Next', 'Segoe UI', 'DejaVu Sans', sans-serif";
  for (let x = x0; x <= x1; x += GRID_MM) gridLine(on, spots(scene, place, split([x, y0], [x, y1]), sheet, height), x);
  for (let y = y0; y <= y1; y += GRID_MM) gridLine(on, spots(scene, place, split([x0, y], [x1, y]), sheet, height), y);
}

/**
 * @param {CanvasRenderingContext2D} on
 * @param {Pair[]} points
 * @param {number} at mm
 */
function gridLine(on, points, at) {
  if (points.length < 2) return;
  const fifty = at % 50 === 0;
  on.beginPath();
  points.forEach(([x, y], k) => (k ? on.lineTo(x, y) : on.moveTo(x, y)));
  on.lineWidth = fifty ? 1.4 : 0.8;
  on.strokeStyle = fifty ? "rgb(253 251 246 / .8)" : "rgb(253 251 246 / .45)";
  on.stroke();
  if (!fifty) return;
  const [x, y, width] = [points[0][0] + 3, points[0][1] - 3, on.measureText(String(at)).width + 12];
  if (!isFree(x, y, width)) return;
  plates.push(plateOf(x, y, width));
  label(on, String(at), x, y, PLAIN);
}

/**
 * @param {Pair} from
 * @param {Pair} to
 * @returns {Pair[]}
 */
function split(from, to) {
  const steps = 10;
  return Array.from({ length: steps + 1 }, (_, k) => /** @type {Pair} */ ([
    from[0] + ((to[0] - from[0]) * k) / steps, from[1] + ((to[1] - from[1]) * k) / steps,
  ]));
}

/** @param {string} plane */
export function heightOf(plane) {
  const found = job().planes.find((p) => p.name === plane);
  return found ? Number(found.height) : 0;
}
