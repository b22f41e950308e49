// Seats that stand above the face of a part and recesses that are sunk into it.

import { open } from "./dialogs.js";
import { h, svg } from "./dom.js";
import { editPart, openedPart } from "./parts.js";
import { set } from "./store.js";
import { choice, field, length, valueOf } from "./words.js";

/** @typedef {import("./types.js").PartTable} PartTable */
/** @typedef {import("./types.js").LevelTable} LevelTable */
/** @typedef {import("./types.js").OutlineAnswer} OutlineAnswer */

const PICTURE = `<svg xmlns="http://www.w3.org/2000/svg" class="height-picture" viewBox="0 0 240 84" role="img" aria-label="A part seen from the side: a seat is raised above its face round a hole, a recess is sunk into the face and does not go through.">
<path class="part" d="M16 70V42h36V28h20v42zM92 70V28h20v14h42v12h44V42h26v28z"/>
<path class="dim" d="M40 40V30M36 28h12M166 44v8M160 54h-6"/><path class="tip" d="M40 28l-3.4 8h6.8zM40 42l-3.4-8h6.8zM166 42l-3 6h6zM166 54l-3-6h6z"/>
<text x="52" y="22">raised seat</text><text x="76" y="80">hole</text><text x="154" y="36">recess</text></svg>`;

/**
 * @param {PartTable} table
 * @param {OutlineAnswer|null} answer
 */
export function levelsCard(table, answer) {
  const levels = table.levels || [];
  return h("details", { id: "levels", class: "card" },
    h("summary", {}, `Seats and recesses (${levels.length})`),
    h("div", { class: "stack" },
      h("p", { class: "small soft" }, "Where the face is not all of one height. They are drawn, and made in the files of solids; a shop that cuts flat sheet leaves them out."),
      levels.map((level, k) => h("div", { class: "line" },
        h("button", { id: `show-level-${k}`, class: "pick", onclick: () => set({ chosen: { type: "hole", name: level.name } }) }, levelWords(level)),
        h("button", { id: `level-${k}`, "aria-label": `Change ${level.name}`, onclick: () => void levelSheet(level, answer) }, "Change"))),
      h("button", { id: "new-level", onclick: () => void levelSheet(null, answer) }, "Add a seat or a recess")));
}

/** @param {LevelTable} level */
function levelWords({ name, around, offset, height }) {
  const way = sinks(height) ? `${bare(height)} mm deep` : `${height} mm high`;
  const reach = !Number(offset) ? "" : `, ${bare(offset)} mm ${sinks(offset) ? "inside" : "outside"} it`;
  return `${name}: ${way}, along ${around === "outline" ? "the outline" : around}${reach}`;
}

/** @param {number|string} size */
const sinks = (size) => String(size).trim().startsWith("-");

/** @param {number|string} size without its sign */
const bare = (size) => String(size).trim().replace(/^-\s*/, "");

/** @param {number|string} size */
const below = (size) => (typeof size === "number" ? -size : `-${size}`);

/**
 * @param {LevelTable|null} level to be changed; null for a new one
 * @param {OutlineAnswer|null} answer
 */
function levelSheet(level, answer) {
  const round = around(level, answer);
  return open(level ? `Change ${level.name}` : "A seat or a recess", (/** @type {(done: boolean) => void} */ close) => [
    svg(PICTURE),
    h("form", { class: "stack", onsubmit: (/** @type {Event} */ event) => void keep(event, level, close) },
      field("level-name", "What you call it", { value: level?.name || freeName(), required: true, maxlength: 80 }),
      h("div", { class: "fields" },
        choice("level-way", "It is", { up: "a raised seat", down: "a recess" }, level && sinks(level.height) ? "down" : "up"),
        field("level-height", "High or deep, mm", { value: level ? bare(level.height) : "", required: true, inputmode: "decimal", placeholder: "1.5" })),
      h("div", { class: "fields" },
        choice("level-around", "Its edge follows", round, level?.around || Object.keys(round)[0]),
        field("level-offset", "Outside it by, mm", { value: level?.offset ?? "", inputmode: "decimal", placeholder: "4" }, "less than 0 is inside")),
      h("p", { id: "level-said", hidden: true, class: "note", role: "alert" }),
      h("div", { class: "row" },
        h("button", { id: "keep-level", class: "main" }, "Keep"),
        level && h("button", { id: "delete-level", type: "button", onclick: () => void removeLevel(level.name).then(() => close(true)) }, "Delete"))),
  ]);
}

/**
 * What its edge can follow, in words. The holes first: a seat is seldom as wide as the part.
 * @param {LevelTable|null} level
 * @param {OutlineAnswer|null} answer
 * @returns {Object<string, string>}
 */
function around(level, answer) {
  const holes = (answer?.holes || []).map((hole) => [hole.name, `${hole.name}, ${hole.callout}`]);
  const openings = (answer?.openings || []).map((name) => [name, name]);
  const said = level && level.around !== "outline" ? [[level.around, level.around]] : [];
  return Object.fromEntries([...said, ...holes, ...openings, ["outline", "the outline of the part"]]);
}

function freeName() {
  const taken = (openedPart()?.table?.levels || []).map((level) => level.name);
  let k = 1;
  while (taken.includes(`level ${k}`)) k += 1;
  return `level ${k}`;
}

/**
 * @param {Event} event
 * @param {LevelTable|null} level
 * @param {(done: boolean) => void} close
 */
async function keep(event, level, close) {
  event.preventDefault();
  const { name, wrong, made } = typedLevel(level);
  const said = /** @type {HTMLElement} */ (document.getElementById("level-said"));
  [said.textContent, said.hidden] = [wrong, !wrong];
  if (wrong) return;
  const kept = await editPart((table) => {
    const levels = table.levels || [];
    const at = levels.findIndex((one) => one.name === level?.name);
    return { ...table, levels: at < 0 ? [...levels, made] : levels.map((one, k) => (k === at ? made : one)) };
  });
  if (kept) close(true);
  if (kept) set({ chosen: { type: "hole", name } });
}

/** @param {LevelTable|null} level */
function typedLevel(level) {
  const name = valueOf("level-name");
  const high = length(valueOf("level-height"));
  const taken = (openedPart()?.table?.levels || []).some((one) => one.name === name && one.name !== level?.name);
  const made = {
    name, around: valueOf("level-around"), offset: length(valueOf("level-offset") || "0"),
    height: valueOf("level-way") === "down" ? below(high) : high,
  };
  return { name, made, wrong: taken ? `There is a ${name} already. Call it something else.` : wrongHeight(high, valueOf("level-way")) };
}

/** @param {number|string} high @param {string} way */
function wrongHeight(high, way) {
  const thick = Number(openedPart()?.table?.thickness);
  if (sinks(high) || Number(high) === 0) return `${high} mm is no height. Type how high the seat or how deep the recess is, more than 0.`;
  if (way === "down" && Number(high) >= thick) return `${high} mm deep goes through a part of ${thick} mm. Type less; where it goes through it is an opening.`;
  return "";
}

/** @param {string} name */
const removeLevel = (name) => editPart((table) => ({ ...table, levels: (table.levels || []).filter((one) => one.name !== name) }));
