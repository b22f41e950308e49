// Things of known size, where no print can lie in the plane: which thing, then its corners.

import { addScale, removeScale } from "./changes.js";
import { open } from "./dialogs.js";
import { h } from "./dom.js";
import { beginHint } from "./hints.js";
import { edit, job, set, state } from "./store.js";
import { field, length, valueOf } from "./words.js";

/** @typedef {import("./types.js").ScaleTable} ScaleTable */

const SIZES = { width: "One side, mm", height: "The other side, mm", length: "Distance, mm" };

/** The things of known size of the job. */
export function scalesList() {
  const scales = job().scales || [];
  return h("details", { id: "scales", class: "card" },
    h("summary", {}, `Things of known size (${scales.length})`),
    h("div", { class: "stack" },
      h("p", { class: "small soft" }, "Where no sheet or card can lie in the plane, a bank card, a sheet of paper or a length that you measured gives the scale, with a wider ±."),
      scales.map((scale, k) => h("div", { class: "line" },
        h("span", {}, scaleWords(scale)),
        h("button", { id: `scale-${k}`, "aria-label": `Remove the ${scale.kind} in ${scale.photo}`, onclick: () => void edit(removeScale(k)) }, "Remove"))),
      h("button", { id: "new-scale", disabled: !state.photo, onclick: () => void newScale() }, "Point at one")));
}

/** @param {ScaleTable} scale */
function scaleWords(scale) {
  const sizes = [scale.width, scale.height, scale.length].filter((size) => size != null).join(" x ");
  return `${scale.kind}${sizes && ` ${sizes} ± ${scale.plus_minus} mm`} in ${scale.photo}`;
}

/** Which thing it is; then its corners are touched. */
async function newScale() {
  const scale = await open("A thing of known size", (/** @type {(scale: ScaleTable) => void} */ close) => {
    const more = h("div", { class: "fields" });
    const show = (/** @type {string} */ kind) => more.replaceChildren(...sizeFields(kind));
    show(state.choices.scales[0].name);
    return [
      h("p", {}, "It lies in the photo, in the plane of what is measured or level with it."),
      h("form", { class: "stack", onsubmit: (/** @type {Event} */ event) => {
        event.preventDefault();
        close(typedScale());
      } },
        h("label", { class: "field" }, "What it is",
          h("select", { id: "scale-kind", onchange: (/** @type {any} */ event) => show(event.target.value) },
            state.choices.scales.map((kind) => h("option", { value: kind.name }, kind.words)))),
        more,
        h("button", { class: "main", id: "scale-touch" }, "Now touch it")),
    ];
  });
  if (!scale) return;
  set({ flat: false });
  beginHint({ kind: "scale", scale, count: scaleKind(scale.kind).touches, done: (clicks) => edit(addScale({ ...scale, clicks })) });
}

/** @param {string} name */
const scaleKind = (name) => /** @type {import("./types.js").Choices["scales"][0]} */ (state.choices.scales.find((kind) => kind.name === name));

/** @param {string} name */
function sizeFields(name) {
  const needs = scaleKind(name).needs;
  if (!needs.length) return [];
  const number = (/** @type {string} */ id, /** @type {string} */ label) => field(id, label, { required: true, inputmode: "decimal" });
  const ends = h("label", { class: "field" }, "It runs between",
    h("select", { id: "scale-ends" }, h("option", { value: "point" }, "two points"), h("option", { value: "circle" }, "middles of round holes")));
  return [
    ...needs.map((need) => number(`scale-${need}`, SIZES[/** @type {keyof typeof SIZES} */ (need)])),
    number("scale-pm", "± mm"), ...(needs.includes("length") ? [ends] : []),
  ];
}

/** @returns {ScaleTable} */
function typedScale() {
  const kind = valueOf("scale-kind");
  const { needs } = scaleKind(kind);
  const sizes = Object.fromEntries(needs.map((need) => [need, length(valueOf(`scale-${need}`))]));
  return {
    photo: state.photo, kind, clicks: [], ...sizes,
    ...(needs.length ? { plus_minus: length(valueOf("scale-pm")) } : {}),
    ...(needs.includes("length") ? { ends: valueOf("scale-ends") } : {}),
  };
}
