"""How do several writers of one file never overwrite each other, and how is a change undone?

A revision is the beginning of the SHA-256 of the file's bytes; whoever writes says which
revision was changed, and is refused when the file is another by now. Every state that was
ever written here lies in `.history/` beside the job, so that undo has no limit and outlives
the program.
"""

from __future__ import annotations

import hashlib
import json
import os
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Generic, TypeVar

from photomeasure.errors import JobError
from photomeasure.files.alone import alone
from photomeasure.files.atomic import replace_file, writing
from photomeasure.files.job_writer import job_bytes
from photomeasure.files.jobs import is_inside
from photomeasure.files.reading import file_bytes
from photomeasure.records.job import Job

NO_FILE = ""
"""The revision of a file that is not there yet."""

FOLDER = ".history"
_LOG = "log.json"
_DIGITS = 16

R = TypeVar("R")


class ChangedElsewhereError(JobError):
    """The job file is not the one that was to be changed: look at it, then decide."""


@dataclass(frozen=True)
class _Log:
    """Revisions in the order they were written; `at` is where the file stands."""

    states: tuple[str, ...] = ()
    at: int = -1

    def then(self, revision: str) -> _Log:
        """With a new state after the present one; what could be redone is dropped."""
        return _Log((*self.states[: self.at + 1], revision), self.at + 1)


class History(Generic[R]):
    """A file with all its earlier states, which lie in `folder`.

    as_bytes : what a record makes of the file as it stands. What is new is kept and noted before
    the file itself changes, so that a full disk changes nothing; a log that is a step ahead of
    the file is brought back by `_log`.
    """

    def __init__(self, path: Path, folder: Path, as_bytes: Callable[[R, Path], bytes]) -> None:
        self.path = path
        self._folder = folder
        self._as_bytes = as_bytes

    def revision(self) -> str:
        """Of the file as it stands; NO_FILE when there is none. Raises JobError."""
        try:
            return _revision(file_bytes(self.path))
        except FileNotFoundError:
            return NO_FILE
        except OSError as error:
            raise JobError(
                f"{self.path} cannot be read ({error.strerror}). Check that you may read it."
            ) from None

    def steps(self) -> tuple[int, int]:
        """How many changes can be undone and redone."""
        log = self._log(self.revision())
        before = log.states[: log.at][::-1]
        undo = before.index(NO_FILE) if NO_FILE in before else len(before)
        return undo, len(log.states) - 1 - log.at

    def save(self, record: R, revision: str) -> str:
        """Write a record in place of this revision; returns the new one.

        Raises ChangedElsewhereError when the file is another by now, JobError and
        ExportError when the disk refuses; then the file stays as it is.
        """
        with self._changing(revision) as log:
            data = self._as_bytes(record, self.path)
            made = self._keep(data)
            if made != revision:
                self._write(log.then(made))
                replace_file(self.path, data)
            return made

    def remove(self, revision: str) -> None:
        """Take the file away; undo brings it back. Raises as `save` does."""
        with self._changing(revision) as log:
            self._write(log.then(NO_FILE))
            self.path.unlink(missing_ok=True)

    def undo(self, revision: str) -> str:
        """Back to the state before; returns its revision. Raises as `save` does."""
        return self._go(revision, -1)

    def redo(self, revision: str) -> str:
        """Forward to the state that was undone; returns its revision. Raises as `save` does."""
        return self._go(revision, +1)

    def _go(self, revision: str, step: int) -> str:
        with self._changing(revision) as log:
            to = log.at + step
            target = log.states[to] if 0 <= to < len(log.states) else NO_FILE
            if target == NO_FILE:
                raise JobError(f"There is nothing to {'undo' if step < 0 else 'redo'}.")
            data = self._kept(target)
            self._write(_Log(log.states, to))
            replace_file(self.path, data)
            return target

    @contextmanager
    def _changing(self, revision: str) -> Iterator[_Log]:
        """Alone with the file, which is the one that was meant. Raises ExportError too."""
        with writing(self.path):
            self.path.parent.mkdir(parents=True, exist_ok=True)
            self._refuse_leading_out()
            self._folder.mkdir(parents=True, exist_ok=True)
        with writing(self.path), alone(self._folder):
            now = self.revision()
            if now != revision:
                raise ChangedElsewhereError(
                    f"{self.path.name} was changed elsewhere since it was shown here. "
                    "Look at the other version, then make your change again."
                )
            log = self._log(now)
            if now != NO_FILE:
                self._keep(file_bytes(self.path))
            yield log

    def _refuse_leading_out(self) -> None:
        """A folder from elsewhere may hold links; nothing is written where they lead."""
        home = self.path.parent
        kept = os.scandir(self._folder) if self._folder.is_dir() else ()
        links = [Path(entry) for entry in kept if entry.is_symlink()]
        for path in (self.path, home / FOLDER, self._folder, *links):
            if not is_inside(path.relative_to(home).as_posix(), home):
                raise JobError(
                    f"{path} is a link that leads out of its folder, so nothing is written "
                    "there. Put a file of its own in its place."
                )

    def _log(self, now: str) -> _Log:
        """The log, brought to where the file stands: others may have written it."""
        log = self._read()
        near = [k for k in (log.at, log.at - 1, log.at + 1) if 0 <= k < len(log.states)]
        here = next((k for k in near if log.states[k] == now), None)
        return log.then(now) if here is None else _Log(log.states, here)

    def _read(self) -> _Log:
        """A log that cannot be read is no log: the job matters, its past less."""
        try:
            raw = json.loads(file_bytes(self._folder / _LOG))
            return _Log(tuple(str(s) for s in raw["states"]), int(raw["at"]))
        except (OSError, ValueError, KeyError, TypeError):
            return _Log()

    def _write(self, log: _Log) -> None:
        text = json.dumps({"at": log.at, "states": log.states})
        replace_file(self._folder / _LOG, text.encode())

    def _keep(self, data: bytes) -> str:
        revision = _revision(data)
        path = self._folder / f"{revision}.toml"
        if not path.exists():
            replace_file(path, data)
        return revision

    def _kept(self, revision: str) -> bytes:
        try:
            data = file_bytes(self._folder / f"{revision}.toml")
        except OSError:
            data = b""
        if _revision(data) != revision:
            raise JobError(
                f"The state {revision} is gone from {FOLDER}/ or was changed there, so it is "
                "not brought back. Change the file by hand."
            )
        return data


class JobHistory(History[Job]):
    """The job file of one folder with all its earlier states."""

    def __init__(self, path: Path) -> None:
        super().__init__(path, path.parent / FOLDER, job_bytes)


def _revision(data: bytes) -> str:
    return hashlib.sha256(data).hexdigest()[:_DIGITS]
