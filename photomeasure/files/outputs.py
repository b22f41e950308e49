"""How do the files of a report reach the disk, all of them or none?"""

from __future__ import annotations

import os
import secrets
import shutil
from collections.abc import Iterable, Mapping
from pathlib import Path, PurePosixPath, PureWindowsPath

from photomeasure.errors import ExportError
from photomeasure.files.atomic import cannot_write, write_through


def write_outputs(folder: Path | str, files: Mapping[str, bytes]) -> tuple[Path, ...]:
    """Write files into a folder, making it if need be, and return their paths.

    files : name, or path inside the folder → content. All are written aside first and then
    moved, so that a full disk leaves no half-written file; files of the same name are
    replaced. Raises ExportError when a folder is in the way or the disk refuses.
    """
    folder = Path(folder)
    targets = {name: folder / _checked(name) for name in files}
    _refuse_obstacles(folder, targets.values())
    missing = _missing_folders(folder)
    staging = folder / f".{secrets.token_hex(4)}.partial"
    try:
        staging.mkdir(parents=True)
        _stage(staging, files)
        _move(staging, targets)
    except OSError as error:
        shutil.rmtree(staging, ignore_errors=True)
        _remove_empty(missing)
        raise cannot_write(folder, error) from None
    shutil.rmtree(staging, ignore_errors=True)
    return tuple(targets.values())


def _checked(name: str) -> PurePosixPath:
    path, windows = PurePosixPath(name), PureWindowsPath(name)
    if not path.parts or windows.drive or windows.root or ".." in windows.parts:
        raise ExportError(f"{name!r} leads out of the output folder. Choose a plain file name.")
    return path


def _refuse_obstacles(folder: Path, targets: Iterable[Path]) -> None:
    if folder.exists() and not folder.is_dir():
        raise ExportError(f"{folder} is a file, not a folder. Choose another output folder.")
    for target in targets:
        if target.is_dir():
            raise ExportError(
                f"{target} is a folder and stands where a file is to be written. "
                "Move it away or choose another output folder."
            )


def _missing_folders(folder: Path) -> list[Path]:
    """The folder and those above it that do not exist yet, innermost first."""
    return [path for path in (folder, *folder.parents) if not path.exists()]


def _stage(staging: Path, files: Mapping[str, bytes]) -> None:
    for name, data in files.items():
        path = staging / name
        path.parent.mkdir(parents=True, exist_ok=True)
        write_through(path, data)


def _move(staging: Path, targets: Mapping[str, Path]) -> None:
    for target in targets.values():
        target.parent.mkdir(parents=True, exist_ok=True)
    for name, target in targets.items():
        os.replace(staging / name, target)


def _remove_empty(folders: list[Path]) -> None:
    """Take back the folders that were made for nothing."""
    for folder in folders:
        try:
            folder.rmdir()
        except OSError:
            return
