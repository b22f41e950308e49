"""What is a photo good for, before anybody points at anything in it?"""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import Enum


class Fitness(Enum):
    """What to do with a photo, mildest first."""

    MEASURE = "measure"
    WITH_CARE = "measure with care"
    RETAKE = "take it again"

    @property
    def rank(self) -> int:
        """0 is best."""
        return list(Fitness).index(self)


@dataclass(frozen=True)
class Finding:
    """One thing seen in a photo: what, the limit and the remedy in `words`.

    about : one word to sort by, such as "blur". fitness : what it alone allows.
    """

    about: str
    words: str
    fitness: Fitness


@dataclass(frozen=True)
class Improvement:
    """What to change, and U of a 100 mm length before and after, mm."""

    words: str
    before_mm: float
    after_mm: float


@dataclass(frozen=True)
class Sharpness:
    """How the target's printed edges look, px of the photo.

    blur_px : standard deviation of the blur in light, across the direction of motion.
    motion_px : length of a smear (0 for none); motion_deg : its direction, from x to the
    right, anticlockwise as seen, 0 to 180. worst_px : the blur where it is largest;
    worst_at : where in the picture. edges : how many edges it rests on.
    """

    blur_px: float
    motion_px: float
    motion_deg: float
    worst_px: float
    worst_at: str
    edges: int


@dataclass(frozen=True)
class Exposure:
    """The light on the target. Shares are 0 to 1.

    burnt : share of edges whose paper is at full white. paper, ink : median coded levels.
    evenness : darkest over brightest paper, in light. noise : scatter from pixel to pixel of
    white paper, as a share of its level; 0 where too little paper was seen to tell.
    """

    burnt: float
    paper: float
    ink: float
    evenness: float
    noise: float = 0.0


@dataclass(frozen=True)
class TargetCheck:
    """One sheet or card in one photo.

    missing : where corners are missing, in words, as printed. length_u_mm : U (95 %) of a
    100 mm length beside it as things are; length_u_bars_mm : once both bars are measured.
    budget : source → standard uncertainty of that length, bars measured.
    """

    sheet: str
    found: int
    expected: int
    px_per_mm: float
    square_px: float
    residual_px: float
    tilt_deg: float
    distance_mm: float
    missing: tuple[str, ...]
    sharpness: Sharpness | None
    exposure: Exposure | None
    length_u_mm: float
    length_u_bars_mm: float
    budget: dict[str, float] = field(default_factory=dict)

    @property
    def seen(self) -> float:
        """Share of the corners found."""
        return self.found / self.expected


@dataclass(frozen=True)
class PhotoCheck:
    """Everything seen in one photo, worst findings first."""

    photo: str
    size_px: tuple[int, int] | None
    targets: tuple[TargetCheck, ...]
    findings: tuple[Finding, ...]
    improvements: tuple[Improvement, ...] = ()

    @property
    def verdict(self) -> Fitness:
        """What the worst finding allows."""
        return max(
            (f.fitness for f in self.findings), key=lambda f: f.rank, default=Fitness("measure")
        )

    @property
    def reasons(self) -> tuple[str, ...]:
        """In words, what keeps the photo from being measured plainly."""
        return tuple(f.words for f in self.findings if f.fitness is not Fitness.MEASURE)
