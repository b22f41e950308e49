"""Which circle goes around this click?

Rays from the click meet the rim of a hole as a sharp change. In a thick part the opening
that is seen is bounded by two circles, the rim of the face and the foot of the wall, whose
places relative to each other the view and the height predict. So circles through three
sharp changes are tried as the one and as the other, and the pair that explains most rays
is taken.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d

from photomeasure.errors import GeometryError
from photomeasure.geometry.camera import camera_centre, image_from_plane, plane_from_image
from photomeasure.geometry.circles import fit_circle
from photomeasure.vision.band import Path, bilinear, sample_band
from photomeasure.vision.faces import FaceEnd, face_end
from photomeasure.vision.rings import ring_path, scale_at

Array = NDArray[np.float64]

_RAYS = 96
_STEP_PX = 1.0
_REACH_PX = 900.0
_PEAKS = 8
_SOFT_PX, _SHARPER = 5.0, 1.4  # a shadow's soft rim is as steep however it is smoothed
_TRIALS = 4000
_TOLERANCE_PX = 2.5
_LEAST_SHARE = 0.45
_LEAST_CHANGE = 0.01  # of full light per px
_FAINT_CHANGE = 0.0015
_NOISE_SIGMAS = 3.5
_FACE_REACH_PX = 20.0  # how far from a circle the face may end
_CLEAR_ENOUGH = 0.98  # of the places show the face and its end: no other circle is tried
_LEAST_PX = 4.0  # of a radius: noise and texture make smaller rings, and clicks scatter by as much
_DISTINCT_PX = 8.0  # circles nearer than this are one
_MOST_TRIED = 8
_FACE_WEIGHT = 0.35  # what a ray adds that meets the face's rim as well


@dataclass(frozen=True, eq=False)
class _Circles:
    """(T, 2) centres and (T,) radii on the plane, mm."""

    centres: Array
    radii: Array


def ring_around(
    click_mm: Array, light: NDArray[np.float32], view: Array, height_mm: float
) -> Path:
    """The path around the hole or disc that a click (2,) on its plane lies in.

    Of the circles that the rays meet the one is taken beside which a face ends best, if beside
    any. Raises GeometryError when most rays meet no common rim.
    """
    px_per_mm = scale_at(click_mm, view, height_mm)
    likely = _likely_circles(click_mm, light, view, height_mm, px_per_mm)
    best, clearest = ring_path(*likely[0], view, height_mm), 0.0
    for centre, radius in likely:
        path = ring_path(centre, radius, view, height_mm)
        end = _end_near(path, light)
        if end is not None and end.face * end.other > clearest:
            best, clearest = _moved_to(end, path, view, height_mm), end.face * end.other
        if clearest > _CLEAR_ENOUGH:
            break
    return best


def _end_near(path: Path, light: NDArray[np.float32]) -> FaceEnd | None:
    """Where a face ends close to a path; None where none does."""
    try:
        end = face_end(sample_band(light, path, _FACE_REACH_PX), 1)
    except GeometryError:
        return None
    return end if end.is_clear else None


def _moved_to(end: FaceEnd, path: Path, view: Array, height_mm: float) -> Path:
    rim_px = path.points_px + end.edge.offset_px[:, None] * path.normals_px
    centre, radius = fit_circle(plane_from_image(rim_px, view, height_mm))
    return ring_path(centre, radius, view, height_mm)


def _likely_circles(
    click_mm: Array,
    light: NDArray[np.float32],
    view: Array,
    height_mm: float,
    px_per_mm: float,
) -> list[tuple[Array, float]]:
    """Centres and radii in mm of circles around a click, the likeliest first."""
    angle = 2 * np.pi * np.arange(_RAYS) / _RAYS
    rays = np.column_stack([np.cos(angle), np.sin(angle)])
    reach_mm = np.arange(2.0, _REACH_PX, _STEP_PX) / px_per_mm
    peaks_mm = _peaks(click_mm, rays, reach_mm, light, view, height_mm)
    faces = _candidates(click_mm, rays, peaks_mm, view, height_mm, _LEAST_PX / px_per_mm)
    feet = _feet(faces, view, height_mm)
    share = _explained(click_mm, rays, peaks_mm, faces, feet, _TOLERANCE_PX / px_per_mm)
    if len(share) == 0 or share.max() < _LEAST_SHARE:
        raise GeometryError(
            "no rim was found around the click that has enough contrast against noise and shade. "
            "Click nearer to the middle of the hole, click three places on its rim, or light it "
            "better."
        )
    good = np.flatnonzero(share > 0.985 * share.max())
    first = int(good[np.argmin(faces.radii[good])])
    order = [first, *np.argsort(-share)]
    return _distinct(order, faces, _DISTINCT_PX / px_per_mm)


def _distinct(order: Sequence[int], faces: _Circles, apart_mm: float) -> list[tuple[Array, float]]:
    """The first few circles of an order that are not nearly the same."""
    left = np.array(order)
    kept: list[tuple[Array, float]] = []
    while len(left) and len(kept) < _MOST_TRIED:
        centre, radius = faces.centres[left[0]], float(faces.radii[left[0]])
        kept.append((centre, radius))
        away = np.linalg.norm(faces.centres[left] - centre, axis=1)
        left = left[away + np.abs(faces.radii[left] - radius) > apart_mm]
    return kept


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
    soft = np.abs(gaussian_filter1d(values, _SOFT_PX, axis=1, order=1))
    top = (size[:, 1:-1] >= size[:, :-2]) & (size[:, 1:-1] > size[:, 2:])
    top &= (size > _SHARPER * soft)[:, 1:-1]
    usual = float(np.median(size)) / 0.6745
    strong = max(_LEAST_CHANGE, 0.15 * float(np.quantile(size, 0.99)))
    # The nearest clear changes, and the nearest of those that just rise from the noise: the rim
    # of a dark hole in a dark part.
    change = np.where(top, size[:, 1:-1], 0.0)
    clear = _first(change > strong, _PEAKS // 2)
    faint = _first(change > max(_FAINT_CHANGE, _NOISE_SIGMAS * usual), _PEAKS // 2)
    ray, place = np.nonzero(clear | faint)
    result = np.full((len(rays), _PEAKS), np.nan)
    result[ray, np.arange(len(ray)) - np.searchsorted(ray, ray)] = reach_mm[place + 1]
    return result


def _first(found: NDArray[np.bool_], count: int) -> NDArray[np.bool_]:
    """The first few of each row (R, S)."""
    return found & (np.cumsum(found, axis=1, dtype=np.int16) <= count)


def _candidates(
    click_mm: Array,
    rays: Array,
    peaks_mm: Array,
    view: Array,
    height_mm: float,
    least_mm: float,
) -> _Circles:
    """Face rims that go around the click: each circle found, and the one over it as a foot."""
    rows = np.flatnonzero(~np.isnan(peaks_mm[:, 0]))
    if len(rows) < 8:
        return _Circles(np.empty((0, 2)), np.empty(0))
    rng = np.random.default_rng(11)
    counts = (~np.isnan(peaks_mm)).sum(axis=1)
    chosen = rows[rng.integers(0, len(rows), (_TRIALS, 3))]
    picks = (rng.random((_TRIALS, 3)) ** 2 * counts[chosen]).astype(int)
    centres, radii = _through(click_mm + rays[chosen] * peaks_mm[chosen, picks][:, :, None])
    shrink, nadir = _shrink(view, height_mm)
    centres = np.concatenate([centres, nadir + (centres - nadir) / shrink])
    radii = np.concatenate([radii, radii / shrink])
    around = np.linalg.norm(centres - click_mm, axis=1) < 0.9 * radii
    around &= radii > least_mm
    return _Circles(centres[around], radii[around])


def _feet(faces: _Circles, view: Array, height_mm: float) -> _Circles:
    """Where the foot of each rim's upright wall appears on the rim's plane."""
    shrink, nadir = _shrink(view, height_mm)
    return _Circles(nadir + (faces.centres - nadir) * shrink, faces.radii * shrink)


def _shrink(view: Array, height_mm: float) -> tuple[float, Array]:
    camera = camera_centre(view)
    return float((camera[2] - height_mm) / camera[2]), camera[:2]


def _explained(
    click_mm: Array,
    rays: Array,
    peaks_mm: Array,
    faces: _Circles,
    feet: _Circles,
    tolerance_mm: float,
) -> Array:
    """(T,) share of rays that meet a change where rim or foot bounds the view."""
    at_face, at_foot = _reach(click_mm, rays, faces), _reach(click_mm, rays, feet)
    # A click outside one of the two is bounded by the other alone.
    at_foot = np.where(np.isnan(at_foot), at_face, at_foot)
    face, foot = (_met(peaks_mm, at, tolerance_mm) for at in (at_face, at_foot))
    nearer = at_face < at_foot
    opening = np.where(nearer, face, foot).mean(axis=1)
    body = np.where(nearer, foot, face).mean(axis=1)
    share = np.maximum(opening, body) + _FACE_WEIGHT * face.mean(axis=1)
    return np.asarray(share / (1 + _FACE_WEIGHT))


def _reach(click_mm: Array, rays: Array, circles: _Circles) -> Array:
    """(T, R) how far each ray runs to the circle around it; NaN where the click is outside."""
    to_centre = circles.centres - click_mm
    along = to_centre @ rays.T
    room = along**2 - ((to_centre**2).sum(axis=1) - circles.radii**2)[:, None]
    inside = np.linalg.norm(to_centre, axis=1) < circles.radii
    reach = along + np.sqrt(np.maximum(room, 0.0))
    return np.where(inside[:, None], reach, np.nan)


def _met(peaks_mm: Array, reach_mm: Array, tolerance_mm: float) -> NDArray[np.bool_]:
    met, away = np.zeros(reach_mm.shape, bool), np.empty_like(reach_mm)
    for column in peaks_mm.T:
        np.abs(np.subtract(reach_mm, column, out=away), out=away)
        met |= away < tolerance_mm
    return met


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
