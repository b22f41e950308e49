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
    SHEET_PLANE,
    BarReading,
    Click,
    FeatureNames,
    Hazard,
    Height,
    JobUnit,
    Kind,
    Length,
    Limit,
    LimitUnit,
    Line,
    Name,
    PlusMinus,
    Sha256,
    Status,
    Text,
    inside,
    length_mm,
)
from photomeasure.records.job import (
    CheckEntry,
    FeatureEntry,
    Job,
    MeasurementEntry,
    PhotoEntry,
    PlaneEntry,
    PrintEntry,
    Rule,
)
from photomeasure.uncertainty.notation import MM_PER_INCH


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
    """What a caliper read on the two bars of one printed sheet."""

    sheet: Name = Field(description='The identity printed on the sheet, such as "window-a4-A".')
    bar_x: BarReading = Field(description="Left edge to left edge of the lower bar, mm.")
    bar_y: BarReading = Field(description="Lower edge to lower edge of the upright bar, mm.")
    plus_minus: PlusMinus = Field(0.1, description="How far a reading may be off (95 %), mm.")

    def record(self) -> PrintEntry:
        """What it says."""
        return PrintEntry(self.sheet, self.bar_x, self.bar_y, self.plus_minus)


class PlaneTable(Table):
    """A plane on which features lie, level with the sheet."""

    name: Name = Field(description="What features call this plane.")
    height: Height = Field(description="Height above the paper, at right angles to it, mm.")
    plus_minus: PlusMinus = Field(0.2, description="How far the height may be off (95 %), mm.")

    @field_validator("name")
    @classmethod
    def _not_the_sheet(cls, name: str) -> str:
        if name == SHEET_PLANE:
            raise ValueError('"sheet" is the paper itself, at height 0. Choose another name.')
        return name

    def record(self) -> PlaneEntry:
        """What it says."""
        return PlaneEntry(self.name, self.height, self.plus_minus)


class FeatureTable(Table):
    """Something pointed at in a photo."""

    name: Name = Field(description="What measurements call this feature.")
    kind: Kind = Field(description="What is looked for near the clicks.")
    photo: Name = Field(description="The name of the photo.")
    plane: Name = Field(SHEET_PLANE, description='The name of its plane; "sheet" is the paper.')
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


class MeasurementTable(Table):
    """Something to measure between features."""

    name: Name = Field(description="What the report calls it.")
    kind: Name = Field(description='What is measured, such as "gap" or "diameter".')
    of: dict[Name, FeatureNames] = Field(
        min_length=1, description="The feature, or list of features, in each role of the kind."
    )
    rules: list[Name] = Field([], description="Names of the rules that judge it.")
    note: Text = Field("", description="A remark, carried into the report.")

    def record(self) -> MeasurementEntry:
        """What it says."""
        roles = tuple((role, tuple(names)) for role, names in self.of.items())
        return MeasurementEntry(self.name, self.kind, roles, tuple(self.rules), self.note)


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

    @field_validator("at_least", "at_most", mode="before")
    @classmethod
    def _in_unit(cls, value: object, info: ValidationInfo) -> object:
        if not isinstance(value, str):
            return value
        unit = info.data.get("unit", "mm")
        if unit == "deg":
            raise ValueError(f"{value!r} is a text; an angle is a plain number of degrees.")
        length = length_mm(value)
        assert isinstance(length, float)  # a text always turns into a number or an error
        return length / MM_PER_INCH if unit == "in" else length

    @model_validator(mode="after")
    def _has_a_limit(self) -> RuleTable:
        low, high = self.at_least, self.at_most
        if low is None and high is None:
            raise ValueError("the rule has no limit. Give at_least, at_most or both.")
        if low is not None and high is not None and low > high:
            raise ValueError(f"at_least {low:g} is more than at_most {high:g}. Swap them.")
        return self

    def record(self) -> Rule:
        """What it says."""
        return Rule(**self.model_dump())


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
    photos: list[PhotoTable] = Field(min_length=1)
    prints: list[PrintTable] = []
    planes: list[PlaneTable] = []
    features: list[FeatureTable] = []
    measurements: list[MeasurementTable] = []
    rules: list[RuleTable] = []
    checks: list[CheckTable] = []

    def record(self) -> Job:
        """The job as the rest of the program knows it."""
        return Job(
            title=self.title,
            photos=tuple(t.record() for t in self.photos),
            features=tuple(t.record() for t in self.features),
            measurements=tuple(t.record() for t in self.measurements),
            planes=tuple(t.record() for t in self.planes),
            prints=tuple(t.record() for t in self.prints),
            rules=tuple(t.record() for t in self.rules),
            checks=tuple(t.record() for t in self.checks),
            hazards=tuple(self.hazards),
            unit=self.unit,
            note=self.note,
            position=self.position,
        )
