// The picture on the screen: where it stands, how large it is, and when it is drawn again.

/** @typedef {import("./types.js").Pair} Pair */
/** @typedef {import("./scene.js").Scene} Scene */

const LARGEST = 24; // screen px per px of the picture
const STILL = 0.25; // of its height
const FRAMED = 0.72; // of the screen, for what is framed
const SHARP = 3; // from here on single pixels are shown as squares

/** Pans and zooms a scene on a canvas, the picture and what is drawn over it. */
export class Viewer {
  /**
   * @param {HTMLCanvasElement} drawing
   * @param {(context: CanvasRenderingContext2D, viewer: Viewer) => void} draw
   */
  constructor(drawing, draw) {
    this.drawing = drawing;
    this.draw = draw;
    /** @type {Scene|null} */
    this.scene = null;
    this.scale = 1;
    this.left = 0;
    this.top = 0;
    this.fitted = false; // as `fit` left it
    this.dirty = false;
    this.frames = 0;
    this.ground = groundOf(drawing);
    new ResizeObserver(() => this.resized()).observe(drawing);
    matchMedia("(prefers-color-scheme: dark)").addEventListener("change", () => {
      this.ground = groundOf(drawing);
      this.redraw();
    });
  }

  /**
   * @param {Scene|null} scene
   * @param {boolean} fresh whether to show all of it
   */
  show(scene, fresh) {
    this.scene = scene;
    if (fresh) this.fit();
    this.redraw();
  }

  get width() {
    return this.drawing.clientWidth || 1;
  }

  get height() {
    return this.drawing.clientHeight || 1;
  }

  /** The scale at which all of the picture is seen. */
  get whole() {
    if (!this.scene) return 1;
    return Math.min(this.width / this.scene.width, this.height / this.scene.height);
  }

  fit() {
    if (!this.scene) return;
    this.scale = this.whole;
    this.left = (this.width - this.scene.width * this.scale) / 2;
    this.top = (this.height - this.scene.height * this.scale) / 2;
    this.fitted = true;
    this.redraw();
  }

  /** @param {Pair} world @returns {Pair} */
  toScreen([x, y]) {
    return [x * this.scale + this.left, y * this.scale + this.top];
  }

  /** @param {Pair} screen @returns {Pair} */
  toWorld([x, y]) {
    return [(x - this.left) / this.scale, (y - this.top) / this.scale];
  }

  /**
   * @param {number} dx
   * @param {number} dy
   */
  pan(dx, dy) {
    this.fitted = false;
    this.left += dx;
    this.top += dy;
    this.keepInSight();
  }

  /**
   * @param {number} factor
   * @param {Pair} about screen position that stays where it is
   */
  zoom(factor, about) {
    this.fitted = false;
    const scale = Math.min(LARGEST, Math.max(this.whole / 2, this.scale * factor));
    const share = scale / this.scale;
    this.left = about[0] - (about[0] - this.left) * share;
    this.top = about[1] - (about[1] - this.top) * share;
    this.scale = scale;
    this.keepInSight();
  }

  /**
   * Bring a place of the world near the middle, no further out than now.
   * @param {Pair} world
   */
  reveal(world) {
    const [x, y] = this.toScreen(world);
    const edge = 60;
    if (x > edge && y > edge && x < this.width - edge && y < this.height - edge) return;
    this.pan(this.width / 2 - x, this.height / 2 - y);
  }

  /**
   * Come as close as shows all of these places.
   * @param {Pair[]} world
   * @param {number} taken px at the right that something else stands on
   */
  frame(world, taken) {
    const [xs, ys] = [world.map(([x]) => x), world.map(([, y]) => y)];
    const [left, right, top, bottom] = [Math.min(...xs), Math.max(...xs), Math.min(...ys), Math.max(...ys)];
    const scale = FRAMED * Math.min((this.width - taken) / (right - left || 1), this.height / (bottom - top || 1));
    const middle = /** @type {Pair} */ ([(left + right) / 2, (top + bottom) / 2]);
    this.zoom(scale / this.scale, this.toScreen(middle));
    const [x, y] = this.toScreen(middle);
    this.pan((this.width - taken) / 2 - x, this.height / 2 - y);
  }

  /** Some of the picture always stays on the screen. */
  keepInSight() {
    if (!this.scene) return;
    const edge = 0.25;
    const [w, h] = [this.scene.width * this.scale, this.scene.height * this.scale];
    this.left = Math.min(this.width * (1 - edge), Math.max(this.width * edge - w, this.left));
    this.top = Math.min(this.height * (1 - edge), Math.max(this.height * edge - h, this.top));
    this.redraw();
  }

  redraw() {
    if (this.dirty) return;
    this.dirty = true;
    requestAnimationFrame(() => {
      this.dirty = false;
      this.paint();
    });
  }

  resized() {
    if (!this.drawing.clientWidth) return; // put away just now
    const ratio = Math.min(3, window.devicePixelRatio || 1);
    this.drawing.width = Math.round(this.width * ratio);
    this.drawing.height = Math.round(this.height * ratio);
    const [w, h] = [this.width, this.height];
    if (!this.size || !this.scene) this.fit();
    else this.settle(w, h, this.size);
    /** @type {Pair|undefined} */
    this.size = [w, h];
    this.dirty = false;
    this.paint();
  }

  /**
   * Another size: the middle stays the middle, and all of it stays all of it. But where a line more or less stands below the
   * picture, it does not move: the next touch is on its way to it.
   * @param {number} w
   * @param {number} h
   * @param {Pair} before
   */
  settle(w, h, before) {
    const still = w === before[0] && Math.abs(h - before[1]) < STILL * before[1];
    if (still) this.keepInSight();
    else if (this.fitted) this.fit();
    else this.pan((w - before[0]) / 2, (h - before[1]) / 2);
  }

  paint() {
    const ratio = this.drawing.width / this.width;
    const on = context(this.drawing);
    on.setTransform(1, 0, 0, 1, 0, 0);
    on.fillStyle = this.ground;
    on.fillRect(0, 0, this.drawing.width, this.drawing.height);
    if (this.scene) paintPicture(on, this.scene, this.scale * ratio, this.left * ratio, this.top * ratio);
    on.setTransform(ratio, 0, 0, ratio, 0, 0);
    if (this.scene) this.draw(on, this);
    this.frames += 1;
  }
}

/** @param {Element} drawing beside whose picture this colour is seen */
const groundOf = (drawing) => getComputedStyle(drawing).getPropertyValue("--dark").trim() || "#2a2d30";

/**
 * The part of a picture that falls on a canvas.
 * @param {CanvasRenderingContext2D} below
 * @param {Scene} scene
 * @param {number} scale canvas px per world px
 * @param {number} left
 * @param {number} top
 */
export function paintPicture(below, scene, scale, left, top) {
  const perWorld = scene.pyramid.width / scene.width;
  const level = scene.pyramid.level(scale / perWorld);
  const share = level.width / scene.width;
  const asItIs = Math.abs(scale - share) < 1e-6; // px for px: moved by whole ones, nothing is blurred
  if (asItIs) [left, top] = [Math.round(left), Math.round(top)];
  const x0 = Math.max(0, -left / scale);
  const y0 = Math.max(0, -top / scale);
  const x1 = Math.min(scene.width, (below.canvas.width - left) / scale);
  const y1 = Math.min(scene.height, (below.canvas.height - top) / scale);
  if (x1 <= x0 || y1 <= y0) return;
  below.imageSmoothingEnabled = scale < SHARP && !asItIs;
  below.drawImage(
    level, x0 * share, y0 * share, (x1 - x0) * share, (y1 - y0) * share,
    x0 * scale + left, y0 * scale + top, (x1 - x0) * scale, (y1 - y0) * scale,
  );
}

/**
 * Opaque: a browser then lays it over the page without blending, in two thirds of the time.
 * @param {HTMLCanvasElement} canvas
 * @returns {CanvasRenderingContext2D}
 */
export const context = (canvas) => /** @type {CanvasRenderingContext2D} */ (canvas.getContext("2d", { alpha: false }));
