// Parts to be made: their text, saved as the job is, and their outlines as the program finds them.

import { api, Problem } from "./api.js";
import { keepScale, scaleTouches } from "./scales.js";
import { say } from "./say.js";
import { job, keep, set, state } from "./store.js";

/** @typedef {import("./types.js").PartStored} PartStored */
/** @typedef {import("./types.js").PartTable} PartTable */

const LOOK_MS = 400;

/** The part that is looked at. @returns {PartStored|undefined} */
export const openedPart = () => state.parts.find((p) => p.part === state.part);

/** @param {PartTable} table */
export const photoOf = (table) => job().photos.find((p) => p.file === table.photo);

/** Read all parts. */
export async function loadParts() {
  const parts = await api.parts();
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
  if (made && table.opening) beginHint("inside"); // an opening is found by a touch in it
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
  const before = state.outline?.part === part ? state.outline.answer : null;
  let done = false;
  const show = (/** @type {string} */ words) => {
    if (done || state.part !== part) return;
    // Whatever is set draws the panels anew, under a finger, too: only where there is news.
    if (state.outline?.part === part && state.outline.words === words) return;
    set({ outline: { part, answer: before, problem: "", words } });
  };
  show("beginning");
  const timer = setInterval(() => void api.doing(part).then((words) => words && show(words), () => {}), LOOK_MS);
  const found = { part, answer: before, problem: "", words: "" };
  try {
    found.answer = await api.outline(part);
  } catch (error) {
    if (!(error instanceof Problem)) throw error;
    [found.answer, found.problem] = [null, error.message];
  } finally {
    done = true;
    clearInterval(timer);
  }
  if (state.part === part && !again) set({ outline: found });
}

// Pointing out where the part is ------------------------------------------------------------

/** @param {"inside"|"outside"|"stroke"} kind */
export function beginHint(kind) {
  set({ hint: { kind, touches: [] } });
  document.getElementById("drawing")?.focus({ preventScroll: true }); // so that keys aim at once
}

export function stopHint() {
  set({ hint: null });
}

/** @param {import("./types.js").Pair} px */
export async function hintAt(px) {
  const hint = state.hint;
  if (!hint) return;
  if (hint.scale) return touchScale(hint.scale, [...hint.touches, px]);
  if (hint.kind === "stroke") return set({ hint: { ...hint, touches: [...hint.touches, px] } });
  set({ hint: null });
  const kind = hint.kind === "outside" ? "outside" : "inside";
  await editPart((table) => ({ ...table, [kind]: [...(table[kind] || []), px] }));
}

/**
 * @param {import("./types.js").ScaleTable} scale
 * @param {import("./types.js").Pair[]} touches
 */
async function touchScale(scale, touches) {
  const full = touches.length >= scaleTouches(scale);
  set({ hint: full ? null : { kind: "scale", scale, touches } });
  if (full) await keepScale(scale, touches);
}

/** @returns {boolean} whether there was a touch to take away */
export function backHint() {
  const hint = state.hint;
  if (!hint || !hint.touches.length) return false;
  set({ hint: { ...hint, touches: hint.touches.slice(0, -1) } });
  return true;
}

export async function keepStroke() {
  const touches = state.hint?.touches || [];
  set({ hint: null });
  await editPart((table) => ({ ...table, strokes: [...(table.strokes || []), touches] }));
}

/**
 * @param {"inside"|"outside"|"strokes"} kind
 * @param {number} index
 */
export const removeHint = (kind, index) => editPart((table) => ({
  ...table, [kind]: (/** @type {any[]} */ (table[kind] || [])).filter((_, k) => k !== index),
}));
