"""What is wrong with the paper or its print, in words with the remedy?"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from photomeasure.estimation.diagnosis import Diagnosis
from photomeasure.estimation.misfits import Misfit
from photomeasure.estimation.moved import Moved, moved_targets
from photomeasure.estimation.prints import contradicted_prints, worth_saying
from photomeasure.estimation.views import Fit
from photomeasure.records.check import Finding, Fitness
from photomeasure.records.view import Solution


def paper_findings(diagnoses: Sequence[Diagnosis], unnamed: Iterable[Misfit]) -> Iterator[Finding]:
    """One finding for each sighting whose corners are missed, in a pattern or in none."""
    strange: list[Diagnosis | Misfit] = [d for d in diagnoses if d.is_worth_saying]
    for d in (*strange, *unnamed):
        fitness = Fitness.RETAKE if d.breaks_the_promise else Fitness.WITH_CARE
        yield Finding("paper", d.words, fitness)


def print_findings(fit: Fit, diagnoses: Sequence[Diagnosis]) -> Iterator[Finding]:
    """Prints that contradict their readings, or an honest printer."""
    for c in worth_saying(tuple(contradicted_prints(fit)), fit, diagnoses):
        yield Finding("print", c.words, Fitness.RETAKE if c.refuted else Fitness.WITH_CARE)


def moved_findings(solution: Solution) -> Iterable[tuple[str, Finding]]:
    """Photo → what moved between it and another one."""
    return [(m.photos[1], _moved(m)) for m in moved_targets(solution)]


def _moved(moved: Moved) -> Finding:
    return Finding("moved", moved.words, Fitness.WITH_CARE)
