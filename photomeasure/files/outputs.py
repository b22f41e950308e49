"""How do the files of a report reach the disk, all of them or none?"""

from __future__ import annotations

import os
import secrets
import shutil
from collections.abc import Iterable, Mapping
from contextlib import suppress
from pathlib import Path, PurePosixPath, PureWindowsPath

from photomeasure.errors import ExportError
from photomeasure.files.atomic import cannot_write, write_through

_NEW, _OLD = "new", "old"  # in the folder where files are written aside


def write_outputs(folder: Path | str, files: Mapping[str, bytes]) -> tuple[Path, ...]:
    """Write files into a folder, making it if need be, and return their paths.

    files : name, or path inside the folder → content. All are written aside first and then
    moved, so that a full disk leaves no half-written file; files of the same name are
    replaced. Raises ExportError when a folder is in the way or the disk refuses.
    """
    folder = Path(folder)
    targets = {name: folder / _checked(name) for name in files}
    _refuse_obstacles(folder, targets.values())
    missing = _missing_folders(targets.values())
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


def _missing_folders(targets: Iterable[Path]) -> list[Path]:
    """The folders of files, and those above, that do not exist yet, innermost first."""
    above = dict.fromkeys(folder for target in targets for folder in target.parents)
    deepest_first = sorted(above, key=lambda folder: -len(folder.parts))
    return [folder for folder in deepest_first if not folder.exists()]


def _stage(staging: Path, files: Mapping[str, bytes]) -> None:
    for name, data in files.items():
        path = staging / _NEW / name
        path.parent.mkdir(parents=True, exist_ok=True)
        write_through(path, data)


def _move(staging: Path, targets: Mapping[str, Path]) -> None:
    """Put all in place; where the disk stops at one, what was there before comes back."""
    kept = _keep_old(staging, targets)
    for target in targets.values():
        target.parent.mkdir(parents=True, exist_ok=True)
    moved = []
    try:
        for name, target in targets.items():
            os.replace(staging / _NEW / name, target)
            moved.append(name)
    except OSError:
        for name in moved:
            if name in kept:
                os.replace(kept[name], targets[name])
            else:
                targets[name].unlink()
        raise


def _keep_old(staging: Path, targets: Mapping[str, Path]) -> dict[str, Path]:
    """The files that are there, under a second name. Raises OSError."""
    kept = {}
    (staging / _OLD).mkdir()
    for number, (name, target) in enumerate(targets.items()):
        if os.path.lexists(target):
            kept[name] = staging / _OLD / str(number)
            try:
                os.link(target, kept[name], follow_symlinks=False)
            except OSError:  # a disk without hard links
                shutil.copy2(target, kept[name], follow_symlinks=False)
    return kept


def _remove_empty(folders: list[Path]) -> None:
    """Take back the folders that were made for nothing."""
    for folder in folders:
        with suppress(OSError):  # somebody else put something there
            folder.rmdir()
