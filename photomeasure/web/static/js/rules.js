// A limit to judge by: one that has a source, or one's own.

import { addOwnRule, addRule, changeMeasurement, freeName, setSize } from "./changes.js";
import { open } from "./dialogs.js";
import { h } from "./dom.js";
import { kindOf } from "./pointing.js";
import { edit, job, state } from "./store.js";
import { field, length, note, sentence, valueOf } from "./words.js";

/** @typedef {import("./types.js").MeasurementTable} MeasurementTable */

/** @typedef {import("./types.js").ReadingTable} ReadingTable */

/** @param {MeasurementTable|ReadingTable} table */
const outputsOf = (table) => ("kind" in table ? kindOf(table.kind)?.outputs || [] :
  [{ name: table.quantity, unit: table.unit, words: table.quantity.replace(/_/g, " "), primary: true }]);

/** @param {MeasurementTable|ReadingTable} table */
export function pickRule(table) {
  const outputs = outputsOf(table);
  const fitting = fittingRules(table, outputs);
  return open(`Judge ${table.name}`, (/** @type {(done: boolean) => void} */ close) => [
    h("p", { class: "soft" }, "A verdict speaks of this number and this rule only. Look up your local code; only a law, a standard or your own limit can fail a job, the others advise."),
    h("details", { id: "own-rule", open: true }, h("summary", {}, "My own limit"), ownLimit(table, outputs, close)),
    fitting.length > 0 && h("h3", {}, "Rules with a source"),
    fitting.length > 6 && field("rule-search", `Find one of ${fitting.length}`, { type: "search", placeholder: "hose exhaust", oninput: search }),
    h("div", { id: "rule-list", class: "stack" }, fitting.map((rule) => ruleCard(rule, table, close))),
  ]);
}

/**
 * The rules for a number of this kind, the most fitting first: those for what meets here, as the
 * program offers them, then those that speak of what the measurement and its features are called,
 * then those for its main number.
 * @param {MeasurementTable|ReadingTable} table
 * @param {import("./types.js").Output[]} outputs
 */
function fittingRules(table, outputs) {
  const names = new Set(outputs.map((o) => o.name));
  const main = outputs.find((o) => o.primary)?.name || "";
  const offered = (state.results?.measurements.find((m) => m.name === table.name)?.offers || []).map((o) => o.rule);
  const called = wordsOf([table.name, ...("of" in table ? Object.values(table.of).flat() : [])].join(" "));
  const generic = wordsOf([...names, ...state.choices.features.map((f) => f.name)].join(" "));
  /** @param {import("./types.js").RuleAnswer} rule */
  const rank = (rule) => {
    const place = offered.indexOf(rule.name);
    const said = wordsOf(`${rule.name} ${rule.condition} ${rule.why}`);
    const shared = [...called].filter((word) => said.has(word) && !generic.has(word)).length;
    return [place < 0 ? offered.length : place, -shared, rule.quantities[0] === main ? 0 : 1, rule.can_fail ? 0 : 1];
  };
  return state.choices.rules
    .filter((rule) => rule.quantities.some((q) => names.has(q)) && !table.rules.includes(rule.name))
    .map((rule) => ({ rule, rank: rank(rule) }))
    .sort((a, b) => a.rank.map((value, k) => value - b.rank[k]).find(Boolean) || 0)
    .map(({ rule }) => rule);
}

/**
 * The words of a text that may mean something, without an s at their end.
 * @param {string} text
 */
const wordsOf = (text) => new Set((text.toLowerCase().match(/[a-zà-ÿ]{3,}/g) || []).map((word) => word.replace(/s$/, "")));

/** Keep the rules in sight in which every word is found. */
function search() {
  const words = valueOf("rule-search").toLowerCase().split(/\s+/);
  for (const card of /** @type {HTMLElement} */ (document.getElementById("rule-list")).children) {
    const text = (card.textContent || "").toLowerCase();
    /** @type {HTMLElement} */ (card).hidden = !words.every((word) => text.includes(word));
  }
}

/**
 * @param {import("./types.js").RuleAnswer} rule
 * @param {MeasurementTable|ReadingTable} table
 * @param {(done: boolean) => void} close
 */
function ruleCard(rule, table, close) {
  const quantity = rule.quantities[0].replace(/_/g, " ");
  return h("article", { class: "card" },
    h("h3", {}, `${quantity} ${rule.limit}`),
    rule.condition && h("p", {}, sentence(rule.condition)),
    h("p", { class: "small" }, sentence(rule.why)),
    h("p", { class: "small soft" }, sentence(`Source: ${rule.source} (${rule.standing})`)),
    h("button", { onclick: () => void edit(addRule(table.name, rule.name)).then((done) => done && close(true)) }, `Judge by ${rule.name}`));
}

/**
 * What meets here, and the rules and advice that this brings up. They judge nothing until picked.
 * @param {MeasurementTable|ReadingTable} table
 * @param {import("./types.js").MeasurementAnswer|undefined} answer
 */
export function meeting(table, answer) {
  const between = table.between || [];
  const things = (/** @type {number} */ nth, /** @type {string} */ label) => h("label", { class: "field" }, label,
    h("select", { id: `between-${nth}`, onchange: () => void keepMeeting(table.name) },
      h("option", { value: "" }, "…"),
      state.choices.things.map((thing) => h("option", { value: thing, selected: thing === between[nth] }, thing))));
  return h("details", { id: `meets-${table.name}`, open: between.length > 0 },
    h("summary", {}, "What meets here"),
    h("div", { class: "stack" },
      h("div", { class: "fields" }, things(0, "This"), things(1, "and this")),
      between.length > 0 && !answer?.offers.length && h("p", { class: "small soft" }, "No further rule is known for these."),
      answer?.offers.map((offer) => offered(offer, table))));
}

/** @param {string} measurement */
async function keepMeeting(measurement) {
  const between = [valueOf("between-0"), valueOf("between-1")].filter(Boolean);
  await edit(changeMeasurement(measurement, { between }));
}

/**
 * @param {import("./types.js").Offered} offer
 * @param {MeasurementTable|ReadingTable} table
 */
function offered(offer, table) {
  return h("div", { class: "card" },
    h("p", {}, offer.advice || h("b", {}, `${offer.rule}: ${offer.limit}`), offer.words && ` (${offer.words})`),
    h("p", { class: "small" }, [offer.condition, offer.why].filter(Boolean).map(sentence).join(" ")),
    h("p", { class: "small soft" }, sentence(`Source: ${offer.source} (${offer.standing})`)),
    offer.needs.map((size) => sizeForm(size, table)),
    !offer.advice && !offer.needs.length && h("button", { id: `offer-${offer.rule}`, onclick: () => void edit(addRule(table.name, offer.rule)) }, "Judge by it"));
}

/**
 * @param {string} size
 * @param {MeasurementTable|ReadingTable} table
 */
function sizeForm(size, table) {
  const id = `size-${size}`;
  const keep = (/** @type {Event} */ event) => {
    event.preventDefault();
    void edit(setSize(table.name, size, length(valueOf(id))));
  };
  return h("form", { class: "fields", onsubmit: keep }, field(id, `${size}, mm`, { inputmode: "decimal", required: true }), h("button", {}, "Keep"));
}

/**
 * @param {MeasurementTable|ReadingTable} table
 * @param {import("./types.js").Output[]} outputs
 * @param {(done: boolean) => void} close
 */
function ownLimit(table, outputs, close) {
  const primary = outputs.find((o) => o.primary) || outputs[0];
  return h("form", { class: "stack", onsubmit: (/** @type {Event} */ event) => void keep(event, table, outputs, close) },
    outputs.length > 1 && h("label", { class: "field" }, "Which number",
      h("select", { id: "own-quantity" }, outputs.map((o) => h("option", { value: o.name, selected: o === primary }, o.words)))),
    h("div", { class: "fields" },
      field("own-least", "At least", { inputmode: "decimal" }),
      field("own-most", "At most", { inputmode: "decimal" })),
    h("p", { class: "small soft" }, `In ${primary?.unit === "deg" ? "degrees" : job().unit}. Give one of them or both.`),
    field("own-why", "What happens when it is broken", { required: true, maxlength: 300, placeholder: "it rocks when the crank jams" }),
    field("own-source", "Where the limit comes from", { required: true, maxlength: 300, value: "own experience" }),
    h("div", { id: "own-said" }),
    h("button", { class: "main" }, "Judge by my limit"));
}

/**
 * @param {Event} event
 * @param {MeasurementTable|ReadingTable} table
 * @param {import("./types.js").Output[]} outputs
 * @param {(done: boolean) => void} close
 */
async function keep(event, table, outputs, close) {
  event.preventDefault();
  const quantity = valueOf("own-quantity") || outputs[0]?.name || "";
  const output = outputs.find((o) => o.name === quantity);
  const [least, most] = [limit("own-least"), limit("own-most")];
  const said = /** @type {HTMLElement} */ (document.getElementById("own-said"));
  if (Number.isNaN(least) || Number.isNaN(most) || (least === null && most === null)) {
    return said.replaceChildren(note("Give a plain number in one of the two fields, such as 12.5."));
  }
  const rule = {
    name: freeName(`my limit for ${table.name}`.slice(0, 76), [...job().rules, ...state.choices.rules]),
    quantity, unit: output?.unit === "deg" ? "deg" : job().unit, at_least: least, at_most: most,
    why: valueOf("own-why"), source: valueOf("own-source"), status: "user",
  };
  if (await edit(addOwnRule(table.name, rule))) close(true);
}

/** @param {string} id @returns {number|null} */
function limit(id) {
  const text = valueOf(id).replace(",", ".");
  return text === "" ? null : Number(text);
}
