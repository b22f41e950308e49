"""Does a job hang together? What names nothing is refused before a photo is opened."""

from __future__ import annotations

from collections.abc import Mapping

from photomeasure.errors import JobError
from photomeasure.records.job import Job, MeasurementEntry
from photomeasure.vision.sheets import identities, printed


def refuse_loose_ends(job: Job) -> None:
    """Raise JobError, listing every fault, for what names nothing that is there."""
    photos = {p.name for p in job.photos}
    features = {f.name for f in job.features}
    problems = [
        f"Feature {f.name!r} is in photo {f.photo!r}, which the job has not. Add it or rename."
        for f in job.features
        if f.photo not in photos
    ]
    problems += [
        f"Measurement {m.name!r} is of {name!r}, which the job has not. Add it or rename."
        for m in job.measurements
        for _, names in m.of
        for name in names
        if name not in features
    ]
    problems += [
        f"Bar readings are given for sheet {p.sheet!r}, which does not exist. Copy the identity "
        "that is printed on the sheet or on the page that a card was cut from."
        for p in job.prints
        if p.sheet not in printed()
    ]
    problems += [
        f"Plane {p.name!r} is on {p.on!r}, which does not exist. Copy the identity that is "
        "printed on the sheet or card."
        for p in job.planes
        if p.on is not None and p.on not in identities()
    ]
    if not job.judged:
        problems.append(
            f"The job {job.title!r} has no measurements, so there is nothing to work out. Add "
            "at least one feature and one measurement to its job.toml."
        )
    if problems:
        raise JobError(problems)


def refuse_two_frames(entry: MeasurementEntry, on: Mapping[str, str]) -> None:
    """Raise JobError where a measurement has features on two sheets or cards.

    on : feature → what its plane is measured from.
    """
    seen = sorted({on[name] for _, names in entry.of for name in names})
    if len(seen) > 1:
        raise JobError(
            f"Measurement {entry.name!r} has features on {' and '.join(seen)}; where one "
            "lies from the other is not known. Point at all of them on one sheet or card."
        )
