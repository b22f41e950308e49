// Printing a sheet, and what a caliper reads on its two bars.

import { addresses } from "./api.js";
import { removePrint, setPrint } from "./changes.js";
import { h, sent } from "./dom.js";
import { edit, job, state } from "./store.js";
import { field, length, valueOf } from "./words.js";

export function printPanel() {
  return h("div", { class: "stack" },
    h("h2", {}, "Print"),
    h("p", { class: "soft" }, "Print one sheet at actual size (100 %, not “fit to page”) and stick it to something flat."),
    h("div", { class: "sheets" }, sheets("sheet")),
    h("details", { id: "cards" },
      h("summary", {}, "Cards to cut out, for several faces or narrow places"),
      h("div", { class: "sheets" }, sheets("cards"))),
    h("details", { id: "boards" },
      h("summary", {}, "Boards for a camera record"),
      h("div", { class: "sheets" }, sheets("board"))),
    h("h2", {}, "Measure both bars"),
    h("p", { class: "soft" }, "Printers are often half a percent off. Read both bars with a caliper, from the left edge of one block to the left edge of the other, and from lower edge to lower edge."),
    job().prints.map(readingLine),
    readingForm());
}

/** @param {string} use */
const sheets = (use) => state.choices.sheets.filter((sheet) => sheet.use === use).map(sheetCard);

/** @param {import("./types.js").SheetAnswer} sheet */
function sheetCard(sheet) {
  return h("article", { class: "card" },
    h("img", { src: addresses.sheetPicture(sheet.name), alt: "", loading: "lazy" }),
    h("h3", {}, sheet.title),
    h("a", { class: "button", href: addresses.sheet(sheet.name, sheet.copies[0]), download: `${sheet.name}-${sheet.copies[0]}.pdf`, "aria-label": `PDF of ${sheet.title}` }, "PDF"));
}

/** @param {import("./types.js").PrintTable} print */
function readingLine(print) {
  return h("div", { class: "line" },
    h("span", {}, `${print.sheet}: ${print.bar_x} and ${print.bar_y} ± ${print.plus_minus} mm`),
    h("button", { "aria-label": `Remove the readings of ${print.sheet}`, onclick: () => void edit(removePrint(print.sheet)) }, "Remove"));
}

function readingForm() {
  const seen = (state.results?.photos || []).flatMap((p) => p.views.map((v) => v.sheet)).filter((sheet) => !sheet.startsWith("card-"));
  const names = [...new Set([...seen, ...state.choices.sheets.flatMap((s) => s.copies.map((c) => `${s.name}-${c}`))])];
  const unread = seen.find((s) => !job().prints.some((p) => p.sheet === s)) || names[0];
  return h("form", { class: "card", onsubmit: (/** @type {Event} */ event) => void keep(event) },
    h("label", { class: "field" }, "What is printed on it",
      h("select", { id: "print-sheet" }, names.map((name) => h("option", { value: name, selected: name === unread }, name)))),
    h("div", { class: "fields" },
      field("bar-x", "Lower bar, mm", { inputmode: "decimal", required: true, placeholder: "150.0" }),
      field("bar-y", "Upright bar, mm", { inputmode: "decimal", required: true, placeholder: "150.0" }),
      field("bar-pm", "± mm", { inputmode: "decimal", required: true, value: "0.1" })),
    h("button", { id: "keep-bars", class: "main" }, "Keep the readings"));
}

/** @param {Event} event */
async function keep(event) {
  event.preventDefault();
  const [x, y, pm] = ["bar-x", "bar-y", "bar-pm"].map((id) => length(valueOf(id)));
  if (await edit(setPrint({ sheet: valueOf("print-sheet"), bar_x: x, bar_y: y, plus_minus: pm }))) {
    sent("bar-x", "bar-y", "bar-pm", "print-sheet");
  }
}
