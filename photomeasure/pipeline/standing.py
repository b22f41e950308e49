"""What stands, and what falls by itself?

A photo without a sheet, a touch that finds no edge, a measurement that its features do not
define: each costs what needs it, and nothing else. The page and `measure` share it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field, replace

from photomeasure.errors import PhotomeasureError
from photomeasure.measurements.evaluate import evaluate_measurements
from photomeasure.pipeline.loose_ends import refuse_two_frames
from photomeasure.records.feature import Features, ImageFeature
from photomeasure.records.job import Job, MeasurementEntry
from photomeasure.records.report import Measurement, Missing

Place = Callable[[Sequence[ImageFeature]], Features]
Evaluate = Callable[[Job, Features], Measurement]


@dataclass(frozen=True)
class Faults:
    """What is wrong with photos, features and measurements, by name."""

    photos: dict[str, PhotomeasureError] = field(default_factory=dict)
    features: dict[str, PhotomeasureError] = field(default_factory=dict)
    measurements: dict[str, PhotomeasureError] = field(default_factory=dict)

    def spared(self, job: Job) -> Job:
        """The job without the photos and features that have a fault."""
        return replace(
            job,
            photos=tuple(p for p in job.photos if p.name not in self.photos),
            features=tuple(
                f
                for f in job.features
                if f.photo not in self.photos and f.name not in self.features
            ),
        )

    def missing(self, job: Job) -> tuple[Missing, ...]:
        """Each fault once, with every measurement that it costs."""
        photo_of = {f.name: f.photo for f in job.features}
        costs: dict[str, list[str]] = {str(error): [] for error in self._all()}
        for entry in job.measurements:
            names = [name for _, group in entry.of for name in group]
            mine = [
                *(self.photos.get(photo_of[name]) for name in names),
                *(self.features.get(name) for name in names),
                self.measurements.get(entry.name),
            ]
            for words in dict.fromkeys(str(error) for error in mine if error):
                costs[words].append(entry.name)
        return tuple(Missing(words, tuple(names)) for words, names in costs.items())

    def error(self) -> PhotomeasureError:
        """All faults as one, for where nothing is left."""
        errors = {str(error): error for error in self._all()}
        first, *others = errors.values()
        return PhotomeasureError("\n".join(errors)) if others else first

    def _all(self) -> Iterator[PhotomeasureError]:
        for faults in (self.photos, self.features, self.measurements):
            yield from faults.values()


@contextmanager
def noted(faults: dict[str, PhotomeasureError], name: str) -> Iterator[None]:
    """What goes wrong inside is noted under a name, and the rest goes on."""
    try:
        yield
    except PhotomeasureError as error:
        faults[name] = error


def placed_each(images: Sequence[ImageFeature], place: Place, faults: Faults) -> Features:
    """All features in mm at once; where one cannot be, all but those that cannot."""
    try:
        return place(images)
    except PhotomeasureError:
        pass
    for image in images:
        with noted(faults.features, image.name):
            place([image])
    return place([image for image in images if image.name not in faults.features])


def measured_each(
    job: Job, features: Features, faults: Faults, evaluate: Evaluate | None = None
) -> list[Measurement]:
    """Every measurement whose features are there and define it.

    evaluate : gives the only measurement of a job; None to work it out anew.
    """
    evaluate = evaluate or _evaluate
    on = {f.name: f.target for f in features.features}
    there = tuple(f for f in job.features if f.name in on)
    measured = []
    for entry in job.measurements:
        if not_there(entry, features):
            continue
        with noted(faults.measurements, entry.name):
            refuse_two_frames(entry, on)
            one = replace(job, measurements=(entry,), features=there)
            measured.append(evaluate(one, features))
    return measured


def not_there(entry: MeasurementEntry, features: Features) -> list[str]:
    """The features that a measurement needs and that were not found."""
    found = {f.name for f in features.features}
    return [name for _, names in entry.of for name in names if name not in found]


def _evaluate(job: Job, features: Features) -> Measurement:
    return evaluate_measurements(job, features)[0]
