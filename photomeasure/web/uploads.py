"""How does a photo come into the job? Kept in the folder, then named in job.toml."""

from __future__ import annotations

from collections.abc import AsyncIterator
from dataclasses import replace
from pathlib import PurePath

from starlette.concurrency import run_in_threadpool

from photomeasure.errors import PhotoError
from photomeasure.files.arriving import Arrival, arriving
from photomeasure.records.job import Job, PhotoEntry
from photomeasure.web.answers import Added
from photomeasure.web.desk import Desk
from photomeasure.web.job_store import JobStore

MOST_PHOTOS = 60


async def add_photo(
    store: JobStore, desk: Desk, title: str, pieces: AsyncIterator[bytes]
) -> Added:
    """Keep a photo that arrives in pieces. Raises PhotoError, JobError, ExportError."""
    with arriving(store.path.parent, title) as arrival:
        async for piece in pieces:
            arrival.add(piece)
        return await run_in_threadpool(_keep, store, desk, arrival)


def _keep(store: JobStore, desk: Desk, arrival: Arrival) -> Added:
    job = store.standing().job
    if job is not None and len(job.photos) >= MOST_PHOTOS:
        raise PhotoError(
            f"The job has {len(job.photos)} photos, the most there may be. Remove some first."
        )
    photo = arrival.look()
    known = next((p for p in job.photos if p.sha256 == photo.sha256), None) if job else None
    if known is not None:
        return Added(photo=known.name, new=False, stored=store.stored())
    file = arrival.keep()
    added = PhotoEntry("", file, photo.sha256)

    def with_photo(job: Job) -> Job:
        nonlocal added
        added = replace(added, name=_free_name(PurePath(file).stem, job))
        return replace(job, photos=(*job.photos, added))

    stored = store.change(with_photo)
    desk.put(added, photo)
    return Added(photo=added.name, new=True, stored=stored)


def _free_name(stem: str, job: Job) -> str:
    taken = {p.name for p in job.photos}
    name, number = stem, 2
    while name in taken:
        name, number = f"{stem} {number}", number + 1
    return name
