// What the page asks of the program. Everything else is worked out there.

/** @typedef {import("./types.js").Stored} Stored */
/** @typedef {import("./types.js").Job} Job */

/** Something a person can act on, in words. */
export class Problem extends Error {
  /**
   * @param {string} words
   * @param {number} status 0 when the program was not reached
   * @param {Stored|import("./types.js").PartStored|null} stored what the job or part is now, where it was changed elsewhere
   */
  constructor(words, status, stored = null) {
    super(words);
    this.status = status;
    this.stored = stored;
  }
}

const NOT_REACHED =
  "The program does not answer. Is it still running on the computer? Start it again; what this page showed as saved is on the disk.";

/**
 * @param {string} path
 * @param {RequestInit} [init]
 * @returns {Promise<Response>}
 */
async function ask(path, init) {
  let answer;
  try {
    answer = await fetch(`api/${path}`, init);
  } catch {
    throw new Problem(NOT_REACHED, 0);
  }
  if (answer.ok) return answer;
  const told = await answer.json().catch(() => ({}));
  throw new Problem(told.problem || `The program answered ${answer.status}.`, answer.status, told.stored || null);
}

/**
 * @param {string} method
 * @param {string} path
 * @param {unknown} body
 */
async function send(method, path, body) {
  const headers = { "content-type": "application/json" };
  return (await ask(path, { method, headers, body: JSON.stringify(body) })).json();
}

/** @param {Object<string, string>} words */
const query = (words) => new URLSearchParams(words).toString();

export const api = {
  /** @returns {Promise<Stored>} */
  job: async () => (await ask("job")).json(),
  /** @returns {Promise<string>} */
  revision: async () => (await (await ask("revision")).json()).revision,
  /**
   * @param {string} revision
   * @param {Job} job
   * @returns {Promise<Stored>}
   */
  save: (revision, job) => send("PUT", "job", { revision, job }),
  /**
   * @param {"undo"|"redo"} way
   * @param {string} revision
   * @returns {Promise<Stored>}
   */
  step: (way, revision) => send("POST", way, { revision }),
  /** @returns {Promise<import("./types.js").Choices>} */
  choices: async () => (await ask("choices")).json(),
  /** @returns {Promise<import("./types.js").Results>} */
  results: async () => (await ask("results")).json(),
  /**
   * @param {import("./types.js").FeatureTable} feature
   * @returns {Promise<import("./types.js").Located>}
   */
  touch: (feature) => send("POST", "touch", feature),
  /**
   * @param {File} file
   * @returns {Promise<{photo: string, new: boolean, stored: Stored}>}
   */
  addPhoto: async (file) =>
    (await ask(`photos?${query({ title: file.name || "photo.jpg" })}`, { method: "POST", body: file })).json(),
  /**
   * @param {string} photo
   * @returns {Promise<import("./types.js").Verdict>}
   */
  verdict: async (photo) => (await ask(`verdict?${query({ photo })}`)).json(),
  /**
   * @param {string} address
   * @returns {Promise<Blob>}
   */
  picture: async (address) => (await ask(address.replace(/^api\//, ""))).blob(),
  /** @returns {Promise<import("./types.js").PartStored[]>} */
  parts: async () => (await ask("parts")).json(),
  /**
   * @param {string} part
   * @param {string} revision
   * @param {import("./types.js").PartTable} table
   * @returns {Promise<import("./types.js").PartStored>}
   */
  savePart: (part, revision, table) => send("PUT", `part?${query({ part })}`, { revision, table }),
  /**
   * @param {"undo"|"redo"|"remove"} way
   * @param {string} part
   * @param {string} revision
   * @returns {Promise<import("./types.js").PartStored>}
   */
  stepPart: (way, part, revision) => send("POST", `part_${way}?${query({ part })}`, { revision }),
  /**
   * @param {string} part
   * @returns {Promise<import("./types.js").OutlineAnswer>}
   */
  outline: async (part) => (await ask(`outline?${query({ part })}`)).json(),
  /**
   * @param {string} part
   * @param {import("./types.js").Pair[]} px
   * @returns {Promise<import("./types.js").Pair[]>} mm in the frame of its file
   */
  partPlaces: async (part, px) => (await send("POST", `part_places?${query({ part })}`, { points_px: px })).points_mm,
  /**
   * @param {string} part
   * @returns {Promise<string>}
   */
  doing: async (part) => (await (await ask(`doing?${query({ part })}`)).json()).words,
  /** @returns {Promise<{link: string, qr: string}>} */
  door: () => send("POST", "door", {}),
  /**
   * A file to save, with the name that the program gives it.
   * @param {string} address
   * @returns {Promise<{blob: Blob, name: string}>}
   */
  file: async (address) => {
    const answer = await ask(address.replace(/^api\//, ""));
    const name = /filename="([^"]+)"/.exec(answer.headers.get("content-disposition") || "")?.[1] || "file";
    return { blob: await answer.blob(), name };
  },
};

export const addresses = {
  /**
   * @param {string} photo
   * @param {string} sha256
   */
  picture: (photo, sha256) => `api/picture?${query({ photo, v: sha256.slice(0, 12) })}`,
  /**
   * @param {string} photo
   * @param {string} plane
   * @param {string} state
   */
  flat: (photo, plane, state) => `api/flat?${query({ photo, plane, v: state })}`,
  /** @param {string} design */
  sheetPicture: (design) => `api/sheet_picture?${query({ design })}`,
  /**
   * @param {string} design
   * @param {string} copy
   */
  sheet: (design, copy) => `api/sheet?${query({ design, copy })}`,
  /**
   * @param {string} part
   * @param {string} format
   */
  partFile: (part, format) => `api/part_file?${query({ part, format })}`,
  /** @param {string} format */
  report: (format) => `api/report?${query({ format })}`,
  /** @param {string} format */
  look: (format) => `api/report?${query({ format, look: "true" })}`,
};
