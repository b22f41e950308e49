"""What does a job file say, and which photos does it name?

Every problem of a file is told at once, each with its place. Photos stay inside the job's
folder, links included.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Collection, Iterator, Mapping
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from photomeasure.errors import JobError, PhotoError
from photomeasure.files.job_model import JobFile
from photomeasure.files.job_problems import Problem, place, reference_problems, value_problems
from photomeasure.files.photos import read_photo
from photomeasure.files.reading import file_bytes
from photomeasure.records.job import Job, PhotoEntry
from photomeasure.records.photo import Photo

LIMIT_BYTES = 5_000_000
_LONGEST_LINE = 80  # of a line that is repeated
_NO_JOB = (
    "there is no such job file. Check the name, or make a job from photos: "
    "photomeasure begin FOLDER PHOTO…"
)


def read_job(path: Path | str, known_rules: Collection[str] | None = None) -> Job:
    """The job in a TOML file.

    known_rules : names of the rules besides those in the job; None leaves the names of
    rules unchecked. Raises JobError with every problem of the file.
    """
    path = Path(path)
    raw = raw_tables(file_text(path), path)
    outside = _outside(raw, path.parent)
    return _job(raw, path, known_rules, outside)


def parse_job(text: str, name: Path | str = "job.toml") -> Job:
    """The job in a text; where photos lie and which rules exist is not looked at."""
    return _job(raw_tables(text, name), name, None, iter(()))


def load_photo(job_path: Path | str, entry: PhotoEntry) -> Photo:
    """The photo of a job, given the job's file or folder.

    Raises JobError when it lies outside the folder, PhotoError when it cannot be used or
    is not the one whose SHA-256 the job states.
    """
    job_path = Path(job_path)
    folder = job_path if job_path.is_dir() else job_path.parent
    if not is_inside(entry.file, folder):
        raise JobError(f"{job_path}: {leads_out(entry.file)}")
    photo = read_photo(folder / entry.file, entry.name)
    if entry.sha256 is not None and photo.sha256 != entry.sha256:
        raise PhotoError(
            f"{entry.file}: the photo is not the one the job was made with (its SHA-256 begins "
            f"with {photo.sha256[:12]}, the job says {entry.sha256[:12]}). Put the original "
            "back, or point at the features again and remove sha256."
        )
    return photo


def file_text(path: Path, absent: str = _NO_JOB) -> str:
    """The text of a file that is not too large. absent : what is said where there is none, and
    the remedy. Raises JobError."""
    try:
        if path.is_dir():
            raise JobError(f"{path}: this is a folder. Name the job file in it.")
        if path.stat().st_size > LIMIT_BYTES:
            raise JobError(
                f"{path}: more than {LIMIT_BYTES / 1e6:.0f} MB, which no job file needs. "
                "Name the TOML file of the job."
            )
        return file_bytes(path).decode("utf-8-sig")
    except FileNotFoundError:
        raise JobError(f"{path}: {absent}") from None
    except UnicodeDecodeError as error:
        raise JobError(
            f"{path}: this is no text (byte {error.start} is not UTF-8). A job is a folder with a "
            "job.toml, not a photo: photomeasure begin FOLDER PHOTO… makes one. Save a job.toml "
            "as UTF-8."
        ) from None
    except (OSError, ValueError) as error:
        raise JobError(f"{path}: the job cannot be read ({error}). Check the name.") from None


def raw_tables(text: str, name: Path | str) -> dict[str, Any]:
    """The tables of a TOML text, nothing of them checked. Raises JobError."""
    try:
        return tomllib.loads(text)
    except RecursionError:
        raise JobError(f"{name}: lists nested too deep. Write the job plainly.") from None
    except ValueError as error:
        raise JobError(f"{name}: {_toml_words(text, str(error))}") from None


def _toml_words(text: str, said: str) -> str:
    """What is wrong with a TOML text, with the line that it was found in."""
    found = re.search(r"at line (\d+)", said)
    lines = text.splitlines()
    if found is None or int(found[1]) > len(lines):
        return f"this is not valid TOML: {said}. Is a quote or bracket left open?"
    line = lines[int(found[1]) - 1].strip()
    return (
        f"line {found[1]}, `{line[:_LONGEST_LINE]}`, is not valid TOML ({said}). Text stands in "
        '"quotes", decimals have a point, lists stand in [brackets] with commas between.'
    )


def _job(
    raw: Mapping[str, Any],
    name: Path | str,
    known_rules: Collection[str] | None,
    outside: Iterator[Problem],
) -> Job:
    problems: list[Problem] = []
    job = None
    try:
        job = JobFile.model_validate(raw).record()
    except ValidationError as error:
        problems += value_problems(error, JobFile)
    told = {at for at, _ in problems}
    problems += (p for p in outside if p[0] not in told)
    problems += reference_problems(raw, known_rules)
    if job is None or problems:
        raise JobError([f"{name}: {place(at, raw)}: {words}" for at, words in problems])
    return job


def _outside(raw: Mapping[str, Any], folder: Path) -> Iterator[Problem]:
    """Photos that a link leads out of the folder."""
    photos = raw.get("photos")
    for i, photo in enumerate(photos if isinstance(photos, list) else ()):
        file = photo.get("file") if isinstance(photo, Mapping) else None
        if isinstance(file, str) and not is_inside(file, folder):
            yield ("photos", i, "file"), leads_out(file)


def is_inside(file: str, folder: Path) -> bool:
    """Whether a file lies in a folder once links are followed."""
    try:
        return (folder / file).resolve().is_relative_to(folder.resolve())
    except (OSError, ValueError, RuntimeError):  # a loop of links, or no path at all
        return False


def leads_out(file: str) -> str:
    """What to say of a file that does not lie in its folder."""
    return f"{file!r} leads out of the job's folder. Copy the photo into that folder."
