"""Is a photo good enough, said within two seconds of adding it?"""

from __future__ import annotations

import time

from photomeasure import files
from photomeasure.checkup import Known, check_photo
from photomeasure.errors import PhotomeasureError
from photomeasure.records.check import PhotoCheck
from photomeasure.records.job import Job, PhotoEntry
from photomeasure.web.answers import Finding, PhotoVerdict
from photomeasure.web.desk import Desk
from photomeasure.web.kept import Kept


class Verdicts:
    """What the photos of one job folder are good for."""

    def __init__(self, desk: Desk) -> None:
        self._desk = desk
        self._checks: Kept[PhotoCheck] = Kept(200)

    def of(self, job: Job, entry: PhotoEntry) -> PhotoVerdict:
        """The verdict with what would make the photo better. Raises PhotomeasureError."""
        start = time.perf_counter()
        key = self._desk.stamp(entry), job.prints
        check = self._checks.get(key, lambda: self._check(job, entry))
        return PhotoVerdict(
            photo=entry.name,
            fitness=check.verdict.value,
            rank=check.verdict.rank,
            findings=[Finding(words=f.words, fitness=f.fitness.value) for f in check.findings],
            improvements=[i.words for i in check.improvements],
            sheet=check.targets[0].sheet if check.targets else "",
            seconds=time.perf_counter() - start,
        )

    def _check(self, job: Job, entry: PhotoEntry) -> PhotoCheck:
        records = files.read_cameras(self._desk.path.parent, job)
        record = records.get(entry.camera) if entry.camera else None
        try:
            detection = self._desk.seen(entry).detection
        except PhotomeasureError:
            detection = None  # the check looks again, and says what is wrong
        return check_photo(self._desk.photo(entry), Known(record, job.prints), detection)
