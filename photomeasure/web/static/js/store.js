// What the page knows, and the one way to change the job: saved at once, or said that it is not.

import { api, Problem } from "./api.js";
import { chooseVersion } from "./dialogs.js";
import { say } from "./say.js";

/** @typedef {import("./types.js").State} State */
/** @typedef {import("./types.js").Stored} Stored */
/** @typedef {import("./changes.js").Change} Change */

/** @type {State} */
export const state = {
  stored: { revision: "", folder: "", job: null, problem: "", undo: 0, redo: 0 },
  choices: /** @type {any} */ (null),
  results: null,
  verdicts: {},
  step: "print",
  photo: "",
  flat: false,
  grid: false,
  plane: "sheet",
  chosen: null,
  draft: null,
  moving: null,
  saved: "saved",
  unsaved: "",
  working: false,
  adding: [],
  tour: location.pathname.endsWith("/sample/"),
};

/** @type {Set<() => void>} */
const listeners = new Set();
let pending = false;

/** @param {() => void} listener */
export const subscribe = (listener) => listeners.add(listener);

/**
 * Change what the page knows; everything that shows it follows.
 * @param {Partial<State>} facts
 */
export function set(facts) {
  Object.assign(state, facts);
  if (pending) return;
  pending = true;
  queueMicrotask(() => {
    pending = false;
    for (const listener of listeners) listener();
  });
}

/** The job as it stands; an empty one where there is none yet. */
export function job() {
  return state.stored.job || {
    title: state.stored.folder || "Fit-up", unit: "mm", position: "", hazards: [], note: "",
    photos: [], prints: [], planes: [], features: [], measurements: [], rules: [], checks: [],
  };
}

/** @type {Promise<void>} */
let queue = Promise.resolve();
/** @type {Change|null} */
let waiting = null;

/**
 * Change the job. Changes wait for each other; each is on the disk before the next begins.
 * @param {Change} change
 * @returns {Promise<boolean>} whether it was saved
 */
export function edit(change) {
  const done = queue.then(() => saved(change));
  queue = done.then(() => {}, () => {});
  return done;
}

/**
 * @param {Change} change
 * @returns {Promise<boolean>}
 */
async function saved(change) {
  set({ saved: "saving" });
  try {
    take(await api.save(state.stored.revision, change(job())));
    waiting = null;
    set({ saved: "saved", unsaved: "" });
    return true;
  } catch (error) {
    if (!(error instanceof Problem)) throw error;
    if (error.status === 409 && error.stored) return settle(change, error);
    return notSaved(change, error);
  }
}

/**
 * Somebody else changed the job: show that it is so, and let the person say what happens.
 * @param {Change} change
 * @param {Problem} error
 */
async function settle(change, error) {
  take(/** @type {Stored} */ (error.stored));
  set({ saved: "not", unsaved: error.message });
  if (await chooseVersion()) return saved(change);
  set({ saved: "saved", unsaved: "" });
  return false;
}

/**
 * @param {Change} change
 * @param {Problem} error
 */
function notSaved(change, error) {
  const lost = error.status === 0;
  waiting = lost ? change : null;
  set({ saved: lost ? "not" : "saved", unsaved: lost ? error.message : "" });
  say(error.message);
  return false;
}

/** Try again what was not saved because the program did not answer. */
export async function tryAgain() {
  const change = waiting;
  if (!change) return refresh();
  try {
    take(await api.job());
  } catch (error) {
    if (error instanceof Problem) say(error.message);
    return;
  }
  await edit(change);
}

/**
 * One step back or forward in everything that was ever saved.
 * @param {"undo"|"redo"} way
 */
export function step(way) {
  const done = queue.then(async () => {
    try {
      take(await api.step(way, state.stored.revision));
      say(way === "undo" ? "Undone." : "Done again.");
    } catch (error) {
      if (!(error instanceof Problem)) throw error;
      if (error.stored) take(error.stored);
      say(error.message);
    }
  });
  queue = done.then(() => {}, () => {});
  return done;
}

/**
 * The job as the program gave it; what follows from it is asked for.
 * @param {Stored} stored
 */
export function take(stored) {
  const names = (stored.job?.photos || []).map((p) => p.name);
  const planes = ["sheet", ...(stored.job?.planes || []).map((p) => p.name)];
  set({
    stored,
    photo: names.includes(state.photo) ? state.photo : names[0] || "",
    plane: planes.includes(state.plane) ? state.plane : "sheet",
  });
  void workOut();
}

let asked = 0;

/** Ask for every number; only the last answer counts. */
async function workOut() {
  const mine = (asked += 1);
  if (!state.stored.job?.photos.length) return set({ results: null, working: false });
  set({ working: true });
  try {
    const results = await api.results();
    if (mine === asked) set({ results, working: false });
  } catch (error) {
    if (mine === asked) set({ working: false });
    if (error instanceof Problem && error.status !== 0) say(error.message);
  }
}

/** Look whether the job was changed elsewhere. */
export async function refresh() {
  try {
    const revision = await api.revision();
    if (state.saved === "not" && !waiting) set({ saved: "saved", unsaved: "" });
    if (revision === state.stored.revision || state.saved === "saving") return;
    take(await api.job());
    say("The job was changed elsewhere; this is how it is now.");
  } catch (error) {
    if (error instanceof Problem && error.status === 0) {
      set({ saved: "not", unsaved: error.message });
    }
  }
}
