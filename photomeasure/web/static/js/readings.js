// What a caliper or feeler gauge reads: beside a number of the photo, or where no photo gives one.

import { freeName, removeCheck, removeReading, setCheck, setReading } from "./changes.js";
import { open } from "./dialogs.js";
import { h } from "./dom.js";
import { kindOf } from "./pointing.js";
import { edit, job, state } from "./store.js";
import { field, length, valueOf } from "./words.js";

/** @typedef {import("./types.js").ReadingTable} ReadingTable */
/** @typedef {import("./types.js").MeasurementTable} MeasurementTable */

const INSTRUMENTS = ["caliper", "feeler gauge", "steel rule", "micrometer", "pin gauge", "protractor"];

/** @param {string} id @param {string} value */
const instrument = (id, value) => h("label", { class: "field" }, "Read with",
  h("select", { id }, [...new Set([...INSTRUMENTS, value])].map((one) => h("option", { value: one, selected: one === value }, one))));

/**
 * Readings that check a measurement of the photo.
 * @param {MeasurementTable} table
 */
export function checks(table) {
  const all = job().checks.filter((c) => c.measurement === table.name);
  const outputs = kindOf(table.kind)?.outputs || [];
  const main = all.find((c) => !c.quantity) || all[0];
  return h("details", { id: `check-${table.name}`, open: all.length > 0 },
    h("summary", {}, "Read by hand"),
    h("div", { class: "stack" },
      all.map((check) => h("div", { class: "line" },
        h("span", {}, `${check.quantity ? `${check.quantity.replace(/_/g, " ")}: ` : ""}${check.value} ± ${check.plus_minus}, ${check.instrument || "caliper"}`),
        h("button", { type: "button", "aria-label": `Remove the reading of ${check.quantity || table.name}`, onclick: () => void edit(removeCheck(check)) }, "Remove"))),
      h("form", { class: "stack", onsubmit: (/** @type {Event} */ event) => void keepCheck(event, table.name) },
        outputs.length > 1 && h("label", { class: "field" }, "Which number",
          h("select", { id: "check-quantity" }, outputs.map((o) => h("option", { value: o.primary ? "" : o.name }, o.words)))),
        h("div", { class: "fields" },
          field("check-value", outputs.every((o) => o.unit === "mm") ? "Reading, mm" : "Reading", { inputmode: "decimal", required: true }, "or 7/16 in"),
          field("check-pm", "±", { value: main ? String(main.plus_minus) : "0.1", inputmode: "decimal", required: true }),
          instrument("check-with", main?.instrument || "caliper")),
        h("button", {}, "Keep the reading"))));
}

/** @param {Event} event @param {string} measurement */
async function keepCheck(event, measurement) {
  event.preventDefault();
  await edit(setCheck({
    measurement, quantity: valueOf("check-quantity"), value: length(valueOf("check-value")),
    plus_minus: length(valueOf("check-pm")), instrument: valueOf("check-with"),
  }));
}

/**
 * A number that no photo gives: new, or changed.
 * @param {ReadingTable|null} reading
 */
export function readingSheet(reading) {
  const quantities = [...new Set(state.choices.kinds.flatMap((kind) => kind.outputs.map((o) => o.name)))].sort();
  return open(reading ? reading.name : "A number read by hand", (/** @type {(done: boolean) => void} */ close) => [
    h("p", {}, "Where no photo can look. It is judged and reported like the others, and marked as read by hand."),
    h("form", { class: "stack", onsubmit: (/** @type {Event} */ event) => void keepReading(event, reading, close) },
      field("reading-name", "What you call it", { value: reading?.name || "", required: true, maxlength: 80, placeholder: "gap behind the guard" }),
      h("label", { class: "field" }, "What was read",
        h("select", { id: "reading-quantity" }, [...new Set([...quantities, reading?.quantity || "gap"])].map((name) =>
          h("option", { value: name, selected: name === (reading?.quantity || "gap") }, name.replace(/_/g, " "))))),
      h("div", { class: "fields" },
        field("reading-value", "Reading", { value: reading ? String(reading.value) : "", required: true, inputmode: "decimal" }, "or 7/16 in"),
        field("reading-pm", "±", { value: reading ? String(reading.plus_minus) : "0.1", required: true, inputmode: "decimal" }),
        h("label", { class: "field" }, "in",
          h("select", { id: "reading-unit" }, ["mm", "deg"].map((unit) => h("option", { value: unit, selected: unit === reading?.unit }, unit === "deg" ? "degrees" : unit)))),
        instrument("reading-with", reading?.instrument || "caliper")),
      h("div", { class: "row" },
        h("button", { class: "main" }, "Keep"),
        reading && h("button", { type: "button", id: "delete-reading", onclick: () => void edit(removeReading(reading.name)).then((done) => done && close(true)) }, "Delete"))),
  ]);
}

/** @param {Event} event @param {ReadingTable|null} reading @param {(done: boolean) => void} close */
async function keepReading(event, reading, close) {
  event.preventDefault();
  const unit = valueOf("reading-unit");
  const number = (/** @type {string} */ id) => (unit === "deg" ? Number(valueOf(id).replace(",", ".")) : length(valueOf(id)));
  const others = [...job().measurements, ...(job().readings || [])].filter((one) => one.name !== reading?.name);
  const made = {
    rules: [], ...reading, name: freeName(valueOf("reading-name"), others), quantity: valueOf("reading-quantity"), unit,
    value: number("reading-value"), plus_minus: number("reading-pm"), instrument: valueOf("reading-with"),
  };
  if (await edit(setReading(made, reading?.name || ""))) close(true);
}
