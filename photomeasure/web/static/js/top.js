// The head of the page: title, whether all is saved, undo and redo; and the four steps.

import { byId, drawn, fill, h } from "./dom.js";
import { backHint } from "./hints.js";
import { openedPart, stepPart } from "./parts.js";
import { afterUndo, back } from "./pointing.js";
import { job, set, state, step, tryAgain } from "./store.js";

export const STEPS = [
  { name: "print", words: "Print" },
  { name: "photograph", words: "Photograph" },
  { name: "point", words: "Point" },
  { name: "report", words: "Report" },
];

export function showTop() {
  const { undo, redo } = (state.part && openedPart()) || state.stored;
  const saved = { saved: "All saved", saving: "Saving …", not: "Not saved" }[state.saved];
  fill(byId("top"),
    h("div", { class: "title" },
      h("h1", {}, job().title),
      h("span", { id: "saved", class: state.saved === "not" ? "not" : "", role: "status", title: state.unsaved }, state.working && state.saved === "saved" ? "All saved, working out the numbers …" : saved)),
    h("span", { class: "space" }),
    state.saved === "not" && h("button", { id: "again", class: "main", onclick: () => void tryAgain() }, "Try again"),
    h("button", { id: "undo", class: "icon", "aria-label": "Undo", title: "Undo", disabled: !undo && !state.draft?.clicks.length && !state.hint?.touches.length, onclick: () => void undoOne() }, drawn("M9 7L4 12l5 5M4 12h10a6 6 0 0 1 6 6")),
    h("button", { id: "redo", class: "icon", "aria-label": "Redo", title: "Redo", disabled: !redo, onclick: () => void redoOne() }, drawn("M15 7l5 5-5 5M20 12H10a6 6 0 0 0-6 6")));
  fill(byId("steps"), STEPS.map(({ name, words }) => h("button", {
    id: `step-${name}`, "aria-current": state.step === name ? "step" : null, onclick: () => set({ step: name }),
  }, words)));
}

/** The last touch of what is being pointed at, else the last change of the job. */
export async function undoOne() {
  if (backHint() || back()) return;
  if (state.part) return stepPart("undo");
  await step("undo");
  afterUndo();
}

export async function redoOne() {
  if (state.part) return stepPart("redo");
  await step("redo");
  afterUndo();
}
