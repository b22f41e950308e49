"""Does a photo's own account of x against y agree with what was read on the check bars?

How much longer a print is in x than in y shows in a photo, though its size does not. What the
photo alone says follows from the fit by taking the belief out again.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from photomeasure.estimation.diagnosis import Diagnosis
from photomeasure.estimation.views import Fit, covariance_by_source

Array = NDArray[np.float64]

_DOUBTED, _REFUTED = 3.5, 5.5  # standard uncertainties between photo and reading
_TELLING = 0.01  # a photo that knows x against y no better than this says nothing
_ANY_PRINT = 0.05  # no printer stretches one way by more
_BLOCK_SHARE = 2.0 / 150.0  # a bar read between the wrong edges of its blocks


@dataclass(frozen=True)
class Contradiction:
    """x over y minus one: as stated, as seen, and how many standard uncertainties between."""

    printed: str
    is_printed: bool
    stated: float
    seen: float
    u_seen: float
    apart: float

    @property
    def refuted(self) -> bool:
        """Whether no number should rest on the readings."""
        return abs(self.apart) > _REFUTED

    @property
    def is_possible(self) -> bool:
        """Whether a printer could have done it."""
        return abs(self.seen) < _ANY_PRINT

    @property
    def words(self) -> str:
        """What is seen, what was stated, and the likeliest slip."""
        if not self.is_printed:
            return (
                f"The {self.printed} looks {100 * self.seen:+.1f} ± {200 * self.u_seen:.1f} % "
                "longer one way than its size says. Is it what was named, flat, and were its "
                "corners pointed at in turn?"
            )
        if not self.is_possible:
            return (
                f"Sheet {self.printed}: as seen it would be {100 * abs(self.seen):.0f} % "
                f"{'longer' if self.seen > 0 else 'shorter'} in x than in y, which no printer "
                "makes of it. Its paper is not flat, or the picture was stretched: stick the "
                "sheet to something flat, and use the camera's own file."
            )
        return (
            f"Sheet {self.printed}: as seen it is {100 * self.seen:+.2f} ± "
            f"{200 * self.u_seen:.2f} % longer in x than in y, as stated of its print "
            f"{100 * self.stated:+.2f} %. {self._slip}Read both bars again, the lower one for x "
            "and the upright one for y, and see that this sheet is the one that was read."
        )

    @property
    def _slip(self) -> str:
        near = max(3 * self.u_seen, 1e-3)
        if abs(self.stated) > near and abs(self.seen + self.stated) < near:
            return "The two readings look swapped. "
        if abs(abs(self.seen - self.stated) - _BLOCK_SHARE) < near:
            return "One bar may have been read between the wrong edges of its blocks. "
        return ""


def contradicted_prints(fit: Fit) -> Iterator[Contradiction]:
    """Prints of which a photo's account and the stated one are far apart."""
    covariance = np.sum(list(covariance_by_source(fit).values()), axis=0)
    ratio = np.array([1.0, -1.0])
    from_us = {s.print_name for s in fit.unknowns.sightings if s.observation.is_printed}
    for printed, prior in fit.unknowns.scales.items():
        where = fit.unknowns.scale(printed)
        before = float(ratio**2 @ prior.u**2)
        after = float(ratio @ covariance[where, where] @ ratio)
        told = 1 / after - 1 / before
        if told < 1 / _TELLING**2:
            continue
        stated = float(ratio @ prior.mean)
        fitted = float(ratio @ fit.vector[where])
        seen = (fitted / after - stated / before) / told
        apart = (seen - stated) / float(np.sqrt(1 / told + before))
        if abs(apart) > _DOUBTED:
            yield Contradiction(
                printed, printed in from_us, stated, seen, float(np.sqrt(1 / told)), apart
            )


def worth_saying(
    contradictions: Sequence[Contradiction], fit: Fit, diagnoses: Sequence[Diagnosis]
) -> tuple[Contradiction, ...]:
    """Those that are not explained by paper that does not lie flat, which is said instead.

    Bent paper looks shorter one way. What is refuted is kept, as too much for a slight bend,
    unless it is more than a printer could have done.
    """
    bent = {(d.photo, d.sheet) for d in diagnoses if d.is_of_paper and d.is_worth_saying}
    strained = {
        s.print_name for s in fit.unknowns.sightings if (s.photo, s.observation.sheet) in bent
    }
    return tuple(
        c for c in contradictions if c.printed not in strained or (c.refuted and c.is_possible)
    )
