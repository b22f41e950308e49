// What lies under the finger: the photo as taken, or one plane of it seen at right angles.
// "World" is px of the picture shown, with (0, 0) at its top left corner.

import { api } from "./api.js";
import { Projection } from "./projection.js";

/** @typedef {import("./types.js").Pair} Pair */
/** @typedef {import("./types.js").PhotoAnswer} PhotoAnswer */

const SMALLEST = 500; // px: the last of the pictures that are halved for zooming out

/** A picture with its smaller copies. */
export class Pyramid {
  /** @param {ImageBitmap[]} levels each half of the one before */
  constructor(levels) {
    this.levels = levels;
    this.width = levels[0].width;
    this.height = levels[0].height;
  }

  /**
   * @param {string} address
   * @returns {Promise<Pyramid>}
   */
  static async load(address) {
    const levels = [await createImageBitmap(await api.picture(address))];
    for (let last = levels[0]; Math.max(last.width, last.height) > 2 * SMALLEST; last = levels[levels.length - 1]) {
      const half = await createImageBitmap(last, {
        resizeWidth: Math.round(last.width / 2), resizeHeight: Math.round(last.height / 2), resizeQuality: "medium",
      });
      if (half.width >= last.width) break; // an older browser takes the size for granted
      levels.push(half);
    }
    return new Pyramid(levels);
  }

  /**
   * The smallest copy that is still as fine as the screen.
   * @param {number} scale screen px per px of the picture
   */
  level(scale) {
    let k = 0;
    while (k + 1 < this.levels.length && scale * 2 ** (k + 1) <= 1) k += 1;
    return this.levels[k];
  }

  close() {
    for (const level of this.levels) level.close();
  }
}

/** A photo with where the camera stood, as shown. */
export class Scene {
  /**
   * @param {Pyramid} pyramid
   * @param {PhotoAnswer} photo
   * @param {{plane: string, height: number}|null} flat
   */
  constructor(pyramid, photo, flat) {
    this.pyramid = pyramid;
    this.photo = photo;
    this.flat = flat;
    /** @type {Map<string, Projection>} */
    this.projections = new Map(photo.views.map((view) => [view.sheet, new Projection(view)]));
    /** @type {WeakMap<Pair[], Pair[]>} */
    this.chains = new WeakMap();
    const sheet = flat ? photo.planes[flat.plane] : "";
    this.sheet = sheet;
    this.box = photo.views.find((view) => view.sheet === sheet)?.box_mm || [0, 0, 1, 1];
    this.width = flat ? pyramid.width : photo.size_px ? photo.size_px[0] : pyramid.width;
    this.height = flat ? pyramid.height : photo.size_px ? photo.size_px[1] : pyramid.height;
    this.perMm = pyramid.width / (this.box[2] - this.box[0]);
  }

  /**
   * @param {Pair} px of the photo; the centre of a pixel is a whole number
   * @returns {Pair}
   */
  fromPhoto(px) {
    if (!this.flat) return [px[0] + 0.5, px[1] + 0.5];
    const projection = this.projections.get(this.sheet);
    return projection ? this.onFlat(projection.toPlane(px, this.flat.height)) : px;
  }

  /**
   * @param {Pair} world
   * @returns {Pair} px of the photo
   */
  toPhoto(world) {
    if (!this.flat) return [world[0] - 0.5, world[1] - 0.5];
    const projection = this.projections.get(this.sheet);
    const mm = /** @type {Pair} */ ([world[0] / this.perMm + this.box[0], this.box[3] - world[1] / this.perMm]);
    return projection ? projection.toPhoto(mm, this.flat.height) : world;
  }

  /**
   * @param {Pair} mm on a plane at a height above a sheet
   * @param {string} sheet
   * @param {number} height
   * @returns {Pair|null} null where that sheet is not seen here
   */
  fromPlane(mm, sheet, height) {
    const projection = this.projections.get(sheet);
    if (!projection) return null;
    if (this.flat && sheet === this.sheet && Math.abs(height - this.flat.height) < 1e-9) return this.onFlat(mm);
    return this.fromPhoto(projection.toPhoto(mm, height));
  }

  /**
   * A whole chain of them; worked out once, as it is drawn again in every frame.
   * @param {Pair[]} chain
   * @param {string} sheet
   * @param {number} height
   * @returns {Pair[]}
   */
  chain(chain, sheet, height) {
    const known = this.chains.get(chain);
    if (known) return known;
    const found = [];
    for (const mm of chain) {
      const world = this.fromPlane(mm, sheet, height);
      if (world) found.push(world);
    }
    this.chains.set(chain, found);
    return found;
  }

  /** @param {Pair} mm @returns {Pair} */
  onFlat([x, y]) {
    return [(x - this.box[0]) * this.perMm, (this.box[3] - y) * this.perMm];
  }

  /** @param {Pair} world */
  holds([x, y]) {
    return x >= 0 && y >= 0 && x <= this.width && y <= this.height;
  }
}
