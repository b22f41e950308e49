"""Which part of a picture is shown? The sheet and what was measured, not the surroundings.

A reader sees the part larger, and nobody publishes the workshop around it by mistake.
"""

from __future__ import annotations

import numpy as np

from photomeasure.records.report import Picture, Report

_MARGIN = 0.07  # of the longer side of what is shown


def crop_box(report: Report, picture: Picture) -> tuple[int, int, int, int]:
    """x0, y0, x1, y1 in whole px of the picture; all of a rectified one."""
    height, width = picture.pixels.shape[:2]
    chains = [o.saddles_px for o in report.observations if o.photo == picture.photo]
    if picture.plane is not None or not chains:
        return 0, 0, width, height
    chains += [f.image.points_px for f in report.features.features if f.photo == picture.photo]
    points = (np.vstack(chains) + 0.5) * picture.scale
    low, high = points.min(axis=0), points.max(axis=0)
    margin = _MARGIN * float(np.max(high - low))
    x0, y0 = np.floor(np.maximum(low - margin, 0)).astype(int)
    x1, y1 = np.ceil(np.minimum(high + margin, [width, height])).astype(int)
    return int(x0), int(y0), int(x1), int(y1)
