// Photos: adding them, what each is good for, and what would make it better.

import { addresses, api, Problem } from "./api.js";
import { removePhoto, renamePhoto } from "./changes.js";
import { confirmed, open, typed } from "./dialogs.js";
import { h, svg } from "./dom.js";
import { say } from "./say.js";
import { edit, job, scaleOf, set, state, take } from "./store.js";
import { fitnessSign, note } from "./words.js";

const TYPES = "image/*,.heic,.heif,.avif,.dng";

export function photoPanel() {
  const photos = job().photos;
  return h("div", { class: "stack" },
    h("h2", {}, "Photograph"),
    h("p", { class: "soft" }, "The whole sheet in the picture, the part in its window, tilted by 15 to 35°, main lens without zoom, soft light. Two to four photos from one stand say more than one."),
    addBox(),
    state.adding.map((name) => h("p", { class: "row" }, h("span", { class: "busy" }), `Taking in ${name} …`)),
    h("div", { class: "photos" }, photos.map(photoCard)),
    photos.length > 0 && h("button", { class: "main", onclick: () => set({ step: "point" }) }, "Now point"));
}

/** The ways a photo can come. */
export function addBox() {
  const input = (/** @type {string} */ id, /** @type {boolean} */ camera) => h("input", {
    id, type: "file", accept: TYPES, multiple: !camera, capture: camera ? "environment" : null,
    onchange: (/** @type {any} */ e) => {
      void addPhotos([...e.target.files]);
      e.target.value = "";
    },
  });
  const onPhone = matchMedia("(pointer: coarse)").matches;
  return h("div", { class: "drop", id: "drop" },
    onPhone && h("label", { class: "button main", for: "take" }, "Take a photo"),
    onPhone && input("take", true),
    h("label", { class: `button${onPhone ? "" : " main"}`, for: "choose" }, "Choose photos"),
    input("choose", false),
    !onPhone && h("p", { class: "small soft" }, "or drop them here, or paste one."),
    state.choices.lan && !onPhone && h("button", { id: "by-phone", onclick: () => void byPhone() }, "From a phone"));
}

/** @param {import("./types.js").PhotoTable} photo */
function photoCard(photo) {
  const verdict = state.verdicts[photo.name];
  const answer = state.results?.photos.find((p) => p.name === photo.name);
  return h("article", { class: "card photo", "aria-label": photo.name },
    h("img", { src: addresses.picture(photo.name, photo.sha256 || ""), alt: "", loading: "lazy", decoding: "async" }),
    h("div", { class: "stack" },
      h("h3", {}, photo.name),
      verdict ? h("div", { class: "verdict" }, fitnessSign(verdict.rank), h("b", {}, verdict.fitness)) : h("p", { class: "row soft" }, h("span", { class: "busy" }), "Looking at it …"),
      verdict?.scale && h("p", { class: "small soft" }, `Scale from ${verdict.scale}`)),
    h("div", { class: "more stack" },
      answer?.problem && !verdict?.findings.some((f) => f.words === answer.problem) && note(answer.problem),
      verdict?.findings.map((f) => note(f.words)),
      verdict && verdict.improvements.length > 0 && h("details", { id: `better-${photo.name}` },
        h("summary", {}, "What would make it better"),
        h("ul", {}, verdict.improvements.map((i) => h("li", {}, i)))),
      h("div", { class: "row" },
        h("button", { onclick: () => set({ photo: photo.name, step: "point" }) }, "Show"),
        h("button", { id: `rename-${photo.name}`, onclick: () => void rename(photo.name) }, "Rename"),
        h("button", { onclick: () => void remove(photo.name) }, "Remove"))));
}

/** @param {string} from */
async function rename(from) {
  const to = await typed("Rename the photo", "Name", from);
  if (!to || to === from) return;
  const shown = state.photo;
  if (await edit(renamePhoto(from, to)) && shown === from) set({ photo: to });
}

/** @param {string} name */
async function remove(name) {
  const features = job().features.filter((f) => f.photo === name).length;
  const words = features
    ? `${features} features were touched in it; they go with it. The file stays in the folder, and Undo brings all back.`
    : "The file stays in the folder, and Undo brings it back into the job.";
  if (await confirmed(`Remove ${name} from the job?`, words, "Remove")) await edit(removePhoto(name));
}

/** @param {File[]} files */
async function addPhotos(files) {
  if (state.step !== "point") set({ step: "photograph" });
  for (const file of files) {
    set({ adding: [...state.adding, file.name] });
    try {
      const added = await api.addPhoto(file);
      set({ photo: added.photo });
      take(added.stored);
      say(added.new ? `${added.photo} is in the job.` : `${added.photo} was in the job already.`);
    } catch (error) {
      if (!(error instanceof Problem)) throw error;
      say(error.message);
    }
    set({ adding: state.adding.filter((name) => name !== file.name) });
    await lookAtPhotos();
  }
}

/** Ask what each photo is good for, once for each photo and each reading of its bars. */
export async function lookAtPhotos() {
  for (const photo of job().photos) {
    if (state.verdicts[photo.name]) continue;
    const said = scaleOf(state.stored);
    try {
      const verdict = await api.verdict(photo.name);
      if (scaleOf(state.stored) === said) set({ verdicts: { ...state.verdicts, [photo.name]: verdict } });
    } catch (error) {
      if (!(error instanceof Problem) || error.status === 0) continue;
      const [fitness, rank] = error.status === 400 ? ["take it again", 2] : ["could not be looked at", 1];
      const findings = [{ words: error.message, fitness: String(fitness) }];
      set({ verdicts: { ...state.verdicts, [photo.name]: { photo: photo.name, fitness: String(fitness), rank: Number(rank), findings, improvements: [], scale: "", seconds: 0 } } });
    }
  }
}

/** Photos that are dropped or pasted anywhere on the page. */
export function listenForPhotos() {
  const box = () => document.getElementById("drop");
  addEventListener("dragover", (event) => {
    event.preventDefault();
    box()?.classList.add("over");
  });
  addEventListener("dragleave", () => box()?.classList.remove("over"));
  addEventListener("drop", (event) => {
    event.preventDefault();
    box()?.classList.remove("over");
    arrive([...(event.dataTransfer?.files || [])]);
  });
  addEventListener("paste", (/** @type {any} */ event) => arrive([...(event.clipboardData?.files || [])]));
}

/** @param {File[]} files */
function arrive(files) {
  if (files.length) void addPhotos(files);
}

async function byPhone() {
  try {
    const door = await api.door();
    await open("Photos from a phone", () => [
      h("p", {}, "Scan this with the phone's camera. The phone must be in the same network. The code lets one browser in, once, within 15 minutes."),
      h("div", { class: "qr" }, svg(door.qr)),
      h("p", { class: "small soft" }, door.link),
    ]);
  } catch (error) {
    if (error instanceof Problem) say(error.message);
  }
}
