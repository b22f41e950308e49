"""How do the sheet's own edges look in this photo, ink level by ink level?

Places come from the saddle corners next to each edge, which neither tone curve nor ink
growth displaces, so that what is left of an edge's offset is exactly those two.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from photomeasure.geometry.homography import apply_homography, estimate_homography
from photomeasure.records.sheet import Sheet
from photomeasure.records.view import MarkerObservation

Array = NDArray[np.float64]
Segment = tuple[Array, Array, Array]
"""Two ends in px and a point on the light side."""
Target = tuple[Sheet, MarkerObservation]

HALF_PX = 7.0
CLEAR_SQUARES = 0.16  # a marker begins at 0.172 of a square
_TOO_FAR = 0.3  # the share of edges given up for longer profiles of the nearer ones
BIN_PX = 0.25
_MIDDLE = (0.2, 0.8)  # the part of an edge away from its corners
_PLATEAU = 4  # bins at each end taken for the level there
_POOL = 12  # profiles averaged into one, of like brightness
_CLIPPED = 254.0  # paper brighter than this has lost its light


@dataclass(frozen=True, eq=False)
class PrintedEdges:
    """Averaged profiles, dark to light.

    positions_px : (B,); profiles : (N, B) coded values; dark, light : (N,) coded levels of
    the plateaus; px_per_mm (across the edge), ink : (N,).
    """

    positions_px: Array
    profiles: Array
    dark: Array
    light: Array
    px_per_mm: Array
    ink: Array


def printed_edges(
    grey: NDArray[np.uint8],
    sheet: Sheet,
    observation: MarkerObservation,
    beside: Sequence[Target] = (),
) -> PrintedEdges:
    """Averaged profiles across the black squares' and grey patches' edges.

    beside : other sheets and cards of the same photo, whose edges count as well.
    """
    targets = ((sheet, observation), *beside)
    segments = [(k, *s) for k, target in enumerate(targets) for s in edge_segments(*target)]
    squares_mm = [design.square_mm for design, _ in targets]
    clear_px = np.array([CLEAR_SQUARES * scale * squares_mm[k] for k, _, _, scale in segments])
    half = min(HALF_PX, float(np.quantile(clear_px, _TOO_FAR))) if segments else HALF_PX
    bins = np.arange(-half, half + BIN_PX / 2, BIN_PX)
    collected: dict[int, list[tuple[float, Array, float]]] = {}
    for (k, ink, segment, px_per_mm), clear in zip(segments, clear_px, strict=True):
        profile = edge_profile(grey, segment, bins) if clear >= half else None
        if profile is not None and profile[-1] <= _CLIPPED:
            collected.setdefault(k, []).append((ink, profile, px_per_mm))
    return _pool(bins, collected.values())


def edge_segments(
    sheet: Sheet, observation: MarkerObservation
) -> Iterator[tuple[float, Segment, float]]:
    """Ink, ends and light side, and px per mm across, of every edge between found crossings."""
    found = {
        _key(mm, sheet): px
        for mm, px in zip(observation.saddles_mm, observation.saddles_px, strict=True)
    }
    for square in sheet.squares:
        yield from _black_edges(square, sheet, found)
    for patch in sheet.patches:
        yield from _patch_edges(np.array(patch.rectangle), patch.ink, sheet, found)


def _key(mm: Array, sheet: Sheet) -> tuple[int, int]:
    doubled = np.round(2 * np.asarray(mm) / sheet.square_mm).astype(int)
    return int(doubled[0]), int(doubled[1])


def _corners(x0: float, y0: float, x1: float, y1: float) -> Array:
    return np.array([(x0, y0), (x1, y0), (x1, y1), (x0, y1)])


def _black_edges(
    square: Array, sheet: Sheet, found: dict[tuple[int, int], Array]
) -> Iterator[tuple[float, Segment, float]]:
    corners_mm = _corners(*square)
    corners_px = [found.get(_key(c, sheet)) for c in corners_mm]
    inside = _middle(corners_px)
    if inside is None:
        return
    for a, b in zip(corners_px, [*corners_px[1:], corners_px[0]], strict=True):
        if a is not None and b is not None:
            scale = 2 * _away(inside, a, b) / sheet.square_mm
            yield 1.0, (a, b, a + b - inside), scale


def _middle(corners_px: Sequence[Array | None]) -> Array | None:
    """Midway between two opposite corners, whichever are known."""
    for one, other in ((corners_px[0], corners_px[2]), (corners_px[1], corners_px[3])):
        if one is not None and other is not None:
            return (one + other) / 2
    return None


def _away(point: Array, a: Array, b: Array) -> float:
    """Distance of a point from the line through a and b."""
    (x, y), (u, v) = point - a, b - a
    return float(abs(x * v - y * u) / np.hypot(u, v))


def _patch_edges(
    patch: Array, ink: float, sheet: Sheet, found: dict[tuple[int, int], Array]
) -> Iterator[tuple[float, Segment, float]]:
    centre = (patch[:2] + patch[2:]) / 2
    half = sheet.square_mm / 2
    corners_mm = _corners(*(centre - half), *(centre + half))
    corners_px = [found.get(_key(c, sheet)) for c in corners_mm]
    if any(c is None for c in corners_px):
        return
    to_px = estimate_homography(corners_mm - centre, np.array(corners_px))
    ends = apply_homography(to_px, _corners(*patch) - np.tile(centre, (4, 1)))
    inside = ends.mean(axis=0)
    side_mm = patch[2] - patch[0]
    for a, b in zip(ends, np.roll(ends, -1, axis=0), strict=True):
        yield ink, (a, b, a + b - inside), 2 * _away(inside, a, b) / side_mm


def edge_profile(grey: NDArray[np.uint8], segment: Segment, bins: Array) -> Array | None:
    """(B,) mean coded value by signed distance, light side positive, from whole pixels."""
    a, b, light = segment
    length = float(np.linalg.norm(b - a))
    along = (b - a) / length
    normal = np.array([-along[1], along[0]])
    normal = normal if (light - a) @ normal > 0 else -normal
    reach = bins[-1] + 1
    low = np.floor(np.minimum(a, b) - reach).astype(int)
    high = np.ceil(np.maximum(a, b) + reach).astype(int) + 1
    if low.min() < 0 or high[0] > grey.shape[1] or high[1] > grey.shape[0]:
        return None
    window = grey[low[1] : high[1], low[0] : high[0]]
    y, x = np.mgrid[low[1] : high[1], low[0] : high[0]]
    t = ((x - a[0]) * along[0] + (y - a[1]) * along[1]) / length
    d = (x - a[0]) * normal[0] + (y - a[1]) * normal[1]
    index = np.round((d - bins[0]) / (bins[1] - bins[0])).astype(int)
    use = (t > _MIDDLE[0]) & (t < _MIDDLE[1]) & (index >= 0) & (index < len(bins))
    return _mean_by_bin(window[use].astype(float), d[use], index[use], bins)


def _mean_by_bin(values: Array, d: Array, index: NDArray[np.intp], bins: Array) -> Array | None:
    count = np.bincount(index, minlength=len(bins))
    filled = count > 0
    if filled.mean() < 0.8:
        return None
    mean = np.bincount(index, values, len(bins))[filled] / count[filled]
    place = np.bincount(index, d, len(bins))[filled] / count[filled]
    return np.interp(bins, place, mean)


def _pool(bins: Array, collected: Iterable[Sequence[tuple[float, Array, float]]]) -> PrintedEdges:
    """Average profiles of one target, one ink and like brightness, so that noise is small."""
    profiles, scales, inks = [], [], []
    of_one_ink = [
        (ink, [c for c in of_one if c[0] == ink])
        for of_one in collected
        for ink in sorted({c[0] for c in of_one})
    ]
    for ink, alike in of_one_ink:
        group = sorted(alike, key=lambda c: c[1][-4:].mean())
        for start in range(0, len(group) - _POOL // 2, _POOL):
            pool = group[start : start + _POOL]
            profiles.append(np.mean([p for _, p, _ in pool], axis=0))
            scales.append(np.mean([s for _, _, s in pool]))
            inks.append(ink)
    stack = np.array(profiles).reshape(-1, len(bins))
    dark, light = stack[:, :_PLATEAU].mean(axis=1), stack[:, -_PLATEAU:].mean(axis=1)
    return PrintedEdges(bins, stack, dark, light, np.array(scales), np.array(inks))
