"""How does a photo from elsewhere come into a job's folder?

It arrives in pieces, is looked at as a whole, and only a still picture that can be measured
is kept, under a plain name that no other file has.
"""

from __future__ import annotations

import os
import re
import secrets
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path, PureWindowsPath
from typing import IO

from photomeasure.errors import PhotoError
from photomeasure.files.atomic import writing
from photomeasure.files.photos import LIMIT_BYTES, read_photo
from photomeasure.records.photo import Photo

_SUFFIXES = (
    *(".jpg", ".jpeg", ".png", ".heic", ".heif"),
    *(".avif", ".webp", ".tif", ".tiff", ".dng"),
)
_PARTIAL = re.compile(r"\.([^/]+\.)?[0-9a-f]{8}\.partial")
_LEFT_BEHIND_S = 3600.0
_LONGEST_NAME = 60
_NO_NAME = "photo"


@dataclass
class Arrival:
    """A photo on its way into a folder. `title` is its name in messages."""

    title: str
    _folder: Path
    _partial: Path
    _file: IO[bytes]
    _size: int = 0

    def add(self, piece: bytes) -> None:
        """The next piece. Raises PhotoError beyond the limit, ExportError on a full disk."""
        self._size += len(piece)
        if self._size > LIMIT_BYTES:
            raise PhotoError(
                f"{self.title}: more than the limit of {LIMIT_BYTES / 1e6:.0f} MB for a photo. "
                "Choose the photo as the camera wrote it."
            )
        with writing(self._folder):
            self._file.write(piece)

    def look(self) -> Photo:
        """The pixels, now that all of it is here. Raises PhotoError, ExportError."""
        with writing(self._folder):
            self._file.flush()
        try:
            return read_photo(self._partial, self.title)
        except PhotoError as error:
            raise PhotoError(str(error).replace(self._partial.name, self.title)) from None

    def keep(self) -> str:
        """The name that it gets in the folder. Raises ExportError.

        A file that is there with the same bytes is used, never written twice.
        """
        with writing(self._folder):
            self._file.flush()
            os.fsync(self._file.fileno())
            self._file.close()
            return self._named()

    def _named(self) -> str:
        """Give it the first free name, or one that has the same bytes. Raises OSError."""
        for name in _names(self.title):
            target = self._folder / name
            try:
                os.link(self._partial, target)  # fails where the name is taken, atomically
            except FileExistsError:
                if not target.is_symlink() and _same(self._partial, target):
                    return name
                continue
            except OSError:
                if target.exists():
                    continue
                os.replace(self._partial, target)  # a disk without hard links
            return name
        raise AssertionError("names never run out")


@contextmanager
def arriving(folder: Path, title: str) -> Iterator[Arrival]:
    """Make room for a photo in a folder; what was not kept is removed at the end."""
    partial = folder / f".{secrets.token_hex(4)}.partial"
    with writing(folder):
        folder.mkdir(parents=True, exist_ok=True)
        file = partial.open("xb")
    try:
        yield Arrival(title, folder, partial, file)
    finally:
        with suppress(OSError):  # what the disk did not take is thrown away here
            file.close()
        with suppress(OSError):
            partial.unlink(missing_ok=True)


def sweep(folder: Path) -> None:
    """Remove what a killed program left half written more than an hour ago."""
    long_ago = time.time() - _LEFT_BEHIND_S
    for path in folder.glob(".*.partial"):
        with suppress(OSError):
            if (
                _PARTIAL.fullmatch(path.name)
                and path.is_file()
                and path.lstat().st_mtime < long_ago
            ):
                path.unlink()


def plain_name(title: str) -> tuple[str, str]:
    """Stem and suffix of a file name without anything that any disk may trip over."""
    last = PureWindowsPath(title).name
    stem, dot, suffix = last.rpartition(".")
    if not dot or f".{suffix.lower()}" not in _SUFFIXES:
        stem, suffix = last, "jpg"
    plain = re.sub(r"[^\w()+-]+", " ", stem).strip(" -+")[:_LONGEST_NAME].strip()
    return plain or _NO_NAME, f".{suffix.lower()}"


def _names(title: str) -> Iterator[str]:
    """The name, then the name with 2, 3, … behind it."""
    stem, suffix = plain_name(title)
    yield stem + suffix
    number = 2
    while True:
        yield f"{stem} {number}{suffix}"
        number += 1


def _same(one: Path, other: Path) -> bool:
    return one.stat().st_size == other.stat().st_size and one.read_bytes() == other.read_bytes()
