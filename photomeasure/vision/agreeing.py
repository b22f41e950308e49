"""Which places along an edge lie on one line or circle, whatever the others do?

Part of a rim may be covered, burnt out or mistaken for the foot of its wall. Least squares
bends towards such a part and then finds nobody far off; so many lines through few places are
tried, and the one with which most places agree says who belongs to it.
"""

from __future__ import annotations

from math import sqrt

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

_TRIALS = 250
_MOST_FREEDOMS = 3  # a line has two, a circle three; a free curve follows whatever is there
_TIGHT_PX = 0.35  # places nearer to a line than this surely agree
_TIGHT_SIGMA = 3.0
_LOOSE = 1.5  # times as far off is still kept, for least squares to judge
_LEAST_TURN = 0.3  # determinant below which a trial's places lie too close to define a line


def agreeing(offset_px: Array, good: NDArray[np.bool_], basis: Array) -> NDArray[np.bool_]:
    """(M,) those of the good places that lie near the line with which most of them agree.

    offset_px : (M,) beside the path. basis : (M, P) what lines there are (see `Path`).
    The same places always give the same answer.
    """
    rows = np.flatnonzero(good)
    freedoms = basis.shape[1]
    if freedoms > _MOST_FREEDOMS or len(rows) < 3 * freedoms:
        return good
    seen, at = offset_px[rows], basis[rows]
    lines = _trials(seen, at)
    if len(lines) == 0:
        return good
    miss = np.abs(seen - lines @ at.T)
    tight = max(_TIGHT_PX, _TIGHT_SIGMA * _from_place_to_place(seen))
    best = miss[np.argmin(np.minimum(miss / tight, 1.0).sum(axis=1))]
    kept = good.copy()
    kept[rows[best >= _LOOSE * tight]] = False
    return kept


def _trials(seen: Array, at: Array) -> Array:
    """(T, P) lines through a few places each, drawn at random, not all in one spot."""
    rng = np.random.default_rng(len(seen))
    picks = rng.integers(0, len(seen), (_TRIALS, at.shape[1]))
    places = at[picks]
    apart = np.abs(np.linalg.det(places)) > _LEAST_TURN
    return np.asarray(np.linalg.solve(places[apart], seen[picks[apart]][..., None])[..., 0])


def _from_place_to_place(seen: Array) -> float:
    """Noise of one place, from how neighbours differ (1 σ)."""
    return 1.4826 * float(np.median(np.abs(np.diff(seen)))) / sqrt(2)
