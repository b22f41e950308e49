"""Which printed markers are in the picture, roughly where, and which sheet are they from?

Markers only name the squares; nothing is measured at their corners, which tone curve and
sharpening displace. So they are sought in a reduced copy, where they are found best.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from photomeasure.records.sheet import Sheet
from photomeasure.vision.sheets import COPIES, DESIGNS, sheet
from photomeasure.vision.sheets.layout import DICTIONARY

Array = NDArray[np.float64]
Grey = NDArray[np.uint8]

LONG_SIDES_PX = (2048, 4096)  # reduced copies tried in turn
ENOUGH_MARKERS = 30  # with these the larger copy is not needed
LEAST_MARKERS = 4  # fewer name no sheet
_INLIER_MARKER_SIDES = 0.35


@dataclass(frozen=True, eq=False)
class FoundMarkers:
    """ids : (N,); corners_px : (N, 4, 2) in the full picture."""

    ids: NDArray[np.intp]
    corners_px: Array


@dataclass(frozen=True, eq=False)
class IdentifiedSheet:
    """A sheet and those of its markers that fit it.

    corners_mm, corners_px : (N, 4, 2).
    """

    sheet: Sheet
    corners_mm: Array
    corners_px: Array


def detect_markers(grey: Grey) -> FoundMarkers:
    """All markers of our dictionary in a grey picture (H, W)."""
    found = FoundMarkers(np.empty(0, np.intp), np.empty((0, 4, 2)))
    for long_side in LONG_SIDES_PX:
        scale = min(1.0, long_side / max(grey.shape))
        found = max(found, _detect_at(grey, scale), key=lambda f: len(f.ids))
        if len(found.ids) >= ENOUGH_MARKERS or scale == 1.0:
            break
    return found


def identify_sheets(found: FoundMarkers) -> tuple[IdentifiedSheet, ...]:
    """The sheets whose arrangement the markers follow, best first."""
    sheets = []
    for first_id, count in sorted({(d.first_id, d.count) for d in DESIGNS}):
        mine = (found.ids >= first_id) & (found.ids < first_id + count)
        if mine.sum() >= LEAST_MARKERS:
            block = FoundMarkers(found.ids[mine], found.corners_px[mine])
            candidates = [_fit(sheet(i), block) for i in _identities_of(first_id)]
            best = max(candidates, key=lambda c: len(c.corners_px))
            if len(best.corners_px) >= LEAST_MARKERS:
                sheets.append(best)
    return tuple(sorted(sheets, key=lambda s: -len(s.corners_px)))


def _detect_at(grey: Grey, scale: float) -> FoundMarkers:
    small = (
        grey
        if scale == 1.0
        else cv2.resize(grey, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA)
    )
    parameters = cv2.aruco.DetectorParameters()
    parameters.cornerRefinementMethod = cv2.aruco.CORNER_REFINE_NONE
    parameters.minMarkerPerimeterRate = 0.02
    # Two threshold windows, fine and coarse, find what the default's three do, faster.
    parameters.adaptiveThreshWinSizeMin = 5
    parameters.adaptiveThreshWinSizeMax = 21
    parameters.adaptiveThreshWinSizeStep = 16
    dictionary = cv2.aruco.getPredefinedDictionary(DICTIONARY)
    corners, ids, _ = cv2.aruco.ArucoDetector(dictionary, parameters).detectMarkers(small)
    if ids is None or len(ids) == 0:
        return FoundMarkers(np.empty(0, np.intp), np.empty((0, 4, 2)))
    stacked = np.asarray(corners, float).reshape(-1, 4, 2)
    # Reducing by area keeps pixel edges in place, not pixel centres.
    return FoundMarkers(np.asarray(ids, np.intp).ravel(), (stacked + 0.5) / scale - 0.5)


def _identities_of(first_id: int) -> list[str]:
    return [f"{d.name}-{c}" for d in DESIGNS if d.first_id == first_id for c in COPIES]


def _fit(candidate: Sheet, block: FoundMarkers) -> IdentifiedSheet:
    """The markers that lie where this candidate's arrangement puts their neighbours.

    Judged locally, because a lens bends the picture: a marker fits when the markers next
    to it in the arrangement predict its centre.
    """
    place = {m.id: m.corners_mm for m in candidate.markers}
    corners_mm = np.array([place[int(i)] for i in block.ids])
    centres_mm, centres_px = corners_mm.mean(axis=1), block.corners_px.mean(axis=1)
    fits = np.array(
        [
            _predicted(k, corners_mm, block.corners_px, centres_mm, centres_px)
            for k in range(len(block.ids))
        ]
    )
    return IdentifiedSheet(candidate, corners_mm[fits], block.corners_px[fits])


def _predicted(
    k: int, corners_mm: Array, corners_px: Array, centres_mm: Array, centres_px: Array
) -> bool:
    """Whether the two nearest other markers, by their own outlines, predict marker k."""
    distance = np.linalg.norm(centres_mm - centres_mm[k], axis=1)
    votes = 0
    for n in np.argsort(distance)[1:4]:
        affine = _affine(corners_mm[n], corners_px[n])
        guess = affine[0] + (centres_mm[k] - centres_mm[n]) @ affine[1]
        side_px = np.sqrt(abs(np.linalg.det(affine[1]))) * np.ptp(corners_mm[n][:, 0])
        reach = max(1.0, distance[n] / np.ptp(corners_mm[n][:, 0]) / 3)
        votes += np.linalg.norm(guess - centres_px[k]) < _INLIER_MARKER_SIDES * side_px * reach
    return votes >= 2


def _affine(corners_mm: Array, corners_px: Array) -> tuple[Array, Array]:
    """Centre in px and (2, 2) matrix with px = centre + mm offset @ matrix."""
    offsets_mm = corners_mm - corners_mm.mean(axis=0)
    matrix, *_ = np.linalg.lstsq(offsets_mm, corners_px - corners_px.mean(axis=0), rcond=None)
    return corners_px.mean(axis=0), matrix
