"""How sharp is a target in the photo, and in which direction was it smeared?

The blur's spread across an edge is the width of the printed edge. Two families of edges
tell two of its three numbers; the third, how the blur slants, shows where black squares
touch: under a slanted blur a crossing's middle is brighter or darker than halfway, by
(2/π)·arcsin of the correlation (the quadrant probability of two Gaussians), with the
opposite sign at the next crossing.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import atan2, degrees, pi, sqrt

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import map_coordinates

from photomeasure.geometry.homography import apply_homography, estimate_homography
from photomeasure.records.check import Exposure, Sharpness
from photomeasure.records.sheet import Sheet
from photomeasure.records.view import MarkerObservation
from photomeasure.vision.noise import paper_noise
from photomeasure.vision.printed_edges import (
    BIN_PX,
    CLEAR_SQUARES,
    Segment,
    edge_profile,
    edge_segments,
)
from photomeasure.vision.steps import fit_steps

Array = NDArray[np.float64]
Grey = NDArray[np.uint8]

_MOST_EDGES = 160
_HALF_PX = (3.0, 12.0)  # of a profile, shortest and longest
_LEAST_EDGES = 8
_TOO_NARROW = 0.1  # the share of edges given up because a marker lies too near
_CLIPPED = 253.5
_QUADRANT_SQUARES = 0.12  # where a crossing's four quadrants are looked at
_LEAST_SWING = 0.05  # of full light between a crossing's middle and its quadrants
_LEAST_SMEAR = 0.5  # of the variance across it, else it is not told from scatter
_LEAST_IN_CELL = 4
_PLATEAU = 4  # bins at each end of a profile
_CELLS = (
    ("top left", "top", "top right"),
    ("left", "middle", "right"),
    ("bottom left", "bottom", "bottom right"),
)


def look_at_edges(
    grey: Grey, sheet: Sheet, observation: MarkerObservation
) -> tuple[Sharpness, Exposure] | None:
    """Blur and light by the black squares' edges; None where too few are in sight.

    grey : (H, W) coded luma.
    """
    edges = [(s, scale) for ink, s, scale in edge_segments(sheet, observation) if ink == 1.0]
    if not edges:
        return None
    clear = CLEAR_SQUARES * sheet.square_mm * np.array([scale for _, scale in edges])
    half = float(np.clip(np.quantile(clear, _TOO_NARROW), *_HALF_PX))
    wide = [s for (s, _), room in zip(edges, clear, strict=True) if room >= half]
    bins = np.arange(-half, half + BIN_PX / 2, BIN_PX)
    some = wide[:: max(1, len(wide) // _MOST_EDGES)]
    profiles = [(s, edge_profile(grey, s, bins)) for s in some]
    usable = [(s, p) for s, p in profiles if p is not None]
    if len(usable) < _LEAST_EDGES:
        return None
    coded = np.array([p for _, p in usable])
    blur_px = fit_steps(bins, _light(coded)).blur_px
    exposure = _exposure(coded, paper_noise(grey, observation))
    return _sharpness(grey, observation, [s for s, _ in usable], blur_px), exposure


def _light(coded: Array) -> Array:
    """Roughly linear light, 0 to 1: blur happens in light, not in codes."""
    return np.asarray((np.clip(coded, 0, 255) / 255) ** 2.2)


def _sharpness(
    grey: Grey, observation: MarkerObservation, segments: Sequence[Segment], blur_px: Array
) -> Sharpness:
    spread = _spread(grey, observation, np.array([_normal(s) for s in segments]), blur_px)
    sizes, axes = np.linalg.eigh(spread)
    small, large = np.maximum(sizes, 1e-6)
    smeared = large - small > _LEAST_SMEAR * small and large > _LEAST_SMEAR
    places = np.array([(s[0] + s[1]) / 2 for s in segments])
    where, worst = _worst_cell(places, blur_px)
    return Sharpness(
        blur_px=sqrt(float(small if smeared else (small + large) / 2)),
        motion_px=sqrt(12 * float(large - small)) if smeared else 0.0,
        motion_deg=degrees(atan2(-axes[1, 1], axes[0, 1])) % 180.0,
        worst_px=worst,
        worst_at=where,
        edges=len(segments),
    )


def _normal(segment: Segment) -> Array:
    along = segment[1] - segment[0]
    return np.asarray(np.array([-along[1], along[0]]) / np.linalg.norm(along))


def _spread(grey: Grey, observation: MarkerObservation, normals: Array, blur_px: Array) -> Array:
    """(2, 2) covariance of the blur in px²: along each family's normal, and between them."""
    centre = observation.saddles_mm.mean(axis=0)
    to_px = estimate_homography(observation.saddles_mm - centre, observation.saddles_px)
    first, second = _families(to_px)
    of_first = np.abs(normals @ first) > np.abs(normals @ second)
    if of_first.all() or not of_first.any():
        return np.asarray(np.eye(2) * float(np.median(blur_px)) ** 2)
    a, b = float(np.median(blur_px[of_first])), float(np.median(blur_px[~of_first]))
    both = a * b * _correlation(grey, observation)
    across = np.linalg.inv(np.vstack([first, second]))
    return np.asarray(across @ np.array([[a * a, both], [both, b * b]]) @ across.T)


def _families(to_px: Array) -> Array:
    """(2, 2) unit normals in px of the lines x = const and y = const, towards +x and +y."""
    sides = to_px[:2, :2] - np.outer(to_px[:2, 2], to_px[2, :2])
    normals = np.linalg.inv(sides)
    return np.asarray(normals / np.linalg.norm(normals, axis=1)[:, None])


def _correlation(grey: Grey, observation: MarkerObservation) -> float:
    """Of the blur across x = const and across y = const lines, by the crossings' middles.

    A tone curve lifts all middles alike; what changes sign from crossing to crossing is left.
    """
    right, up = _sides(observation)
    q = _QUADRANT_SQUARES
    spots = [(0, 0), (q, q), (-q, -q), (q, -q), (-q, q)]
    places = np.stack([observation.saddles_px + x * right + y * up for x, y in spots])
    value = _light(
        map_coordinates(
            grey, places.reshape(-1, 2).T[::-1], order=1, output=float, mode="nearest"
        ).reshape(len(spots), -1)
    )
    one, other = (value[1] + value[2]) / 2, (value[3] + value[4]) / 2
    swing = (one - other) / 2
    clear = np.abs(swing) > _LEAST_SWING
    if clear.sum() < _LEAST_EDGES:
        return 0.0
    middle = (value[0] - (one + other) / 2)[clear] / np.abs(swing[clear])
    signs = np.sign(swing[clear])
    if abs(signs.mean()) == 1.0:
        return 0.0
    slant = (np.median(middle[signs > 0]) - np.median(middle[signs < 0])) / 2
    return float(np.clip(np.sin(pi / 2 * slant), -0.98, 0.98))


def _sides(observation: MarkerObservation) -> tuple[Array, Array]:
    """(N, 2) px of one square towards +x and towards +y at each crossing."""
    centre = observation.saddles_mm.mean(axis=0)
    at = observation.saddles_mm - centre
    to_px = estimate_homography(at, observation.saddles_px)
    square = _square_mm(observation)
    here = apply_homography(to_px, at)
    right = apply_homography(to_px, at + np.array([square, 0.0])) - here
    return right, apply_homography(to_px, at + np.array([0.0, square])) - here


def _square_mm(observation: MarkerObservation) -> float:
    steps = np.diff(np.unique(np.round(observation.saddles_mm[:, 0], 3)))
    return float(steps.min()) if len(steps) else 1.0


def _worst_cell(places_px: Array, blur_px: Array) -> tuple[str, float]:
    """Where in the target, as seen, the blur is largest: words and the median blur there."""
    low, span = places_px.min(axis=0), np.ptp(places_px, axis=0) + 1e-9
    cells = np.minimum((places_px - low) / span * 3, 2).astype(int)
    found: dict[tuple[int, int], float] = {}
    for column, row in {(int(c), int(r)) for c, r in cells}:
        mine = (cells == (column, row)).all(axis=1)
        if mine.sum() >= _LEAST_IN_CELL:
            found[column, row] = float(np.median(blur_px[mine]))
    if not found:
        return "middle", float(np.median(blur_px))
    column, row = max(found, key=lambda cell: found[cell])
    return _CELLS[row][column], found[column, row]


def _exposure(coded: Array, noise: float) -> Exposure:
    """From profiles (N, B), dark side first, and the noise in coded levels."""
    ink, paper = coded[:, :_PLATEAU].mean(axis=1), coded[:, -_PLATEAU:].mean(axis=1)
    low, high = np.quantile(_light(paper), (0.05, 0.95))
    return Exposure(
        burnt=float(np.mean(paper > _CLIPPED)),
        paper=float(np.median(paper)),
        ink=float(np.median(ink)),
        evenness=float(low / max(high, 1e-6)),
        noise=noise / max(float(np.median(paper)), 1.0),
    )
