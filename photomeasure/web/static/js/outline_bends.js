// Bend lines of a part: their ends touched in the picture or typed, and how they are bent.

import { api, Problem } from "./api.js";
import { open } from "./dialogs.js";
import { h } from "./dom.js";
import { beginHint } from "./hints.js";
import { editPart, photoOf } from "./parts.js";
import { say } from "./say.js";
import { state } from "./store.js";
import { choice, field, length, valueOf } from "./words.js";

/** @typedef {import("./types.js").PartTable} PartTable */
/** @typedef {import("./types.js").BendTable} BendTable */
/** @typedef {import("./types.js").Pair} Pair */

const WAYS = { up: "towards you", down: "away from you" };
const ENDS = /** @type {const} */ (["start", "end"]);

/** @param {PartTable} table */
export function bendsCard(table) {
  const bends = table.bends || [];
  return h("details", { id: "bends", class: "card" },
    h("summary", {}, `Bend lines (${bends.length})`),
    h("div", { class: "stack" },
      h("p", { class: "small soft" }, `Where the flat sheet is bent. Places are mm from the ${table.mirror ? "lower left corner of the part’s box as it lies in the photo, though the drawing shows its other side" : "corner with the axes x and y in the picture"}.`),
      bends.map((bend, k) => h("div", { class: "line" },
        h("span", {}, bendWords(bend, k)),
        h("button", { id: `bend-${k}`, "aria-label": `Change bend ${k + 1}`, onclick: () => void bendSheet(bend, k) }, "Change"))),
      h("div", { class: "row" },
        h("button", { id: "touch-bend", disabled: !photoOf(table), onclick: touchBend }, "Touch both ends"),
        h("button", { id: "type-bend", onclick: () => void bendSheet(null) }, "Type both ends"))));
}

/** @param {BendTable} bend @param {number} k */
const bendWords = (bend, k) =>
  `bend ${k + 1}: ${bend.angle ?? 90}° ${bend.up === false ? WAYS.down : WAYS.up}, from ${bend.start.join(", ")} to ${bend.end.join(", ")}`;

function touchBend() {
  const part = state.part;
  beginHint({ kind: "bend", count: 2, done: async (touches) => {
    try {
      const [start, end] = (await api.partPlaces(part, touches)).map(rounded);
      await bendSheet({ start, end, angle: 90, up: true, inside_radius: 1 });
    } catch (error) {
      if (!(error instanceof Problem)) throw error;
      say(error.message);
    }
  } });
}

/** @param {Pair} mm @returns {Pair} to a hundredth: a finger is no finer */
const rounded = ([x, y]) => [Math.round(x * 100) / 100, Math.round(y * 100) / 100];

/**
 * @param {BendTable|null} bend as it is or was touched
 * @param {number} [nth] of the one to be changed; none for a new one
 */
function bendSheet(bend, nth = -1) {
  const place = (/** @type {"start"|"end"} */ end, /** @type {number} */ axis) => field(
    `bend-${end}-${axis}`, `${end === "start" ? "From" : "To"} ${axis ? "y" : "x"}, mm`,
    { value: bend?.[end][axis] ?? "", required: true, inputmode: "decimal" });
  return open(nth < 0 ? "A bend line" : `Change bend ${nth + 1}`, (/** @type {(done: boolean) => void} */ close) => [
    h("form", { class: "stack", onsubmit: (/** @type {Event} */ event) => void keep(event, nth, close) },
      ENDS.map((end) => h("div", { class: "fields" }, place(end, 0), place(end, 1))),
      h("div", { class: "fields" },
        field("bend-angle", "Bent by, degrees", { value: bend?.angle ?? 90, required: true, inputmode: "decimal" }),
        choice("bend-way", "Bent", WAYS, bend?.up === false ? "down" : "up"),
        field("bend-radius", "Radius inside, mm", { value: bend?.inside_radius ?? 1, required: true, inputmode: "decimal" })),
      h("p", { id: "bend-said", hidden: true, class: "note", role: "alert" }),
      h("div", { class: "row" },
        h("button", { id: "keep-bend", class: "main" }, "Keep"),
        nth >= 0 && h("button", { id: "delete-bend", type: "button", onclick: () => void removeBend(nth).then(() => close(true)) }, "Delete"))),
  ]);
}

/** @param {string} id */
const number = (id) => Number(valueOf(id).replace(",", "."));

/**
 * @param {Event} event
 * @param {number} nth
 * @param {(done: boolean) => void} close
 */
async function keep(event, nth, close) {
  event.preventDefault();
  const [start, end] = ENDS.map((one) => /** @type {Pair} */ ([number(`bend-${one}-0`), number(`bend-${one}-1`)]));
  const made = { start, end, angle: number("bend-angle"), up: valueOf("bend-way") === "up", inside_radius: length(valueOf("bend-radius")) };
  const wrong = wrongBend(made);
  const said = /** @type {HTMLElement} */ (document.getElementById("bend-said"));
  [said.textContent, said.hidden] = [wrong, !wrong];
  if (wrong) return;
  const kept = await editPart((table) => {
    const bends = table.bends || [];
    return { ...table, bends: nth < 0 ? [...bends, made] : bends.map((one, k) => (k === nth ? made : one)) };
  });
  if (kept) close(true);
}

/** @param {BendTable} bend */
function wrongBend({ start, end, angle }) {
  if (![...start, ...end].every(Number.isFinite)) return "A place is typed as a number of mm, such as 12.5.";
  if (start[0] === end[0] && start[1] === end[1]) return "Both ends are the same place. Type two that lie apart.";
  return angle > 0 && angle < 180 ? "" : "A sheet is bent by more than 0° and less than 180°. Type such an angle.";
}

/** @param {number} nth */
const removeBend = (nth) => editPart((table) => ({ ...table, bends: (table.bends || []).filter((_, k) => k !== nth) }));
