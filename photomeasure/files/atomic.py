"""How does a file change from old to new with nothing in between?"""

from __future__ import annotations

import os
import secrets
import shutil
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from photomeasure.errors import ExportError


def replace_file(path: Path, data: bytes) -> None:
    """Write a file so that it holds either all of the old or all of the new bytes.

    A link is followed and stays a link; the file keeps its permissions. Raises ExportError
    when the folder is missing, full or may not be written.
    """
    target = path.resolve()
    partial = target.with_name(f".{target.name}.{secrets.token_hex(4)}.partial")
    try:
        with writing(path):
            if target.is_dir():
                raise IsADirectoryError(None, "a folder of that name is in the way")
            write_through(partial, data)
            if target.exists():
                shutil.copymode(target, partial)
            os.replace(partial, target)
    finally:
        with suppress(OSError):
            partial.unlink(missing_ok=True)


@contextmanager
def writing(path: Path) -> Iterator[None]:
    """A disk that refuses what is done inside becomes one sentence. Raises ExportError."""
    try:
        yield
    except OSError as error:
        raise cannot_write(path, error) from None


def write_through(path: Path, data: bytes) -> None:
    """Write a new file and wait until the disk has it. Raises OSError."""
    with path.open("xb") as file:
        file.write(data)
        file.flush()
        os.fsync(file.fileno())


def cannot_write(path: Path, error: OSError) -> ExportError:
    """The sentence for a disk that refuses."""
    reason = (error.strerror or str(error)).lower()
    return ExportError(
        f"{path} cannot be written: {reason}. Nothing was changed. Choose another folder, "
        "or free some space and allow writing there."
    )
