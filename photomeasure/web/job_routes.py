"""Which addresses belong to one job? Its text, photos, touches, numbers and reports."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Any

from fastapi import APIRouter, BackgroundTasks, Query, Request
from starlette.responses import Response

from photomeasure.errors import JobError
from photomeasure.files.arriving import sweep
from photomeasure.files.job_model import FeatureTable
from photomeasure.records.job import Job, PhotoEntry
from photomeasure.web import answers
from photomeasure.web.conflicts import unless_changed
from photomeasure.web.desk import Desk
from photomeasure.web.downloads import Reports, download
from photomeasure.web.job_store import JobStore
from photomeasure.web.locating import locate_touch
from photomeasure.web.outlines import Outlines
from photomeasure.web.part_routes import part_routes
from photomeasure.web.part_store import PartStore
from photomeasure.web.pictures import Pictures
from photomeasure.web.results import Results
from photomeasure.web.telling import results_answer
from photomeasure.web.uploads import add_photo
from photomeasure.web.verdicts import Verdicts

Name = Annotated[str, Query(min_length=1, max_length=200)]
_Responses = dict[int | str, dict[str, Any]]
_JPEG: _Responses = {200: {"content": {"image/jpeg": {}}, "description": "The picture."}}
_FILE: _Responses = {
    200: {"content": {"application/octet-stream": {}}, "description": "The file."}
}


class OpenJob:
    """One job folder with everything that is worked out of it."""

    def __init__(self, path: Path) -> None:
        sweep(path.parent)
        self.store = JobStore(path)
        self.desk = Desk(path)
        self.results = Results(self.desk)
        self.verdicts = Verdicts(self.desk)
        self.pictures = Pictures(self.desk)
        self.reports = Reports(path)
        self.parts = PartStore(path.parent)
        self.outlines = Outlines(self.desk)

    def job(self) -> Job:
        """The job as it stands. Raises JobError when there is none that can be read."""
        standing = self.store.standing()
        if standing.job is None:
            raise JobError(standing.problem or "There is no job here yet. Add a photo first.")
        return standing.job

    def photo(self, name: str) -> tuple[Job, PhotoEntry]:
        """A photo of the job. Raises JobError when there is none of that name."""
        job = self.job()
        for entry in job.photos:
            if entry.name == name:
                return job, entry
        raise JobError(f"The job has no photo {name!r}. Add it first.")


def job_routes(opened: OpenJob) -> APIRouter:
    """All addresses of a job."""
    router = APIRouter()
    _text_routes(router, opened)
    _photo_routes(router, opened)
    _number_routes(router, opened)
    router.include_router(part_routes(opened.store, opened.parts, opened.outlines))
    return router


def _text_routes(router: APIRouter, opened: OpenJob) -> None:
    store = opened.store

    @router.get("/job")
    def job() -> answers.Stored:
        """The job as it stands."""
        return store.stored()

    @router.get("/revision")
    def revision() -> answers.Step:
        """Which revision stands, to notice changes made elsewhere."""
        return answers.Step(revision=store.history.revision())

    def conflict(problem: str) -> answers.Conflict:
        return answers.Conflict(problem=problem, stored=store.stored())

    @router.put("/job", response_model=answers.Stored)
    def save(change: answers.Change) -> answers.Stored | Response:
        """Write a whole job in place of the revision that was changed."""
        return unless_changed(lambda: store.save(change.job.record(), change.revision), conflict)

    @router.post("/undo", response_model=answers.Stored)
    def undo(step: answers.Step) -> answers.Stored | Response:
        """One change back."""
        return unless_changed(lambda: store.undo(step.revision), conflict)

    @router.post("/redo", response_model=answers.Stored)
    def redo(step: answers.Step) -> answers.Stored | Response:
        """One change forward."""
        return unless_changed(lambda: store.redo(step.revision), conflict)


def _photo_routes(router: APIRouter, opened: OpenJob) -> None:
    @router.post("/photos")
    async def add(request: Request, title: Name) -> answers.Added:
        """Add a photo; the body is its file. `title` is the file's name."""
        return await add_photo(opened.store, opened.desk, title, request.stream())

    @router.get("/verdict")
    def verdict(photo: Name) -> answers.PhotoVerdict:
        """What a photo is good for, and what would make it better."""
        return opened.verdicts.of(*opened.photo(photo))

    @router.get("/picture", responses=_JPEG, response_class=Response)
    def picture(photo: Name) -> Response:
        """The photo upright."""
        _, entry = opened.photo(photo)
        return Response(opened.pictures.upright(entry), media_type="image/jpeg", headers=_KEPT)

    @router.get("/flat", responses=_JPEG, response_class=Response)
    def flat(photo: Name, plane: Name) -> Response:
        """A plane of the photo seen at right angles."""
        job, entry = opened.photo(photo)
        jpeg = opened.pictures.flat(job, entry, plane)
        if jpeg is None:
            raise JobError(
                f"Plane {plane!r} cannot be shown in {photo!r}: no view of it is known."
            )
        return Response(jpeg, media_type="image/jpeg", headers=_KEPT)


_KEPT = {"cache-control": "private, max-age=86400"}  # the page asks with the photo's hash


def _number_routes(router: APIRouter, opened: OpenJob) -> None:
    @router.post("/touch")
    def touch(feature: FeatureTable) -> answers.Located:
        """Locate one feature as pointed at; nothing is saved."""
        return locate_touch(opened.desk, opened.job(), feature.record())

    @router.get("/results")
    def results(after: BackgroundTasks) -> answers.Results:
        """Every number that follows from the job, with its verdicts."""
        standing = opened.store.standing()
        job = standing.job or opened.store.fresh()
        after.add_task(opened.desk.warm, job)
        return results_answer(standing.revision, opened.results.of(job))

    @router.get("/report", responses=_FILE, response_class=Response)
    def report(format: Name, look: bool = False) -> Response:
        """The report in one format, to save or (`look`) to see in the browser."""
        job = opened.job()
        made = opened.reports.of(job, opened.store.standing().revision, format)
        return download(made, look)
