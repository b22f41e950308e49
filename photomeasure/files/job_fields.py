"""What may stand in one field of a job file? Lengths in words, names, paths, words of a list."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import PurePosixPath, PureWindowsPath
from typing import Annotated

from pydantic import (
    AfterValidator,
    BeforeValidator,
    Field,
    GetCoreSchemaHandler,
    GetJsonSchemaHandler,
    WithJsonSchema,
)
from pydantic.json_schema import JsonSchemaValue
from pydantic_core import core_schema

from photomeasure.errors import JobError
from photomeasure.records.feature import FEATURE_KINDS
from photomeasure.records.job import HAZARDS, RULE_STATUSES
from photomeasure.registry import mean_words
from photomeasure.rules.library import RULE_UNITS
from photomeasure.rules.things import THINGS
from photomeasure.rules.tolerances import GENERAL
from photomeasure.uncertainty.notation import MM_PER_INCH, parse_length_mm
from photomeasure.vision.sheets import identities
from photomeasure.vision.sheets.known import SCALE_KINDS

BAR_RANGE_MM = (120.0, 180.0)  # the bars are 150 mm as designed
FARTHEST_MM = 1000.0  # a plane beyond is a slip of the unit
MOST_LISTED = 60  # names in one message
LISTED_BY = "photomeasure rules"  # lists the rules, and the things that may meet
LEAST_SIZE_MM = 0.001  # limits are multiples of sizes
WIDEST_MM = 100.0  # so is a doubt beyond
NUMBER_OR_TEXT = {"anyOf": [{"type": "number"}, {"type": "string"}]}


def length_mm(value: object) -> object:
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


def _bar(read_mm: float) -> float:
    low, high = BAR_RANGE_MM
    if not low <= read_mm <= high:
        inches = low <= read_mm * MM_PER_INCH <= high
        raise ValueError(
            f"a check bar of {read_mm:g} mm cannot be: it is 150 mm long as designed, and "
            f"{low:.0f} to {high:.0f} mm can be believed. "
            + (f'Inches are written as text: "{read_mm:g} in".' if inches else "Read it again.")
        )
    return read_mm


def _one_line(text: str) -> str:
    if text != text.strip():
        raise ValueError(f"{text!r} begins or ends with a blank. Remove it.")
    if not text.isprintable():
        raise ValueError(f"{text!r} holds a line break or control character. Remove it.")
    return text


@dataclass(frozen=True)
class _OneOf:
    """A text that must be one of these; the schema lists those that are not empty."""

    options: Sequence[str]

    def __get_pydantic_core_schema__(
        self, source: type, handler: GetCoreSchemaHandler
    ) -> core_schema.CoreSchema:
        return core_schema.no_info_after_validator_function(self._known, handler(source))

    def __get_pydantic_json_schema__(
        self, schema: core_schema.CoreSchema, handler: GetJsonSchemaHandler
    ) -> JsonSchemaValue:
        return {"type": "string", "enum": [o for o in self.options if o]}

    def _known(self, value: str) -> str:
        if value not in self.options:
            known = did_you_mean(value, self.options, LISTED_BY)
            raise ValueError(f"{value!r} is not known.{known}")
        return value


def _target(identity: str) -> str:
    if identity not in identities():
        raise ValueError(
            f'there is no sheet or card called "{identity}".{mean_words(identity, identities())} '
            "Copy the identity that is printed on it."
        )
    return identity


def did_you_mean(word: str, options: Sequence[str], listed_by: str = "") -> str:
    """A hint to the nearest option, then all of them, if few enough; "" when there is none.

    listed_by : the command that lists them, where there may be too many to name.
    """
    if not options:
        return ""
    hint = mean_words(word, options)
    if len(options) <= MOST_LISTED:
        return f"{hint} Known: {', '.join(options)}."
    return f"{hint} `{listed_by}` lists all that are known." if listed_by else hint


def inside(file: str) -> str:
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
Length = Annotated[float, BeforeValidator(length_mm), WithJsonSchema(NUMBER_OR_TEXT)]
PlusMinus = Annotated[
    float, BeforeValidator(length_mm), Field(ge=0, le=WIDEST_MM), WithJsonSchema(NUMBER_OR_TEXT)
]
Height = Annotated[
    float,
    BeforeValidator(length_mm),
    Field(ge=-FARTHEST_MM, le=FARTHEST_MM),
    WithJsonSchema(NUMBER_OR_TEXT),
]
Lean = Annotated[float, Field(ge=0, le=10)]
Depth = Annotated[
    float,
    BeforeValidator(length_mm),
    Field(ge=0, le=FARTHEST_MM),
    WithJsonSchema(NUMBER_OR_TEXT),
]
BarReading = Annotated[
    float,
    BeforeValidator(length_mm),
    AfterValidator(_bar),
    Field(ge=BAR_RANGE_MM[0], le=BAR_RANGE_MM[1]),
    WithJsonSchema(NUMBER_OR_TEXT),
]
Size = Annotated[
    float, BeforeValidator(length_mm), Field(ge=LEAST_SIZE_MM), WithJsonSchema(NUMBER_OR_TEXT)
]
Sha256 = Annotated[str, Field(pattern="^[0-9a-f]{64}$")]
Click = Annotated[list[float], Field(min_length=2, max_length=2)]
Target = Annotated[Name, AfterValidator(_target)]
FeatureNames = Annotated[
    list[Name],
    BeforeValidator(lambda value: [value] if isinstance(value, str) else value),
    Field(min_length=1),
    WithJsonSchema(
        {"anyOf": [{"type": "string"}, {"type": "array", "items": {"type": "string"}}]}
    ),
]
Kind = Annotated[str, _OneOf(FEATURE_KINDS)]
ScaleKind = Annotated[str, _OneOf(SCALE_KINDS)]
Hazard = Annotated[str, _OneOf(HAZARDS)]
Status = Annotated[str, _OneOf(RULE_STATUSES)]
LimitUnit = Annotated[str, _OneOf(RULE_UNITS)]
ReadingUnit = Annotated[str, _OneOf(("mm", "deg"))]
JobUnit = Annotated[str, _OneOf(("mm", "in"))]
Limit = Annotated[float | None, WithJsonSchema(NUMBER_OR_TEXT)]
Thing = Annotated[str, _OneOf(THINGS.names)]
Things = Annotated[list[Thing], Field(min_length=1, max_length=2)]
Tolerance = Annotated[str, _OneOf(("", *GENERAL))]
