"""What of a job's folder is worked out already, so that a touch is answered at once?

Photos are decoded, their sheets found, the views solved and the light linearised once; a
touch then costs what locating one feature costs. Everything is kept by what it depends on
(the photo's bytes, the readings, the heights), so nothing can be out of date. What is wrong
with one photo or one feature does not keep the others from being worked with.
"""

from __future__ import annotations

from collections.abc import Hashable, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from pathlib import Path

from photomeasure import files, pipeline
from photomeasure.errors import PhotoError, PhotomeasureError
from photomeasure.estimation.features import Height
from photomeasure.records.feature import ImageFeature
from photomeasure.records.job import FeatureEntry, Job, PhotoEntry, ScaleEntry
from photomeasure.records.photo import Photo
from photomeasure.records.view import Solution, View
from photomeasure.vision.siblings import Ground
from photomeasure.web.kept import Kept

_PHOTOS_AT_HAND = 3  # decoded, with their linear light: about 100 MB each at 12 MP
_SEEN_KEPT = 200
_SOLUTIONS_KEPT = 8
_FEATURES_KEPT = 2000


@dataclass(frozen=True, eq=False)
class Views:
    """As many of a job's photos as can be measured in.

    seen : the photos whose sheet was found. solution : None where nothing could be solved.
    problems : photo → what is wrong with it, in words; problem : with all of them together.
    """

    seen: Sequence[pipeline.Seen]
    solution: Solution | None
    problems: Mapping[str, str]
    problem: str = ""

    def usable(self, job: Job) -> Job:
        """The job without the photos that cannot be measured in, and what is in them."""
        names = {s.entry.name for s in self.seen} if self.solution else set()
        return replace(
            job,
            photos=tuple(p for p in job.photos if p.name in names),
            features=tuple(f for f in job.features if f.photo in names),
        )


class Desk:
    """One job folder. All methods may be called from several threads."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self._photos: Kept[Photo] = Kept(_PHOTOS_AT_HAND)
        self._seen: Kept[pipeline.Seen] = Kept(_SEEN_KEPT)
        self._views: Kept[Views] = Kept(_SOLUTIONS_KEPT)
        self._lights: Kept[pipeline.LinearLight] = Kept(_PHOTOS_AT_HAND)
        self._features: Kept[ImageFeature] = Kept(_FEATURES_KEPT)

    def photo(self, entry: PhotoEntry) -> Photo:
        """The pixels. Raises PhotoError, JobError: not there, not the one that was meant."""
        return self._photos.get(self.stamp(entry), lambda: self._load(entry))

    def put(self, entry: PhotoEntry, photo: Photo) -> None:
        """Keep the pixels of a photo that was decoded just now."""
        self._photos.get(self.stamp(entry), lambda: replace(photo, name=entry.name))

    def seen(self, entry: PhotoEntry, scales: tuple[ScaleEntry, ...] = ()) -> pipeline.Seen:
        """What is seen of sheets, cards and things of known size in a photo.

        Raises PhotomeasureError.
        """
        key = self.stamp(entry), scales
        return self._seen.get(key, lambda: self._look(entry, scales))

    def views(self, job: Job) -> Views:
        """The views of all photos that can be used."""
        key = (*(self.stamp(e) for e in job.photos), job.prints, job.scales)
        found = self._views.get(key, lambda: self._solve(job, {}))
        if found.solution is not None or not found.seen:
            return found
        # As the whole line does: what nothing lies on may be left out.
        targets = self._targets(job, found.seen)
        if not targets:
            return found
        return self._views.get(
            (*key, frozenset(targets.items())), lambda: self._solve(job, targets)
        )

    def locate(self, job: Job, entry: FeatureEntry) -> ImageFeature:
        """One feature as pointed at. Raises PhotomeasureError in words."""
        views = self.views(job)
        seen = next((s for s in views.seen if s.entry.name == entry.photo), None)
        if seen is None or views.solution is None:
            said = views.problems.get(entry.photo) or views.problem
            raise PhotoError(said or f"The job has no photo {entry.photo!r}. Add it first.")
        alone = replace(job, features=(entry,))
        height = pipeline.heights_of(alone)[entry.plane]
        view = pipeline.view_of(entry, alone, views.solution)
        key = self.stamp(seen.entry), view.parameters.tobytes(), height, replace(entry, name="")
        found = self._features.get(key, lambda: self._locate(seen, view, entry, height))
        return replace(found, name=entry.name, plane=entry.plane)

    def ground(self, job: Job, image: ImageFeature) -> Ground:
        """What a located feature is seen on. Raises PhotomeasureError."""
        solution = self.views(job).solution
        assert solution is not None  # or it would not have been located
        height = pipeline.heights_of(replace(job, features=()))[image.plane]
        return Ground(pipeline.view_of(image, job, solution).parameters, height.mm)

    def warm(self, job: Job) -> None:
        """Have ready what the first touch in each photo needs."""
        for seen in self.views(job).seen[:_PHOTOS_AT_HAND]:
            with suppress(PhotomeasureError):
                self._light(seen)

    def stamp(self, entry: PhotoEntry) -> Hashable:
        """Another one when the file is another, without reading it."""
        try:
            stat = (self.path.parent / entry.file).stat()
        except (OSError, ValueError):
            return entry, None
        return entry, stat.st_mtime_ns, stat.st_ctime_ns, stat.st_ino, stat.st_size

    def _load(self, entry: PhotoEntry) -> Photo:
        return replace(files.load_photo(self.path, entry), name=entry.name)

    def _look(self, entry: PhotoEntry, scales: tuple[ScaleEntry, ...]) -> pipeline.Seen:
        alone = Job(title="", photos=(entry,), features=(), measurements=())
        cameras = files.read_cameras(self.path.parent, alone)
        return pipeline.see(entry, self.photo(entry), cameras, scales)

    def _targets(self, job: Job, seen: Sequence[pipeline.Seen]) -> dict[tuple[str, str], str]:
        names = {s.entry.name for s in seen}
        there = tuple(f for f in job.features if f.photo in names)
        try:
            return pipeline.targets_of(replace(job, features=there), seen)
        except PhotomeasureError:
            return {}

    def _solve(self, job: Job, targets: Mapping[tuple[str, str], str]) -> Views:
        seen, problems = [], {}
        for entry in job.photos:
            try:
                scales = tuple(s for s in job.scales if s.photo == entry.name)
                seen.append(self.seen(entry, scales))
            except PhotomeasureError as error:
                problems[entry.name] = str(error)
        try:
            solution = pipeline.solve(job, seen, targets) if seen else None
        except PhotomeasureError as error:
            return Views(seen, None, problems, str(error))
        return Views(seen, solution, problems)

    def _locate(
        self, seen: pipeline.Seen, view: View, entry: FeatureEntry, height: Height
    ) -> ImageFeature:
        return pipeline.locate_feature(entry, self._light(seen), view, height)

    def _light(self, seen: pipeline.Seen) -> pipeline.LinearLight:
        return self._lights.get(
            self.stamp(seen.entry), lambda: pipeline.linearise(self.photo(seen.entry), seen)
        )
