// Taking away: what the job says all together, the facts about it, and its files.

import { addresses } from "./api.js";
import { changeFacts } from "./changes.js";
import { h } from "./dom.js";
import { partCards } from "./outline_facts.js";
import { save } from "./saving.js";
import { edit, job, state } from "./store.js";
import { field, sign } from "./words.js";

export function reportPanel() {
  const results = state.results;
  const ready = Boolean(results && results.measurements.length && !wrong().length);
  return h("div", { class: "stack" },
    h("h2", {}, "Report"),
    results?.overall && h("div", { class: "verdict" }, sign(results.overall), h("b", {}, overallWords(results.overall))),
    results && results.cautions.length > 0 && h("div", { class: "caution" }, h("h3", {}, "What can hurt here"), results.cautions.map((c) => h("p", {}, c))),
    ready ? takeAway() : h("p", { class: "note" }, why()),
    state.parts.length > 0 && h("h3", {}, "Parts to be cut"),
    partCards(),
    facts(),
    listed("What weakens the numbers", results?.warnings || []),
    listed("What was not checked", results?.not_checked || []));
}

/** @param {string} overall */
const overallWords = (overall) =>
  ({ conforms: "Every judged number conforms to its rule.", "does not conform": "Some number does not conform to its rule.", "cannot tell": "Some number cannot be told yet." }[overall] || overall);

/** What keeps the report from being made. */
function wrong() {
  const results = state.results;
  if (!results) return [];
  return [
    ...results.photos.filter((p) => p.problem).map((p) => p.problem),
    ...results.features.filter((f) => f.problem).map((f) => f.problem),
    ...results.measurements.filter((m) => m.problem).map((m) => `${m.name}: ${m.problem}`),
    ...(results.problem ? [results.problem] : []),
  ];
}

function why() {
  if (!job().photos.length) return "The report needs a photo first.";
  if (!job().measurements.length) return "The report needs something measured first.";
  if (!state.results) return "Working out the numbers …";
  return `The report can be made once this is put right: ${[...new Set(wrong())].join(" ")}`;
}

function takeAway() {
  return h("div", { class: "stack" },
    h("a", { class: "button main", href: addresses.look("html"), target: "_blank", rel: "noopener" }, "Look at the report"),
    state.choices.formats.map((format) => h("div", { class: "line" },
      h("span", {}, h("b", {}, format.name), " ", h("span", { class: "small soft" }, format.summary)),
      h("button", { id: `save-${format.name}`, "aria-label": `Save the ${format.name} file`, onclick: (/** @type {any} */ e) => void save(addresses.report(format.name), e.currentTarget) }, "Save"))));
}

function facts() {
  const now = job();
  const change = (/** @type {string} */ key) => (/** @type {any} */ event) => void edit(changeFacts({ [key]: event.target.value.trim() }));
  return h("details", { id: "facts", class: "card", open: true },
    h("summary", {}, "About this job"),
    h("div", { class: "stack" },
      field("fact-title", "Title", { value: now.title, maxlength: 300, required: true, onchange: change("title") }),
      field("fact-position", "How things stood", { value: now.position, maxlength: 300, placeholder: "crank upright, hopper off", onchange: change("position") }),
      h("div", { class: "field" }, h("label", { for: "fact-note" }, "Note"),
        h("textarea", { id: "fact-note", maxlength: 5000, onchange: change("note") }, now.note)),
      h("fieldset", { class: "stack" }, h("legend", {}, "What can hurt here"),
        h("div", { class: "fields" }, state.choices.hazards.map((hazard) => h("label", { class: "check" },
          h("input", { id: `hazard-${hazard}`, type: "checkbox", checked: now.hazards.includes(hazard), onchange: (/** @type {any} */ e) => void hazards(hazard, e.target.checked) }), hazard)))),
      h("fieldset", { class: "row" }, h("legend", {}, "Numbers first in"),
        ["mm", "in"].map((unit) => h("label", { class: "check" },
          h("input", { id: `unit-${unit}`, type: "radio", name: "unit", checked: now.unit === unit, onchange: () => void edit(changeFacts({ unit })) }), unit === "in" ? "inches" : "millimetres")))));
}

/** @param {string} hazard @param {boolean} on */
const hazards = (hazard, on) => edit((now) => ({
  ...now, hazards: on ? [...now.hazards.filter((h) => h !== hazard), hazard] : now.hazards.filter((h) => h !== hazard),
}));

/** @param {string} title @param {string[]} lines */
const listed = (title, lines) => lines.length > 0 && h("details", { id: title, class: "card" },
  h("summary", {}, `${title} (${lines.length})`), h("ul", {}, lines.map((line) => h("li", {}, line))));
