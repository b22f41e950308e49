"""What comes out: quantities, decisions, checks, pictures, and what was not checked."""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import Enum

import numpy as np
from numpy.typing import NDArray

from photomeasure.records.feature import Features
from photomeasure.records.job import CheckEntry, Job, Rule
from photomeasure.records.shapes import DrawnShape
from photomeasure.records.view import MarkerObservation, Solution

Array = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Quantity:
    """One measured number.

    u : standard uncertainty; interval : 95 % coverage interval; budget : source →
    standard uncertainty from that source alone. samples : (S,) Monte Carlo draws, or
    None where the result is Gaussian enough to state k = 2.
    unit : "mm" or "deg".
    """

    measurement: str
    name: str
    unit: str
    value: float
    u: float
    interval: tuple[float, float]
    budget: dict[str, float]
    primary: bool = False
    samples: Array | None = None

    @property
    def expanded(self) -> float:
        """U: half the width of the 95 % interval."""
        return (self.interval[1] - self.interval[0]) / 2


@dataclass(frozen=True, eq=False)
class Measurement:
    """One measurement evaluated: its quantities, its drawing, remarks in words.

    instrument : what it was read with by hand; empty for what photos gave.
    """

    name: str
    kind: str
    quantities: tuple[Quantity, ...]
    drawing: tuple[DrawnShape, ...]
    features: tuple[str, ...]
    remarks: tuple[str, ...] = ()
    instrument: str = ""

    @property
    def primary(self) -> Quantity:
        """The number a person asked for."""
        return next(q for q in self.quantities if q.primary)


@dataclass(frozen=True)
class Otherwise:
    """The main number of a measurement if edge `number` of a feature were meant, mm or deg."""

    feature: str
    number: int
    measurement: str
    value: float


class Verdict(Enum):
    """ISO 14253-1:2017 with its default of 95 % probability of conformity."""

    CONFORMS = "conforms"
    DOES_NOT_CONFORM = "does not conform"
    CANNOT_TELL = "cannot tell"


@dataclass(frozen=True, eq=False)
class Decision:
    """A rule applied to a quantity. probability : that the true value obeys the rule.

    rule : with its limits worked out, in mm, in or deg; worked_out : how, in words, where
    they hang on a size. replaced : the built-in rule whose place a job's own rule takes.
    """

    measurement: str
    quantity: str
    rule: Rule
    verdict: Verdict
    probability: float
    reason: str
    settle: str = ""
    worked_out: str = ""
    replaced: Rule | None = None


@dataclass(frozen=True, eq=False)
class Offer:
    """A rule that fits the things that meet, which the job did not ask for.

    decision : how it would come out; None for advice in words and where a size is
    missing, which `missing` then names. It counts for nothing.
    """

    measurement: str
    rule: Rule
    decision: Decision | None = None
    missing: str = ""


@dataclass(frozen=True, eq=False)
class Check:
    """A caliper reading against the photo; agreement when |E_n| ≤ 1 (ISO/IEC 17043)."""

    entry: CheckEntry
    quantity: str
    measured_mm: float
    e_n: float

    @property
    def agrees(self) -> bool:
        """Whether photo and caliper agree within both uncertainties."""
        return abs(self.e_n) <= 1.0


@dataclass(frozen=True)
class Doubt:
    """What weakens a number and can be mended at once, in a word and in full.

    mend : what would mend it, "bars" to read or a "height" to state; features : those whose
    height is meant.
    """

    short: str
    words: str
    mend: str
    features: tuple[str, ...] = ()


@dataclass(frozen=True)
class Missing:
    """Why something could not be measured: what was seen, the limit and the remedy.

    measurements : those that it cost, in the job's order; none where nothing hung on it.
    """

    words: str
    measurements: tuple[str, ...]


@dataclass(frozen=True, eq=False)
class Picture:
    """A picture to draw on.

    pixels : (H, W, 3) uint8. For a photo, `scale` is picture px per photo px. For a
    rectified one, `plane_mm` is (x0, y0, x1, y1) covered and `scale` px per mm.
    """

    photo: str
    pixels: NDArray[np.uint8]
    scale: float
    plane: str | None = None
    plane_mm: tuple[float, float, float, float] | None = None


@dataclass(frozen=True, eq=False)
class Report:
    """Everything derived from one job.

    job : as far as it could be measured. missing : why the rest could not. doubts : measurement →
    what weakens it and can be mended at once.
    """

    job: Job
    observations: tuple[MarkerObservation, ...]
    solution: Solution
    features: Features
    measurements: tuple[Measurement, ...]
    decisions: tuple[Decision, ...]
    checks: tuple[Check, ...]
    pictures: tuple[Picture, ...]
    warnings: tuple[str, ...]
    not_checked: tuple[str, ...]
    cautions: tuple[str, ...]
    heights_mm: dict[str, float]
    offers: tuple[Offer, ...] = ()
    doubts: dict[str, tuple[Doubt, ...]] = field(default_factory=dict)
    missing: tuple[Missing, ...] = ()

    @property
    def lost(self) -> tuple[str, ...]:
        """The measurements that the job asks for and that could not be made, each once."""
        return tuple(dict.fromkeys(name for m in self.missing for name in m.measurements))

    @property
    def targets(self) -> frozenset[tuple[str, str]]:
        """(photo, sheet or card) of everything that a feature is measured from."""
        return frozenset((f.photo, f.target) for f in self.features.features)
