"""Where does someone hold the phone so that the sheet nearly fills the picture?"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.spatial.transform import Rotation

from photomeasure.records.sheet import Sheet
from photomeasure.synthetic.lens import Lens
from photomeasure.synthetic.scene import Pose

Array = NDArray[np.float64]

_MARGIN_PX = 50.0
_NEAR_MM, _FAR_MM = 150.0, 2000.0
_ROLL_DEG = 10.0


def framed_pose(rng: np.random.Generator, design: Sheet, lens: Lens, tilt_rad: float) -> Pose:
    """A pose at this tilt, leaning any way, with the whole ring in the picture.

    The sheet's long side lies along the picture's, either way round, within 10°.
    """
    lean = float(rng.uniform(0, 2 * np.pi))
    turned = design.turned == (lens.size_px[0] > lens.size_px[1])
    quarter = (0.0 if turned else 90.0) + 180.0 * int(rng.integers(2))
    roll = np.radians(quarter + rng.uniform(-_ROLL_DEG, _ROLL_DEG))
    towards = np.array(
        [np.sin(tilt_rad) * np.cos(lean), np.sin(tilt_rad) * np.sin(lean), np.cos(tilt_rad)]
    )
    rotation = looking(-towards, float(roll))
    ring = _ring(design)
    target = np.zeros(3)
    for _ in range(4):
        distance = _nearest(lens, rotation, target, ring)
        target += _off_centre(lens, rotation, target, distance, ring)
    distance = _nearest(lens, rotation, target, ring) * float(rng.uniform(1.0, 1.15))
    target[:2] += rng.uniform(-2, 2, 2)
    return pose_at(rotation, target, distance)


def rim_pose(
    rng: np.random.Generator, design: Sheet, lens: Lens, tilt_rad: float, filled: float
) -> Pose:
    """A pose with the ring in a corner of the picture, of whose size it takes this share."""
    start = framed_pose(rng, design, lens, tilt_rad)
    rotation, ring, corner = start.rotation, _ring(design), rng.integers(0, 2, 2)
    distance = float((rotation @ np.zeros(3) + start.numbers[3:])[2]) / filled
    target = np.zeros(3)
    for _ in range(30):
        seen = _seen(lens, rotation, target, distance, ring)
        share = float(np.max(np.ptp(seen, axis=0) / np.array(lens.size_px)))
        distance *= float(np.clip(share / filled, 0.9, 1.1))
        low, high = _MARGIN_PX, np.array(lens.size_px) - 1 - _MARGIN_PX
        off = np.where(corner == 1, high - seen.max(axis=0), low - seen.min(axis=0))
        target += _moved_by(rotation, -0.5 * off / lens.f_px * distance)
    return pose_at(rotation, target, distance)


def pose_at(rotation: Array, target_mm: Array, distance_mm: float) -> Pose:
    """The camera turned so, looking at a point from this distance."""
    vector = Rotation.from_matrix(rotation).as_rotvec()
    shift = np.array([0.0, 0.0, distance_mm]) - rotation @ target_mm
    return Pose(*(float(v) for v in (*vector, *shift)))


def looking(forward: Array, roll: float) -> Array:
    """(3, 3) to a camera that looks along `forward`, its x axis near this direction."""
    seed = np.array([np.cos(roll), np.sin(roll), 0.0])
    right = seed - (seed @ forward) * forward
    right /= np.linalg.norm(right)
    return np.vstack([right, np.cross(forward, right), forward])


def _ring(design: Sheet) -> Array:
    """(N, 3) the outer edge of everything that must be seen."""
    squares = design.squares.reshape(-1, 2)
    low, high = squares.min(axis=0), squares.max(axis=0)
    share = np.linspace(0, 1, 12)[:, None]
    corners = np.array([low, [high[0], low[1]], high, [low[0], high[1]]])
    sides = [a + share * (b - a) for a, b in zip(corners, np.roll(corners, -1, 0), strict=True)]
    return np.column_stack([np.concatenate(sides), np.zeros(4 * len(share))])


def _seen(lens: Lens, rotation: Array, target: Array, distance: float, ring: Array) -> Array:
    in_camera = (ring - target) @ rotation.T + np.array([0.0, 0.0, distance])
    return lens.pixels_from_normal(in_camera[:, :2] / np.maximum(in_camera[:, 2:], 1.0))


def _nearest(lens: Lens, rotation: Array, target: Array, ring: Array) -> float:
    """The shortest distance from which the ring fits, by bisection."""
    near, far = _NEAR_MM, _FAR_MM
    limit = np.array(lens.size_px) - 1 - _MARGIN_PX
    while far - near > 0.5:
        middle = (near + far) / 2
        seen = _seen(lens, rotation, target, middle, ring)
        fits = bool(np.all(seen > _MARGIN_PX) and np.all(seen < limit))
        near, far = (near, middle) if fits else (middle, far)
    return far


def _off_centre(lens: Lens, rotation: Array, target: Array, distance: float, ring: Array) -> Array:
    """(3,) by how much to move the target so that the ring sits in the middle."""
    seen = _seen(lens, rotation, target, distance, ring)
    middle = (seen.min(axis=0) + seen.max(axis=0)) / 2
    aim = np.array([middle, (np.array(lens.size_px) - 1) / 2])
    normal = (aim - np.array([lens.cx, lens.cy])) / lens.f_px
    return _moved_by(rotation, (normal[0] - normal[1]) * distance)


def _moved_by(rotation: Array, camera_mm: Array) -> Array:
    """(3,) a move on the sheet for one (2,) across the camera's view, roughly."""
    shift = rotation[:2, :2].T @ camera_mm
    return np.array([shift[0], shift[1], 0.0])
