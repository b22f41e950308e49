"""What may stand in a part file, and what does it say?

A part file holds only what a person said of one part: the picture, the thickness, hints,
choices, the title block. It is untrusted text, checked like a job; the picture and camera
records lie in its folder.
"""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

from pydantic import AfterValidator, Field, ValidationError

from photomeasure.errors import JobError
from photomeasure.files.cameras import read_cameras
from photomeasure.files.job_fields import (
    Click,
    Hazard,
    Height,
    Length,
    Line,
    Name,
    PlusMinus,
    Sha256,
    Size,
    Target,
)
from photomeasure.files.job_fields import (
    inside as in_folder,
)
from photomeasure.files.job_model import PrintTable, Table
from photomeasure.files.job_problems import place, value_problems
from photomeasure.files.jobs import file_text, is_inside, leads_out, raw_tables
from photomeasure.files.photos import read_photo
from photomeasure.records.job import Job, PhotoEntry
from photomeasure.records.outline import (
    BendSaid,
    Hints,
    HoleSaid,
    LevelSaid,
    PartEntry,
    Scan,
)
from photomeasure.records.part import Pair, Title
from photomeasure.records.photo import Photo
from photomeasure.records.view import CameraRecord

_NO_PART = (
    "there is no such part file. Check the name, or outline a part in a photo: "
    "photomeasure outline PHOTO --thickness MM"
)

Stroke = Annotated[list[Click], Field(min_length=2)]


class ScanTable(Table):
    """That the picture is a flatbed scan."""

    dpi: float = Field(description="The resolution that it was scanned with, dots per inch.")
    ruler: Annotated[list[Click], Field(min_length=2, max_length=2)] | None = Field(
        None, description="Two places on a ruler in the scan, in pixels."
    )
    length: Size = Field(100.0, description="The length between these two places.")

    def record(self) -> Scan:
        """What it says."""
        ends = None if self.ruler is None else (_pair(self.ruler[0]), _pair(self.ruler[1]))
        return Scan(self.dpi, ends, self.length)


class HoleTable(Table):
    """What one hole shall be."""

    name: Name = Field(description="As printed by `outline`, such as H2.")
    diameter: Size | None = Field(None, description="The diameter that was chosen.")
    thread: Line = Field("", description='A thread callout, such as "M6".')
    fit: Line = Field("", description='A clearance class, such as "M6 medium, ISO 273".')

    def record(self) -> HoleSaid:
        """What it says."""
        return HoleSaid(self.name, self.diameter, self.thread, self.fit)


class LevelTable(Table):
    """A raised seat or a recess."""

    name: Name
    around: Name = Field(description='"outline", or the hole or slot that it goes round.')
    offset: Length = Field(description="How far outside of it the level ends; inside if < 0.")
    height: Height = Field(description="Above the face; below it if negative.")

    def record(self) -> LevelSaid:
        """What it says."""
        return LevelSaid(self.name, self.around, self.offset, self.height)


class BendTable(Table):
    """A bend line, in mm from the part's origin."""

    start: Click
    end: Click
    angle: float = Field(90.0, gt=0, lt=180)
    up: bool = True
    inside_radius: Size = 1.0

    def record(self) -> BendSaid:
        """What it says."""
        return BendSaid(
            _pair(self.start), _pair(self.end), self.angle, self.up, self.inside_radius
        )


class TitleTable(Table):
    """The title block (ISO 7200)."""

    owner: Line = ""
    number: Line = ""
    title: Line = ""
    date: Line = ""
    creator: Line = ""
    approver: Line = ""
    document: Line = "part drawing"
    revision: Line = "-"
    material: Line = ""
    finish: Line = ""
    quantity: Annotated[int, Field(ge=1)] = 1
    general_tolerance: Line = "ISO 2768-m"

    def record(self) -> Title:
        """What it says."""
        return Title(**self.model_dump())


class PartFile(Table):
    """One part."""

    name: Name
    photo: Annotated[str, Field(min_length=1, max_length=300), AfterValidator(in_folder)] = Field(
        description="The photo or scan, in the folder of this file."
    )
    thickness: Size = Field(description="Of the part, with a caliper.")
    plus_minus: PlusMinus = Field(0.1, description="How far the face's height may be off (95 %).")
    face: Height | None = Field(
        None, description="Height of the outlined face above the paper, if not the thickness."
    )
    on: Target | None = Field(None, description="The sheet or card in the plane of the part.")
    opening: bool = Field(False, description="Outline an opening, and make what covers it.")
    camera: Sha256 | None = Field(None, description="A record kept as cameras/<sha256>.json.")
    tolerance: Size = Field(0.1, description="How far lines and arcs may leave what was seen.")
    inside: list[Click] = Field(default=[], description="Touches inside the part, px.")
    outside: list[Click] = Field(default=[], description="Touches outside the part, px.")
    strokes: list[Stroke] = Field(default=[], description="Strokes along its edge, px.")
    shaped: list[Name] = Field(default=[], description="Openings that are no covered circles.")
    take: list[Line] = Field(default=[], description="Regular things on offer to be taken.")
    confirmed: list[Line] = Field(default=[], description="Choices to keep all the same.")
    offset: Length = Field(0.0, description="How far the outline is grown.")
    round_corners: Annotated[Length, Field(ge=0)] = 0.0
    mirror: bool = Field(False, description="Draw it as seen from the other side.")
    hazards: list[Hazard] = Field(default=[])
    prints: list[PrintTable] = Field(default=[])
    scan: ScanTable | None = None
    holes: list[HoleTable] = Field(default=[])
    levels: list[LevelTable] = Field(default=[])
    bends: list[BendTable] = Field(default=[])
    title: TitleTable = TitleTable()

    def record(self) -> PartEntry:
        """What it says."""
        strokes = tuple(tuple(_pair(p) for p in stroke) for stroke in self.strokes)
        return PartEntry(
            name=self.name,
            file=self.photo,
            thickness_mm=self.thickness,
            plus_minus_mm=self.plus_minus,
            face_mm=self.face,
            camera=self.camera,
            on=self.on,
            opening=self.opening,
            tolerance_mm=self.tolerance,
            hints=Hints(tuple(map(_pair, self.inside)), tuple(map(_pair, self.outside)), strokes),
            prints=tuple(p.record() for p in self.prints),
            scan=None if self.scan is None else self.scan.record(),
            shaped=tuple(self.shaped),
            take=tuple(self.take),
            confirmed=tuple(self.confirmed),
            holes=tuple(h.record() for h in self.holes),
            levels=tuple(level.record() for level in self.levels),
            bends=tuple(b.record() for b in self.bends),
            offset_mm=self.offset,
            round_corners_mm=self.round_corners,
            mirror=self.mirror,
            hazards=tuple(self.hazards),
            title=self.title.record(),
        )


def _pair(click: list[float]) -> Pair:
    return click[0], click[1]


def read_part(path: Path) -> tuple[PartEntry, Photo, dict[str, CameraRecord]]:
    """A part file with its picture and camera record.

    Raises JobError with every problem of the file, PhotoError where the picture cannot be used.
    """
    entry = parse_part(file_text(path, _NO_PART), path)
    if not is_inside(entry.file, path.parent):
        raise JobError(f"{path}: {leads_out(entry.file)}")
    photo = read_photo(path.parent / entry.file)
    said = PhotoEntry(entry.name, entry.file, camera=entry.camera)
    return entry, photo, read_cameras(path.parent, Job(entry.name, (said,), (), ()))


def parse_part(text: str, name: Path | str = "part.toml") -> PartEntry:
    """A part file's text. Raises JobError with every problem."""
    return part_tables(text, name).record()


def part_tables(text: str, name: Path | str = "part.toml") -> PartFile:
    """The same as it stands in the file. Raises JobError with every problem."""
    raw = raw_tables(text, name)
    try:
        return PartFile.model_validate(raw)
    except ValidationError as error:
        problems = list(value_problems(error, PartFile))
        raise JobError([f"{name}: {place(at, raw)}: {words}" for at, words in problems]) from None
