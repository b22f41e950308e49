// The picture side of the page: which photo is shown and how, and what hands do on it.

import { addresses, Problem } from "./api.js";
import { byId, drawn, fill, h } from "./dom.js";
import { drawAll, HANDLES, handles, heightOf } from "./drawing.js";
import { listen } from "./gestures.js";
import { magnify } from "./magnifier.js";
import { back, dragTouch, dropTouch, isAsked, moveTouch, settleIfClear, stop, touch } from "./pointing.js";
import { backHint, hintAt, stopHint } from "./hints.js";
import { say } from "./say.js";
import { Pyramid, Scene } from "./scene.js";
import { job, set, state } from "./store.js";
import { Viewer } from "./viewer.js";

/** @typedef {import("./types.js").Pair} Pair */

// A phone's browser ends a page that takes too much; a picture of 12 MP takes 64 MB.
const PICTURES_KEPT = matchMedia("(pointer: coarse)").matches ? 2 : 4;
const REACH = 26; // screen px within which a handle or feature is meant
const PATHS = {
  closer: "M12 5v14M5 12h14", further: "M5 12h14", whole: "M4 9V4h5M20 9V4h-5M4 15v5h5M20 15v5h-5",
  flat: "M4 6h16v12H4zM4 12h16M12 6v12", grid: "M8 4v16M16 4v16M4 8h16M4 16h16", screen: "M14 4h6v6M10 20H4v-6M20 4l-7 7M4 20l7-7",
};

/** @type {Viewer} */
let viewer;
/** @type {Map<string, Promise<Pyramid>>} */
const pictures = new Map();
let shown = "";
/** @type {Pair|null} where the magnifier is wanted */
let aim = null;
let pointed = false;

/** Set the picture up, once. */
export function setUpBench() {
  const drawing = /** @type {HTMLCanvasElement} */ (byId("drawing"));
  const glass = /** @type {HTMLCanvasElement} */ (byId("magnifier"));
  const enlarge = () => magnify(glass, viewer, aim, (on, place) => {
    if (viewer.scene) drawAll(on, viewer.scene, place, false);
  });
  viewer = new Viewer(drawing, (on) => {
    if (viewer.scene) drawAll(on, viewer.scene, (world) => viewer.toScreen(world), true);
    enlarge();
  });
  const hands = listen(drawing, viewer, {
    pointing: isPointing,
    grab,
    drag,
    drop: (handle, at) => drop(/** @type {Handle} */ (handle), at),
    touch: tapped,
    aim: (at) => {
      aim = at;
      enlarge();
    },
    stop: () => (state.hint ? stopHint() : state.draft ? stop() : set({ chosen: null })),
    back: () => backHint() || back(),
  });
  Object.assign(window, { photomeasureViewer: viewer, photomeasureHands: hands }); // for tests and benchmark
}

/** Whether a touch would be taken; not while it is asked which of two edges is meant. */
const isPointing = () => Boolean(state.hint || (state.draft && !isAsked(state.draft)));

/** @typedef {{of: string, nth: number}} Handle */

/** @param {Pair} at @returns {Handle|null} */
function grab(at) {
  if (!viewer.scene || state.part) return null;
  const near = handles(viewer.scene)
    .map((handle) => ({ handle, away: apart(viewer.toScreen(handle.world), at) }))
    .sort((a, b) => a.away - b.away)[0];
  return near && near.away < REACH ? near.handle : null;
}

/** @param {unknown} handle @param {Pair} at */
function drag(handle, at) {
  const { of, nth } = /** @type {Handle} */ (handle);
  const px = placeAt(at);
  if (!px) return;
  if (of) void dragTouch(of, nth - 1, px);
  else moveTouch(nth - 1, px);
}

/** @param {Handle} handle @param {Pair|null} at */
function drop(handle, at) {
  if (handle.of) void dropTouch(Boolean(at));
  else if (at) void settleIfClear();
}

/** @param {Pair} at @returns {Pair|null} px of the photo, to a hundredth */
function placeAt(at) {
  const world = viewer.toWorld(at);
  if (!viewer.scene || !viewer.scene.holds(world)) return null;
  const px = viewer.scene.toPhoto(world);
  return [Math.round(px[0] * 100) / 100, Math.round(px[1] * 100) / 100];
}

/** @param {Pair} at */
function tapped(at) {
  if (!viewer.scene) return;
  if (!state.draft && !state.hint) return choose(at);
  const px = placeAt(at);
  if (px) void (state.hint ? hintAt(px) : touch(px));
  else say("That is beside the picture.");
}

/**
 * The feature under the finger, or none.
 * @param {Pair} at
 */
function choose(at) {
  if (state.part) return;
  const name = nearest(at);
  set({ chosen: name ? { type: "feature", name } : null });
}

/** @param {Pair} at */
function nearest(at) {
  const scene = viewer.scene;
  let [best, name] = [REACH, ""];
  for (const { located, name: feature } of state.results?.features || []) {
    if (!scene || !located || located.photo !== scene.photo.name) continue;
    for (const mm of located.chains_mm.flat()) {
      const world = scene.fromPlane(mm, located.sheet, located.height_mm);
      const away = world ? apart(viewer.toScreen(world), at) : Infinity;
      if (away < best) [best, name] = [away, feature];
    }
  }
  return name;
}

/** Show what the state says. */
export function showBench() {
  showStrip();
  showHandles();
  void showPicture();
  frameOutline();
  putMagnifierAway();
  byId("drawing").classList.toggle("aiming", Boolean(state.draft || state.hint));
}

/** Once all is pointed at, a hand that rests on the picture needs no magnifier. */
function putMagnifierAway() {
  const pointing = isPointing();
  if (pointed && !pointing) {
    aim = null;
    viewer.redraw();
  }
  pointed = pointing;
}

let framed = "";

/** Come close to a part once its outline is there, unless somebody has come closer already. */
function frameOutline() {
  if (!state.part) framed = "";
  const answer = state.outline?.part === state.part ? state.outline.answer : null;
  const scene = viewer.scene;
  if (!answer || !scene || framed === state.part || scene.photo.name !== state.photo) return;
  framed = state.part;
  if (viewer.scale < 1.1 * viewer.whole) viewer.frame([answer.frame_px, ...answer.cut.map((ring) => ring.chain_px)].flat().map((px) => scene.fromPhoto(px)), HANDLES);
}

function showStrip() {
  const photos = job().photos;
  fill(byId("strip"), photos.length < 2 ? [] : photos.map((photo) =>
    h("button", {
      id: `show-${photo.name}`, title: photo.name, class: photo.name === state.photo ? "on" : "", "aria-pressed": String(photo.name === state.photo),
      onclick: () => set({ photo: photo.name }),
    }, h("span", {}, photo.name))));
  byId("strip").querySelector(".on")?.scrollIntoView({ block: "nearest", inline: "nearest" });
}

function showHandles() {
  const flatPossible = Boolean(photoAnswer()?.planes[state.plane]);
  const button = (/** @type {string} */ id, /** @type {string} */ label, /** @type {string} */ path, /** @type {() => void} */ act, /** @type {boolean|null} */ on = null) =>
    h("button", { id, class: "icon", "aria-label": label, title: label, "aria-pressed": on === null ? null : String(on), onclick: act }, drawn(path));
  fill(byId("handles"),
    button("closer", "Closer", PATHS.closer, () => viewer.zoom(1.5, middle())),
    button("further", "Further away", PATHS.further, () => viewer.zoom(1 / 1.5, middle())),
    button("whole", "All of it", PATHS.whole, () => viewer.fit()),
    flatPossible && button("flat", "Seen at right angles", PATHS.flat, () => set({ flat: !state.flat }), state.flat),
    flatPossible && button("grid", "Grid of 10 mm", PATHS.grid, () => set({ grid: !state.grid }), state.grid),
    document.fullscreenEnabled && button("screen", "Full screen", PATHS.screen, fullScreen));
}

const middle = () => /** @type {Pair} */ ([viewer.width / 2, viewer.height / 2]);

function fullScreen() {
  if (document.fullscreenElement) void document.exitFullscreen();
  else void byId("room").requestFullscreen();
}

const photoAnswer = () => state.results?.photos.find((photo) => photo.name === state.photo);

/** Load the picture when it is another, and show it with what is known of it now. */
async function showPicture() {
  const table = job().photos.find((photo) => photo.name === state.photo);
  if (!table) {
    shown = "";
    return viewer.show(null, true);
  }
  const answer = photoAnswer();
  const flat = state.flat && answer?.planes[state.plane] ? { plane: state.plane, height: heightOf(state.plane) } : null;
  const address = flat
    ? addresses.flat(table.name, flat.plane, `${state.stored.revision}`)
    : addresses.picture(table.name, table.sha256 || "");
  const scene = `${table.name} ${flat ? flat.plane : ""}`;
  const known = answer || { name: table.name, sha256: "", size_px: null, views: [], planes: {}, problem: "" };
  try {
    byId("wait").textContent = pictures.has(address) ? "" : "Fetching the picture …";
    const pyramid = await picture(address);
    byId("wait").textContent = "";
    if (table.name !== state.photo || Boolean(flat) !== Boolean(state.flat && answer?.planes[state.plane])) return;
    viewer.show(new Scene(pyramid, known, flat), shown !== scene);
    shown = scene;
  } catch (error) {
    byId("wait").textContent = error instanceof Problem ? error.message : "This browser cannot show the picture.";
    pictures.delete(address);
    viewer.show(null, true);
  }
}

/**
 * The last few pictures are kept.
 * @param {string} address
 */
function picture(address) {
  const known = pictures.get(address);
  const found = known || Pyramid.load(address);
  pictures.delete(address);
  pictures.set(address, found);
  for (const [old, pyramid] of pictures) {
    if (pictures.size <= PICTURES_KEPT) break;
    pictures.delete(old);
    pyramid.then((p) => p.close(), () => {});
  }
  return found;
}

/**
 * Bring a feature into sight.
 * @param {string} name
 */
export function reveal(name) {
  const located = state.results?.features.find((f) => f.name === name)?.located;
  if (!located) return;
  if (located.photo !== state.photo) set({ photo: located.photo });
  const world = viewer.scene?.fromPlane(located.anchor_mm, located.sheet, located.height_mm);
  if (world) viewer.reveal(world);
}

/** @param {Pair} a @param {Pair} b */
const apart = (a, b) => Math.hypot(a[0] - b[0], a[1] - b[1]);
