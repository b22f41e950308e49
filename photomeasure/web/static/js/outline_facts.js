// What a person says of a part: how it lies, how thick it is, what the drawing says.

import { open } from "./dialogs.js";
import { h, svg } from "./dom.js";
import { addPart, editPart, openPart } from "./parts.js";
import { job, state } from "./store.js";
import { field, length, valueOf } from "./words.js";

/** @typedef {import("./types.js").PartTable} PartTable */

const PICTURE = `<svg xmlns="http://www.w3.org/2000/svg" class="height-picture" viewBox="0 0 240 84" role="img" aria-label="A flat part lies on the paper, seen from the side. Its upper face is outlined; its thickness goes from the paper to that face.">
<path class="paper" d="M8 70H232"/><path class="part" d="M58 70V44h44v26zM122 70V44h64v26z"/>
<path class="dim" d="M40 68V46M34 44h20M58 38h44M122 38h64"/><path class="tip" d="M40 44l-3.4 8h6.8zM40 70l-3.4-8h6.8z"/>
<text x="6" y="34">thickness</text><text x="122" y="31">this face is outlined</text><text x="104" y="80">hole</text></svg>`;
const WAYS = {
  sheet: "in the window of the printed sheet",
  scan: "on the glass of a flatbed scanner",
  opening: "an opening or flange in place, beside a card",
};

/** @typedef {keyof typeof WAYS} Way */

/** Ask what is to be outlined; the part is then kept and its outline found. */
export function newPart() {
  return open("Outline of a part", (/** @type {(done: boolean) => void} */ close) => {
    /** @type {Way} */
    const usual = state.results?.photos.some((p) => p.views.length) === false ? "scan" : "sheet";
    const more = h("div", { class: "fields" });
    const show = (/** @type {Way} */ way) => more.replaceChildren(...wayFields(way));
    show(usual);
    return [
      svg(PICTURE),
      h("p", {}, "A flat part seen from above becomes lines, arcs and holes, and files that a shop cuts from."),
      h("form", { class: "stack", onsubmit: (/** @type {Event} */ event) => void begin(event, close) },
        field("part-name", "What you call it", { required: true, maxlength: 80, placeholder: "mill cover" }),
        job().photos.length > 1 && h("label", { class: "field" }, "Photo",
          h("select", { id: "part-photo" }, job().photos.map((p) => h("option", { value: p.name, selected: p.name === state.photo }, p.name)))),
        h("label", { class: "field" }, "It is",
          h("select", { id: "part-way", onchange: (/** @type {any} */ event) => show(event.target.value) },
            Object.entries(WAYS).map(([way, words]) => h("option", { value: way, selected: way === usual }, words)))),
        h("div", { class: "fields" },
          field("part-thickness", "Thickness, mm", { required: true, inputmode: "decimal", placeholder: "3.0" }, "with a caliper"),
          field("part-pm", "± mm", { required: true, inputmode: "decimal", value: "0.1" }, "off by no more, 19 times in 20")),
        more,
        h("button", { class: "main", id: "part-begin" }, "Outline it")),
    ];
  });
}

/** @param {Way} way */
function wayFields(way) {
  if (way === "scan") return [field("part-dpi", "Scanned with, dots per inch", { required: true, inputmode: "decimal", placeholder: "300" })];
  if (way !== "opening") return [];
  const cards = [...new Set((state.results?.photos || []).flatMap((p) => p.views.map((v) => v.sheet)))];
  return [
    h("label", { class: "field" }, "Card in its plane",
      h("select", { id: "part-on" }, cards.map((card) => h("option", { value: card }, card)))),
    field("part-face", "Its face above the card’s, mm", { required: true, inputmode: "decimal", value: "0" }),
  ];
}

/** @param {Event} event @param {(done: boolean) => void} close */
async function begin(event, close) {
  event.preventDefault();
  const photo = job().photos.find((p) => p.name === (valueOf("part-photo") || state.photo));
  if (!photo) return;
  const way = valueOf("part-way");
  /** @type {PartTable} */
  const table = {
    name: valueOf("part-name"), photo: photo.file, camera: photo.camera, hazards: job().hazards,
    thickness: length(valueOf("part-thickness")), plus_minus: length(valueOf("part-pm")),
    prints: way === "scan" ? [] : job().prints,
    scan: way === "scan" ? { dpi: Number(valueOf("part-dpi").replace(",", ".")) } : null,
    opening: way === "opening", on: valueOf("part-on") || null,
    face: way === "opening" ? length(valueOf("part-face")) : null,
  };
  if (await addPart(table)) close(true);
}

/** The parts of this folder, in the list of what is measured. */
export function partCards() {
  return state.parts.map((part) => h("article", { class: "card", "aria-label": part.table?.name || part.part },
    h("h3", {}, h("button", { id: `open-${part.part}`, class: "pick", onclick: () => openPart(part.part) }, part.table?.name || `${part.part}.toml`)),
    h("p", { class: "small soft" }, part.problem ? "its file cannot be read" : part.table ? "outline of a part, with its files" : "deleted")));
}

/** @param {PartTable} table */
export function aboutPart(table) {
  const lengths = (/** @type {string} */ key, /** @type {string} */ label, hint = "") =>
    field(`part-${key}`, label, { value: /** @type {any} */ (table)[key] ?? "", inputmode: "decimal", onchange: changed(key, true) }, hint);
  return h("details", { id: "about-part", class: "card" },
    h("summary", {}, "About this part"),
    h("div", { class: "stack" },
      field("part-name", "Name", { value: table.name, maxlength: 80, onchange: changed("name", false) }),
      h("div", { class: "fields" },
        lengths("thickness", "Thickness, mm"), lengths("plus_minus", "± mm"),
        lengths("face", "Face above the paper, mm", "if it is not the thickness")),
      h("div", { class: "fields" },
        lengths("tolerance", "Lines within, mm", "how far they may leave what is seen"),
        lengths("offset", "Grow the outline by, mm"), lengths("round_corners", "Round its corners by, mm")),
      table.scan && field("part-dpi-now", "Dots per inch", { value: table.scan.dpi, inputmode: "decimal", onchange: (/** @type {any} */ event) => void editPart((now) => ({ ...now, scan: { ...now.scan, dpi: Number(event.target.value.replace(",", ".")) } })) }),
      h("label", { class: "check" },
        h("input", { id: "part-mirror", type: "checkbox", checked: Boolean(table.mirror), onchange: (/** @type {any} */ event) => void editPart((now) => ({ ...now, mirror: event.target.checked })) }),
        "Draw it as seen from its other side"),
      h("fieldset", { class: "stack" }, h("legend", {}, "What it meets"),
        h("div", { class: "fields" }, state.choices.hazards.map((hazard) => h("label", { class: "check" },
          h("input", { id: `part-hazard-${hazard}`, type: "checkbox", checked: (table.hazards || []).includes(hazard), onchange: (/** @type {any} */ event) => void hazards(hazard, event.target.checked) }), hazard)))),
      h("fieldset", { class: "stack" }, h("legend", {}, "On the drawing"),
        h("div", { class: "fields" }, Object.entries(TITLE).map(([key, words]) =>
          field(`title-${key}`, words, { value: table.title?.[key] ?? "", maxlength: 80, inputmode: key === "quantity" ? "numeric" : null, onchange: titled(key) }))))));
}

const TITLE = {
  title: "Title", number: "Number", owner: "Owner", creator: "Made by", approver: "Approved by", date: "Date",
  document: "Kind of document", revision: "Revision", material: "Material", finish: "Finish", quantity: "Quantity",
  general_tolerance: "General tolerance",
};

/** @param {string} key @param {boolean} isLength */
const changed = (key, isLength) => (/** @type {any} */ event) => {
  const text = event.target.value.trim();
  const value = !isLength ? text : text === "" ? (key === "face" ? null : 0) : length(text);
  void editPart((table) => ({ ...table, [key]: value }));
};

/** @param {string} key */
const titled = (key) => (/** @type {any} */ event) =>
  void editPart((table) => ({ ...table, title: { ...table.title, [key]: key === "quantity" ? Number(event.target.value) : event.target.value.trim() } }));

/** @param {string} hazard @param {boolean} on */
const hazards = (hazard, on) => editPart((table) => ({
  ...table, hazards: [...(table.hazards || []).filter((one) => one !== hazard), ...(on ? [hazard] : [])],
}));
