// From choosing what to measure to the last touch. What is asked for comes from the kind's needs;
// no kind is known by name here.

import { api, Problem } from "./api.js";
import { addFeature, addMeasurement, changeFeature, numbered } from "./changes.js";
import { say } from "./say.js";
import { edit, job, set, state } from "./store.js";

/** @typedef {import("./types.js").Draft} Draft */
/** @typedef {import("./types.js").Pair} Pair */
/** @typedef {import("./types.js").Need} Need */
/** @typedef {import("./types.js").Kind} Kind */
/** @typedef {import("./types.js").Located} Located */

const KEPT_AS = () => `draft ${state.stored.folder} ${state.tour}`;

/** @param {string} name @returns {Kind|undefined} */
export const kindOf = (name) => state.choices.kinds.find((kind) => kind.name === name);

/** @param {Draft} draft @returns {Need|undefined} */
export const needOf = (draft) => kindOf(draft.kind)?.needs[draft.need];

/** @param {string} name */
export const featureKind = (name) =>
  state.choices.features.find((kind) => kind.name === name) ||
  { name, touches: 2, open: true, prompt: "Touch along it." };

/** @param {Draft} draft @returns {string[]} features found for the need that is asked for */
export const foundFor = (draft) => draft.roles[needOf(draft)?.role || ""] || [];

/** @param {Kind} kind */
export function begin(kind) {
  const last = job().features[job().features.length - 1];
  if (last) set({ plane: last.plane });
  put({ ...fresh(kind.needs[0].kinds[0]), kind: kind.name });
  set({ chosen: null, step: "point" });
}

/** @param {string} feature @returns {Draft} */
function fresh(feature) {
  return { kind: "", roles: {}, need: 0, feature, plane: state.plane, clicks: [], located: null, choice: null, problem: "" };
}

/** @param {Draft|null} draft */
function put(draft) {
  set({ draft });
  try {
    if (draft) sessionStorage.setItem(KEPT_AS(), JSON.stringify({ ...draft, located: null }));
    else sessionStorage.removeItem(KEPT_AS());
  } catch {
    // Without that room a reload begins the measurement anew; what was found is saved anyway.
  }
}

/** Go on after a reload with what was being pointed at. */
export async function goOn() {
  let draft;
  try {
    draft = JSON.parse(sessionStorage.getItem(KEPT_AS()) || "null");
  } catch {
    return;
  }
  if (!draft || !kindOf(draft.kind)) return;
  put(prune(draft));
  set({ step: "point" });
  await locate();
}

/**
 * Without features that are not in the job any more.
 * @param {Draft} draft
 * @returns {Draft}
 */
function prune(draft) {
  const names = new Set(job().features.map((feature) => feature.name));
  const roles = Object.fromEntries(
    Object.entries(draft.roles).map(([role, found]) => [role, found.filter((name) => names.has(name))]));
  const needs = kindOf(draft.kind)?.needs || [];
  const first = needs.findIndex((need) => (roles[need.role] || []).length < need.minimum);
  return { ...draft, roles, need: first === -1 ? draft.need : Math.min(first, draft.need) };
}

/** After an undo: what was undone is not waited for. */
export function afterUndo() {
  if (state.draft) put(prune(state.draft));
}

export function stop() {
  put(null);
}

/** @param {string} feature */
export function pointAt(feature) {
  if (state.draft) put({ ...state.draft, feature, clicks: [], located: null, choice: null, problem: "" });
}

/** @param {string} plane */
export async function lieOn(plane) {
  set({ plane });
  if (!state.draft) return;
  put({ ...state.draft, plane, located: null, choice: null });
  await locate();
}

/** Whether the plane may still be chosen: some kinds want all features on one. */
export function planeIsFree() {
  const draft = state.draft;
  if (!draft || !kindOf(draft.kind)?.one_plane) return true;
  return Object.values(draft.roles).every((names) => names.length === 0);
}

/** @type {Promise<void>} */
let touches = Promise.resolve();

/**
 * Touches wait for each other, so that a quick one never joins the edge before it.
 * @param {Pair} px
 */
export function touch(px) {
  touches = touches.then(() => touched(px)).catch((error) => say(String(error)));
  return touches;
}

/** @param {Pair} px */
async function touched(px) {
  const draft = state.draft;
  if (!draft) return;
  if (isAsked(draft)) return say("First say which of the edges is meant.");
  put({ ...draft, clicks: [...draft.clicks, px], choice: null, problem: "" });
  await locate();
  await settleIfClear();
}

/**
 * Take the last touch away.
 * @returns {boolean} whether there was one
 */
export function back() {
  const draft = state.draft;
  if (!draft || !draft.clicks.length) return false;
  put({ ...draft, clicks: draft.clicks.slice(0, -1), located: null, choice: null, problem: "" });
  void locate();
  return true;
}

/**
 * @param {number} index
 * @param {Pair} px
 */
export function moveTouch(index, px) {
  const draft = state.draft;
  if (!draft) return;
  const clicks = draft.clicks.map((click, k) => (k === index ? px : click));
  put({ ...draft, clicks, problem: "" });
  void locate();
}

/** @param {number} choice */
export async function chooseRival(choice) {
  const draft = state.draft;
  if (!draft) return;
  put({ ...draft, choice });
  await locate();
  await settleIfClear();
}

const latest = newest();

/** Ask for the feature under the touches; only the newest answer counts. */
async function locate() {
  const draft = state.draft;
  if (!draft || draft.clicks.length < featureKind(draft.feature).touches) return;
  const answer = await latest(() => find(featureTable(draft, "touched")));
  if (!answer || !state.draft || state.draft.clicks !== draft.clicks) return;
  put({ ...state.draft, ...answer });
}

/**
 * @param {import("./types.js").FeatureTable} feature
 * @returns {Promise<{located: Located|null, problem: string}>}
 */
export async function find(feature) {
  try {
    return { located: await api.touch(feature), problem: "" };
  } catch (error) {
    if (!(error instanceof Problem)) throw error;
    return { located: null, problem: error.message };
  }
}

/**
 * @param {Draft} draft
 * @param {string} name
 * @returns {import("./types.js").FeatureTable}
 */
function featureTable(draft, name) {
  return { name, kind: draft.feature, photo: state.photo, plane: draft.plane, clicks: draft.clicks, choice: draft.choice };
}

/** One edge, nothing to ask, and enough touches: on to the next. */
export async function settleIfClear() {
  const draft = state.draft;
  if (!draft || !draft.located || featureKind(draft.feature).open) return;
  if (isAsked(draft)) return;
  await keep();
}

/** The feature is the one that was meant. */
export async function keep() {
  const draft = state.draft;
  const need = draft && needOf(draft);
  if (!draft || !need || !draft.located) return;
  const name = numbered(draft.feature, job().features);
  const feature = featureTable(draft, name);
  if (!(await edit(addFeature(feature)))) return;
  say(`${name} found; residual ${residual(draft.located)}.`);
  await fillNeed(name);
}

/**
 * Whether it is to be said which of several edges is meant.
 * @param {Draft} draft
 */
export const isAsked = (draft) => Boolean(draft.located?.ask && draft.choice === null);

/**
 * An edge that fits, as on its flag in the picture.
 * @param {{number: number, words: string, offset_mm: number}} one
 */
export const edgeWords = ({ number, words, offset_mm: offset }) =>
  `No. ${number}: ${words === "edge" ? "" : `${words}${offset ? ", " : ""}`}${offset ? `${Math.abs(offset).toFixed(2)} mm beside` : ""}`;

/** @param {Located} located */
export const residual = (located) => `${located.spread_px.toFixed(2)} px (${located.spread_mm.toFixed(3)} mm)`;

/**
 * A feature for the need that is asked for, new or there before.
 * @param {string} name
 */
export async function fillNeed(name) {
  const draft = state.draft;
  const need = draft && needOf(draft);
  if (!draft || !need) return;
  const roles = { ...draft.roles, [need.role]: [...foundFor(draft), name] };
  const full = need.maximum !== null && roles[need.role].length >= need.maximum;
  const used = job().features.find((feature) => feature.name === name);
  const next = { ...draft, roles, plane: used ? used.plane : draft.plane, clicks: [], located: null, choice: null, problem: "" };
  put(next);
  if (full) await nextNeed();
}

/** On to the next need; after the last one the measurement is made. */
export async function nextNeed() {
  const draft = state.draft;
  const kind = draft && kindOf(draft.kind);
  if (!draft || !kind) return;
  const need = draft.need + 1;
  if (need < kind.needs.length) {
    put({ ...draft, need, feature: kind.needs[need].kinds.includes(draft.feature) ? draft.feature : kind.needs[need].kinds[0] });
    return;
  }
  const of = Object.fromEntries(Object.entries(draft.roles).filter(([, names]) => names.length));
  const name = numbered(kind.words, job().measurements);
  if (!(await edit(addMeasurement({ name, kind: kind.name, of, rules: [], note: "" })))) return;
  put(null);
  set({ chosen: { type: "measurement", name } });
}

// Correcting what is there ---------------------------------------------------------------

const newestMove = newest();

/**
 * A touch of a feature of the job is being dragged: show what would be found.
 * @param {string} name
 * @param {number} index
 * @param {Pair} px
 */
export async function dragTouch(name, index, px) {
  const feature = job().features.find((f) => f.name === name);
  if (!feature) return;
  const clicks = feature.clicks.map((click, k) => (k === index ? px : click));
  set({ moving: { name, clicks, located: state.moving?.located || null, problem: "" } });
  const answer = await newestMove(() => find({ ...feature, clicks, choice: null }));
  if (answer && state.moving?.clicks === clicks) set({ moving: { name, clicks, ...answer } });
}

/**
 * The dragged touch stays where it is, or goes back.
 * @param {boolean} stays
 */
export async function dropTouch(stays) {
  const moving = state.moving;
  if (moving && stays) await edit(changeFeature(moving.name, { clicks: moving.clicks, choice: null }));
  set({ moving: null });
}

/**
 * Of many questions only the newest is sent once the one on its way is answered.
 * @returns {<T>(ask: () => Promise<T>) => Promise<T|undefined>}
 */
function newest() {
  let busy = false;
  /** @type {null | (() => void)} */
  let next = null;
  return async (ask) => {
    if (busy) {
      const mine = await new Promise((resolve) => {
        if (next) /** @type {any} */ (next)(false);
        next = /** @type {any} */ (resolve);
      });
      if (mine === false) return undefined;
    }
    busy = true;
    try {
      return await ask();
    } finally {
      const waiting = /** @type {any} */ (next);
      next = null;
      if (waiting) waiting(true);
      else busy = false;
    }
  };
}
