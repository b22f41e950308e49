// The outline of one part: what was found, what is on offer, where help is needed, the files.

import { addresses } from "./api.js";
import { confirmed } from "./dialogs.js";
import { doingLine } from "./doing.js";
import { h } from "./dom.js";
import { bendsCard } from "./outline_bends.js";
import { aboutPart } from "./outline_facts.js";
import { coveredOpenings, holesCard, saidHoles } from "./outline_holes.js";
import { levelsCard } from "./outline_levels.js";
import { editPart, openedPart, openPart, outlineNow, photoOf, pointOut, removeHint, stepPart } from "./parts.js";
import { save } from "./saving.js";
import { job, state } from "./store.js";
import { note } from "./words.js";

/** @typedef {import("./types.js").PartTable} PartTable */
/** @typedef {import("./types.js").OutlineAnswer} OutlineAnswer */
/** @typedef {import("./types.js").PartOffer} PartOffer */

const HINTS = [
  { kind: "inside", key: "inside", words: "Touch inside it" },
  { kind: "outside", key: "outside", words: "Touch outside it" },
  { kind: "stroke", key: "strokes", words: "Trace its edge" },
];

export function outlinePanel() {
  const stored = openedPart();
  const table = stored?.table;
  const back = h("button", { id: "all-parts", onclick: () => openPart("") }, "Back to the list");
  if (!stored || !table) {
    return h("div", { class: "stack" }, back, note(stored?.problem || "This part was deleted. Undo brings it back."));
  }
  const now = state.outline?.part === state.part ? state.outline : null;
  return h("div", { class: "stack" },
    h("div", { class: "row" }, back),
    h("h2", {}, table.name),
    !photoOf(table) && note(`${table.photo} is not among the photos of this job, so it cannot be shown. The outline is found in it all the same.`),
    h("div", { id: "outline-doing", role: "status" }, doingLine(now?.words || "")),
    now?.problem && note(now.problem),
    now?.problem && takenOffers(table, null),
    now?.problem && saidHoles(table),
    now?.problem && coveredOpenings(table, now.problem),
    now?.problem && (table.levels || []).length > 0 && levelsCard(table, null),
    now?.problem && hints(table, true),
    readings(table),
    now?.answer && found(table, now.answer),
    !now?.problem && hints(table, false),
    aboutPart(table),
    h("button", { id: "delete-part", onclick: () => void remove(table.name) }, "Delete this part"));
}

/** @param {string} name */
async function remove(name) {
  if (await confirmed(`Delete ${name}?`, "Its file goes; the photo stays. Undo brings it back.", "Delete")) await stepPart("remove");
}

/**
 * Where the photo does not say where the part is, a person does.
 * @param {PartTable} table
 * @param {boolean} wanted
 */
function hints(table, wanted) {
  const given = HINTS.flatMap(({ key, words }) => (/** @type {any} */ (table)[key] || []).map((/** @type {any} */ _, /** @type {number} */ k) => ({ key, k, words })));
  return h("details", { id: "hints", class: "card", open: wanted || given.length > 0 },
    h("summary", {}, "Help it see the edge"),
    h("div", { class: "stack" },
      h("p", { class: "small soft" }, "A touch says what is part and what is not; trace the edge where shadow or glare hides it."),
      h("div", { class: "row" }, HINTS.map(({ kind, words }) => h("button", {
        id: `hint-${kind}`, disabled: !photoOf(table), onclick: () => pointOut(/** @type {any} */ (kind)),
      }, words))),
      given.map(({ key, k, words }) => h("div", { class: "line" },
        h("span", {}, `${words.replace("Touch ", "A touch ").replace("Trace its edge", "A trace along its edge")}, number ${k + 1}`),
        h("button", { id: `unhint-${key}-${k}`, "aria-label": `Remove ${key} ${k + 1}`, onclick: () => void removeHint(/** @type {any} */ (key), k) }, "Remove")))));
}

/**
 * The bars are read once for the whole job; a part keeps its own copy, so that it can be sent alone.
 * @param {PartTable} table
 */
function readings(table) {
  const same = JSON.stringify(job().prints) === JSON.stringify(table.prints || []);
  if (same || table.scan) return null;
  return h("div", { class: "note stack" },
    h("p", {}, (table.prints || []).length ? "The bars were read anew since this part was begun." : "The bars that were read for this job do not count for this part yet."),
    h("button", { id: "take-readings", onclick: () => void editPart((now) => ({ ...now, prints: job().prints })) }, "Use the readings of the job"));
}

/** @param {PartTable} table @param {OutlineAnswer} answer */
function found(table, answer) {
  const [size, ...rest] = answer.found;
  return h("div", { class: "stack" },
    h("div", { class: "card" },
      h("div", { class: "figure" }, size),
      rest.map((line) => h("p", { class: "small soft" }, line)),
      h("p", { class: "small" }, "In the picture: the boundary as seen is drawn through, the shape that will be cut is dashed.")),
    answer.cautions.length > 0 && h("div", { class: "caution" }, answer.cautions.map((c) => h("p", {}, c))),
    holesCard(table, answer),
    takenOffers(table, answer),
    levelsCard(table, answer),
    bendsCard(table),
    h("div", { class: "card" },
      h("h3", {}, "What a shop would ask"),
      answer.shop.length ? answer.shop.map((one) => (one.grave ? note(one.words) : h("p", {}, one.words))) : h("p", {}, "Nothing.")),
    answer.remarks.map((words) => h("p", { class: "small" }, words)),
    fileList());
}

/**
 * Regular things that the part nearly is. Nothing is taken unless it is ticked.
 * @param {PartTable} table
 * @param {OutlineAnswer|null} answer
 */
function takenOffers(table, answer) {
  const taken = table.take || [];
  const offers = (answer?.offers || []).filter((offer) => !taken.includes(offer.name));
  if (!taken.length && !offers.length) return null;
  return h("fieldset", { class: "card" },
    h("legend", { class: "said-only" }, "On offer"),
    h("h3", {}, "Make it regular?"),
    h("p", { class: "small soft" }, "Only what you tick changes the part. What was measured is kept beside it."),
    taken.map((name) => tick(name, remarkOf(name, answer), true, () => drop(name))),
    offers.map((offer) => tick(offer.name, offerWords(offer), false, () => takeOffer(offer))));
}

/** @param {string} name @param {OutlineAnswer|null} answer */
const remarkOf = (name, answer) =>
  answer?.remarks.find((remark) => remark.startsWith(`${name}: `))?.slice(name.length + 2) || name;

/** @param {PartOffer} offer */
const offerWords = (offer) =>
  `${offer.words}; off by ${offer.off_mm.toFixed(3)} mm, ${offer.within ? "inside" : "outside"} the ± ${offer.plus_minus_mm.toFixed(3)} mm of the photo`;

/**
 * @param {string} name
 * @param {string} words
 * @param {boolean} on
 * @param {() => unknown} act
 */
const tick = (name, words, on, act) => h("label", { class: "check offer" },
  h("input", { id: `take-${name}`, type: "checkbox", checked: on, onchange: act }),
  h("span", {}, words));

/** @param {PartOffer} offer */
async function takeOffer(offer) {
  const sure = offer.within || (await confirmed("The photo speaks against it",
    `${offerWords(offer)}. Take it only if you know better, for example from a caliper.`, "Take it all the same"));
  if (!sure) return outlineNow(); // so that the tick goes again
  await editPart((table) => ({
    ...table,
    take: [...(table.take || []), offer.name],
    confirmed: offer.within ? table.confirmed : [...(table.confirmed || []), offer.name],
  }));
}

/** @param {string} name */
const drop = (name) => editPart((table) => ({
  ...table,
  take: (table.take || []).filter((one) => one !== name),
  confirmed: (table.confirmed || []).filter((one) => one !== name),
}));

function fileList() {
  const button = (/** @type {string} */ format, /** @type {string} */ words, /** @type {string} */ label, kind = "") => h("button", {
    id: `part-file-${format}`, class: kind, "aria-label": label,
    onclick: (/** @type {any} */ event) => void save(addresses.partFile(state.part, format), event.currentTarget),
  }, words);
  return h("div", { class: "card" },
    h("h3", {}, "Files"),
    button("all", "Save all for the shop", "Save all files for the shop", "main"),
    state.choices.part_formats.map((format) => h("div", { class: "line" },
      h("span", {}, h("b", {}, format.name), " ", h("span", { class: "small soft" }, format.summary)),
      button(format.name, "Save", `Save the ${format.name} file`))));
}
