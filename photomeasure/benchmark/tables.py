"""What was measured, against which goal, and was it met?"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from photomeasure.benchmark.cases import Case

Array = NDArray[np.float64]
Progress = Callable[[str], None]

_HEADS = ("what", "goal", "measured", "", "n")


@dataclass(frozen=True)
class Row:
    """One line of a table. met : None where nothing is asked, only told."""

    what: str
    measured: str
    goal: str = ""
    met: bool | None = None
    n: int | None = None

    @property
    def words(self) -> tuple[str, str, str, str, str]:
        """The cells, in the order of the heads."""
        verdict = "" if self.met is None else "met" if self.met else "missed"
        return self.what, self.goal, self.measured, verdict, "" if self.n is None else str(self.n)


@dataclass(frozen=True, eq=False)
class Result:
    """What one part of the benchmark found: a table, remarks below it, all single numbers."""

    title: str
    rows: tuple[Row, ...]
    remarks: tuple[str, ...] = ()
    cases: tuple[Case, ...] = ()


@dataclass(frozen=True)
class Settings:
    """How much to do. scenes : rendered photos of the larger parts; workers : processes."""

    scenes: int
    workers: int
    progress: Progress


def render_result(result: Result) -> str:
    """The table as text, columns aligned."""
    cells = [_HEADS, *(row.words for row in result.rows)]
    widths = [max(len(line[k]) for line in cells) for k in range(len(_HEADS))]
    lines = ["  ".join(c.ljust(w) for c, w in zip(line, widths, strict=True)) for line in cells]
    table = [line.rstrip() for line in lines]
    return "\n".join([result.title, *table, *result.remarks])


def at_most(what: str, value: float, limit: float, unit: str, n: int, digits: int = 3) -> Row:
    """A row whose value must not exceed its limit."""
    goal = f"≤ {limit:g} {unit}"
    return Row(what, f"{value:.{digits}f} {unit}", goal, value <= limit, n)


def error_row(what: str, errors: Array, median: float, most: float) -> Row:
    """Median and 95 % quantile of absolute errors (N,) in mm against two limits."""
    goal = f"median ≤ {median:g}, 95 % ≤ {most:g} mm"
    if len(errors) == 0:
        return Row(what, "nothing measured", goal, None, 0)
    half, large = np.quantile(np.abs(errors), [0.5, 0.95])
    measured = f"median {half:.3f}, 95 % {large:.3f} mm"
    return Row(what, measured, goal, bool(half <= median and large <= most), len(errors))


def counted(words: Sequence[str]) -> tuple[str, ...]:
    """Each different text once, with how often, the commonest first."""
    times = {word: words.count(word) for word in words}
    return tuple(f"{times[w]} × {w}" for w in sorted(times, key=lambda w: (-times[w], w)))
