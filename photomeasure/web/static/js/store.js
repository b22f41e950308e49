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
  unworked: "",
  adding: [],
  parts: [],
  part: "",
  outline: null,
  hint: null,
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
  // Not before the event is over: a Tab that changed a field is yet to move on to the next one.
  setTimeout(() => {
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
/** @type {Task|null} */
let waiting = null;
/** How often the person kept what another one saved; what was queued before goes with it. */
let kept = 0;
/** How often an answer of the program was taken: what was asked for before the last one may be old. */
let taken = 0;

/**
 * Something to be saved. took : shows what another one saved; again : reads what stands now.
 * @typedef {{save: () => Promise<void>, took: (stored: any) => void, again: () => Promise<void>}} Task
 */

/**
 * Change the job.
 * @param {Change} change
 * @returns {Promise<boolean>} whether it was saved
 */
export const edit = (change) => keep({
  save: async () => take(await api.save(state.stored.revision, change(job()))),
  took: take,
  again: async () => take(await api.job()),
});

/**
 * Changes wait for each other; each is on the disk before the next begins.
 * @param {Task} task
 * @returns {Promise<boolean>} whether it was saved
 */
export function keep(task) {
  const before = kept;
  const done = queue.then(() => before === kept && saved(task));
  queue = done.then(() => {}, () => {});
  return done;
}

/**
 * @param {Task} task
 * @returns {Promise<boolean>}
 */
async function saved(task) {
  set({ saved: "saving" });
  try {
    await task.save();
    waiting = null;
    set({ saved: "saved", unsaved: "" });
    return true;
  } catch (error) {
    if (!(error instanceof Problem)) throw error;
    if (error.status === 409 && error.stored) return settle(task, error);
    return notSaved(task, error);
  }
}

/**
 * Somebody else changed it: show that it is so, and let the person say what happens.
 * @param {Task} task
 * @param {Problem} error
 */
async function settle(task, error) {
  task.took(error.stored);
  set({ saved: "not", unsaved: error.message });
  if (await chooseVersion()) return saved(task);
  kept += 1;
  set({ saved: "saved", unsaved: "" });
  return false;
}

/**
 * @param {Task} task
 * @param {Problem} error
 */
function notSaved(task, error) {
  const lost = error.status === 0;
  waiting = lost ? task : null;
  set({ saved: lost ? "not" : "saved", unsaved: lost ? error.message : "" });
  say(error.message);
  return false;
}

/** Try again what was not saved because the program did not answer. */
export async function tryAgain() {
  const task = waiting;
  if (!task) return refresh();
  try {
    await task.again();
  } catch (error) {
    if (error instanceof Problem) say(error.message);
    return;
  }
  await keep(task);
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
      if (error.stored) take(/** @type {Stored} */ (error.stored));
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
  taken += 1;
  const names = (stored.job?.photos || []).map((p) => p.name);
  const planes = ["sheet", ...(stored.job?.planes || []).map((p) => p.name)];
  const judgedAlike = scaleOf(stored) === scaleOf(state.stored);
  set({
    stored,
    verdicts: judgedAlike ? state.verdicts : {},
    photo: names.includes(state.photo) ? state.photo : names[0] || "",
    plane: planes.includes(state.plane) ? state.plane : "sheet",
  });
  void workOut();
}

/**
 * What the verdict of a photo rests on besides the photo.
 * @param {Stored} stored
 */
export const scaleOf = ({ job: said }) => JSON.stringify([said?.prints || [], said?.scales || []]);

let asked = 0;

/** Ask for every number; only the last answer counts. */
async function workOut() {
  const mine = (asked += 1);
  if (!state.stored.job?.photos.length) return set({ results: null, working: false });
  set({ working: true });
  try {
    const results = await api.results();
    if (mine === asked) set({ results, working: false, unworked: "" });
  } catch (error) {
    if (!(error instanceof Problem)) throw error;
    if (mine === asked) set({ working: false, unworked: error.message });
    if (error.status !== 0) say(error.message);
  }
}

/** Look whether the job was changed elsewhere. */
export async function refresh() {
  const before = taken;
  try {
    const revision = await api.revision();
    if (state.saved === "not" && !waiting) set({ saved: "saved", unsaved: "" });
    if (revision === state.stored.revision || state.saved === "saving" || before !== taken) return;
    const stored = await api.job();
    if (before !== taken) return;
    take(stored);
    say("The job was changed elsewhere; this is how it is now.");
  } catch (error) {
    if (error instanceof Problem && error.status === 0) {
      set({ saved: "not", unsaved: error.message });
    }
  }
}
