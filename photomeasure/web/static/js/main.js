// Where the page begins: fetch what there is, then show it, and keep showing it.

import { api, Problem } from "./api.js";
import { showAsk } from "./ask.js";
import { beginPanel } from "./begin_panel.js";
import { setUpBench, showBench } from "./bench.js";
import { byId, fill, h } from "./dom.js";
import { listenForPhotos, lookAtPhotos, photoPanel } from "./photo_panel.js";
import { loadParts, refreshParts } from "./parts.js";
import { pointPanel } from "./point_panel.js";
import { goOn } from "./pointing.js";
import { printPanel } from "./print_panel.js";
import { reportPanel } from "./report_panel.js";
import { job, refresh, set, state, subscribe, take } from "./store.js";
import { redoOne, showTop, undoOne } from "./top.js";
import { tourStrip } from "./tour.js";
import { note } from "./words.js";

const LOOK_AGAIN_MS = 2000;
const MUCH_BELOW = 0.4; // of the panel: a card that begins further down hardly shows

const PANELS = { print: printPanel, photograph: photoPanel, point: pointPanel, report: reportPanel };

async function start() {
  const [choices, stored] = await Promise.all([api.choices(), api.job()]);
  set({ choices, step: stored.job?.photos.length ? "point" : "" });
  setUpBench();
  subscribe(show);
  take(stored);
  listenForPhotos();
  listenForKeys();
  setInterval(() => document.visibilityState === "visible" && void refresh().then(refreshParts), LOOK_AGAIN_MS);
  await loadParts();
  await goOn();
}

function show() {
  const empty = !job().photos.length && !state.stored.problem;
  document.body.dataset.step = state.step || "begin";
  document.body.toggleAttribute("data-empty", empty);
  document.title = `${job().title} – photomeasure`;
  showTop();
  showBench();
  showAsk();
  const before = chosenCard()?.getBoundingClientRect().top;
  fill(byId("panel"), panel());
  beginAtTop();
  showChosen(before);
  void lookAtNew();
}

let panelShown = "";

/** Another panel begins at its top; the same one stays where it was scrolled to. */
function beginAtTop() {
  const now = `${state.step} ${state.part}`;
  if (now !== panelShown) byId("panel").scrollTop = 0;
  panelShown = now;
}

let chosenShown = "";

/** The card that was chosen. @returns {HTMLElement|null} */
const chosenCard = () => byId("panel").querySelector(".card.chosen");

/**
 * What was chosen just now comes into sight, such as a number that was made this moment; what was
 * chosen before stays where it is when something above it comes or goes.
 * @param {number|undefined} before where its card began
 */
function showChosen(before) {
  const now = state.step === "point" && state.chosen ? `${state.chosen.type} ${state.chosen.name}` : "";
  const same = now === chosenShown;
  chosenShown = now;
  const [card, place] = [chosenCard(), byId("panel")];
  if (!card) return;
  const top = card.getBoundingClientRect().top;
  if (same) {
    if (before !== undefined) place.scrollTop += top - before;
    return;
  }
  const share = (top - place.getBoundingClientRect().top) / place.clientHeight;
  if (share < 0 || share > MUCH_BELOW) card.scrollIntoView({ block: "start" });
}

function panel() {
  if (state.stored.problem) {
    return h("div", { class: "stack" }, h("h2", {}, "The job file cannot be read"),
      note(state.stored.problem), h("p", {}, "Correct it in an editor; this page follows. Undo brings back the last state that was saved here."));
  }
  const build = PANELS[/** @type {keyof typeof PANELS} */ (state.step)];
  if (!build || (state.step === "point" && !job().photos.length)) return beginPanel();
  const built = build();
  const tour = tourStrip();
  if (tour) built.prepend(tour);
  return built;
}

let looking = false;

async function lookAtNew() {
  if (looking || state.step !== "photograph") return;
  looking = true;
  await lookAtPhotos();
  looking = false;
}

function listenForKeys() {
  addEventListener("keydown", (event) => {
    const typing = event.target instanceof HTMLInputElement || event.target instanceof HTMLTextAreaElement;
    if (typing || !(event.ctrlKey || event.metaKey) || event.altKey) return;
    const key = event.key.toLowerCase();
    if (key !== "z" && key !== "y") return;
    event.preventDefault();
    void (key === "y" || event.shiftKey ? redoOne() : undoOne());
  });
}

start().catch((error) => {
  byId("panel").replaceChildren(note(error instanceof Problem ? error.message : `This page could not start: ${error}`));
  if (!(error instanceof Problem)) throw error;
});
