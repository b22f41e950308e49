// Where a place on a plane appears in the photo, and the way back. The same camera model as the
// program's (pinhole with OpenCV's distortion); for drawing only, never for a number.

/** @typedef {import("./types.js").Pair} Pair */
/** @typedef {import("./types.js").View} View */

const STEPS = 12;

/**
 * Rodrigues' formula.
 * @param {number[]} vector rotation vector in rad
 * @returns {number[]} nine numbers, row by row
 */
function rotation([x, y, z]) {
  const angle = Math.hypot(x, y, z);
  const a = angle < 1e-9 ? 1 : Math.sin(angle) / angle;
  const b = angle < 1e-9 ? 0.5 : (1 - Math.cos(angle)) / (angle * angle);
  return [
    1 - b * (y * y + z * z), b * x * y - a * z, b * x * z + a * y,
    b * x * y + a * z, 1 - b * (x * x + z * z), b * y * z - a * x,
    b * x * z - a * y, b * y * z + a * x, 1 - b * (x * x + y * y),
  ];
}

/** One view, ready to project. */
export class Projection {
  /** @param {View} view */
  constructor(view) {
    this.camera = view.camera;
    this.turn = rotation(view.pose);
    this.shift = view.pose.slice(3);
  }

  /**
   * @param {Pair} mm on the plane
   * @param {number} height mm above the sheet
   * @returns {Pair} photo px
   */
  toPhoto([x, y], height) {
    const [r, t] = [this.turn, this.shift];
    const depth = r[6] * x + r[7] * y + r[8] * height + t[2];
    const u = (r[0] * x + r[1] * y + r[2] * height + t[0]) / depth;
    const v = (r[3] * x + r[4] * y + r[5] * height + t[1]) / depth;
    const [du, dv] = this.distorted(u, v);
    const [f, cx, cy] = this.camera;
    return [f * du + cx, f * dv + cy];
  }

  /**
   * @param {Pair} px in the photo
   * @param {number} height mm above the sheet
   * @returns {Pair} mm on the plane
   */
  toPlane([px, py], height) {
    const [f, cx, cy] = this.camera;
    const [dx, dy] = [(px - cx) / f, (py - cy) / f];
    let [u, v] = [dx, dy];
    for (let step = 0; step < STEPS; step += 1) {
      const [seenU, seenV] = this.distorted(u, v);
      [u, v] = [u + dx - seenU, v + dy - seenV];
    }
    return this.meet(u, v, height);
  }

  /**
   * @param {number} u
   * @param {number} v
   * @returns {Pair}
   */
  distorted(u, v) {
    const [, , , k1, k2, p1, p2, k3] = this.camera;
    const r2 = u * u + v * v;
    const radial = 1 + r2 * (k1 + r2 * (k2 + r2 * k3));
    return [
      u * radial + 2 * p1 * u * v + p2 * (r2 + 2 * u * u),
      v * radial + p1 * (r2 + 2 * v * v) + 2 * p2 * u * v,
    ];
  }

  /**
   * Where the sight line through (u, v, 1) meets the plane.
   * @param {number} u
   * @param {number} v
   * @param {number} height
   * @returns {Pair}
   */
  meet(u, v, height) {
    const [r, t] = [this.turn, this.shift];
    /** @param {number} k @param {number[]} w */
    const along = (k, w) => r[k] * w[0] + r[k + 3] * w[1] + r[k + 6] * w[2];
    const ray = [along(0, [u, v, 1]), along(1, [u, v, 1]), along(2, [u, v, 1])];
    const eye = [-along(0, t), -along(1, t), -along(2, t)];
    const length = (height - eye[2]) / ray[2];
    return [eye[0] + length * ray[0], eye[1] + length * ray[1]];
  }
}
