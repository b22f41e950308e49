"""What does a person want to know of the sample photos? The jobs of `sample_images/`.

The invented story: a geared motor is fitted to a hand-cranked apple mill. Photos, planes,
features and bar readings come from the samples; only the words and the rules stand here.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

from photomeasure.records.job import CheckEntry, Job, MeasurementEntry, PhotoEntry, Rule
from photomeasure.synthetic.samples import Sample, samples

_CALIPER_STEP_MM = 0.02


@dataclass(frozen=True)
class SampleJob:
    """A folder of `sample_images/` and the job that lies in it.

    with_record : whether the photos name the camera record made from the board photos.
    The job has no hashes yet: they belong to files.
    """

    folder: str
    job: Job
    with_record: bool


@dataclass(frozen=True)
class _Story:
    """What a person adds to the photos. judged : measurement → names of its rules.

    checked : the measurements that a caliper has read as well.
    """

    folder: str
    title: str
    position: str
    note: str
    judged: Mapping[str, tuple[str, ...]]
    rules: tuple[Rule, ...]
    checked: tuple[str, ...] = ()
    notes: Mapping[str, str] = field(default_factory=dict)
    unit: str = "mm"
    with_record: bool = False
    bars_read: bool = True


def _own_rule(
    name: str,
    quantity: str,
    limits: tuple[float | None, float | None],
    condition: str,
    why: str,
    source: str = "what the fitter asks for",
    unit: str = "mm",
) -> Rule:
    low, high = limits
    return Rule(name, quantity, unit, why, source, "user", low, high, condition)


_MILL = _Story(
    "mill",
    "Will the motor's flange go on the mill?",
    "flange laid on the bench, bore upwards",
    "The mill's bracket has four M8 threads on an 82 mm circle and a boss of 43.2 mm. The flange "
    "was photographed twice without moving it, with a phone that has a camera record.",
    {
        "bolt circle": ("bolts go in without force",),
        "bore": ("bore passes the boss",),
        "hole 1": ("clearance-hole-m8-medium",),
        "bolt circle from the left": ("bolts go in without force",),
    },
    (
        _own_rule(
            "bolts go in without force",
            "diameter",
            (81.5, 82.5),
            "M8 bolts in 9 mm holes, threads on 82.0 mm",
            "Farther off, the bolts bind before the flange lies flat.",
            "half the play of the holes, both sides",
        ),
        _own_rule(
            "bore passes the boss",
            "diameter",
            (43.5, None),
            "boss of 43.2 mm, painted",
            "The flange must go over the boss by hand.",
        ),
    ),
    checked=("bore",),
    with_record=True,
)

_GUARD = _Story(
    "guard",
    "Does the motor's bracket clear the gear guard?",
    "crank upright, hopper off, guard on",
    "Bracket and guard lie on one plane; nothing but a rule's edge fits between them.",
    {
        "gap": ("room to take the guard off", "solid-mounted-to-fixed", "soft-mounted-to-fixed"),
        "flank angle": ("guard's flank",),
    },
    (
        _own_rule(
            "room to take the guard off",
            "gap",
            (8.0, None),
            "motor bolted to the bracket",
            "The guard's lip is 7 mm wide and must come out past the bracket.",
        ),
        _own_rule(
            "guard's flank",
            "angle",
            (60.0, 63.0),
            "between bracket and flank",
            "The chute leans against this flank.",
            unit="deg",
        ),
    ),
    checked=("hole spacing",),
    notes={"hole 1": "For the bolts of the bracket."},
    with_record=True,
)

_COVER = _Story(
    "cover",
    "Bearing cover of the drive shaft",
    "cover off the mill, chamfered side up",
    "The phone has no camera record; one photo has to do. The bore has a chamfer, whose rim and "
    "foot are both wanted.",
    {
        "bolt circle": ("screws go in without force",),
        "bore": ("bore clears the shaft",),
        "hole 1": ("clearance-hole-m6-medium",),
    },
    (
        _own_rule(
            "screws go in without force",
            "diameter",
            (87.6, 88.4),
            "M6 screws in 6.6 mm holes, threads on 88.0 mm",
            "Farther off, the screws bind.",
        ),
        _own_rule(
            "bore clears the shaft",
            "diameter",
            (38.5, None),
            "shaft of 38 mm in the plain bearing",
            "A shaft that touches the cover grinds metal into the bearing.",
        ),
    ),
    checked=("chamfer rim",),
)

_STAND = _Story(
    "stand",
    "Rubber drive disc beside its stand",
    "mill stopped and blocked, disc pressed on",
    "Nobody read the check bars of this print, and the phone has no camera record.",
    {"running gap": ("disc runs free", "crush-gap-finger")},
    (
        _own_rule(
            "disc runs free",
            "gap",
            (6.0, None),
            "disc new, at rest",
            "The disc swells and runs out of true by up to 5 mm.",
        ),
    ),
    notes={"running gap": "Turn the disc by hand once round and measure where it is tightest."},
    bars_read=False,
)

_SHIM = _Story(
    "shim",
    "Slotted shim under the motor, in inches",
    "shim laid flat",
    "A US Letter sheet and a photo taken almost square-on, which is the hardest for one photo.",
    {"slot width": ("slot takes the stud",), "hole spacing": ("holes meet the foot",)},
    (
        _own_rule(
            "slot takes the stud",
            "gap",
            (0.4375, None),
            "7/16 in stud",
            "The shim must slide in without taking the stud out.",
            unit="in",
        ),
        _own_rule(
            "holes meet the foot",
            "distance",
            (2.56, 2.64),
            "1/4 in bolts in the motor's foot",
            "Farther off, the outer bolts do not go in.",
            unit="in",
        ),
    ),
    unit="in",
)

_FRAME = _Story(
    "frame",
    "Belt pulley beside its guard, up on the frame",
    "belt off, pulley turned to its high spot",
    "No sheet goes there, so a card was stuck on the guard's face, level with the pulley's. The "
    "print lies about 0.1 mm above the face; both are 20 mm off the frame behind.",
    {"gap": ("belt comes off",)},
    (
        _own_rule(
            "belt comes off",
            "gap",
            (7.5, None),
            "guard in place",
            "The belt is 7 mm thick and must come off past the guard.",
        ),
    ),
    checked=("pulley",),
    with_record=True,
)

_STORIES = (_MILL, _GUARD, _COVER, _STAND, _SHIM, _FRAME)


def sample_jobs() -> tuple[SampleJob, ...]:
    """Every job of the sample photos."""
    taken = samples()
    return tuple(
        SampleJob(
            story.folder,
            _job(story, [s for s in taken if s.folder == story.folder]),
            story.with_record,
        )
        for story in _STORIES
    )


def _job(story: _Story, taken: list[Sample]) -> Job:
    scenes = [sample.scene for sample in taken]
    asked = [m for scene in scenes for m in scene.measurements]
    prints = [s.stated_print for s in scenes if s.stated_print and story.bars_read]
    true = {m.entry.name: m.value for m in asked}
    return Job(
        title=story.title,
        photos=tuple(PhotoEntry(s.name, f"{s.name}.jpg") for s in scenes),
        features=tuple(f.entry for s in scenes for f in s.features),
        measurements=tuple(_asked(story, m.entry) for m in asked),
        planes=tuple(dict.fromkeys(p for s in scenes for p in s.stated_planes)),
        prints=tuple(dict.fromkeys(prints)),
        rules=story.rules,
        checks=tuple(CheckEntry(name, _by_caliper(true[name])) for name in story.checked),
        hazards=("moving",),
        unit=story.unit,
        note=story.note,
        position=story.position,
    )


def _asked(story: _Story, entry: MeasurementEntry) -> MeasurementEntry:
    return replace(
        entry,
        rules=story.judged.get(entry.name, ()),
        note=story.notes.get(entry.name, ""),
    )


def _by_caliper(true_mm: float) -> float:
    """What a caliper shows that reads in steps and a hundredth too much."""
    return round(round((true_mm + 0.01) / _CALIPER_STEP_MM) * _CALIPER_STEP_MM, 2)
