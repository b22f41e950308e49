"""What does the server tell the page of parts? As `answers`, with pixels for what is drawn."""

from __future__ import annotations

from pydantic import BaseModel

from photomeasure.files.part_file import PartFile
from photomeasure.web.answers import Chain, Place, Problem


class PartStored(BaseModel):
    """A part as it stands on disk. table : None when it has no file, or none that can be read."""

    part: str
    revision: str
    table: PartFile | None
    problem: str = ""
    undo: int = 0
    redo: int = 0


class PartConflict(Problem):
    """The part was changed elsewhere; `stored` is what it is now. Nothing was written."""

    stored: PartStored


class PartChange(BaseModel):
    """A whole part in place of the revision that was changed."""

    revision: str
    table: PartFile


class Ring(BaseModel):
    """A closed boundary in the photo, and what it is called."""

    name: str
    chain_px: Chain


class HoleAnswer(BaseModel):
    """A hole or slot of a part, in its own frame.

    diameter_mm, plus_minus_mm : as measured, of a round hole, whose diameter can be chosen.
    """

    name: str
    at_mm: Place
    callout: str
    measured: str
    diameter_mm: float | None
    plus_minus_mm: float


class PartOffer(BaseModel):
    """A regular thing that the part nearly is. within : inside what the photo leaves open."""

    name: str
    words: str
    off_mm: float
    plus_minus_mm: float
    within: bool


class ShopRemark(BaseModel):
    """What a shop would ask. grave : whether it would send the file back."""

    words: str
    grave: bool


class OutlineAnswer(BaseModel):
    """A part as outlined.

    found : size and boundary in words. seen : boundaries as seen, the outer one first;
    cut : those of the files. offers : what is left to be taken.
    """

    part: str
    found: list[str]
    seen: list[Ring]
    cut: list[Ring]
    holes: list[HoleAnswer]
    openings: list[str]
    offers: list[PartOffer]
    shop: list[ShopRemark]
    remarks: list[str]
    warnings: list[str]
    cautions: list[str]


class Doing(BaseModel):
    """What is being done at this moment, in words; "" for nothing."""

    words: str
