"""What does the server tell the page? One model an answer; they make the OpenAPI document.

Names and units follow the records; lengths in mm and pixels of the upright photo, with the
centre of the top left pixel at (0, 0).
"""

from __future__ import annotations

from typing import Literal

from pydantic import BaseModel

from photomeasure.files.job_model import JobFile

Place = tuple[float, float]
Chain = list[Place]


class Problem(BaseModel):
    """What is wrong, the limit and the remedy, in words."""

    problem: str


class Stored(BaseModel):
    """The job as it stands on disk. job : None when there is none, or none that can be read.

    undo, redo : how many changes there are to undo and to redo.
    """

    revision: str
    folder: str
    job: JobFile | None
    problem: str = ""
    undo: int = 0
    redo: int = 0


class Conflict(Problem):
    """The job was changed elsewhere; `stored` is what it is now. Nothing was written."""

    stored: Stored


class Change(BaseModel):
    """A whole job in place of the revision that was changed."""

    revision: str
    job: JobFile


class Step(BaseModel):
    """Undo or redo, in place of this revision."""

    revision: str


class Added(BaseModel):
    """A photo that was kept. photo : its name in the job; new : not there before."""

    photo: str
    new: bool
    stored: Stored


class Finding(BaseModel):
    """One thing seen in a photo, with limit and remedy. fitness : as in the verdict."""

    words: str
    fitness: str


class PhotoVerdict(BaseModel):
    """What a photo is good for. rank : 0 measure, 1 measure with care, 2 take it again.

    scale : what gives its scale, in words; "" for nothing.
    """

    photo: str
    fitness: str
    rank: int
    findings: list[Finding]
    improvements: list[str]
    scale: str
    seconds: float


class PhotoView(BaseModel):
    """Where the camera stood. camera : f cx cy k1 k2 p1 p2 k3; pose : T_camera_sheet."""

    sheet: str
    camera: list[float]
    pose: list[float]
    tilt_deg: float
    camera_height_mm: float
    residual_px: float
    box_mm: tuple[float, float, float, float]


class PhotoAnswer(BaseModel):
    """One photo of the job. views : none where it cannot be measured in; then `problem`.

    planes : plane → the sheet or card it is measured from here; without those that are not
    to be seen, or could be measured from several.
    """

    name: str
    sha256: str
    size_px: tuple[int, int] | None
    views: list[PhotoView]
    planes: dict[str, str]
    problem: str = ""


class Rival(BaseModel):
    """Another edge that fits, numbered as the job's `choice`."""

    number: int
    words: str
    offset_mm: float
    chains_mm: list[Chain]


class Located(BaseModel):
    """A feature found. chains_mm : its shape on its plane; points_px : what it rests on.

    spread_px, spread_mm : rms distance of those points from the shape. ask : whether a rival
    is so likely that the person should say which is meant.
    """

    name: str
    kind: str
    photo: str
    plane: str
    sheet: str
    height_mm: float
    chains_mm: list[Chain]
    anchor_mm: Place
    points_px: Chain
    spread_px: float
    spread_mm: float
    points: int
    chosen: int
    ask: bool
    rivals: list[Rival]
    warnings: list[str]


class FeatureAnswer(BaseModel):
    """A feature of the job: found, or why not."""

    name: str
    located: Located | None
    problem: str = ""


class Source(BaseModel):
    """One source of a budget: its standard uncertainty, its share of the variance (0 to 1)."""

    source: str
    u: str
    share: float


class Number(BaseModel):
    """One number that came out, in full and in words."""

    name: str
    words: str
    unit: str
    primary: bool
    value: float
    u: float
    expanded: float
    figure: str
    second: str
    interval: str
    budget: list[Source]


class Judged(BaseModel):
    """A rule against a number."""

    rule: str
    quantity: str
    limit: str
    verdict: Literal["conforms", "does not conform", "cannot tell"]
    words: str
    can_fail: bool
    reason: str
    settle: str
    worked_out: str
    source: str
    standing: str
    condition: str
    why: str


class Offered(BaseModel):
    """A rule or advice that fits what meets; it judges nothing until it is picked.

    words : how it would come out. needs : names of sizes that it hangs on.
    """

    rule: str
    limit: str
    advice: str
    words: str
    needs: list[str]
    source: str
    standing: str
    condition: str
    why: str


class Reading(BaseModel):
    """A caliper reading against the photo."""

    quantity: str
    words: str
    agrees: bool


class Doubt(BaseModel):
    """What weakens a number and can be mended at once. features : those whose height is meant."""

    short: str
    words: str
    mend: Literal["bars", "height"]
    features: list[str]


class Stroke(BaseModel):
    """A line of a drawing, in mm at a height. role : dimension or construction."""

    chain_mm: Chain
    role: str
    arrows: bool


class Label(BaseModel):
    """Where a number is written."""

    at_mm: Place
    quantity: str


class Drawing(BaseModel):
    """The dimension as drawn over a photo, at a height above a sheet or card."""

    photo: str
    sheet: str
    height_mm: float
    strokes: list[Stroke]
    labels: list[Label]


class MeasurementAnswer(BaseModel):
    """A measurement of the job: its numbers and verdicts, or why there are none."""

    name: str
    kind: str
    by_hand: str = ""
    problem: str = ""
    numbers: list[Number] = []
    judged: list[Judged] = []
    offers: list[Offered] = []
    readings: list[Reading] = []
    remarks: list[str] = []
    doubts: list[Doubt] = []
    drawing: Drawing | None = None


class Results(BaseModel):
    """Everything that follows from the job of this revision."""

    revision: str
    photos: list[PhotoAnswer]
    features: list[FeatureAnswer]
    measurements: list[MeasurementAnswer]
    overall: str
    problem: str = ""
    warnings: list[str] = []
    cautions: list[str] = []
    not_checked: list[str] = []


class NeedAnswer(BaseModel):
    """One role of a kind. maximum : None for as many as wanted."""

    role: str
    kinds: list[str]
    prompt: str
    minimum: int
    maximum: int | None


class OutputAnswer(BaseModel):
    """One number that a kind gives."""

    name: str
    unit: str
    words: str
    primary: bool


class KindAnswer(BaseModel):
    """A kind of measurement. picture : an SVG; empty where it has no example."""

    name: str
    words: str
    summary: str
    one_plane: bool
    needs: list[NeedAnswer]
    outputs: list[OutputAnswer]
    picture: str


class RuleAnswer(BaseModel):
    """A rule to pick, with its source and standing. quantities : the numbers it judges."""

    name: str
    quantities: list[str]
    limit: str
    unit: str
    condition: str
    why: str
    source: str
    standing: str
    can_fail: bool


class FeatureKindAnswer(BaseModel):
    """How one kind of feature is pointed at. touches : enough to find it; open : more help."""

    name: str
    touches: int
    open: bool
    prompt: str


class SheetAnswer(BaseModel):
    """A design to print. use : a sheet around a part, cards to cut out, a board for a camera."""

    name: str
    title: str
    paper: str
    copies: list[str]
    use: Literal["sheet", "cards", "board"]


class ScaleKindAnswer(BaseModel):
    """A thing of known size. needs : the sizes to state; touches : its corners or ends."""

    name: str
    words: str
    needs: list[str]
    touches: int


class ClearanceAnswer(BaseModel):
    """A standard size of holes that screws pass through."""

    name: str
    diameter_mm: float


class FormatAnswer(BaseModel):
    """A format of the report."""

    name: str
    summary: str
    filename: str


class Choices(BaseModel):
    """What the program knows, for the page to offer."""

    version: str
    kinds: list[KindAnswer]
    features: list[FeatureKindAnswer]
    rules: list[RuleAnswer]
    sheets: list[SheetAnswer]
    scales: list[ScaleKindAnswer]
    formats: list[FormatAnswer]
    part_formats: list[FormatAnswer]
    clearances: list[ClearanceAnswer]
    hazards: list[str]
    things: list[str]
    sample: bool
    lan: bool


class Door(BaseModel):
    """A link for one phone, good for one use, as text and as an SVG of its QR code."""

    link: str
    qr: str
