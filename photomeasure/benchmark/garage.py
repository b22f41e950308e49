"""Is a photo from a garage measured within its stated U, or refused with the reason?

Random scenes, each spoiled in one way (the last ones in several), at three levels. A photo is
judged wrongly when a number lies outside its interval by a factor and nothing that was said
names the cause, when a mild trouble is refused, or when a refusal does not name the cause.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

from photomeasure.benchmark.cases import Case, Shot, answered, refused, report_on, scene_of
from photomeasure.benchmark.tables import Result, Row, Settings
from photomeasure.benchmark.workers import spread
from photomeasure.checkup import Known, check_photo
from photomeasure.errors import PhotomeasureError
from photomeasure.records.check import Fitness
from photomeasure.records.photo import Photo
from photomeasure.synthetic.garage import ADVERSITIES, BAD, EXTREME, MILD, Trouble
from photomeasure.synthetic.random_scenes import KINDS
from photomeasure.synthetic.scene import Scene, TrueMeasurement
from photomeasure.synthetic.taking import photo_of

FIRST_SEED = 60_000
RIGHTLY = 0.95
CONFIDENT = 2.0  # times U: a number this far off is wrong whatever its interval says
_SCENES_A_PHOTO = 50
SEVERAL = "several at once"

# What a warning or refusal must speak of to have named the cause (any of the words).
CAUSES: dict[str, str] = {
    "rim of a wide lens": r"wide lens|rim of|residual|missed by|tilt|lens|slant",
    "digital zoom": r"zoom|blur|focus|sharp|px per mm|corner",
    "cropped copy": r"crop|cut|as the camera made it|lens|EXIF|unknown camera|focal",
    "chat copy": r"resized|chat|copy|full resolution|as the camera made it|EXIF|px|closer",
    "curled paper": r"flat|paper|curl|bent",
    "wavy paper": r"flat|paper|curl|bent",
    "greasy sheet": r"corner|evenly lit|grease|dirt|stain|free|clean edge",
    "torn sheet": r"corner|ring|cover|missing|torn",
    "taped sheet": r"flat|torn|two parts|pieces|one sheet|missed by",
    "fit to page": r"bars",
    "uneven print": r"bars",
    "covered ring": r"corner|ring|cover|missing|free",
    "shadow on ring": r"shadow|evenly lit|even light|edges fit",
    "lamination": r"glare|gloss|burnt|clip|shin|reflection|evenly lit|missing",
    "glare on steel": r"glare|gloss|burnt|clip|shin|reflection|matt surface|edges fit",
    "black rubber": r"contrast|dark|black|foot|edges fit",
    "hard lamp": r"shadow|edges fit|foot|light",
    "dim light": r"nois|dark|dim|too faint|scatter|sharp",
    "motion blur": r"smear|blur|motion|sharp|focus",
    "out of focus": r"blur|sharp|focus",
    "strong JPEG": r"compress|JPEG|quality|block|sharp",
}

_MIXTURES: tuple[tuple[Trouble, ...], ...] = (
    (("dim light", MILD), ("motion blur", MILD)),
    (("greasy sheet", MILD), ("covered ring", MILD), ("shadow on ring", MILD)),
    (("curled paper", MILD), ("lamination", MILD), ("hard lamp", MILD)),
    (("chat copy", BAD), ("torn sheet", MILD), ("out of focus", MILD)),
    (("digital zoom", BAD), ("dim light", BAD), ("strong JPEG", BAD)),
    (("covered ring", EXTREME), ("shadow on ring", BAD), ("wavy paper", BAD)),
)


@dataclass(frozen=True, eq=False)
class Judged:
    """One photo: its numbers, all that was said of it, and the verdict of the check.

    verdict : one of Fitness. said : every warning, finding and refusal in full.
    """

    shot: Shot
    cases: tuple[Case, ...]
    verdict: Fitness
    said: str

    @property
    def trouble(self) -> str:
        """The name of its adversity, or that there are several."""
        return self.shot.troubles[0][0] if len(self.shot.troubles) == 1 else SEVERAL

    @property
    def mild(self) -> bool:
        """Whether such a photo must not be refused."""
        one = self.trouble != SEVERAL and not ADVERSITIES[self.trouble].faulty
        return one and all(level == MILD for _, level in self.shot.troubles)

    @property
    def named(self) -> bool:
        """Whether something that was said names a cause."""
        causes = "|".join(CAUSES[name] for name, _ in self.shot.troubles)
        return re.search(causes, self.said, re.IGNORECASE) is not None

    @property
    def measured(self) -> tuple[Case, ...]:
        """The numbers that were not refused."""
        return tuple(c for c in self.cases if c.value is not None)

    @property
    def wrong(self) -> tuple[Case, ...]:
        """Numbers far outside their interval though nothing said names the cause."""
        return tuple(c for c in self.measured if off(c) > CONFIDENT and not self.named)

    @property
    def fault(self) -> str:
        """What is wrong with how the photo was judged; empty when nothing."""
        refused = len(self.measured) < len(self.cases) or self.verdict is Fitness.RETAKE
        if self.wrong:
            return "a confident wrong number"
        if refused and self.mild:
            return "refused though easy"
        return "refused without the reason" if refused and not self.named else ""


def run(settings: Settings) -> Result:
    """Every adversity at every level, one photo of each for 50 scenes, and the mixtures."""
    shots = all_shots(max(1, settings.scenes // _SCENES_A_PHOTO))
    judged = spread(settings, "garage photos", _judge, shots)
    groups = [*(a.name for a in ADVERSITIES), SEVERAL]
    return Result(
        f"Garage photos ({len(shots)}): measured within U, or refused with the reason",
        (
            *_summary(judged),
            *(_row(name, [j for j in judged if j.trouble == name]) for name in groups),
        ),
        (
            *(f"{j.shot.words}: {j.fault} ({_worst_words(j)})" for j in judged if j.fault),
            "Verdicts are of the photo alone: measure / with care / again.",
            f"Seeds from {FIRST_SEED}; mild, bad and extreme in turn.",
        ),
        tuple(case for j in judged for case in j.cases),
    )


def all_shots(repeats: int) -> list[Shot]:
    """The photos, each with a scene of its own; plates and gaps in turn."""
    levels = (MILD, BAD, EXTREME)
    once: list[tuple[Trouble, ...]] = [((a.name, n),) for a in ADVERSITIES for n in levels]
    once += _MIXTURES
    return [
        Shot(KINDS[k % len(KINDS)], FIRST_SEED + k, troubles=several)
        for k, several in enumerate(once * repeats)
    ]


def _judge(shot: Shot) -> Judged:
    scene = scene_of(shot)
    return judge(shot, scene, photo_of(scene))


def judge(shot: Shot, scene: Scene, photo: Photo) -> Judged:
    """What is said of one photo, and what its numbers are."""
    prints = (scene.stated_print,) if scene.stated_print else ()
    check = check_photo(photo, Known(prints=prints))
    cases, said = _ask(shot, scene, photo, scene.measurements)
    words = [f.words for f in check.findings if f.fitness is not Fitness.MEASURE]
    return Judged(shot, tuple(cases), check.verdict, "\n".join([*words, *said]))


def _ask(
    shot: Shot, scene: Scene, photo: Photo, asked: Sequence[TrueMeasurement]
) -> tuple[list[Case], list[str]]:
    """The cases and all words; where the job is refused, each measurement is asked alone."""
    try:
        report = report_on(scene, photo, asked, None)
    except PhotomeasureError as error:
        if len(asked) == 1:
            return [refused(shot, scene, asked[0], error)], [str(error)]
        alone = [_ask(shot, scene, photo, [one]) for one in asked]
        return [c for cases, _ in alone for c in cases], [w for _, words in alone for w in words]
    found = report.measurements, report.features
    doubts = (d.words for told in report.doubts.values() for d in told)
    return [answered(shot, scene, one, *found) for one in asked], [*report.warnings, *doubts]


def off(case: Case) -> float:
    """How far a number is from the truth, in its own U."""
    return abs(case.error) / max(case.expanded, 1e-9)


def _summary(judged: Sequence[Judged]) -> tuple[Row, ...]:
    numbers = [c for j in judged for c in j.measured]
    rightly = sum(not j.fault for j in judged) / len(judged)
    wrong = sum(len(j.wrong) for j in judged)
    inside = sum(c.hit for c in numbers) / max(len(numbers), 1)
    return (
        Row(
            "judged rightly", f"{rightly:.1%}", f"≥ {RIGHTLY:.0%}", rightly >= RIGHTLY, len(judged)
        ),
        Row("confident wrong numbers", f"{wrong}", "0", wrong == 0, len(numbers)),
        Row("numbers within U", f"{inside:.1%}", n=len(numbers)),
    )


def _row(name: str, judged: Sequence[Judged]) -> Row:
    """One adversity: numbers within U, outside and worst; refusals; verdicts of the check."""
    numbers = [c for j in judged for c in j.measured]
    asked = sum(len(j.cases) for j in judged)
    inside = sum(c.hit for c in numbers)
    worst = max((off(c) for c in numbers), default=0.0)
    verdicts = "/".join(str(sum(j.verdict is fitness for j in judged)) for fitness in Fitness)
    faults = sum(bool(j.fault) for j in judged)
    measured = (
        f"{inside} within U, {len(numbers) - inside} outside (worst {worst:.1f} U), "
        f"{asked - len(numbers)} refused; verdicts {verdicts}; {faults} judged wrongly"
    )
    return Row(f"  {name}", measured, n=len(judged))


def _worst_words(judged: Judged) -> str:
    """The number that is farthest off, or the first refusal."""
    if judged.wrong:
        case = max(judged.wrong, key=off)
        return f"{case.measurement} off by {case.error:+.3f}, U {case.expanded:.3f}"
    reasons = [c.reason for c in judged.cases if c.reason]
    return reasons[0] if reasons else judged.said.partition("\n")[0]
