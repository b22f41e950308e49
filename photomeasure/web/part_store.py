"""How does the page read and change the parts of a job's folder? As it does the job.

A part is a file beside the job that `photomeasure outline` reads: part.toml, part-2.toml and on.
"""

from __future__ import annotations

import re
from pathlib import Path

from photomeasure.errors import JobError
from photomeasure.files.job_history import NO_FILE
from photomeasure.files.jobs import file_text, is_inside, leads_out
from photomeasure.files.part_file import PartFile, part_tables
from photomeasure.files.part_writer import PartHistory
from photomeasure.web.part_answers import PartStored

ID = r"part(-[1-9][0-9]{0,2})?"
_TRIES = 20


class PartStore:
    """The parts of one folder. Every change names the revision that it changes."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder

    def ids(self) -> list[str]:
        """Of the parts that have a file, in the order of their numbers."""
        found = [p.stem for p in self._folder.glob("part*.toml") if re.fullmatch(ID, p.stem)]
        return sorted(found, key=lambda stem: (len(stem), stem))

    def stored(self, part: str) -> PartStored:
        """A part as it stands on disk. Raises JobError where it changes all the time."""
        history = self._history(part)
        for _ in range(_TRIES):
            revision = history.revision()
            table, problem = self._read(part) if revision != NO_FILE else (None, "")
            if history.revision() == revision:
                undo, redo = history.steps()
                return PartStored(
                    part=part,
                    revision=revision,
                    table=table,
                    problem=problem,
                    undo=undo,
                    redo=redo,
                )
        raise JobError(f"{part}.toml changes too fast to be read. Stop what writes it.")

    def table(self, part: str) -> PartFile:
        """What a person said of a part. Raises JobError when there is none that can be read."""
        stored = self.stored(part)
        if stored.table is None:
            raise JobError(stored.problem or f"There is no {part}.toml. Begin an outline first.")
        return stored.table

    def save(self, part: str, table: PartFile, revision: str) -> PartStored:
        """Write a part in place of a revision. Raises JobError, ExportError,
        ChangedElsewhereError when the file is another by now."""
        if not is_inside(table.photo, self._folder):
            raise JobError(leads_out(table.photo))
        self._history(part).save(table, revision)
        return self.stored(part)

    def step(self, part: str, revision: str, forward: bool) -> PartStored:
        """One change back or forward. Raises as `save` does."""
        history = self._history(part)
        (history.redo if forward else history.undo)(revision)
        return self.stored(part)

    def remove(self, part: str, revision: str) -> PartStored:
        """Take a part's file away; a step back brings it again. Raises as `save` does."""
        self._history(part).remove(revision)
        return self.stored(part)

    def _history(self, part: str) -> PartHistory:
        if not re.fullmatch(ID, part):
            raise JobError(f"{part!r} names no part. Parts are called part, part-2, part-3.")
        return PartHistory(self._folder / f"{part}.toml")

    def _read(self, part: str) -> tuple[PartFile | None, str]:
        path = self._folder / f"{part}.toml"
        try:
            return part_tables(file_text(path), path), ""
        except JobError as error:
            return None, str(error)
