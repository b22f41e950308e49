"""What did the program say of one rendered photo, and what is true?

A `Shot` names a photo that can be made again at any time; a `Case` is one number of it.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from photomeasure import pipeline
from photomeasure.errors import PhotomeasureError
from photomeasure.records.feature import Features
from photomeasure.records.job import Job
from photomeasure.records.photo import Photo
from photomeasure.records.report import Measurement, Report
from photomeasure.records.view import CameraRecord
from photomeasure.synthetic.card_scenes import card_scene
from photomeasure.synthetic.garage import Trouble, garage_scene
from photomeasure.synthetic.pointing import point_at_gap, point_at_plate
from photomeasure.synthetic.random_scenes import TOP, another_photo, random_scene
from photomeasure.synthetic.scene import Scene, TrueMeasurement
from photomeasure.synthetic.taking import job_of

FREE_TILT_DEG = (15.0, 35.0)
RECORD_TILT_DEG = (0.0, 35.0)
CARD_KINDS = ("card-25", "card-50", "card-80")
CARD_FREE_TILT_DEG = (0.0, 20.0)
OURS = "photomeasure"
_RECORD = "record"


@dataclass(frozen=True)
class Shot:
    """One rendered photo. phone : the seed of the phone it is taken with, which has a
    camera record; None for a phone of its own that nobody calibrated. troubles : what went
    wrong with it in the garage."""

    kind: str
    seed: int
    phone: int | None = None
    troubles: tuple[Trouble, ...] = ()

    @property
    def words(self) -> str:
        """A short name for files and tables."""
        wrong = "".join(f"-{name}-{level}".replace(" ", "-") for name, level in self.troubles)
        return f"{self.kind}-{self.seed}" + ("" if self.phone is None else "-record") + wrong


@dataclass(frozen=True, eq=False)
class Case:
    """One number against its truth; value is None where the program refused, with reason.

    unit : "mm" or "deg". hit : whether the 95 % interval holds the truth. wrong_rim :
    whether a click lay nearer a rim that was not meant. told : whether the report says
    that several edges fit. way : who measured.
    """

    shot: Shot
    measurement: str
    unit: str
    truth: float
    value: float | None = None
    expanded: float = 0.0
    hit: bool = False
    wrong_rim: bool = False
    told: bool = False
    reason: str = ""
    way: str = OURS
    record: CameraRecord | None = None

    @property
    def error(self) -> float:
        """Value minus truth; infinite where there is no value."""
        return np.inf if self.value is None else self.value - self.truth


def scene_of(shot: Shot) -> Scene:
    """The scene of a shot, always the same."""
    if shot.troubles:
        return garage_scene(shot.seed, shot.troubles, shot.kind)
    if shot.kind in CARD_KINDS:
        return _card_scene_of(shot)
    if shot.phone is None:
        return random_scene(shot.seed, kind=shot.kind, tilt_deg=FREE_TILT_DEG)
    phone = phone_of(shot)
    subject = random_scene(shot.seed, kind=shot.kind)
    dressed = replace(
        subject,
        lens=phone.lens,
        phone=replace(phone.phone, exposure=subject.phone.exposure, noise=subject.phone.noise),
    )
    scene = another_photo(dressed, shot.phone, tilt_deg=RECORD_TILT_DEG)
    point = point_at_plate if shot.kind == "plate" else point_at_gap
    features, measurements = point(np.random.default_rng([shot.seed, 3]), scene, TOP)
    return replace(scene, features=features, measurements=measurements)


def _card_scene_of(shot: Shot) -> Scene:
    """A gap beside a card of this kind."""
    known = shot.phone is not None
    return card_scene(
        shot.seed,
        card=f"{shot.kind}-C",
        tilt_deg=RECORD_TILT_DEG if known else CARD_FREE_TILT_DEG,
        phone=phone_of(shot) if known else None,
    )


def phone_of(shot: Shot) -> Scene:
    """A scene with the phone of a shot, whatever else it shows."""
    return random_scene(shot.seed if shot.phone is None else shot.phone)


def job_about(scene: Scene, asked: Sequence[TrueMeasurement], with_record: bool) -> Job:
    """The user's job, cut down to some of its measurements and what they need."""
    names = used_by(asked)
    job = job_of(scene, camera=_RECORD if with_record else None)
    return replace(
        job,
        features=tuple(f for f in job.features if f.name in names),
        measurements=tuple(a.entry for a in asked),
    )


def used_by(asked: Sequence[TrueMeasurement]) -> set[str]:
    """The names of the features that measurements are of."""
    return {name for a in asked for _, names in a.entry.of for name in names}


def report_on(
    scene: Scene, photo: Photo, asked: Sequence[TrueMeasurement], record: CameraRecord | None
) -> Report:
    """What the program reports of some measurements. Raises PhotomeasureError."""
    cameras = {} if record is None else {_RECORD: record}
    job = job_about(scene, asked, with_record=record is not None)
    report = pipeline.measure(job, lambda entry: photo, cameras)
    if report.missing:
        raise PhotomeasureError(" ".join(m.words for m in report.missing))
    return report


def ask(
    shot: Shot,
    scene: Scene,
    photo: Photo,
    asked: Sequence[TrueMeasurement],
    record: CameraRecord | None = None,
) -> list[Case]:
    """One case for each measurement; where the job is refused, each is asked alone.

    A mistake in the program counts as a refusal, with its name as the reason.
    """
    try:
        report = report_on(scene, photo, asked, record)
    except Exception as error:  # one bad photo must not end a run of hundreds
        if len(asked) > 1:
            return [case for one in asked for case in ask(shot, scene, photo, [one], record)]
        return [replace(refused(shot, scene, asked[0], error), record=record)]
    found = report.measurements, report.features
    return [replace(answered(shot, scene, one, *found), record=record) for one in asked]


def refused(shot: Shot, scene: Scene, asked: TrueMeasurement, error: Exception) -> Case:
    """A case without a value."""
    return replace(question(shot, scene, asked), reason=reason_of(error))


def reason_of(error: Exception) -> str:
    """The first sentence of an error without names and numbers, so that it can be counted."""
    if not isinstance(error, PhotomeasureError):
        return f"mistake in the program: {type(error).__name__}: {error}"
    sentence = re.split(r"(?<=[.;]) ", str(error))[0]
    return re.sub(r"\d[\d.]*\d|\d", "#", sentence.rpartition(": ")[2]).rstrip(".;")


def question(shot: Shot, scene: Scene, asked: TrueMeasurement) -> Case:
    """A case that nobody has answered yet."""
    names = used_by([asked])
    wrong = any(f.wrong_rim for f in scene.features if f.entry.name in names)
    unit = "deg" if asked.entry.kind == "angle" else "mm"
    return Case(shot, asked.entry.name, unit, asked.value, wrong_rim=wrong)


def answered(
    shot: Shot,
    scene: Scene,
    asked: TrueMeasurement,
    measurements: Sequence[Measurement],
    features: Features,
) -> Case:
    """A case with the value that was found among these measurements."""
    found = next(m for m in measurements if m.name == asked.entry.name)
    quantity = next(q for q in found.quantities if q.name == asked.quantity)
    low, high = quantity.interval
    return replace(
        question(shot, scene, asked),
        value=quantity.value,
        expanded=quantity.expanded,
        hit=bool(low <= asked.value <= high),
        told=any(features[name].image.alternatives for name in found.features),
    )
