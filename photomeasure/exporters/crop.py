"""Which part of a picture is shown? The sheet and what was measured, not the surroundings.

A reader sees the part larger, and nobody publishes the workshop around it by mistake. A
rectified picture is for looking closely and keeps to what is drawn on it.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from photomeasure.exporters.overlay import drawn_px
from photomeasure.records.report import Picture, Report

Array = NDArray[np.float64]

_MARGIN = 0.07  # of the longer side of what is shown
_RECTIFIED_MARGIN = 0.2
_SLIMMEST = 0.75  # the shorter side of a rectified picture, of the longer


def crop_box(report: Report, picture: Picture) -> tuple[int, int, int, int]:
    """x0, y0, x1, y1 in whole px of the picture; all of it where nothing is known to show."""
    height, width = picture.pixels.shape[:2]
    points = _rectified(report, picture) if picture.plane is not None else _photo(report, picture)
    if not len(points):
        return 0, 0, width, height
    low, high = points.min(axis=0), points.max(axis=0)
    longest = float(np.max(high - low))
    margin = np.full(2, (_MARGIN if picture.plane is None else _RECTIFIED_MARGIN) * longest)
    if picture.plane is not None:
        margin += np.maximum(_SLIMMEST * longest - (high - low), 0.0) / 2
    x0, y0 = np.floor(np.maximum(low - margin, 0)).astype(int)
    x1, y1 = np.ceil(np.minimum(high + margin, [width, height])).astype(int)
    return int(x0), int(y0), int(x1), int(y1)


def _photo(report: Report, picture: Picture) -> Array:
    """(N, 2) the sheet's corners and the located edges."""
    seen = [o.saddles_px for o in report.observations if o.photo == picture.photo]
    if not seen:
        return np.empty((0, 2))
    seen += [f.image.points_px for f in report.features.features if f.photo == picture.photo]
    return (np.vstack(seen) + 0.5) * picture.scale


def _rectified(report: Report, picture: Picture) -> Array:
    """(N, 2) what is drawn and lies in the picture."""
    points = drawn_px(report, picture)
    height, width = picture.pixels.shape[:2]
    return points[np.all((points >= 0) & (points <= [width, height]), axis=1)]
