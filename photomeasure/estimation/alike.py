"""How many corners err as one?

Where paper ripples or a lens is not quite as modelled, neighbouring corners are missed the same
way, and averaging many of them helps less than it would with noise. The correlation of the misses
is read from the corners themselves, by their distance.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

_RINGS = 12  # of distances that are looked at, each as wide as the corners are apart
_UNRELATED = 0.1  # correlation below which corners err on their own


def corners_as_one(places_mm: Array, misses_px: Array) -> float:
    """How many corners count as one, 1 where each errs by itself.

    places_mm, misses_px : (N, 2).
    """
    power = float(np.mean((misses_px**2).sum(axis=1)))
    apart = np.linalg.norm(places_mm[:, None] - places_mm[None], axis=2)
    np.fill_diagonal(apart, np.inf)
    if power == 0.0 or not np.isfinite(apart).any():
        return 1.0
    ring = np.floor(apart / (1.2 * apart.min()))
    alike = misses_px @ misses_px.T / power
    as_one = 1.0
    for number in range(_RINGS):
        pairs = ring == number
        if not pairs.any():
            continue
        correlation = float(alike[pairs].mean())
        if correlation < _UNRELATED:
            break
        as_one += correlation * float(pairs.sum()) / len(places_mm)
    return as_one
