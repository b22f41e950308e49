"""Which circle goes around this click?

Rays from the click meet the rim of a hole as a sharp change; three of them make a circle,
and the circle that most rays agree on, near the click before far, is taken.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d

from photomeasure.errors import GeometryError
from photomeasure.geometry.camera import image_from_plane
from photomeasure.vision.band import bilinear

Array = NDArray[np.float64]

_RAYS = 96
_STEP_PX = 1.0
_REACH_PX = 700.0
_PEAKS = 3
_TRIALS = 3000
_TOLERANCE_PX = 2.0
_LEAST_SHARE = 0.45
_LEAST_CHANGE = 0.012  # of full light per px


def circle_around(
    click_mm: Array, light: NDArray[np.float32], view: Array, height_mm: float
) -> tuple[Array, float]:
    """Centre (2,) and radius in mm of the nearest clear circle around a click on its plane.

    Raises GeometryError when most rays meet no common rim.
    """
    px_per_mm = _px_per_mm(click_mm, view, height_mm)
    angle = 2 * np.pi * np.arange(_RAYS) / _RAYS
    rays = np.column_stack([np.cos(angle), np.sin(angle)])
    reach_mm = np.arange(2.0, _REACH_PX, _STEP_PX) / px_per_mm
    peaks_mm = _peaks(click_mm, rays, reach_mm, light, view, height_mm)
    points = click_mm + rays[:, None, :] * peaks_mm[:, :, None]
    found = _agreed(click_mm, points, _TOLERANCE_PX / px_per_mm)
    if found is None:
        raise GeometryError(
            "no rim was found around the click. Click nearer to the middle of the hole, or "
            "click three places on its rim."
        )
    return found


def _px_per_mm(click_mm: Array, view: Array, height_mm: float) -> float:
    ends = click_mm + np.array([[0.0, 0.0], [1.0, 0.0], [0.0, 1.0]])
    px = image_from_plane(ends, view, height_mm)
    return float(np.linalg.norm(px[1:] - px[0], axis=1).mean())


def _peaks(
    click_mm: Array,
    rays: Array,
    reach_mm: Array,
    light: NDArray[np.float32],
    view: Array,
    height_mm: float,
) -> Array:
    """(R, C) distances in mm of the first clear changes on each ray; NaN where none."""
    places = click_mm + rays[:, None, :] * reach_mm[None, :, None]
    px = image_from_plane(places.reshape(-1, 2), view, height_mm).reshape(*places.shape)
    values = bilinear(light, px)
    size = np.abs(gaussian_filter1d(values, 1.5, axis=1, order=1))
    top = (size[:, 1:-1] >= size[:, :-2]) & (size[:, 1:-1] > size[:, 2:])
    clear = top & (size[:, 1:-1] > max(_LEAST_CHANGE, 0.25 * float(np.quantile(size, 0.99))))
    result = np.full((len(rays), _PEAKS), np.nan)
    for row, found in zip(result, clear, strict=True):
        first = np.flatnonzero(found)[:_PEAKS] + 1
        row[: len(first)] = reach_mm[first]
    return result


def _agreed(click_mm: Array, points: Array, tolerance_mm: float) -> tuple[Array, float] | None:
    rows = np.flatnonzero(~np.isnan(points[:, 0, 0]))
    if len(rows) < 8:
        return None
    rng = np.random.default_rng(11)
    counts = (~np.isnan(points[:, :, 0])).sum(axis=1)
    chosen = rows[rng.integers(0, len(rows), (_TRIALS, 3))]
    picks = (rng.random((_TRIALS, 3)) ** 2 * counts[chosen]).astype(int)
    centres, radii = _through(points[chosen, picks])
    inside = np.linalg.norm(centres - click_mm, axis=1) < 0.9 * radii
    centres, radii = centres[inside], radii[inside]
    if len(radii) == 0:
        return None
    away = np.linalg.norm(points[None] - centres[:, None, None, :], axis=3)
    near = np.abs(away - radii[:, None, None]) < tolerance_mm
    share = near.any(axis=2).mean(axis=1)
    if share.max() < _LEAST_SHARE:
        return None
    good = share > 0.85 * share.max()
    best = int(np.flatnonzero(good)[np.argmin(radii[good])])
    return _refit(points, near[best], centres[best], float(radii[best]))


def _through(triples: Array) -> tuple[Array, Array]:
    """Circles through (T, 3, 2) points; centres far away where they are collinear."""
    a, b, c = triples[:, 0], triples[:, 1], triples[:, 2]
    ab, ac = b - a, c - a
    area = 2 * (ab[:, 0] * ac[:, 1] - ab[:, 1] * ac[:, 0])
    area = np.where(np.abs(area) < 1e-9, 1e-9, area)
    ab2, ac2 = (ab**2).sum(axis=1), (ac**2).sum(axis=1)
    offset = (
        np.column_stack([ac[:, 1] * ab2 - ab[:, 1] * ac2, ab[:, 0] * ac2 - ac[:, 0] * ab2])
        / area[:, None]
    )
    return a + offset, np.linalg.norm(offset, axis=1)


def _refit(
    points: Array, near: NDArray[np.bool_], centre: Array, radius: float
) -> tuple[Array, float]:
    chosen = points[near]
    x, y = (chosen - centre).T
    design = np.column_stack([2 * x, 2 * y, np.ones_like(x)])
    solved, *_ = np.linalg.lstsq(design, x**2 + y**2, rcond=None)
    return centre + solved[:2], float(np.sqrt(solved[2] + solved[0] ** 2 + solved[1] ** 2))
