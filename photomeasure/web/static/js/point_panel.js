// The list beside the picture: everything measured, every feature, every height.

import { deleteFeature, deleteMeasurement, changeFeature, removeRule, renameFeature, renameMeasurement, uses } from "./changes.js";
import { planeWords } from "./ask.js";
import { reveal } from "./bench.js";
import { confirmed, open, typed } from "./dialogs.js";
import { h, svg } from "./dom.js";
import { doubtful, featureWarnings } from "./doubts.js";
import { heightsList } from "./heights.js";
import { newPart, partCards } from "./outline_facts.js";
import { outlinePanel } from "./outline_panel.js";
import { begin, edgeWords, residual } from "./pointing.js";
import { checks, readingSheet } from "./readings.js";
import { meeting, pickRule } from "./rules.js";
import { scalesList } from "./scales.js";
import { edit, job, set, state } from "./store.js";
import { note, sentence, sign } from "./words.js";

/** @typedef {import("./types.js").MeasurementTable} MeasurementTable */
/** @typedef {import("./types.js").MeasurementAnswer} MeasurementAnswer */
/** @typedef {import("./types.js").FeatureTable} FeatureTable */

export function pointPanel() {
  if (state.part) return outlinePanel();
  const { measurements, features } = job();
  return h("div", { class: "stack" },
    h("button", { id: "measure", class: "main wide", disabled: !canMeasure(), onclick: () => void chooseKind() }, "Measure something"),
    h("button", { id: "outline-part", class: "wide", disabled: !job().photos.length, onclick: () => void newPart() }, "Outline a part to be cut"),
    !canMeasure() && note(state.working ? "Looking for the sheet in the photos …" : state.results?.problem || photoProblem()),
    state.results?.problem && canMeasure() && note(state.results.problem),
    measurements.length > 0 && h("h2", { class: "said-only" }, "Measured"),
    measurements.map(measurementCard),
    (job().readings || []).map(readByHand),
    partCards(),
    features.length > 0 && h("details", { id: "features", class: "card", open: state.chosen?.type === "feature" },
      h("summary", {}, `What was touched (${features.length})`),
      h("div", { class: "stack" }, features.map(featureLine))),
    heightsList(),
    scalesList(),
    h("button", { id: "by-hand", onclick: () => void readingSheet(null) }, "Add a number read by hand"));
}

const canMeasure = () => Boolean(state.results?.photos.some((photo) => photo.views.length));

const photoProblem = () => state.unworked || state.results?.photos.find((photo) => photo.problem)?.problem || "Add a photo of the sheet first.";

async function chooseKind() {
  const kind = await open("What do you want to measure?", (/** @type {(kind: import("./types.js").Kind) => void} */ close) => [
    h("div", { class: "kinds" }, state.choices.kinds.map((one) => h("button", { class: "kind", onclick: () => close(one) },
      one.picture ? svg(one.picture) : null, h("b", {}, one.words), h("span", {}, one.summary)))),
  ]);
  if (kind) begin(kind);
  document.getElementById("drawing")?.focus();
}

/** @param {MeasurementTable} table */
function measurementCard(table) {
  const answer = state.results?.measurements.find((m) => m.name === table.name);
  const chosen = state.chosen?.type === "measurement" && state.chosen.name === table.name;
  return h("article", { class: `card${chosen ? " chosen" : ""}`, "aria-label": table.name },
    h("h3", {}, h("button", {
      id: `m-${table.name}`, class: "pick", "aria-expanded": String(chosen), onclick: () => pick(table, chosen),
    }, table.name)),
    answer ? numbers(answer, chosen) : h("p", { class: "soft" }, "Working it out …"),
    answer?.judged.map((one) => verdict(one, table.name, chosen)),
    answer && doubtful(answer.doubts, chosen),
    answer?.readings.map((one) => (one.agrees ? h("p", { class: "small soft" }, one.words) : note(one.words))),
    chosen && details(table, answer));
}

/**
 * A number of the job file that no photo gives.
 * @param {import("./types.js").ReadingTable} table
 */
function readByHand(table) {
  const answer = state.results?.measurements.find((m) => m.name === table.name);
  const chosen = state.chosen?.type === "measurement" && state.chosen.name === table.name;
  return h("article", { class: `card${chosen ? " chosen" : ""}`, "aria-label": table.name },
    h("h3", {}, h("button", { id: `m-${table.name}`, class: "pick", "aria-expanded": String(chosen), onclick: () => set({ chosen: chosen ? null : { type: "measurement", name: table.name } }) }, table.name)),
    answer && numbers(answer, chosen),
    answer && h("p", { class: "small soft" }, answer.by_hand),
    answer?.judged.map((one) => verdict(one, table.name, chosen)),
    chosen && h("div", { class: "stack" },
      meeting(table, answer),
      h("div", { class: "row" },
        h("button", { id: `rule-${table.name}`, onclick: () => void pickRule(table) }, "Judge it by a rule"),
        h("button", { id: `change-${table.name}`, onclick: () => void readingSheet(table) }, "Change or delete"))));
}

/**
 * @param {MeasurementTable} table
 * @param {boolean} chosen
 */
function pick(table, chosen) {
  set({ chosen: chosen ? null : { type: "measurement", name: table.name } });
  const first = Object.values(table.of)[0]?.[0];
  if (!chosen && first) reveal(first);
}

/**
 * @param {MeasurementAnswer} answer
 * @param {boolean} all
 */
function numbers(answer, all) {
  if (answer.problem) return note(answer.problem);
  return h("div", { class: "numbers" }, answer.numbers.filter((n) => n.primary).map((n) => number(n, all)));
}

/**
 * @param {import("./types.js").NumberAnswer} n
 * @param {boolean} all
 */
const number = (n, all) => h("div", {},
  all && h("div", { class: "small soft" }, n.words),
  h("div", { class: n.primary ? "figure" : "figure lesser" }, n.figure),
  n.second && all && h("div", { class: "small soft" }, n.second));

/** @param {MeasurementAnswer} answer */
function furtherNumbers(answer) {
  const further = answer.numbers.filter((n) => !n.primary);
  if (!further.length) return null;
  return h("details", { id: `further-${answer.name}`, open: further.length < 4 },
    h("summary", {}, `Further numbers (${further.length})`),
    h("div", { class: "numbers" }, further.map((n) => number(n, true))));
}

/**
 * @param {import("./types.js").Judged} one
 * @param {string} measurement
 * @param {boolean} more
 */
function verdict(one, measurement, more) {
  return h("div", { class: "verdict" },
    sign(one.verdict, one.can_fail),
    h("b", {}, one.words),
    h("div", { class: "more small" },
      h("div", {}, `${one.rule}: ${one.limit}`),
      more && h("div", { class: "stack" },
        h("p", {}, one.reason),
        one.worked_out && h("p", {}, one.worked_out),
        one.settle && h("p", {}, one.settle),
        h("p", { class: "soft" }, [one.condition, one.why, `Source: ${one.source} (${one.standing})`].map(sentence).join(" ")),
        h("button", { id: `unrule-${one.rule}`, onclick: () => void edit(removeRule(measurement, one.rule)) }, "Leave this rule out"))));
}

/**
 * @param {MeasurementTable} table
 * @param {MeasurementAnswer|undefined} answer
 */
function details(table, answer) {
  return h("div", { class: "stack" },
    answer && furtherNumbers(answer),
    answer?.remarks.map((remark) => h("p", { class: "small" }, remark)),
    featureWarnings(table),
    answer && answer.numbers.length > 0 && budget(answer),
    meeting(table, answer),
    checks(table),
    h("div", { class: "row" },
      h("button", { id: `rule-${table.name}`, onclick: () => void pickRule(table) }, "Judge it by a rule"),
      h("button", { id: `rename-${table.name}`, onclick: () => void renameOne(table.name) }, "Rename"),
      h("button", { id: `delete-${table.name}`, onclick: () => void edit(deleteMeasurement(table.name)) }, "Delete")));
}

/** @param {string} from */
async function renameOne(from) {
  const to = await typed("Rename the measurement", "Name", from);
  if (to && to !== from && (await edit(renameMeasurement(from, to)))) set({ chosen: { type: "measurement", name: to } });
}

/**
 * Where the uncertainty comes from.
 * @param {MeasurementAnswer} answer
 */
function budget(answer) {
  const primary = answer.numbers.find((n) => n.primary) || answer.numbers[0];
  return h("details", { id: `budget-${answer.name}` },
    h("summary", {}, "Where the ± comes from"),
    h("p", { class: "small soft" }, primary.interval),
    h("table", { class: "budget" },
      h("thead", {}, h("tr", {}, ["Source", "Standard uncertainty", "Share"].map((t) => h("th", { scope: "col" }, t)))),
      h("tbody", {}, primary.budget.filter((s) => s.share > 0.0005).map((s) => h("tr", {},
        h("td", {}, s.source), h("td", {}, s.u),
        h("td", {}, s.share < 0.01 ? "< 1 %" : `${Math.round(100 * s.share)} %`))))));
}

/** @param {FeatureTable} feature */
function featureLine(feature) {
  const answer = state.results?.features.find((f) => f.name === feature.name);
  const chosen = state.chosen?.type === "feature" && state.chosen.name === feature.name;
  const moved = state.moving?.name === feature.name ? state.moving : null;
  const located = moved ? moved.located : answer?.located;
  const problem = moved ? moved.problem : answer?.problem;
  return h("div", { class: `card${chosen ? " chosen" : ""}` },
    h("button", { id: `f-${feature.name}`, class: "pick", "aria-expanded": String(chosen), onclick: () => chooseFeature(feature.name, chosen) }, feature.name),
    problem && note(problem),
    located && h("p", { class: "small soft" }, `${feature.kind} on ${planeWords(feature.plane)}; residual ${residual(located)}`),
    chosen && located?.warnings.map((w) => note(w)),
    chosen && featureDetails(feature, located || null));
}

/** @param {string} name @param {boolean} chosen */
function chooseFeature(name, chosen) {
  set({ chosen: chosen ? null : { type: "feature", name } });
  if (!chosen) reveal(name);
}

/** @param {FeatureTable} feature @param {import("./types.js").Located|null} located */
function featureDetails(feature, located) {
  const planes = ["sheet", ...job().planes.map((p) => p.name)];
  return h("div", { class: "stack" },
    h("p", { class: "small soft" }, "Drag its touches in the picture, or change them here (px of the photo)."),
    feature.clicks.map((click, k) => touchFields(feature, click, k)),
    located && located.rivals.length > 0 && rivalChips(feature, located),
    h("label", { class: "field" }, "It lies on",
      h("select", { id: "feature-plane", onchange: (/** @type {any} */ e) => void edit(changeFeature(feature.name, { plane: e.target.value, choice: null })) },
        planes.map((p) => h("option", { value: p, selected: p === feature.plane }, planeWords(p))))),
    h("div", { class: "row" },
      h("button", { id: "rename-feature", onclick: () => void renameTouched(feature.name) }, "Rename"),
      h("button", { id: "delete-feature", onclick: () => void removeTouched(feature.name) }, "Delete")));
}

/**
 * @param {FeatureTable} feature
 * @param {[number, number]} click
 * @param {number} k
 */
function touchFields(feature, click, k) {
  const change = (/** @type {number} */ axis) => (/** @type {any} */ event) => {
    const clicks = feature.clicks.map((c) => /** @type {[number, number]} */ ([...c]));
    clicks[k][axis] = Number(event.target.value);
    if (Number.isFinite(clicks[k][axis])) void edit(changeFeature(feature.name, { clicks, choice: null }));
  };
  const one = (/** @type {number} */ axis) => h("input", {
    id: `touch-${k}-${axis}`, type: "number", step: "any", value: String(click[axis]), onchange: change(axis),
    "aria-label": `Touch ${k + 1}, ${axis ? "down" : "right"}`,
  });
  return h("div", { class: "fields" }, one(0), one(1));
}

/** @param {FeatureTable} feature @param {import("./types.js").Located} located */
function rivalChips(feature, located) {
  const all = [{ number: located.chosen, words: "the one taken", offset_mm: 0 }, ...located.rivals].sort((a, b) => a.number - b.number);
  return h("div", { class: "stack" },
    h("p", {}, "Other edges that fit, on flags in the picture:"),
    h("div", { class: "chips" }, all.map((one) => h("button", {
      id: `choice-${one.number}`, class: one.number === located.chosen ? "on" : "", "aria-pressed": String(one.number === located.chosen),
      onclick: () => void edit(changeFeature(feature.name, { choice: one.number })),
    }, edgeWords(one)))));
}

/** @param {string} from */
async function renameTouched(from) {
  const to = await typed("Rename what was touched", "Name", from);
  if (to && to !== from && (await edit(renameFeature(from, to)))) set({ chosen: { type: "feature", name: to } });
}

/** @param {string} name */
async function removeTouched(name) {
  const users = job().measurements.filter((m) => uses(m, name)).map((m) => m.name);
  const sure = !users.length || (await confirmed(`Delete ${name}?`, `It is measured by ${users.join(", ")}, which will go with it. Undo brings all back.`, "Delete"));
  if (sure && (await edit(deleteFeature(name)))) set({ chosen: null });
}
