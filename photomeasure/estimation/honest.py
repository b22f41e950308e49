"""Views that are held to what was promised: refused, or widened, where something is wrong.

A pattern in the residuals (see `diagnosis`) is a hint of what is wrong, not its measure. What
it would do to the views therefore enters as one more source of uncertainty; where that is more
than the uncertainty stated without it (of paper, more than twice that), no number is given.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from photomeasure.errors import CalibrationError, PhotoError, PhotomeasureError
from photomeasure.estimation.diagnosis import Diagnosis, diagnose, refuse_strained_lens
from photomeasure.estimation.joint import ScalePrior, Sighting
from photomeasure.estimation.known_length import is_length, refuse_second_view, with_lengths
from photomeasure.estimation.misfits import Misfit, misfits
from photomeasure.estimation.moved import moved_targets
from photomeasure.estimation.prints import contradicted_prints, worth_saying
from photomeasure.estimation.priors import LensPrior
from photomeasure.estimation.views import Fit, corner_doubt_px, estimate_views
from photomeasure.records.view import VIEW_SIZE, Solution

Array = NDArray[np.float64]

MISFIT = "misfit"
_MISSED = 1.2  # of a corner's doubt, with two numbers free of eight: one in 300 by chance


def honest_views(
    sightings: Sequence[Sighting],
    lenses: Mapping[str, LensPrior],
    scales: Mapping[str, ScalePrior],
) -> Solution:
    """The views of all sightings, with warnings and the source "misfit" where one is strange.

    Raises PhotoError or CalibrationError when a photo cannot be explained, or can only be
    explained by something that would change a length by more than its stated uncertainty.
    """
    refuse_second_view(sightings)
    lengths = [s for s in sightings if is_length(s)]
    targets = [s for s in sightings if not is_length(s)]
    solution = _held(targets, lenses, scales) if targets else None
    return with_lengths(solution, lengths, lenses, scales)


def _held(
    sightings: Sequence[Sighting],
    lenses: Mapping[str, LensPrior],
    scales: Mapping[str, ScalePrior],
) -> Solution:
    used = {s.lens: lenses[s.lens] for s in sightings}
    prints = {s.print_name: scales[s.print_name] for s in sightings}
    fit, solution = estimate_views(sightings, used, prints)
    _refuse_other_things(fit)
    diagnoses = diagnose(sightings, fit, solution)
    unnamed = () if diagnoses else tuple(misfits(sightings, fit))
    doubtful: list[Diagnosis | Misfit] = [*diagnoses, *unnamed]
    contradictions = tuple(contradicted_prints(fit))
    try:
        refuse_strained_lens(fit)
        for contradiction in contradictions:
            if contradiction.refuted:
                raise CalibrationError(contradiction.words)
    except PhotomeasureError as error:
        raise _with_likelier_cause(error, [d.words for d in doubtful]) from None
    for found in doubtful:
        if found.breaks_the_promise:
            raise PhotoError(found.words)
    moved = [m.words for m in moved_targets(solution)]
    strange = [
        *(c.words for c in worth_saying(contradictions, fit, diagnoses)),
        *(d.words for d in diagnoses if d.is_worth_saying),
        *(m.words for m in unnamed),
        *moved,
    ]
    warnings = (*solution.warnings, *strange)
    return widened(replace(solution, warnings=warnings), diagnoses)


def _with_likelier_cause(error: PhotomeasureError, words: Sequence[str]) -> PhotomeasureError:
    """Bent or torn paper strains lens and print as well: then it is named first."""
    return PhotoError(" ".join([*words, f"Else: {error}"])) if words else error


def _refuse_other_things(fit: Fit) -> None:
    """Raise PhotoError where four corners are not those of the thing that was named."""
    for k, sighting in enumerate(fit.unknowns.sightings):
        if sighting.observation.is_printed:
            continue
        missed_px = float(np.sqrt(np.mean(fit.unknowns.misses_px(fit.vector, k) ** 2)))
        limit_px = _MISSED * corner_doubt_px(sighting)
        if missed_px > limit_px:
            raise PhotoError(
                f"{sighting.photo}: its four corners are missed by {missed_px:.1f} px rms when "
                f"taken for a {sighting.observation.sheet}; at most {limit_px:.1f} px can be. Is "
                "it what was named, flat, and were its corners pointed at in turn?"
            )


def widened(solution: Solution, diagnoses: Sequence[Diagnosis]) -> Solution:
    """With what each diagnosis would change as one more, independent, source."""
    if not diagnoses:
        return solution
    covariance = np.zeros((len(solution.values), len(solution.values)))
    starts = {(view.photo, view.sheet): view.start for view in solution.views}
    for found in diagnoses:
        start = starts[found.photo, found.sheet]
        own = slice(start, start + VIEW_SIZE)
        covariance[own, own] += np.outer(found.shift, found.shift)
    return replace(solution, covariances={**solution.covariances, MISFIT: covariance})
