// The bar under the picture: what to touch next, what was found, and which of two edges is meant.

import { byId, fill, h } from "./dom.js";
import { newHeight } from "./heights.js";
import { backHint, keepHint, stopHint } from "./hints.js";
import { openedPart } from "./parts.js";
import * as pointing from "./pointing.js";
import { job, set, state } from "./store.js";

/** @typedef {import("./types.js").Draft} Draft */

export function showAsk() {
  const place = byId("ask");
  const draft = state.draft;
  document.body.toggleAttribute("data-asking", Boolean(draft || state.hint));
  if (state.hint) return fill(place, askHint(state.hint));
  if (!draft) return fill(place);
  const kind = pointing.kindOf(draft.kind);
  const need = pointing.needOf(draft);
  if (!kind || !need) return fill(place);
  fill(place, h("div", { class: "ask" },
    h("div", { class: "what" }, prompt(draft)),
    told(draft),
    pointing.isAsked(draft) ? rivals(draft.located) : [choices(draft), reuse(draft)],
    buttons(draft)));
}

const HINTS = {
  inside: "Touch a plain place inside the part.",
  outside: "Touch a place outside it.",
  bend: "Touch both ends of the bend line, on the edges of the part.",
  scale: "Touch its corners in turn, where its straight edges meet.",
  stroke: "Touch along the edge, from one end of what does not show to the other.",
};

/** @param {NonNullable<import("./types.js").State["hint"]>} hint */
function hintWords(hint) {
  if (hint.scale?.kind === "distance") return "Touch both ends of the distance.";
  if (hint.kind === "inside" && openedPart()?.table?.opening) return "Touch a plain place inside the opening.";
  return HINTS[hint.kind];
}

/** @param {NonNullable<import("./types.js").State["hint"]>} hint */
function askHint(hint) {
  const count = hint.touches.length;
  return h("div", { class: "ask" },
    h("div", { class: "what" }, hintWords(hint)),
    h("p", { class: "found soft" }, hint.count ? `${count} of ${hint.count} touches` : `${count} ${count === 1 ? "touch" : "touches"}`),
    h("div", { class: "tail" },
      h("div", { class: "row" },
        count > 0 && h("button", { id: "back", onclick: () => backHint() }, "Take the last touch away"),
        count > 1 && !hint.count && h("button", { id: "keep", class: "main", onclick: () => void keepHint() }, "That is all of it")),
      h("button", { id: "stop", class: "bare", onclick: () => stopHint() }, "Stop")));
}

/** @param {Draft} draft */
function prompt(draft) {
  const need = pointing.needOf(draft);
  const feature = pointing.featureKind(draft.feature);
  const left = feature.touches - draft.clicks.length;
  const count = need && need.maximum !== 1 && pointing.foundFor(draft).length ? ` (${pointing.foundFor(draft).length} so far)` : "";
  const more = left > 0 ? feature.prompt : "";
  return `${need?.prompt || ""}${count} ${more}`.trim();
}

/** @param {Draft} draft */
function told(draft) {
  const { touches, open } = pointing.featureKind(draft.feature);
  const looking = draft.clicks.length >= touches;
  const counted = looking ? "Looking for it …" : `${draft.clicks.length} of ${touches}${open ? " or more" : ""} touches`;
  if (draft.problem) return h("p", { class: "note", role: "alert" }, draft.problem);
  if (draft.located) {
    return h("p", { class: "found" }, `Found, residual ${pointing.residual(draft.located)}. `,
      draft.located.rivals.length ? "" : draft.located.warnings.join(" "));
  }
  return draft.clicks.length ? h("p", { class: "found soft" }, counted) : null;
}

/**
 * Two rims, or an edge and its foot: the person says which. Nothing else is asked meanwhile.
 * @param {import("./types.js").Located|null} located
 */
function rivals(located) {
  if (!located) return null;
  const all = [{ number: located.chosen, words: "the likeliest", offset_mm: 0 }, ...located.rivals].sort((a, b) => a.number - b.number);
  return h("div", { class: "stack" },
    h("p", {}, `${all.length} edges fit here, on flags in the picture. Which one do you mean?`),
    h("div", { class: "chips" }, all.map((one) => h("button", {
      id: `rival-${one.number}`, onclick: () => void pointing.chooseRival(one.number),
    }, pointing.edgeWords(one)))));
}

/**
 * What is touched, and how high it lies.
 * @param {Draft} draft
 */
function choices(draft) {
  const kinds = pointing.needOf(draft)?.kinds || [];
  return h("div", { class: "fields" },
    kinds.length > 1 && h("label", { class: "field" }, "It is",
      h("select", { id: "what-it-is", onchange: (/** @type {any} */ e) => pointing.pointAt(e.target.value) },
        kinds.map((name) => h("option", { value: name, selected: name === draft.feature }, article(name))))),
    h("label", { class: "field" }, "It lies on",
      h("select", {
        id: "lies-on", disabled: !pointing.planeIsFree(),
        onchange: (/** @type {any} */ e) => void (e.target.value ? pointing.lieOn(e.target.value) : another()),
      },
      planes().map((name) => h("option", { value: name, selected: name === draft.plane }, planeWords(name))),
      h("option", { value: "" }, "another height …"))));
}

async function another() {
  const name = await newHeight();
  if (name) await pointing.lieOn(name);
  else set({});
}

const planes = () => ["sheet", ...job().planes.map((p) => p.name)];

/** @param {string} name */
export function planeWords(name) {
  const plane = job().planes.find((p) => p.name === name);
  return plane ? `${name}, ${plane.height} mm up` : "the paper itself";
}

/** @param {string} name */
const article = (name) => (/^[aeiou]/.test(name) ? `an ${name}` : `a ${name}`);

/**
 * Features that are there already serve as well.
 * @param {Draft} draft
 */
function reuse(draft) {
  const need = pointing.needOf(draft);
  const taken = new Set(Object.values(draft.roles).flat());
  const first = job().features.find((f) => taken.has(f.name));
  const onePlane = pointing.kindOf(draft.kind)?.one_plane;
  const fitting = job().features.filter((f) =>
    need?.kinds.includes(f.kind) && !taken.has(f.name) && (!onePlane || !first || f.plane === first.plane));
  if (!fitting.length || draft.clicks.length) return null;
  return h("div", { class: "chips one-line", role: "group", "aria-label": "Or take what was found before" },
    h("span", { class: "soft small" }, "Or take:"),
    fitting.map((f) => h("button", { id: `take-${f.name}`, onclick: () => void pointing.fillNeed(f.name) }, f.name)));
}

/** @param {Draft} draft */
function buttons(draft) {
  const need = pointing.needOf(draft);
  const feature = pointing.featureKind(draft.feature);
  const found = pointing.foundFor(draft).length;
  const enough = Boolean(need && !draft.clicks.length && found >= need.minimum);
  return h("div", { class: "tail" },
    h("div", { class: "row" },
      draft.clicks.length > 0 && h("button", { id: "back", onclick: () => pointing.back() }, "Take the last touch away"),
      feature.open && draft.located && h("button", { id: "keep", class: "main", onclick: () => void pointing.keep() }, "That is all of it"),
      enough && h("button", { id: "enough", class: "main", onclick: () => void pointing.nextNeed() }, found ? "These are all" : "Go on without")),
    h("button", { id: "stop", class: "bare", onclick: () => pointing.stop() }, "Stop"));
}
