"""Is an inner boundary a round hole, a slot, or a shape of its own, and how sure is its size?

Sizes carry the doubt of the contour: the noise of its points, and its modes, under each of
which the hole is fitted anew.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from photomeasure.errors import GeometryError
from photomeasure.geometry.circles import fit_circle
from photomeasure.parts.fit import averaged, fit_profile
from photomeasure.records.part import Contour, Profile, RoundHole, Size, Slot

Array = NDArray[np.float64]

_SHORTEST_SLOT = 0.08  # between its centres, in widths; shorter is a hole that is not round
_OUTLIERS = 0.08  # of the rim that may lie off (dirt, a scratch)
_ROUND_SHARE = 0.6  # of the rim on one circle, the rest far off: something lies in the hole
_FAR = 2.5  # tolerances
_LEAST_POINTS = 8


def opening_of(contour: Contour, name: str, tolerance_mm: float) -> RoundHole | Slot | Profile:
    """The simplest thing that an inner boundary is, within the tolerance.

    Raises GeometryError where most of it is round but something covers the rest, and as
    `fit_profile` does.
    """
    hole = round_hole(contour, name, tolerance_mm)
    if hole is not None:
        return hole
    slot = _slot(contour, name, tolerance_mm)
    if slot is not None:
        return slot
    _refuse_covered(contour, name, tolerance_mm)
    return fit_profile(contour, tolerance_mm).profile


def round_hole(contour: Contour, name: str, tolerance_mm: float) -> RoundHole | None:
    """The circle that nearly all of a boundary lies on within the tolerance, or None."""
    points = averaged(contour.points_mm)
    centre, radius = _circle_of_most(points)
    off = np.abs(np.hypot(*(points - centre).T) - radius)
    if not _within(off, tolerance_mm, contour):
        return None
    inlying = _inlying(contour.points_mm, centre, radius)

    def numbers(points_mm: Array) -> Array:
        at, r = fit_circle(points_mm[inlying])
        return np.array([*at, r])

    value, u = with_doubt(contour, numbers)
    u_centre = float(np.hypot(u[0], u[1]) / np.sqrt(2))
    size = Size(2 * float(value[2]), 2 * float(u[2]))
    return RoundHole(name, (float(value[0]), float(value[1])), size, u_centre)


def _inlying(points: Array, centre: Array, radius: float) -> NDArray[np.bool_]:
    off = np.abs(np.hypot(*(points - centre).T) - radius)
    return np.asarray(off <= 4 * 1.4826 * np.median(off) + 1e-6)


def _within(off: Array, tolerance_mm: float, contour: Contour) -> bool:
    allowed = tolerance_mm + 3.0 * float(np.median(contour.u_mm))
    return bool(np.mean(off > allowed) <= _OUTLIERS and np.median(off) < tolerance_mm / 2)


def _slot(contour: Contour, name: str, tolerance_mm: float) -> Slot | None:
    points = averaged(contour.points_mm)
    value = _fit_slot(points, _slot_start(points))
    off = np.abs(_slot_misses(value, points))
    long_enough = 2 * value[3] > _SHORTEST_SLOT * 2 * value[4]
    if not long_enough or not _within(off, tolerance_mm, contour):
        return None
    value, u = with_doubt(contour, lambda p: _fit_slot(p[:: max(1, len(p) // 300)], value))
    x, y, angle, half, radius = (float(v) for v in value)
    angle = (angle + np.pi / 2) % np.pi - np.pi / 2
    size = Size(2 * radius, 2 * float(u[4]))
    return Slot(name, (x, y), 2 * half, angle, size, float(np.hypot(u[0], u[1]) / np.sqrt(2)))


def _slot_start(points: Array) -> Array:
    """(5,) centre, angle, half the length between centres, radius."""
    middle = points.mean(axis=0)
    axes = np.linalg.svd(points - middle, full_matrices=False)[2]
    along, across = (points - middle) @ axes[0], (points - middle) @ axes[1]
    radius = float(np.ptp(across)) / 2
    half = max(float(np.ptp(along)) / 2 - radius, 0.01)
    middle = middle + axes[0] * (along.max() + along.min()) / 2
    return np.array([*middle, np.arctan2(axes[0][1], axes[0][0]), half, radius])


def _slot_misses(numbers: Array, points: Array) -> Array:
    x, y, angle, half, radius = numbers
    way = np.array([np.cos(angle), np.sin(angle)])
    arm = points - [x, y]
    along = arm @ way
    beyond = along - np.clip(along, -abs(half), abs(half))
    return np.asarray(np.hypot(beyond, arm @ [-way[1], way[0]]) - radius)


def _fit_slot(points: Array, start: Array) -> Array:
    from scipy.optimize import least_squares  # noqa: PLC0415 slow, and few are slots

    solved = least_squares(_slot_misses, start, args=(points,), loss="soft_l1", f_scale=0.1)
    return np.asarray(solved.x)


def with_doubt(contour: Contour, numbers: Callable[[Array], Array]) -> tuple[Array, Array]:
    """Numbers (k,) that follow from a contour's points, and their standard uncertainties.

    Neighbouring points share pixels, so the noise counts as if there were half of them.
    """
    value = numbers(contour.points_mm)
    moved = [numbers(contour.points_mm + mode) - value for mode in contour.modes_mm]
    noise = float(np.median(contour.u_mm)) * np.sqrt(2 * 2 / len(contour.points_mm))
    common = np.sqrt(np.sum(np.square(moved), axis=0)) if moved else np.zeros_like(value)
    return value, np.asarray(np.hypot(common, noise))


def _refuse_covered(contour: Contour, name: str, tolerance_mm: float) -> None:
    """A round rim of which a part is far off looks like dirt in the hole."""
    points = averaged(contour.points_mm)
    centre, radius = _circle_of_most(points)
    off = np.abs(np.hypot(*(points - centre).T) - radius)
    on, far = off < tolerance_mm, off > _FAR * tolerance_mm
    if on.mean() >= _ROUND_SHARE and far.any():
        x, y = points[int(off.argmax())]
        raise GeometryError(
            f"{name} is a circle of {2 * radius:.2f} mm over {on.mean():.0%} of its rim, but "
            f"{off.max():.1f} mm off it at ({x:.1f}, {y:.1f}) mm on the face, as if dirt or a "
            "shadow lay in it. Clean the hole, turn the light and take the photo again; if this "
            "is its shape, list its name under `shaped` in the part file."
        )


def _circle_of_most(points: Array) -> tuple[Array, float]:
    """The circle that most points lie on: fitted anew to the better half, then to all near."""
    centre, radius = fit_circle(points)
    for keep in (2.0, 1.5, 1.2, 1.0, 3.0, 3.0, 3.0):
        off = np.abs(np.hypot(*(points - centre).T) - radius)
        near = points[off <= max(keep * float(np.median(off)), 1e-6)]
        if len(near) >= _LEAST_POINTS:
            centre, radius = fit_circle(near)
    return centre, radius
