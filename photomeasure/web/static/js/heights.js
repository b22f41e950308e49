// How high a face lies above the paper: what that means, what it is, and what looks wrong.

import { removePlane, setPlane } from "./changes.js";
import { open } from "./dialogs.js";
import { h, svg } from "./dom.js";
import { edit, job, state } from "./store.js";
import { field, length, note, valueOf } from "./words.js";

/** @typedef {import("./types.js").PlaneTable} PlaneTable */

const PICTURE = `<svg xmlns="http://www.w3.org/2000/svg" class="height-picture" viewBox="0 0 240 92" role="img" aria-label="A part lies on the paper, seen from the side. The height goes from the paper straight up to the face whose edge is touched.">
<path class="paper" d="M8 78H232"/><path class="part" d="M58 78V34h84v44zM142 78V54h46v24z"/>
<path class="dim" d="M40 76V36M34 34h20M206 76V56M192 54h20"/><path class="tip" d="M40 34l-3.4 8h6.8zM40 78l-3.4-8h6.8zM206 54l-3.4 8h6.8zM206 78l-3.4-8h6.8z"/>
<text x="14" y="60">high</text><text x="212" y="70">low</text><text x="70" y="29">top face</text><text x="146" y="49">step</text><text x="8" y="89">paper</text></svg>`;

/**
 * Ask for a new height.
 * @returns {Promise<string|undefined>} its name, once it is saved
 */
export const newHeight = () => heightSheet(null);

/**
 * Ask which height is meant, of those there are or a new one.
 * @returns {Promise<string|undefined>} its name
 */
export async function chooseHeight() {
  const planes = job().planes;
  if (!planes.length) return newHeight();
  const chosen = await open("How high does it lie?", (/** @type {(name: string) => void} */ close) => [
    h("div", { class: "stack" },
      planes.map((plane) => h("button", { onclick: () => close(plane.name) }, `${plane.name}: ${plane.height} mm`)),
      h("button", { id: "another-height", onclick: () => close("") }, "Another height")),
  ]);
  return chosen === "" ? newHeight() : chosen;
}

/**
 * @param {PlaneTable|null} plane to be changed; null for a new one
 * @returns {Promise<string|undefined>}
 */
function heightSheet(plane) {
  return open(plane ? `Height of ${plane.name}` : "How high does it lie?", (/** @type {(name: string) => void} */ close) => [
    svg(PICTURE),
    h("p", {}, "Measured with a caliper, straight up from the paper to the face whose edge you touch. A millimetre too much or too little makes about half a percent."),
    h("form", { class: "stack", onsubmit: (/** @type {Event} */ event) => void keep(event, plane, close) },
      field("height-name", "What you call it", { value: plane?.name || "", maxlength: 80, required: true, placeholder: "top of the cover" }),
      h("div", { class: "fields" },
        field("height-mm", "Height, mm", { value: plane ? String(plane.height) : "", required: true, inputmode: "decimal", placeholder: "8.0" }),
        field("height-pm", "± mm", { value: plane ? String(plane.plus_minus) : "0.2", required: true, inputmode: "decimal" }, "off by no more, 19 times in 20")),
      besideCard(plane),
      h("p", { id: "height-said", class: "note", hidden: true }),
      h("div", { class: "row" },
        h("button", { class: "main" }, "Keep"),
        plane && !isUsed(plane.name) && h("button", { type: "button", onclick: () => void edit(removePlane(plane.name)).then(() => close("")) }, "Delete"))),
  ]);
}

/**
 * Where several sheets or cards are seen: which one it is measured from, and where its walls end.
 * @param {PlaneTable|null} plane
 */
function besideCard(plane) {
  const seen = [...new Set((state.results?.photos || []).flatMap((p) => p.views.map((v) => v.sheet)))];
  if (seen.length < 2 && !plane?.on && plane?.depth == null) return null;
  return h("div", { class: "fields" },
    h("label", { class: "field" }, "Measured from",
      h("select", { id: "height-on" },
        h("option", { value: "" }, "the sheet around the part"),
        [...new Set([...seen, ...(plane?.on ? [plane.on] : [])])].map((s) => h("option", { value: s, selected: s === plane?.on }, s)))),
    field("height-depth", "Walls below it, mm", { value: plane?.depth == null ? "" : String(plane.depth), inputmode: "decimal" }, "how thick the part is there, beside a card"));
}

/** @param {string} plane */
const isUsed = (plane) => job().features.some((f) => f.plane === plane);

/**
 * @param {Event} event
 * @param {PlaneTable|null} plane
 * @param {(name: string) => void} close
 */
async function keep(event, plane, close) {
  event.preventDefault();
  const name = valueOf("height-name");
  const height = length(valueOf("height-mm"));
  const depth = valueOf("height-depth");
  const made = {
    ...plane, name, height, plus_minus: length(valueOf("height-pm")),
    depth: depth ? length(depth) : null, on: valueOf("height-on") || null,
  };
  const said = document.getElementById("height-said");
  const wrong = sense(height);
  const again = /** @type {HTMLElement} */ (said).dataset.said === String(height);
  if (wrong && said && !again) {
    said.hidden = false;
    said.dataset.said = String(height);
    said.textContent = `${wrong} Keep again if it is right.`;
    return;
  }
  if (await edit(setPlane(made, plane?.name || ""))) close(name);
}

/**
 * What looks wrong about a height, against where the camera stood.
 * @param {number|string} height
 * @returns {string}
 */
function sense(height) {
  const mm = Number(height);
  if (!Number.isFinite(mm)) return "";
  const camera = Math.min(...(state.results?.photos || []).flatMap((p) => p.views.map((v) => v.camera_height_mm)));
  if (Number.isFinite(camera) && mm > camera / 3) {
    return `${mm} mm is more than a third of the way up to the camera (${camera.toFixed(0)} mm). Is the unit right?`;
  }
  if (mm < 0) return `${mm} mm lies below the paper. That is right only where the paper lies on a higher face.`;
  if (mm > 150) return `${mm} mm is very high for a part in the sheet's window. Is the unit right?`;
  return "";
}

/** The heights of the job, with what looks wrong about them. */
export function heightsList() {
  const planes = job().planes;
  return h("details", { id: "heights", class: "card" },
    h("summary", {}, `Heights above the paper (${planes.length})`),
    h("div", { class: "heights" },
      svg(PICTURE),
      planes.map((plane) => h("div", {},
        h("div", { class: "line" },
          h("span", {}, `${plane.name}: ${plane.height} ± ${plane.plus_minus} mm`),
          h("button", { id: `height-${plane.name}`, "aria-label": `Change the height of ${plane.name}`, onclick: () => void heightSheet(plane) }, "Change")),
        sense(plane.height) && note(sense(plane.height)))),
      h("button", { id: "new-height", onclick: () => void newHeight() }, "Add a height")));
}
