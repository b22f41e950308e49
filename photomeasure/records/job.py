"""What a person said: photos, planes, features, measurements, rules and readings.

Nothing here is derived. `plus_minus` is always the half-width of a 95 % interval, in
the unit of its value (k = 2).
"""

from __future__ import annotations

from dataclasses import dataclass

Pair = tuple[float, float]

HAZARDS = ("fuel", "heat", "brakes", "steering", "pressure", "lifting", "moving")
"""What a job may touch that can hurt; each brings its caution into every output."""


@dataclass(frozen=True)
class PhotoEntry:
    """One photo. `file` is relative to the job's folder; `camera` a record's SHA-256."""

    name: str
    file: str
    sha256: str | None = None
    camera: str | None = None


@dataclass(frozen=True)
class PrintEntry:
    """The caliper readings of the two check bars of one printed sheet."""

    sheet: str
    bar_x_mm: float
    bar_y_mm: float
    plus_minus_mm: float = 0.1


@dataclass(frozen=True)
class PlaneEntry:
    """A named plane at right angles above the sheet; "sheet" (height 0) always exists."""

    name: str
    height_mm: float
    plus_minus_mm: float = 0.2


@dataclass(frozen=True)
class FeatureEntry:
    """What was pointed at. clicks_px in the upright picture, pixel centres integers.

    `choice` picks one of several edges that fit, counted from 1 as reported.
    """

    name: str
    kind: str
    photo: str
    plane: str
    clicks_px: tuple[Pair, ...]
    choice: int | None = None


@dataclass(frozen=True)
class MeasurementEntry:
    """One measurement: `of` gives the features for each role; `rules` judge it."""

    name: str
    kind: str
    of: tuple[tuple[str, tuple[str, ...]], ...]
    rules: tuple[str, ...] = ()
    note: str = ""


@dataclass(frozen=True)
class CheckEntry:
    """A caliper reading of one measured quantity, as a check of the photo."""

    measurement: str
    value_mm: float
    quantity: str = ""
    plus_minus_mm: float = 0.1
    instrument: str = "caliper"


RULE_STATUSES = ("law", "standard", "supplier", "practice", "user")
"""Only law, standard and user rules can fail a job; the others advise."""


@dataclass(frozen=True)
class Rule:
    """A limit with its reason and source.

    quantity : the unit-bearing output it judges, such as "gap". At least one of
    `at_least` and `at_most` is set, in `unit` ("mm", "in" or "deg").
    """

    name: str
    quantity: str
    unit: str
    why: str
    source: str
    status: str
    at_least: float | None = None
    at_most: float | None = None
    condition: str = ""
    edition: str = ""

    @property
    def can_fail(self) -> bool:
        """Whether breaking it fails a job rather than advises."""
        return self.status in ("law", "standard", "user")


@dataclass(frozen=True)
class Job:
    """Everything a person said about one fit-up."""

    title: str
    photos: tuple[PhotoEntry, ...]
    features: tuple[FeatureEntry, ...]
    measurements: tuple[MeasurementEntry, ...]
    planes: tuple[PlaneEntry, ...] = ()
    prints: tuple[PrintEntry, ...] = ()
    rules: tuple[Rule, ...] = ()
    checks: tuple[CheckEntry, ...] = ()
    hazards: tuple[str, ...] = ()
    unit: str = "mm"
    note: str = ""
    position: str = ""
