"""Is a photo good enough, said within two seconds of adding it?"""

from __future__ import annotations

import time
from dataclasses import replace

from photomeasure import files, pipeline
from photomeasure.checkup import Known, check_photo
from photomeasure.errors import PhotomeasureError
from photomeasure.estimation.foresight import expected_length
from photomeasure.records.check import Finding, Fitness, PhotoCheck
from photomeasure.records.job import Job, PhotoEntry, ScaleEntry
from photomeasure.web import answers
from photomeasure.web.desk import Desk
from photomeasure.web.kept import Kept

_Check = tuple[PhotoCheck, str]
"""What was seen, and in words what gives the scale; "" for nothing."""


class Verdicts:
    """What the photos of one job folder are good for."""

    def __init__(self, desk: Desk) -> None:
        self._desk = desk
        self._checks: Kept[_Check] = Kept(200)

    def of(self, job: Job, entry: PhotoEntry) -> answers.PhotoVerdict:
        """The verdict with what would make the photo better. Raises PhotomeasureError."""
        start = time.perf_counter()
        things = tuple(s for s in job.scales if s.photo == entry.name)
        key = self._desk.stamp(entry), job.prints, things
        check, scale = self._checks.get(key, lambda: self._check(job, entry, things))
        return answers.PhotoVerdict(
            photo=entry.name,
            fitness=check.verdict.value,
            rank=check.verdict.rank,
            findings=[
                answers.Finding(words=f.words, fitness=f.fitness.value) for f in check.findings
            ],
            improvements=[i.words for i in check.improvements],
            scale=scale,
            seconds=time.perf_counter() - start,
        )

    def _check(self, job: Job, entry: PhotoEntry, things: tuple[ScaleEntry, ...]) -> _Check:
        records = files.read_cameras(self._desk.path.parent, job)
        record = records.get(entry.camera) if entry.camera else None
        try:
            detection = self._desk.seen(entry).detection
        except PhotomeasureError:
            detection = None  # the check looks again, and says what is wrong
        check = check_photo(self._desk.photo(entry), Known(record, job.prints), detection)
        if detection is None and things:
            return self._by_things(check, job, entry, things)
        return check, f"sheet {check.targets[0].sheet}" if check.targets else ""

    def _by_things(
        self, check: PhotoCheck, job: Job, entry: PhotoEntry, things: tuple[ScaleEntry, ...]
    ) -> _Check:
        """No sheet is missed where a thing of known size gives the scale."""
        others = tuple(f for f in check.findings if f.about != "target")
        alone = Job(job.title, (entry,), (), (), prints=job.prints, scales=things)
        try:
            seen = self._desk.seen(entry, things)
            solution = pipeline.solve(alone, [seen])
            length_u = min(expected_length(solution, view)[0] for view in solution.views)
        except PhotomeasureError as error:
            wrong = Finding("target", str(error), Fitness.RETAKE)
            return replace(check, findings=(wrong, *others)), ""
        scale = ", ".join(view.sheet for view in solution.views)
        words = (
            f"No printed sheet is in the photo; its scale comes from the {scale}. A length of "
            f"100 mm beside it would come out within ± {length_u:.2f} mm. A sheet or card in the "
            "same plane says it closer."
        )
        findings = (Finding("scale", words, Fitness.WITH_CARE), *others)
        worst_first = tuple(sorted(findings, key=lambda f: -f.fitness.rank))
        return replace(check, findings=worst_first), scale
