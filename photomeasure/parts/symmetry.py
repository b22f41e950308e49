"""Is a part nearly its own mirror image, and what is it when it is made so?

Vertices and holes are paired with their mirror images and the mean of each pair is taken.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from photomeasure.parts.profiles import polygon, profile_through
from photomeasure.records.part import Part, Profile, RoundHole

Array = NDArray[np.float64]

_AXES = 36
_NEAR_MM = 1.0
_ROUNDS = 6


def symmetric_part(part: Part) -> tuple[Part, float] | None:
    """The part made symmetric and how far anything moved, mm; None where it is far from it.

    Parts with slots or openings are left alone.
    """
    if part.slots or part.openings or part.levels:
        return None
    middle = np.array(polygon(part.outline, 0.01).centroid.coords[0])
    found = [
        made for k in range(_AXES) if (made := _about(part, middle, np.pi * k / _AXES)) is not None
    ]
    return min(found, key=lambda made: made[1]) if found else None


def _about(part: Part, at: Array, angle: float) -> tuple[Part, float] | None:
    """Symmetric about the axis near a point and angle, the axis itself refined."""
    points = np.array(part.outline.points_mm)
    centres = np.array([h.centre_mm for h in part.holes]).reshape(-1, 2)
    pairing: NDArray[np.intp] | None = None
    holes: NDArray[np.intp] | None = None
    for _ in range(_ROUNDS):
        pairing = _pairing(points, at, angle)
        holes = _hole_pairing(centres, at, angle)
        if pairing is None or holes is None:
            return None
        source = np.vstack([points, centres])
        target = np.vstack([points[pairing], centres[holes]])
        at, angle = _best_axis(source, target)
    assert pairing is not None
    assert holes is not None
    even = (points + _reflected(points[pairing], at, angle)) / 2
    # A piece that starts at vertex k is the image of the one that ends at its partner.
    bulges = np.array(part.outline.bulges)
    bulges = (bulges + bulges[(pairing - 1) % len(points)]) / 2
    moved = (centres + _reflected(centres[holes], at, angle)) / 2
    made = replace(
        part,
        outline=_profile(even, bulges),
        holes=tuple(_hole(part.holes, k, int(holes[k]), moved[k]) for k in range(len(moved))),
    )
    off = np.hypot(*(np.vstack([even, moved]) - source).T).max()
    return made, float(off)


def _hole(holes: tuple[RoundHole, ...], k: int, other: int, at: Array) -> RoundHole:
    hole = replace(holes[k], centre_mm=(float(at[0]), float(at[1])))
    if other == k:
        return hole
    mean = (holes[k].diameter.value + holes[other].diameter.value) / 2
    return replace(hole, diameter=replace(hole.diameter, chosen=mean, why="made symmetric"))


def _profile(points: Array, bulges: Array) -> Profile:
    return profile_through(points, bulges)


def _reflected(points: Array, at: Array, angle: float) -> Array:
    normal = np.array([-np.sin(angle), np.cos(angle)])
    return np.asarray(points - 2 * ((points - at) @ normal)[:, None] * normal)


def _pairing(points: Array, at: Array, angle: float) -> NDArray[np.intp] | None:
    """For each vertex, in order, the one that its mirror image falls on."""
    image = _reflected(points, at, angle)
    count = len(points)
    best: tuple[float, NDArray[np.intp]] | None = None
    for shift in range(count):
        pairing = (shift - np.arange(count)) % count
        worst = float(np.hypot(*(image[pairing] - points).T).max())
        if best is None or worst < best[0]:
            best = (worst, pairing)
    return best[1] if best is not None and best[0] < _NEAR_MM + _slack(points) else None


def _slack(points: Array) -> float:
    """The first axes tried are 5° apart, so far ends may miss by more."""
    return 0.05 * float(np.ptp(points, axis=0).max())


def _hole_pairing(centres: Array, at: Array, angle: float) -> NDArray[np.intp] | None:
    if len(centres) == 0:
        return np.empty(0, np.intp)
    image = _reflected(centres, at, angle)
    apart = np.hypot(*(image[None] - centres[:, None]).transpose(2, 0, 1))
    nearest = apart.argmin(axis=1)
    mutual = np.array_equal(nearest[nearest], np.arange(len(centres)))
    close = apart.min(axis=1).max() < _NEAR_MM + _slack(centres)
    return nearest if mutual and close else None


def _best_axis(source: Array, target: Array) -> tuple[Array, float]:
    """The mirror that carries source points nearest to their targets (Procrustes)."""
    a, b = source.mean(axis=0), target.mean(axis=0)
    c = (source - a).T @ (target - b)
    # A reflection about angle φ maximises c_xx cos 2φ + ... ; its double angle follows.
    double = np.arctan2(c[0, 1] + c[1, 0], c[0, 0] - c[1, 1])
    return (a + b) / 2, float(double / 2)
