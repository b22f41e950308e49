"""What may stand in a job file? One strict model a table; unknown keys are refused.

A job file is untrusted text. Every table turns into its record once it is valid; references
between tables are checked in `job_problems`, with the whole file in view.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from difflib import get_close_matches
from functools import partial
from pathlib import PurePosixPath, PureWindowsPath
from typing import Annotated, Literal

from pydantic import (
    AfterValidator,
    BaseModel,
    BeforeValidator,
    ConfigDict,
    Field,
    ValidationInfo,
    WithJsonSchema,
    field_validator,
    model_validator,
)

from photomeasure.errors import JobError
from photomeasure.records.feature import FEATURE_KINDS
from photomeasure.records.job import (
    HAZARDS,
    RULE_STATUSES,
    CheckEntry,
    FeatureEntry,
    Job,
    MeasurementEntry,
    PhotoEntry,
    PlaneEntry,
    PrintEntry,
    Rule,
)
from photomeasure.uncertainty.notation import MM_PER_INCH, parse_length_mm

SHEET_PLANE = "sheet"
LIMITS_IN = ("mm", "in", "deg")
BAR_RANGE_MM = (120.0, 180.0)  # the bars are 150 mm as designed
FARTHEST_MM = 1000.0  # a plane beyond is a slip of the unit
WIDEST_MM = 100.0  # so is a doubt beyond
NUMBER_OR_TEXT = {"anyOf": [{"type": "number"}, {"type": "string"}]}


def _length_mm(value: object) -> object:
    """Millimetres from "1/4 in" and the like; a number is in mm already."""
    if not isinstance(value, str):
        return value
    try:
        length = parse_length_mm(value)
    except JobError as error:
        raise ValueError(str(error)) from None
    except (ValueError, OverflowError):
        length = math.inf
    if not math.isfinite(length):
        raise ValueError("a number of so many digits is not a length. Write it in mm.")
    return length


def _one_line(text: str) -> str:
    if text != text.strip():
        raise ValueError(f"{text!r} begins or ends with a blank. Remove it.")
    if not text.isprintable():
        raise ValueError(f"{text!r} holds a line break or control character. Remove it.")
    return text


def _one_of(options: Sequence[str], value: str) -> str:
    if value not in options:
        raise ValueError(f"{value!r} is not known.{did_you_mean(value, options)}")
    return value


def did_you_mean(word: str, options: Sequence[str]) -> str:
    """A hint to the nearest option, then all of them; "" when there is none."""
    if not options:
        return ""
    close = get_close_matches(word, options, n=1)
    hint = f' Did you mean "{close[0]}"?' if close else ""
    return f"{hint} Known: {', '.join(options)}."


def _inside(file: str) -> str:
    """A path that cannot lead out of the job's folder by its words alone."""
    windows = PureWindowsPath(file)
    if PurePosixPath(file).is_absolute() or windows.drive or windows.root:
        raise ValueError(
            f"{file!r} is a full path. Copy the photo into the job's folder, name it from there."
        )
    if ".." in windows.parts:
        raise ValueError(
            f"{file!r} leads out of the job's folder. Copy the photo into that folder."
        )
    return file


Name = Annotated[str, Field(min_length=1, max_length=80), AfterValidator(_one_line)]
Line = Annotated[str, Field(max_length=300), AfterValidator(_one_line)]
Text = Annotated[str, Field(max_length=10_000)]
Length = Annotated[float, BeforeValidator(_length_mm), WithJsonSchema(NUMBER_OR_TEXT)]
PlusMinus = Annotated[
    float, BeforeValidator(_length_mm), Field(ge=0, le=WIDEST_MM), WithJsonSchema(NUMBER_OR_TEXT)
]
Height = Annotated[
    float,
    BeforeValidator(_length_mm),
    Field(ge=-FARTHEST_MM, le=FARTHEST_MM),
    WithJsonSchema(NUMBER_OR_TEXT),
]
BarReading = Annotated[
    float,
    BeforeValidator(_length_mm),
    Field(ge=BAR_RANGE_MM[0], le=BAR_RANGE_MM[1]),
    WithJsonSchema(NUMBER_OR_TEXT),
]
Sha256 = Annotated[str, Field(pattern="^[0-9a-f]{64}$")]
Click = Annotated[list[float], Field(min_length=2, max_length=2)]
FeatureNames = Annotated[
    list[Name],
    BeforeValidator(lambda value: [value] if isinstance(value, str) else value),
    Field(min_length=1),
    WithJsonSchema(
        {"anyOf": [{"type": "string"}, {"type": "array", "items": {"type": "string"}}]}
    ),
]
Kind = Annotated[
    str,
    AfterValidator(partial(_one_of, FEATURE_KINDS)),
    WithJsonSchema({"type": "string", "enum": list(FEATURE_KINDS)}),
]
Hazard = Annotated[
    str,
    AfterValidator(partial(_one_of, HAZARDS)),
    WithJsonSchema({"type": "string", "enum": list(HAZARDS)}),
]
Status = Annotated[
    str,
    AfterValidator(partial(_one_of, RULE_STATUSES)),
    WithJsonSchema({"type": "string", "enum": list(RULE_STATUSES)}),
]
LimitUnit = Annotated[
    str,
    AfterValidator(partial(_one_of, LIMITS_IN)),
    WithJsonSchema({"type": "string", "enum": list(LIMITS_IN)}),
]
JobUnit = Annotated[
    str,
    AfterValidator(partial(_one_of, ("mm", "in"))),
    WithJsonSchema({"type": "string", "enum": ["mm", "in"]}),
]
Limit = Annotated[float | None, WithJsonSchema(NUMBER_OR_TEXT)]


class Table(BaseModel):
    """A table of the file: known keys only, no guessing of types, no NaN."""

    model_config = ConfigDict(extra="forbid", strict=True, allow_inf_nan=False)


class PhotoTable(Table):
    """A photo that features are pointed at in."""

    name: Name = Field(description="What features call this photo.")
    file: Annotated[str, Field(min_length=1, max_length=300), AfterValidator(_inside)] = Field(
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
        length = _length_mm(value)
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
