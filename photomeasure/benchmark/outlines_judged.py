"""How is a part that was made laid on the true one, and how far are they apart?"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely
from numpy.typing import NDArray

from photomeasure.parts.profiles import distance_mm, polygon, sampled
from photomeasure.records.part import Part, Profile

Array = NDArray[np.float64]

_SPACING_MM = 0.5
_ROUNDS = 8


def samples(profiles: Sequence[Profile]) -> tuple[Array, Array]:
    """(N, 2) points along all profiles and their normals."""
    pairs = [sampled(p, _SPACING_MM) for p in profiles]
    points = np.concatenate([p for p, _ in pairs])
    headings = np.concatenate([h for _, h in pairs])
    return points, np.column_stack([headings[:, 1], -headings[:, 0]])


def in_sheet(points: Array, part: Part) -> Array:
    """(N, 2) points of a part's frame in that of the sheet."""
    c, s = np.cos(part.turn_rad), np.sin(part.turn_rad)
    return np.asarray((points - part.shift_mm) @ np.array([[c, -s], [s, c]]))


def nearest(profiles: Sequence[Profile], points: Array) -> Array:
    """(N,) how far points lie from the nearest of some profiles, mm."""
    return np.asarray(np.min([distance_mm(points, p) for p in profiles], axis=0))


def solid(profiles: Sequence[Profile]) -> shapely.Geometry:
    """The area within the first profile and outside the others."""
    outer, *inner = (polygon(p) for p in profiles)
    return outer.difference(shapely.union_all(inner))


def aligned(points: Array, profiles: Sequence[Profile]) -> Array:
    """Points shifted and turned to lie nearest to the profiles (Gauss–Newton)."""
    fine, along = samples(profiles)
    tree = shapely.STRtree(shapely.points(fine))
    for _ in range(_ROUNDS):
        closest = tree.nearest(shapely.points(points))
        normal = along[closest]
        miss = np.einsum("ij,ij->i", points - fine[closest], normal)
        arm = points - points.mean(axis=0)
        lever = np.einsum("ij,ij->i", np.column_stack([-arm[:, 1], arm[:, 0]]), normal)
        design = np.column_stack([normal, lever])
        good = np.abs(miss) < max(0.3, 3 * float(np.median(np.abs(miss))))
        x, y, turn = np.linalg.lstsq(design[good], -miss[good], rcond=None)[0]
        c, s = np.cos(turn), np.sin(turn)
        points = arm @ np.array([[c, s], [-s, c]]) + points.mean(axis=0) + [x, y]
    return points
