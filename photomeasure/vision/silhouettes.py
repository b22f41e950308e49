"""Of several edges side by side, which one is the silhouette of a round body?

A round body has no face, wall or chamfer; light runs across it gradually, and may shine in
lines along it. So the silhouette is the outermost of the sharp changes. A hard shadow beside
it is sharp too: then both are told.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from photomeasure.vision.band import Band
from photomeasure.vision.ridges import Ridge
from photomeasure.vision.rims import Answer

Array = NDArray[np.float64]
Judge = Callable[[Band, tuple[Ridge, ...], float], tuple[Answer, ...]]

_SHARP = 0.4  # of the sharpest change beside it
_SEEN = 0.5  # of the rows
_REACH_PX = 9.0  # from the clicks


def silhouettes(inwards_px: Array) -> Judge:
    """Judges edges as silhouettes of a body that lies in this direction (2,) of the picture."""

    def judge(band: Band, ridges: tuple[Ridge, ...], paper: float) -> tuple[Answer, ...]:
        outward = float(band.path.normals_px.mean(axis=0) @ inwards_px) < 0
        material = -1 if outward else 1
        sharpest = max(ridge.change for ridge in ridges)
        found = [_answer(ridge, material, sharpest) for ridge in ridges]
        near = [a for a in found if a.likelihood > 0] or found
        best = min(near, key=lambda a: float(a.line_px.mean()) * material)
        others = sorted((a for a in near if a is not best), key=lambda a: -a.likelihood)
        return (best, *others)

    return judge


def _answer(ridge: Ridge, material: int, sharpest: float) -> Answer:
    """A likelihood of 0 for what is faint, seen in few rows or far from the clicks."""
    size = ridge.change / sharpest
    meant = float(np.mean(np.abs(ridge.offset_px))) < _REACH_PX
    return Answer(
        line_px=ridge.offset_px,
        words="edge",
        likelihood=size * ridge.share if meant and size > _SHARP and ridge.share > _SEEN else 0.0,
        depth=0.0,
        material=material,
        beside_wall=False,
        confirmed=False,
        ridge=ridge,
    )
