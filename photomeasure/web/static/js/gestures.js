// Fingers, mouse, wheel and keys, as what they mean: pan, zoom, aim, touch, drag.

/** @typedef {import("./types.js").Pair} Pair */

/**
 * @typedef {object} Meaning
 * @property {() => boolean} pointing whether a touch would be taken
 * @property {(at: Pair) => unknown} grab what can be dragged at this place; null for nothing
 * @property {(handle: unknown, at: Pair) => void} drag
 * @property {(handle: unknown, at: Pair|null) => void} drop null when it was called off
 * @property {(at: Pair) => void} touch
 * @property {(at: Pair|null) => void} aim where the magnifier is wanted
 * @property {() => void} stop
 * @property {() => void} back take the last touch away
 */

const SLOP = { mouse: 4, pen: 6, touch: 10 };
const HOLD_MS = 320;
const STEP = { plain: 2, fast: 24 };

/**
 * Listen to everything that a hand does on the picture.
 * @param {HTMLCanvasElement} canvas
 * @param {import("./viewer.js").Viewer} viewer
 * @param {Meaning} meaning
 */
export function listen(canvas, viewer, meaning) {
  const hands = new Hands(canvas, viewer, meaning);
  canvas.addEventListener("pointerdown", (event) => hands.down(event));
  canvas.addEventListener("pointermove", (event) => hands.move(event));
  canvas.addEventListener("pointerup", (event) => hands.up(event));
  canvas.addEventListener("pointercancel", (event) => hands.cancel(event));
  canvas.addEventListener("pointerleave", () => hands.leave());
  canvas.addEventListener("contextmenu", (event) => event.preventDefault());
  canvas.addEventListener("wheel", (event) => wheel(event, viewer), { passive: false });
  canvas.addEventListener("keydown", (event) => hands.key(event));
  canvas.addEventListener("blur", () => hands.blur());
  return hands;
}

/**
 * @param {WheelEvent} event
 * @param {import("./viewer.js").Viewer} viewer
 */
function wheel(event, viewer) {
  event.preventDefault();
  const unit = event.deltaMode === 1 ? 18 : 1;
  const speed = event.ctrlKey ? 0.01 : 0.0016;
  viewer.zoom(Math.exp(-event.deltaY * unit * speed), [event.offsetX, event.offsetY]);
}

class Hands {
  /**
   * @param {HTMLCanvasElement} canvas
   * @param {import("./viewer.js").Viewer} viewer
   * @param {Meaning} meaning
   */
  constructor(canvas, viewer, meaning) {
    this.canvas = canvas;
    this.viewer = viewer;
    this.meaning = meaning;
    /** @type {Map<number, Pair>} */
    this.fingers = new Map();
    /** @type {"" | "ready" | "pan" | "aim" | "drag" | "pinch"} */
    this.doing = "";
    /** @type {Pair} */
    this.start = [0, 0];
    /** @type {unknown} */
    this.handle = null;
    this.timer = 0;
    /** @type {Pair|null} */
    this.cross = null; // where the keys have moved the cross to
  }

  /** @param {PointerEvent} event */
  at(event) {
    const box = this.canvas.getBoundingClientRect();
    return /** @type {Pair} */ ([event.clientX - box.left, event.clientY - box.top]);
  }

  /** @param {PointerEvent} event */
  down(event) {
    if (event.button > 0 && event.pointerType === "mouse") return;
    this.capture(event);
    this.cross = null;
    this.fingers.set(event.pointerId, this.at(event));
    if (this.fingers.size === 2) return this.pinch();
    if (this.fingers.size > 2) return;
    this.start = this.at(event);
    this.handle = this.meaning.grab(this.start);
    this.doing = this.handle === null ? "ready" : "drag";
    if (this.doing === "drag") this.meaning.aim(this.start);
    else if (event.pointerType !== "mouse" && this.meaning.pointing()) {
      this.timer = window.setTimeout(() => this.hold(), HOLD_MS);
    }
  }

  /** @param {PointerEvent} event */
  capture(event) {
    try {
      this.canvas.setPointerCapture(event.pointerId);
    } catch {
      // A pointer that is gone already.
    }
  }

  /** A finger that stays where it is wants to aim. */
  hold() {
    if (this.doing !== "ready") return;
    this.doing = "aim";
    this.meaning.aim(this.start);
  }

  pinch() {
    clearTimeout(this.timer);
    if (this.doing === "drag") this.meaning.drop(this.handle, null);
    this.doing = "pinch";
    this.meaning.aim(null);
  }

  /** @param {PointerEvent} event */
  move(event) {
    const now = this.at(event);
    const before = this.fingers.get(event.pointerId);
    if (!before) {
      if (event.pointerType === "mouse") this.meaning.aim(this.meaning.pointing() ? now : null);
      return;
    }
    if (this.doing === "pinch") this.spread(event.pointerId, now);
    this.fingers.set(event.pointerId, now);
    if (this.doing === "ready" && away(now, this.start) > slop(event)) {
      clearTimeout(this.timer);
      this.doing = "pan";
      this.meaning.aim(null);
    }
    if (this.doing === "pan") this.viewer.pan(now[0] - before[0], now[1] - before[1]);
    if (this.doing === "aim") this.meaning.aim(now);
    if (this.doing === "drag") {
      this.meaning.aim(now);
      if (away(now, this.start) > slop(event)) this.meaning.drag(this.handle, now);
    }
  }

  /**
   * Two fingers move and spread the picture between them.
   * @param {number} id
   * @param {Pair} now
   */
  spread(id, now) {
    const other = [...this.fingers].find(([key]) => key !== id)?.[1];
    const before = this.fingers.get(id);
    if (!other || !before) return;
    const middle = /** @type {Pair} */ ([(now[0] + other[0]) / 2, (now[1] + other[1]) / 2]);
    this.viewer.pan((now[0] - before[0]) / 2, (now[1] - before[1]) / 2);
    this.viewer.zoom(away(now, other) / Math.max(1, away(before, other)), middle);
  }

  /** @param {PointerEvent} event */
  up(event) {
    if (!this.fingers.delete(event.pointerId)) return;
    clearTimeout(this.timer);
    const at = this.at(event);
    const did = this.doing;
    if (this.fingers.size === 0) this.doing = "";
    if (did === "pinch") return;
    if (event.pointerType !== "mouse") this.meaning.aim(null);
    const stayed = away(at, this.start) <= slop(event);
    if (did === "drag") this.meaning.drop(this.handle, stayed ? null : at);
    if (did === "drag" && stayed) this.meaning.touch(at); // a touch close to the one before
    if (did === "ready" || did === "aim") this.meaning.touch(at);
  }

  /** @param {PointerEvent} event */
  cancel(event) {
    this.fingers.delete(event.pointerId);
    clearTimeout(this.timer);
    if (this.doing === "drag") this.meaning.drop(this.handle, null);
    this.doing = "";
    this.meaning.aim(null);
  }

  leave() {
    if (this.fingers.size === 0 && !this.cross) this.meaning.aim(null);
  }

  blur() {
    this.cross = null;
    this.meaning.aim(null);
  }

  /** @param {KeyboardEvent} event */
  key(event) {
    if (event.altKey || event.metaKey || event.ctrlKey) return;
    const done = this.act(event.key, event.shiftKey);
    if (done) event.preventDefault();
  }

  /**
   * @param {string} key
   * @param {boolean} fast
   * @returns {boolean} whether the key means something
   */
  act(key, fast) {
    const way = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] }[key];
    const middle = /** @type {Pair} */ ([this.viewer.width / 2, this.viewer.height / 2]);
    if (way) this.nudge(way[0], way[1], fast ? STEP.fast : STEP.plain);
    else if (key === "+" || key === "=") this.viewer.zoom(1.4, this.cross || middle);
    else if (key === "-" || key === "_") this.viewer.zoom(1 / 1.4, this.cross || middle);
    else if (key === "0") this.viewer.fit();
    else if (key === "Enter" || key === " ") this.meaning.touch(this.cross || middle);
    else if (key === "Backspace" || key === "Delete") this.meaning.back();
    else if (key === "Escape") this.meaning.stop();
    else return false;
    return true;
  }

  /**
   * Move the cross; at the rim the picture moves under it.
   * @param {number} x
   * @param {number} y
   * @param {number} by
   */
  nudge(x, y, by) {
    const from = this.cross || [this.viewer.width / 2, this.viewer.height / 2];
    const rim = 40;
    let [left, top] = [from[0] + x * by, from[1] + y * by];
    if (left < rim || left > this.viewer.width - rim) {
      this.viewer.pan(-x * by, 0);
      left = from[0];
    }
    if (top < rim || top > this.viewer.height - rim) {
      this.viewer.pan(0, -y * by);
      top = from[1];
    }
    this.cross = [left, top];
    this.meaning.aim(this.cross);
    this.viewer.redraw();
  }
}

/** @param {Pair} a @param {Pair} b */
const away = (a, b) => Math.hypot(a[0] - b[0], a[1] - b[1]);

/** @param {PointerEvent} event */
const slop = (event) => SLOP[/** @type {"mouse"|"pen"|"touch"} */ (event.pointerType)] || SLOP.touch;
