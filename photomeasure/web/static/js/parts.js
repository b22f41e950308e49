// Parts to be made: their text, saved as the job is, and their outlines as the program finds them.

import { api, Problem } from "./api.js";
import { showDoing } from "./doing.js";
import { beginHint } from "./hints.js";
import { say } from "./say.js";
import { job, keep, set, state } from "./store.js";

/** @typedef {import("./types.js").PartStored} PartStored */
/** @typedef {import("./types.js").PartTable} PartTable */

const LOOK_MS = 400;

/** How often a part was taken as the program saved it: what was asked for before may be old. */
let taken = 0;

/** The part that is looked at. @returns {PartStored|undefined} */
export const openedPart = () => state.parts.find((p) => p.part === state.part);

/** @param {PartTable} table */
export const photoOf = (table) => job().photos.find((p) => p.file === table.photo);

/** Read all parts. */
export async function loadParts() {
  const before = taken;
  const parts = await api.parts();
  if (before !== taken) return;
  const gone = state.parts.filter((p) => p.part === state.part && !parts.some((q) => q.part === p.part));
  const changed = parts.some((p) => p.part === state.part && p.revision !== openedPart()?.revision);
  const now = [...parts, ...gone.map((p) => ({ ...p, table: null, revision: "" }))];
  if (JSON.stringify(now) !== JSON.stringify(state.parts)) set({ parts: now });
  if (changed) void outlineNow();
}

/** Parts changed elsewhere are followed, as the job is. */
export async function refreshParts() {
  if (state.saved === "saving" || !state.parts.length) return;
  await loadParts().catch((error) => {
    if (!(error instanceof Problem)) throw error; // the job's own look says that nothing answers
  });
}

/** @param {string} part "" to go back to the list */
export function openPart(part) {
  set({ part, hint: null, chosen: null, draft: null, step: "point" });
  const table = openedPart()?.table;
  const photo = table && photoOf(table);
  if (photo) set({ photo: photo.name });
  if (table) void outlineNow();
}

/** @param {PartStored} stored */
function takePart(stored) {
  taken += 1;
  const others = state.parts.filter((p) => p.part !== stored.part);
  const parts = [...others, stored].sort((a, b) => a.part.length - b.part.length || (a.part < b.part ? -1 : 1));
  set({ parts });
  if (stored.part === state.part) void outlineNow();
}

/**
 * A new part in the first place that is free.
 * @param {PartTable} table
 */
export async function addPart(table) {
  const taken = new Set((await api.parts()).map((p) => p.part));
  let part = "part";
  for (let k = 2; taken.has(part); k += 1) part = `part-${k}`;
  const made = await keep({
    save: async () => takePart(await api.savePart(part, "", table)),
    took: takePart,
    again: loadParts,
  });
  if (made) openPart(part);
  if (made && table.opening) pointOut("inside"); // an opening is found by a touch in it
  return made;
}

/**
 * Change the part that is looked at.
 * @param {(table: PartTable) => PartTable} change
 */
export function editPart(change) {
  const part = state.part;
  const now = () => /** @type {PartStored} */ (state.parts.find((p) => p.part === part));
  return keep({
    save: async () => {
      const { table, revision, problem } = now();
      if (!table) return say(problem || "The part was deleted.");
      takePart(await api.savePart(part, revision, change(table)));
    },
    took: takePart,
    again: loadParts,
  });
}

/** @param {"undo"|"redo"|"remove"} way */
export async function stepPart(way) {
  const { part, revision } = /** @type {PartStored} */ (openedPart());
  await keep({
    save: async () => {
      takePart(await api.stepPart(way, part, revision));
      say({ undo: "Undone.", redo: "Done again.", remove: "Deleted. Undo brings it back." }[way]);
    },
    took: takePart,
    again: loadParts,
  });
}

let [running, again] = [false, false];

/** Find the outline of the part that is looked at; while one is being found the newest waits. */
export async function outlineNow() {
  again = true;
  if (running) return;
  running = true;
  try {
    while (again) {
      again = false;
      await outlineOnce();
    }
  } finally {
    running = false;
  }
}

async function outlineOnce() {
  const part = state.part;
  if (!openedPart()?.table) return set({ outline: null });
  if (state.outline?.part !== part) set({ outline: { part, answer: null, problem: "", words: "" } });
  const tell = (/** @type {string} */ words) => {
    if (state.outline?.part !== part || state.part !== part) return;
    state.outline.words = words; // the panels stay as they are, under a finger, too
    showDoing(words);
  };
  tell("beginning");
  let over = false;
  const timer = setInterval(() => void api.doing(part).then((words) => !over && words && tell(words), () => {}), LOOK_MS);
  const found = await outlineOf(part);
  over = true;
  clearInterval(timer);
  if (state.part === part && !again) set({ outline: found });
}

/** @param {string} part @returns {Promise<NonNullable<import("./types.js").State["outline"]>>} */
async function outlineOf(part) {
  try {
    return { part, answer: await api.outline(part), problem: "", words: "" };
  } catch (error) {
    if (!(error instanceof Problem)) throw error;
    return { part, answer: null, problem: error.message, words: "" };
  }
}

// Pointing out where the part is ------------------------------------------------------------

/** @param {"inside"|"outside"|"stroke"} kind */
export function pointOut(kind) {
  if (kind === "stroke") return beginHint({ kind, count: 0, done: (touches) => addHint("strokes", touches) });
  beginHint({ kind, count: 1, done: ([px]) => addHint(kind, px) });
}

/** @param {"inside"|"outside"|"strokes"} key @param {any} made */
const addHint = (key, made) => editPart((table) => ({ ...table, [key]: [...(table[key] || []), made] }));

/**
 * @param {"inside"|"outside"|"strokes"} kind
 * @param {number} index
 */
export const removeHint = (kind, index) => editPart((table) => ({
  ...table, [kind]: (/** @type {any[]} */ (table[kind] || [])).filter((_, k) => k !== index),
}));
