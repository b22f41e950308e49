"""Which of several holes are of another size than the rest?

In most patterns all holes are drilled alike ("common practice, no source").
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

ODD = 0.03
"""Of the usual size: holes drilled alike and measured alike differ by less."""


@dataclass(frozen=True)
class OddSizes:
    """usual_mm : mean size of those that are alike. odd : indices of the others, in order."""

    usual_mm: float
    odd: tuple[int, ...]


def odd_sizes(sizes_mm: Sequence[float], fewest_alike: int) -> OddSizes | None:
    """The usual size and those off it; None where fewer than `fewest_alike`, or no more than
    half, are alike, so that nobody can say which are the odd ones."""
    sizes = np.asarray(sizes_mm, dtype=float)
    if len(sizes) < fewest_alike:
        return None
    middle = float(np.median(sizes))
    off = np.abs(sizes - middle) > ODD * middle
    if (~off).sum() < max(fewest_alike, len(sizes) // 2 + 1):
        return None
    return OddSizes(float(np.mean(sizes[~off])), tuple(np.flatnonzero(off).tolist()))
