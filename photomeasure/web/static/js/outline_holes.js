// The holes of a part: how large they shall be made, and what goes through them.

import { confirmed } from "./dialogs.js";
import { h } from "./dom.js";
import { editPart } from "./parts.js";
import { set, state } from "./store.js";
import { choice, field, length, valueOf } from "./words.js";

/** @typedef {import("./types.js").PartTable} PartTable */
/** @typedef {import("./types.js").OutlineAnswer} OutlineAnswer */
/** @typedef {import("./types.js").HoleAnswer} HoleAnswer */

const NEAR = 0.15; // how far a standard size may be off the hole, as a share of it

/** @param {PartTable} table @param {OutlineAnswer} answer */
export function holesCard(table, answer) {
  const { holes, openings } = answer;
  if (!holes.length && !openings.length) return null;
  return h("div", { class: "card" },
    h("h3", {}, `Holes (${holes.length})`),
    holes.length > 0 && h("p", { class: "small soft" }, "mm from the corner with the axes x and y in the picture"),
    holes.map((hole) => holeLine(hole, table)),
    openings.length > 0 && h("p", { class: "small" }, `Openings of their own shape: ${openings.join(", ")}.`),
    shapedLines(table));
}

/** @param {HoleAnswer} hole @param {PartTable} table */
function holeLine(hole, table) {
  const said = (table.holes || []).find((one) => one.name === hole.name);
  const [x, y] = hole.at_mm;
  return h("details", { id: `hole-${hole.name}` },
    h("summary", { onclick: () => setTimeout(() => set({ chosen: { type: "hole", name: hole.name } })) }, h("span", {}, h("b", {}, hole.name), ` ${hole.callout}`, h("span", { class: "soft small" }, ` at ${x.toFixed(2)}, ${y.toFixed(2)}`))),
    h("div", { class: "stack" },
      h("p", { class: "small soft" }, hole.measured),
      hole.diameter_mm !== null && h("form", { class: "stack", onsubmit: (/** @type {Event} */ event) => void keepHole(event, hole) },
        fits(hole, said?.fit || ""),
        h("div", { class: "fields" },
          field(`diameter-${hole.name}`, "To be made Ø, mm", { value: said?.diameter ?? "", inputmode: "decimal" }, "empty: as measured"),
          field(`thread-${hole.name}`, "Thread to be cut", { value: said?.thread || "", maxlength: 40, placeholder: "M6" }, "empty: none")),
        h("button", {}, "Keep"))));
}

/**
 * The standard clearance holes of about its size; the one that is chosen fills in the diameter.
 * @param {HoleAnswer} hole
 * @param {string} said
 */
function fits(hole, said) {
  const size = Number(hole.diameter_mm);
  const near = state.choices.clearances.filter((one) => Math.abs(one.diameter_mm - size) <= NEAR * size);
  if (!near.length && !said) return null;
  const words = near.map((one) => [one.name, `${one.name}: Ø ${one.diameter_mm} mm`]);
  const options = { "": "nothing standard", ...(said ? { [said]: said } : {}), ...Object.fromEntries(words) };
  const picked = choice(`fit-${hole.name}`, "A screw goes through it", options, said);
  picked.addEventListener("change", () => {
    const fit = near.find((one) => one.name === valueOf(`fit-${hole.name}`));
    const diameter = /** @type {HTMLInputElement} */ (document.getElementById(`diameter-${hole.name}`));
    diameter.value = fit ? String(fit.diameter_mm) : "";
  });
  return picked;
}

/** @param {Event} event @param {HoleAnswer} hole */
async function keepHole(event, hole) {
  event.preventDefault();
  const { name } = hole;
  const text = valueOf(`diameter-${name}`);
  const diameter = text ? length(text) : null;
  const [thread, fit] = [valueOf(`thread-${name}`), valueOf(`fit-${name}`)];
  const off = diameter === null ? 0 : Math.abs(Number(diameter) - Number(hole.diameter_mm));
  const far = off > Math.max(hole.plus_minus_mm, 0.005);
  if (far && !(await confirmed("The photo speaks against it", `${name}: ${hole.measured} mm, but ${diameter} mm was typed. Take it only if you know better, for example from a caliper.`, "Take it all the same"))) return;
  await editPart((table) => {
    const others = (table.holes || []).filter((one) => one.name !== name);
    const unconfirmed = (table.confirmed || []).filter((one) => one !== name);
    return {
      ...table,
      holes: text || thread || fit ? [...others, { name, diameter, thread, fit }] : others,
      confirmed: far ? [...unconfirmed, name] : unconfirmed,
    };
  });
}

/**
 * What was said of holes, where it cannot be taken.
 * @param {PartTable} table
 */
export const saidHoles = (table) => (table.holes || []).map((hole) => h("div", { class: "line" },
  h("span", {}, `${hole.name}: ${[hole.diameter && `Ø ${hole.diameter} mm`, hole.thread, hole.fit].filter(Boolean).join(", ")}`),
  h("button", { id: `unsay-${hole.name}`, onclick: () => void editPart((now) => ({ ...now, holes: (now.holes || []).filter((one) => one.name !== hole.name) })) }, "As measured")));

/**
 * An opening that looks like a hole with dirt in it: the person says that it is shaped so.
 * @param {PartTable} table
 * @param {string} problem
 */
export function coveredOpenings(table, problem) {
  const named = [...new Set(problem.match(/\bopening \d+\b/g) || [])].filter((name) => !(table.shaped || []).includes(name));
  return h("div", { class: "stack" },
    named.map((name) => h("button", { id: `shaped-${name}`, onclick: () => void editPart((now) => ({ ...now, shaped: [...(now.shaped || []), name] })) }, `Nothing lies in it: ${name} is shaped so`)),
    shapedLines(table));
}

/** @param {PartTable} table */
const shapedLines = (table) => (table.shaped || []).map((name) => h("div", { class: "line" },
  h("span", {}, `${name}: outlined as it is, though it is nearly round`),
  h("button", { id: `unshaped-${name}`, onclick: () => void editPart((now) => ({ ...now, shaped: (now.shaped || []).filter((one) => one !== name) })) }, "Treat it as a hole")));
