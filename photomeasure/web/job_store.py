"""How does the page read and change the job? Saved at once, or refused in words."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from photomeasure import files
from photomeasure.errors import JobError
from photomeasure.files.job_history import NO_FILE, ChangedElsewhereError, JobHistory
from photomeasure.files.job_model import JobFile
from photomeasure.files.job_writer import job_tables
from photomeasure.records.job import Job
from photomeasure.rules import RULES
from photomeasure.rules.decide import find_rule
from photomeasure.web.answers import Stored
from photomeasure.web.kept import Kept

_TRIES = 20


@dataclass(frozen=True)
class Standing:
    """The job of one revision. job : None where there is none, or none that can be read."""

    revision: str
    job: Job | None
    problem: str = ""


class JobStore:
    """One job file. Every change names the revision that it changes."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self.history = JobHistory(path)
        self._standing: Kept[Standing] = Kept(4)

    def standing(self) -> Standing:
        """The job as it stands on disk at this moment."""
        for _ in range(_TRIES):
            revision = self.history.revision()
            found = self._standing.get(revision, lambda: self._read(revision))  # noqa: B023
            if found.revision == revision:
                return found
        raise JobError(f"{self.path.name} changes too fast to be read. Stop what writes it.")

    def stored(self) -> Stored:
        """The same for the page."""
        standing = self.standing()
        undo, redo = self.history.steps()
        job = JobFile.model_validate(job_tables(standing.job)) if standing.job else None
        return Stored(
            revision=standing.revision,
            folder=self.path.resolve().parent.name,
            job=job,
            problem=standing.problem,
            undo=undo,
            redo=redo,
        )

    def save(self, job: Job, revision: str) -> Stored:
        """Write a job in place of a revision. Raises JobError, ExportError.

        ChangedElsewhereError when the file is another by now.
        """
        for entry in job.measurements:
            for name in entry.rules:
                find_rule(name, job.rules)
        self.history.save(job, revision)
        return self.stored()

    def change(self, change: Callable[[Job], Job]) -> Stored:
        """Make a change that fits any revision, such as one photo more."""
        for _ in range(_TRIES):
            standing = self.standing()
            if standing.problem:
                raise JobError(standing.problem)
            try:
                return self.save(change(standing.job or self.fresh()), standing.revision)
            except ChangedElsewhereError:
                continue
        raise JobError(f"{self.path.name} changes too fast to be written. Stop what writes it.")

    def fresh(self) -> Job:
        """The job of a folder that has none yet."""
        title = " ".join(self.path.resolve().parent.name.split()) or "Fit-up"
        return Job(title=title, photos=(), features=(), measurements=())

    def undo(self, revision: str) -> Stored:
        """One change back."""
        self.history.undo(revision)
        return self.stored()

    def redo(self, revision: str) -> Stored:
        """One change forward."""
        self.history.redo(revision)
        return self.stored()

    def _read(self, revision: str) -> Standing:
        if revision == NO_FILE:
            return Standing(NO_FILE, None)
        try:
            job: Job | None = files.read_job(self.path, RULES.names)
            problem = ""
        except JobError as error:
            job, problem = None, str(error)
        # What was read is this revision only if it still stands.
        return Standing(self.history.revision(), job, problem)
