"""What a person said: photos, planes, features, measurements, rules and readings.

Nothing here is derived. `plus_minus` is always the half-width of a 95 % interval, in
the unit of its value (k = 2).
"""

from __future__ import annotations

from dataclasses import dataclass

Pair = tuple[float, float]

SHEET_PLANE = "sheet"
"""The plane of the paper itself; it always exists, as do planes named after an identity."""

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
    """The caliper readings of the two check bars of one printed sheet or page of cards."""

    sheet: str
    bar_x_mm: float
    bar_y_mm: float
    plus_minus_mm: float = 0.1


@dataclass(frozen=True)
class ScaleEntry:
    """A thing of known size in one photo that stands for a printed sheet there.

    kind : "bank card", a paper size, "rectangle" or "distance". clicks_px : its four corners in
    turn, or both ends of the distance, which are `ends`: a "point" or a "circle" each.
    width_mm, height_mm : of a rectangle; length_mm : of a distance; plus_minus_mm : of these.
    """

    photo: str
    kind: str
    clicks_px: tuple[Pair, ...]
    width_mm: float | None = None
    height_mm: float | None = None
    length_mm: float | None = None
    plus_minus_mm: float | None = None
    ends: str = "point"


@dataclass(frozen=True)
class PlaneEntry:
    """A named plane level with a sheet or card, at a height above it, below where negative.

    on : the sheet or card it is measured from; None for the only window sheet of a photo, else
    its only sheet or card. "sheet" and the identity of each (height 0) always exist.
    depth_mm : how far down the walls go that begin at its edges; None where they end on the
    sheet, or where it is not known. lean_deg : by how much it may lean against the sheet or
    card (95 %); None for what is usual.
    """

    name: str
    height_mm: float
    plus_minus_mm: float = 0.2
    on: str | None = None
    depth_mm: float | None = None
    lean_deg: float | None = None


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
    """One measurement: `of` gives the features for each role; `rules` judge it.

    between : the one or two things that meet here, such as ("hose", "exhaust"); rules are
    offered for them. sizes_mm : (name, mm) of what a rule's limit may be a multiple of.
    """

    name: str
    kind: str
    of: tuple[tuple[str, tuple[str, ...]], ...]
    rules: tuple[str, ...] = ()
    note: str = ""
    between: tuple[str, ...] = ()
    sizes_mm: tuple[tuple[str, float], ...] = ()


@dataclass(frozen=True)
class ReadingEntry:
    """A number that no photo gave: read by hand, with an instrument, where one must be.

    value, plus_minus : in `unit`, "mm" or "deg". quantity : what it is, such as "gap"; rules
    judge it by that name. between, sizes_mm : as of a measurement.
    """

    name: str
    quantity: str
    value: float
    plus_minus: float
    unit: str = "mm"
    instrument: str = "caliper"
    rules: tuple[str, ...] = ()
    note: str = ""
    between: tuple[str, ...] = ()
    sizes_mm: tuple[tuple[str, float], ...] = ()


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
    """A limit with its reason and source, or advice in words.

    quantity : the unit-bearing output it judges, such as "gap". Its limits are `at_least`
    and `at_most` in `unit` ("mm", "in", "deg" or "times"), counted from zero; with
    `beyond` from the size of that name; in the unit "times" as multiples of the size `of`.
    Instead of limits it may have a `nominal` and a `tolerance` (a general tolerance, such
    as "ISO 2768-m"), or only `advice`, which judges nothing.
    also : further outputs it judges where the first is missing.
    between : the things it is offered for, one or a pair each; "anything" meets all.
    unverified : its figure, or that it is in force, is hearsay: it advises, whatever its
    status, until somebody checks it and states it as a rule of the job.
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
    of: str = ""
    beyond: str = ""
    nominal: float | None = None
    tolerance: str = ""
    advice: str = ""
    also: tuple[str, ...] = ()
    between: tuple[tuple[str, ...], ...] = ()
    unverified: bool = False

    @property
    def judges(self) -> bool:
        """Whether a number can obey or break it."""
        return not self.advice

    @property
    def can_fail(self) -> bool:
        """Whether breaking it fails a job rather than advises."""
        checked = self.judges and not self.unverified
        return checked and self.status in ("law", "standard", "user")


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
    readings: tuple[ReadingEntry, ...] = ()
    scales: tuple[ScaleEntry, ...] = ()
    hazards: tuple[str, ...] = ()
    unit: str = "mm"
    note: str = ""
    position: str = ""

    @property
    def judged(self) -> tuple[MeasurementEntry | ReadingEntry, ...]:
        """All numbers that rules may judge: what is measured, then what was read by hand."""
        return (*self.measurements, *self.readings)
