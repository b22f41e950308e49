"""What does the server tell the page of parts? As `answers`, with pixels for what is drawn."""

from __future__ import annotations

from typing import Annotated

from pydantic import BaseModel, Field

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
    """A boundary or line in the photo, and what it is called."""

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

    found : size and boundary in words. seen : stretches of boundaries as seen, of the outer one
    first; cut : boundaries of the files; bends : their open lines. frame_px : a place on the x
    axis, the origin and a place on the y axis that places in mm are counted from.
    offers : what is left to be taken.
    """

    part: str
    found: list[str]
    seen: list[Chain]
    cut: list[Ring]
    bends: list[Ring]
    frame_px: Chain
    holes: list[HoleAnswer]
    openings: list[str]
    offers: list[PartOffer]
    shop: list[ShopRemark]
    remarks: list[str]
    cautions: list[str]


class PhotoPlaces(BaseModel):
    """Places in the photo of a part, px."""

    points_px: Annotated[list[Place], Field(min_length=1, max_length=100)]


class PartPlaces(BaseModel):
    """The same in the frame of the part file, mm."""

    points_mm: list[Place]


class Doing(BaseModel):
    """What is being done at this moment, in words; "" for nothing."""

    words: str
