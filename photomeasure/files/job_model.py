"""What may stand in a job file? One strict model a table; unknown keys are refused.

A job file is untrusted text. Every table turns into its record once it is valid; references
between tables are checked in `job_problems`, with the whole file in view.
"""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import (
    AfterValidator,
    BaseModel,
    ConfigDict,
    Field,
    ValidationInfo,
    field_validator,
    model_validator,
)

from photomeasure.files.job_fields import (
    BarReading,
    Click,
    Depth,
    FeatureNames,
    Hazard,
    Height,
    JobUnit,
    Kind,
    Lean,
    Length,
    Limit,
    LimitUnit,
    Line,
    Name,
    PlusMinus,
    ReadingUnit,
    ScaleKind,
    Sha256,
    Size,
    Status,
    Target,
    Text,
    Thing,
    Things,
    Tolerance,
    inside,
    length_mm,
)
from photomeasure.records.job import (
    SHEET_PLANE,
    CheckEntry,
    FeatureEntry,
    Job,
    MeasurementEntry,
    PhotoEntry,
    PlaneEntry,
    PrintEntry,
    ReadingEntry,
    Rule,
    ScaleEntry,
)
from photomeasure.rules.library import rule_problems
from photomeasure.uncertainty.notation import MM_PER_INCH
from photomeasure.vision.sheets import identities
from photomeasure.vision.sheets.known import places_pointed_at, sizes_said


class Table(BaseModel):
    """A table of the file: known keys only, no guessing of types, no NaN."""

    model_config = ConfigDict(extra="forbid", strict=True, allow_inf_nan=False)


class PhotoTable(Table):
    """A photo that features are pointed at in."""

    name: Name = Field(description="What features call this photo.")
    file: Annotated[str, Field(min_length=1, max_length=300), AfterValidator(inside)] = Field(
        description="The file, from the job's folder."
    )
    sha256: Sha256 | None = Field(
        None, description="SHA-256 of the file, to notice when it was changed."
    )
    camera: Sha256 | None = Field(
        None, description="SHA-256 of a camera record, kept as cameras/<sha256>.json."
    )

    def record(self) -> PhotoEntry:
        """What it says."""
        return PhotoEntry(self.name, self.file, self.sha256, self.camera)


class PrintTable(Table):
    """What a caliper read on the two bars of one printed sheet or page of cards."""

    sheet: Name = Field(
        description='The identity printed on the sheet, such as "window-a4-A", or on the page '
        'that cards were cut from, such as "cards-a4-A".'
    )
    bar_x: BarReading = Field(description="Left edge to left edge of the lower bar, mm.")
    bar_y: BarReading = Field(description="Lower edge to lower edge of the upright bar, mm.")
    plus_minus: PlusMinus = Field(0.1, description="How far a reading may be off (95 %), mm.")

    def record(self) -> PrintEntry:
        """What it says."""
        return PrintEntry(self.sheet, self.bar_x, self.bar_y, self.plus_minus)


class ScaleTable(Table):
    """A thing of known size in a photo, where no printed sheet lies in its plane."""

    photo: Name = Field(description="The name of the photo.")
    kind: ScaleKind = Field(description="What the thing is.")
    clicks: list[Click] = Field(
        min_length=2,
        max_length=4,
        description="Its four corners in turn, where the straight edges meet; or both ends of a "
        "distance.",
    )
    width: Length | None = Field(None, description="One side of a rectangle, mm.")
    height: Length | None = Field(None, description="The other side of a rectangle, mm.")
    length: Length | None = Field(None, description="The distance, mm.")
    plus_minus: PlusMinus | None = Field(
        None, description="How far the sides of a rectangle or the distance may be off (95 %), mm."
    )
    ends: Literal["point", "circle"] = Field(
        "point", description="What a distance runs between: points, or middles of round holes."
    )

    @model_validator(mode="after")
    def _has_its_sizes(self) -> ScaleTable:
        said = sizes_said(self.kind)
        wanted = {*said, "plus_minus"} if said else set()
        sizes = ("width", "height", "length", "plus_minus")
        given = {key for key in sizes if getattr(self, key) is not None}
        if given != wanted:
            raise ValueError(
                f"a {self.kind} is given with {' and '.join(sorted(wanted)) or 'no size'}, not "
                f"{' and '.join(sorted(given)) or 'without'}. Correct that."
            )
        if any(getattr(self, key) <= 0 for key in said):
            raise ValueError("a size must be more than 0. Correct it.")
        clicks = places_pointed_at(self.kind)
        if len(self.clicks) != clicks:
            raise ValueError(f"a {self.kind} needs {clicks} clicks, not {len(self.clicks)}.")
        return self

    def record(self) -> ScaleEntry:
        """What it says."""
        clicks = tuple((x, y) for x, y in self.clicks)
        sizes = (self.width, self.height, self.length, self.plus_minus)
        return ScaleEntry(self.photo, self.kind, clicks, *sizes, self.ends)


class PlaneTable(Table):
    """A plane on which features lie, level with the sheet or with a card."""

    name: Name = Field(description="What features call this plane.")
    height: Height = Field(
        description="Height above the paper, at right angles to it, mm; negative below it."
    )
    plus_minus: PlusMinus = Field(0.2, description="How far the height may be off (95 %), mm.")

    depth: Depth | None = Field(
        None,
        description="How far down the walls go that begin at its edges, mm: the thickness of a "
        "part that is free below. Where nothing is said they end on the sheet; beside a card it "
        "is not known, which costs certainty.",
    )
    lean: Lean | None = Field(
        None,
        description="By how many degrees it may lean against the sheet or card (95 %); where "
        "nothing is said 0 on a sheet and 0.3 on a card.",
    )
    on: Target | None = Field(
        None,
        description='The sheet or card that it is measured from, such as "card-50-C"; where '
        "nothing is said, the only window sheet of the photo, else its only sheet or card.",
    )

    @field_validator("name")
    @classmethod
    def _not_the_sheet(cls, name: str) -> str:
        if name in (SHEET_PLANE, *identities()):
            raise ValueError(f'"{name}" is the paper itself, at height 0. Choose another name.')
        return name

    def record(self) -> PlaneEntry:
        """What it says."""
        return PlaneEntry(self.name, self.height, self.plus_minus, self.on, self.depth, self.lean)


class FeatureTable(Table):
    """Something pointed at in a photo."""

    name: Name = Field(description="What measurements call this feature.")
    kind: Kind = Field(description="What is looked for near the clicks.")
    photo: Name = Field(description="The name of the photo.")
    plane: Name = Field(
        SHEET_PLANE,
        description='The name of its plane; "sheet" is the paper, "card-50-C" that card itself.',
    )
    clicks: list[Click] = Field(
        min_length=1,
        description="Positions [x, y] in pixels of the upright photo; (0, 0) is the centre of "
        "the top left pixel.",
    )
    choice: int | None = Field(
        None, ge=1, description="Which of several edges is meant, as numbered in the report."
    )

    def record(self) -> FeatureEntry:
        """What it says."""
        clicks = tuple((x, y) for x, y in self.clicks)
        return FeatureEntry(self.name, self.kind, self.photo, self.plane, clicks, self.choice)


class JudgedTable(Table):
    """A number that rules may judge, wherever it comes from."""

    name: Name = Field(description="What the report calls it.")
    rules: list[Name] = Field([], description="Names of the rules that judge it.")
    note: Text = Field("", description="A remark, carried into the report.")
    between: list[Thing] = Field(
        [], max_length=2, description='The one or two things that meet, as ["hose", "exhaust"].'
    )
    sizes: dict[Name, Size] = Field(
        {}, description='Sizes that limits are multiples of, as { "hose inside diameter" = 12 }.'
    )


class MeasurementTable(JudgedTable):
    """Something to measure between features."""

    kind: Name = Field(description='What is measured, such as "gap" or "diameter".')
    of: dict[Name, FeatureNames] = Field(
        min_length=1, description="The feature, or list of features, in each role of the kind."
    )

    def record(self) -> MeasurementEntry:
        """What it says."""
        roles = tuple((role, tuple(names)) for role, names in self.of.items())
        return MeasurementEntry(
            self.name,
            self.kind,
            roles,
            tuple(self.rules),
            self.note,
            tuple(self.between),
            tuple(self.sizes.items()),
        )


class ReadingTable(JudgedTable):
    """A number read by hand, where no photo can give it."""

    quantity: Name = Field(description='What was read, such as "gap"; rules judge it by that.')
    unit: ReadingUnit = Field("mm", description="The unit of value and plus_minus.")
    value: Length = Field(description="The reading; a text may name its own unit of length.")
    plus_minus: PlusMinus = Field(description="How far it may be off (95 %).")
    instrument: Line = Field(
        "caliper", min_length=1, description='What it was read with, such as "feeler gauge".'
    )

    @field_validator("value", "plus_minus", mode="before")
    @classmethod
    def _angle_is_a_number(cls, value: object, info: ValidationInfo) -> object:
        if isinstance(value, str) and info.data.get("unit") == "deg":
            raise ValueError(f"{value!r} is a text; an angle is a plain number of degrees.")
        return value

    def record(self) -> ReadingEntry:
        """What it says."""
        return ReadingEntry(
            self.name,
            self.quantity,
            self.value,
            self.plus_minus,
            self.unit,
            self.instrument,
            tuple(self.rules),
            self.note,
            tuple(self.between),
            tuple(self.sizes.items()),
        )


class RuleTable(Table):
    """A limit with its reason and source."""

    name: Name = Field(description="What measurements call this rule.")
    quantity: Name = Field(description='The result that it judges, such as "gap".')
    unit: LimitUnit = Field(description="The unit of the limits.")
    at_least: Limit = Field(None, description="The lower limit; a text may name its own unit.")
    at_most: Limit = Field(None, description="The upper limit; a text may name its own unit.")
    why: Text = Field(min_length=1, description="What happens when it is broken.")
    source: Line = Field(min_length=1, description="Where the limit comes from.")
    status: Status = Field(description="Law, standard and user rules can fail; others advise.")
    condition: Line = Field("", description="When it applies.")
    edition: Line = Field("", description="The edition of the source.")
    of: Line = Field("", description='The size that limits in "times" are multiples of.')
    beyond: Line = Field("", description="The size beyond which the limits are counted.")
    nominal: Limit = Field(None, description="Instead of limits, with a tolerance.")
    tolerance: Tolerance = Field("", description='Of the nominal, such as "ISO 2768-m".')
    between: list[Things] = Field([], description="What it is offered for, one or a pair each.")

    @field_validator("at_least", "at_most", "nominal", mode="before")
    @classmethod
    def _in_unit(cls, value: object, info: ValidationInfo) -> object:
        if not isinstance(value, str):
            return value
        unit = info.data.get("unit", "mm")
        if unit in ("deg", "times"):
            noun = "an angle" if unit == "deg" else "a multiple"
            raise ValueError(f"{value!r} is a text; {noun} is a plain number.")
        length = length_mm(value)
        assert isinstance(length, float)  # a text always turns into a number or an error
        return length / MM_PER_INCH if unit == "in" else length

    @model_validator(mode="after")
    def _is_well_formed(self) -> RuleTable:
        problems = rule_problems(self.record())
        if problems:
            raise ValueError(" ".join(problems))
        return self

    def record(self) -> Rule:
        """What it says."""
        between = tuple(tuple(things) for things in self.between)
        return Rule(**{**self.model_dump(), "between": between})


class CheckTable(Table):
    """A caliper reading of something that is also measured from the photo."""

    measurement: Name = Field(description="The name of the measurement.")
    quantity: Line = Field("", description="Which result; the main one when left out.")
    value: Length = Field(description="The reading, mm.")
    plus_minus: PlusMinus = Field(0.1, description="How far the reading may be off (95 %), mm.")
    instrument: Line = Field("caliper", description="What it was read with.")

    def record(self) -> CheckEntry:
        """What it says."""
        return CheckEntry(
            self.measurement, self.value, self.quantity, self.plus_minus, self.instrument
        )


class JobFile(Table):
    """A job: what a person said about one fit-up, from which everything is derived."""

    format: Literal[1] = Field(1, description="The version of this layout.")
    title: Line = Field(min_length=1, description="What the report is called.")
    unit: JobUnit = Field("mm", description="The unit that results are shown in first.")
    position: Line = Field("", description='How the machine stood, such as "at rest".')
    hazards: list[Hazard] = Field([], description="What can hurt here; brings its cautions.")
    note: Text = Field("", description="A remark, carried into the report.")
    photos: list[PhotoTable] = []
    prints: list[PrintTable] = []
    scales: list[ScaleTable] = []
    planes: list[PlaneTable] = []
    features: list[FeatureTable] = []
    measurements: list[MeasurementTable] = []
    rules: list[RuleTable] = []
    checks: list[CheckTable] = []
    readings: list[ReadingTable] = []

    def record(self) -> Job:
        """The job as the rest of the program knows it."""
        return Job(
            title=self.title,
            photos=tuple(t.record() for t in self.photos),
            features=tuple(t.record() for t in self.features),
            measurements=tuple(t.record() for t in self.measurements),
            planes=tuple(t.record() for t in self.planes),
            prints=tuple(t.record() for t in self.prints),
            scales=tuple(t.record() for t in self.scales),
            rules=tuple(t.record() for t in self.rules),
            checks=tuple(t.record() for t in self.checks),
            readings=tuple(t.record() for t in self.readings),
            hazards=tuple(self.hazards),
            unit=self.unit,
            note=self.note,
            position=self.position,
        )
