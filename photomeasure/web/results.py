"""What follows from a job? Every number as the command line gives it, or why there is none.

Each photo, feature and measurement stands or falls by itself, as on the command line, and the
numbers are the command line's to the last digit: it is the same line. Only what was worked out
before is not worked out again.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import partial

from photomeasure import pipeline
from photomeasure.errors import PhotomeasureError
from photomeasure.estimation.features import place_features
from photomeasure.measurements.evaluate import evaluate_measurements
from photomeasure.pipeline.standing import (
    Faults,
    Place,
    measured_each,
    not_there,
    noted,
    placed_each,
)
from photomeasure.records.feature import Features, ImageFeature
from photomeasure.records.job import Job, MeasurementEntry
from photomeasure.records.report import Measurement, Missing, Report
from photomeasure.vision.siblings import like_siblings
from photomeasure.web.desk import Desk, Views
from photomeasure.web.kept import Kept


@dataclass(frozen=True, eq=False)
class Outcome:
    """A report of everything that can be measured, and what is wrong with the rest.

    report : None where nothing at all can be said. problems : of features and measurements.
    """

    job: Job
    views: Views
    report: Report | None
    features: dict[str, str] = field(default_factory=dict)
    measurements: dict[str, str] = field(default_factory=dict)
    problem: str = ""


class Results:
    """The numbers of one job folder, kept as long as what they depend on stays."""

    def __init__(self, desk: Desk) -> None:
        self._desk = desk
        self._outcomes: Kept[Outcome] = Kept(8)
        self._measured: Kept[Measurement] = Kept(400)

    def of(self, job: Job) -> Outcome:
        """Everything that follows from a job."""
        key = (job, *(self._desk.stamp(p) for p in job.photos))
        return self._outcomes.get(key, lambda: self._work_out(job))

    def _work_out(self, job: Job) -> Outcome:
        views = self._desk.views(job)
        if views.solution is None:
            return Outcome(job, views, None, problem=views.problem)
        usable, faults = views.usable(job), Faults()
        images = self._locate(usable, faults)
        features = placed_each(images, _placing(usable, views, images), faults)
        measured = measured_each(usable, features, faults, self._one)
        without = {m.name: _not_found(m, features) for m in job.measurements}
        outcome = Outcome(
            job,
            views,
            None,
            _words(faults.features),
            {name: said for name, said in without.items() if said} | _words(faults.measurements),
        )
        lost = tuple(Missing(words, (name,)) for name, words in outcome.measurements.items())
        try:
            report = pipeline.collect(
                usable, views.seen, views.solution, features, measured, (), lost
            )
        except PhotomeasureError as error:
            return replace(outcome, problem=str(error))
        return replace(outcome, report=report)

    def _locate(self, job: Job, faults: Faults) -> list[ImageFeature]:
        images: list[ImageFeature] = []
        for entry in job.features:
            with noted(faults.features, entry.name):
                images.append(self._desk.locate(job, entry))
        return self._like_siblings(job, images)

    def _like_siblings(self, job: Job, images: Sequence[ImageFeature]) -> list[ImageFeature]:
        """The features plane by plane, as `pipeline.measure` has them."""
        suited: dict[str, ImageFeature] = {}
        for where in dict.fromkeys((image.photo, image.plane) for image in images):
            on_plane = [i for i in images if (i.photo, i.plane) == where]
            again = partial(self._desk.locate, job)
            found = like_siblings(job, on_plane, self._desk.ground(job, on_plane[0]), again)
            suited |= {image.name: image for image in found}
        return [suited[image.name] for image in images]

    def _one(self, job: Job, features: Features) -> Measurement:
        (entry,) = job.measurements
        used = [features[name] for _, names in entry.of for name in names]
        numbers = tuple(f.shape.numbers.tobytes() for f in used)
        blocks = tuple(
            c[f.indices][:, g.indices].tobytes()
            for c in features.covariances.values()
            for f in used
            for g in used
        )
        planes = tuple(f.plane for f in used)
        key = (replace(entry, rules=(), note=""), planes, numbers, blocks)
        return self._measured.get(key, lambda: evaluate_measurements(job, features)[0])


def _placing(job: Job, views: Views, images: Sequence[ImageFeature]) -> Place:
    """How these features, or some of them, come into mm."""
    found = {image.name for image in images}
    located = replace(job, features=tuple(f for f in job.features if f.name in found))
    assert views.solution is not None
    return partial(
        place_features,
        solution=views.solution,
        heights=pipeline.heights_of(located),
        targets=pipeline.targets_of(located, views.seen),
    )


def _not_found(entry: MeasurementEntry, features: Features) -> str:
    missing = not_there(entry, features)
    return f"Not found yet: {', '.join(missing)}." if missing else ""


def _words(faults: Mapping[str, PhotomeasureError]) -> dict[str, str]:
    return {name: str(error) for name, error in faults.items()}
