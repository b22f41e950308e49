"""Which sheet or card of a photo is a plane measured from?

A plane says so itself, or bears the name of a sheet or card; otherwise it is the photo's only
window sheet, else its only target. Where that leaves a choice, the person is asked.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from photomeasure.errors import JobError
from photomeasure.records.job import SHEET_PLANE, Job, PlaneEntry
from photomeasure.records.photo import Photo
from photomeasure.vision.detection import near_enough
from photomeasure.vision.sheets import identities, sheet

PhotoPlane = tuple[str, str]


def planes_of(job: Job) -> dict[str, PlaneEntry]:
    """All planes of a job by name, with those that a sheet or card itself makes."""
    used = dict.fromkeys(f.plane for f in job.features)
    own = {name: PlaneEntry(name, 0.0, 0.0, on=name) for name in used if name in identities()}
    paper = {SHEET_PLANE: PlaneEntry(SHEET_PLANE, 0.0, 0.0)}
    return paper | own | {plane.name: plane for plane in job.planes}


def planes_to_targets(job: Job, seen: Mapping[str, Sequence[str]]) -> dict[PhotoPlane, str]:
    """(photo, plane) → identity of what it is measured from there, for every plane in use.

    seen : photo → identities of what can be used in it. Raises JobError, listing every fault,
    where a target is not in the photo or several could be meant.
    """
    targets: dict[PhotoPlane, str] = {}
    problems: list[str] = []
    for photo, plane in dict.fromkeys((f.photo, f.plane) for f in job.features):
        try:
            targets[photo, plane] = target_of(job, photo, plane, seen[photo])
        except JobError as error:
            problems += error.problems
    if problems:
        raise JobError(problems)
    return targets


def target_of(job: Job, photo: str, plane: str, seen: Sequence[str]) -> str:
    """What a plane is measured from in a photo that shows these sheets and cards.

    Raises JobError where it is not there, or several could be meant.
    """
    on = planes_of(job)[plane].on
    if on is not None:
        if on not in seen:
            raise JobError(
                f"Plane {plane!r} is measured from {on}, which is not seen in photo {photo!r}; "
                f"{', '.join(seen)} is. Correct `on`, or point at it in another photo."
            )
        return on
    windows = [identity for identity in seen if sheet(identity).window is not None]
    for candidates in (windows, seen):
        if len(candidates) == 1:
            return candidates[0]
    either = sorted(windows or seen)
    raise JobError(
        f"Plane {plane!r} could be measured from {' or '.join(either)} in photo {photo!r}. Say "
        f'which: on = "{either[0]}" in its [[planes]], or that name as the plane of a feature '
        "that lies on it."
    )


def not_found(photo: Photo, identity: str) -> str:
    """What to do where a sheet or card that a plane is measured from cannot be read."""
    return (
        f"{photo.name}: {identity}, which a plane is measured from, was not found. It must lie "
        f"fully in the picture, in focus, taken from {near_enough(photo, identity)} or nearer "
        "with this lens."
    )
