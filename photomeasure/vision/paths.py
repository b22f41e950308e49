"""Along which path is an edge looked for, given the clicks?

An edge: two or more clicks along it; its extents are the first and the last. A circle:
three or more clicks on its rim, two opposite ones, or one inside it. A curve: two or more
clicks along it. Tubes and rows are made of edges and points (see `several`).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from photomeasure.errors import GeometryError
from photomeasure.geometry.camera import plane_from_image
from photomeasure.geometry.circles import fit_circle
from photomeasure.geometry.lines import fit_line
from photomeasure.vision.band import Path, lay_path
from photomeasure.vision.rings import ring_path, row_count, scale_at
from photomeasure.vision.round_search import ring_around

Array = NDArray[np.float64]

CLICKS_NEEDED = {"point": 1, "edge": 2, "circle": 1, "curve": 2, "tube": 4, "row": 3}

_END_SHARE = 0.04  # left out at each end of an edge, where corners disturb
_LEAST_LENGTH_PX = 12.0
_CURVE_KNOT_ROWS = 10


def path_of(
    kind: str, clicks_px: Array, light: NDArray[np.float32], view: Array, height_mm: float
) -> Path:
    """The path of one feature kind through (N, 2) clicks.

    Raises GeometryError when the clicks do not define one.
    """
    clicks_mm = plane_from_image(clicks_px, view, height_mm)
    if kind == "edge":
        return _edge(clicks_px, clicks_mm, view, height_mm)
    if kind == "circle":
        return _circle(clicks_px, clicks_mm, light, view, height_mm)
    return _curve(clicks_px, clicks_mm, view, height_mm)


def _edge(clicks_px: Array, clicks_mm: Array, view: Array, height_mm: float) -> Path:
    length_px = float(np.linalg.norm(clicks_px[-1] - clicks_px[0]))
    if length_px < _LEAST_LENGTH_PX:
        raise GeometryError(
            f"the clicks along it are {length_px:.0f} px apart; at least "
            f"{_LEAST_LENGTH_PX:.0f} px are needed. Click near both ends of the edge."
        )
    point, direction = fit_line(clicks_mm)
    along = (clicks_mm - point) @ direction
    direction = direction * np.sign(along[-1] - along[0])
    start, end = abs(along[0]) * np.array([-1, 1]) if len(along) == 2 else sorted(along[[0, -1]])
    share = np.linspace(_END_SHARE, 1 - _END_SHARE, row_count(length_px))
    points = point + np.outer(start + share * (end - start), direction)
    tangents = np.tile(direction, (len(share), 1))
    basis = np.column_stack([np.ones_like(share), 2 * share - 1])
    return lay_path(points, tangents, basis, view, height_mm, closed=False)


def _circle(
    clicks_px: Array, clicks_mm: Array, light: NDArray[np.float32], view: Array, height_mm: float
) -> Path:
    if len(clicks_mm) == 1:
        return ring_around(clicks_mm[0], light, view, height_mm)
    if len(clicks_mm) == 2:
        centre = clicks_mm.mean(axis=0)
        radius = float(np.linalg.norm(clicks_mm[1] - clicks_mm[0])) / 2
    else:
        centre, radius = fit_circle(clicks_mm)
    px_per_mm = scale_at(centre, view, height_mm)
    if radius * px_per_mm < _LEAST_LENGTH_PX / 2:
        raise GeometryError(
            f"the circle is {2 * radius * px_per_mm:.0f} px across; at least "
            f"{_LEAST_LENGTH_PX:.0f} px are needed. Move closer, or click on its rim."
        )
    return ring_path(centre, radius, view, height_mm)


def _curve(clicks_px: Array, clicks_mm: Array, view: Array, height_mm: float) -> Path:
    from scipy.interpolate import make_interp_spline  # slow to import, and only curves need it

    chords = np.linalg.norm(np.diff(clicks_px, axis=0), axis=1)
    if chords.min() < 2.0:
        raise GeometryError("two clicks in a row are on the same spot. Spread the clicks.")
    along = np.concatenate([[0.0], np.cumsum(chords)])
    spline = make_interp_spline(along, clicks_mm, k=min(3, len(clicks_mm) - 1))
    rows = row_count(float(along[-1]))
    places = np.linspace(0.0, along[-1], rows)
    slopes = spline.derivative()(places)
    tangents = slopes / np.linalg.norm(slopes, axis=1)[:, None]
    return lay_path(spline(places), tangents, _smooth_basis(rows), view, height_mm, closed=False)


def _smooth_basis(rows: int) -> Array:
    """(rows, P) cubic B-splines: what a curve may do between its rows."""
    from scipy.interpolate import BSpline  # slow to import, and only curves need it

    inner = max(2, rows // _CURVE_KNOT_ROWS)
    knots = np.concatenate([np.zeros(3), np.linspace(0, 1, inner), np.ones(3)])
    places = np.linspace(0, 1 - 1e-9, rows)
    return np.asarray(BSpline.design_matrix(places, knots, 3).toarray())
