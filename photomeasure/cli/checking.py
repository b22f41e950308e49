"""The command that looks at photos before anything is measured: check."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from photomeasure.cli.console import Photos, Progress, Quiet, progress_line
from photomeasure.errors import PhotoError

if TYPE_CHECKING:
    from photomeasure.checkup import Known
    from photomeasure.records.check import PhotoCheck
    from photomeasure.records.photo import Photo


def check(
    photos: Photos,
    camera: Annotated[Path | None, typer.Option(help="A camera record of these photos.")] = None,
    job: Annotated[
        Path | None, typer.Option(help="A job.toml or its folder, for its bar readings.")
    ] = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print JSON instead of words.")] = False,
    quiet: Quiet = False,
) -> None:
    """Say of each photo whether to measure in it, why not, and what would better it."""
    from shutil import get_terminal_size

    from photomeasure.exporters.check_words import render_checks, render_checks_json

    progress = progress_line(quiet)
    checks = _checked(photos, _known(camera, job), progress)
    progress("")
    if as_json:
        print(render_checks_json(checks).decode(), end="")
    else:
        print(render_checks(checks, get_terminal_size().columns))
    raise typer.Exit(check_exit_code(checks))


def check_exit_code(checks: list[PhotoCheck]) -> int:
    """0 where every photo can be measured, 3 where some want care, 4 where some cannot be."""
    return (0, 3, 4)[max((c.verdict.rank for c in checks), default=0)]


def _checked(paths: list[Path], known: Known, progress: Progress) -> list[PhotoCheck]:
    """In the order given; a file that cannot be read is one to take again."""
    from photomeasure.checkup import check_photos

    unread: dict[str, PhotoCheck] = {}
    names = _names(paths)
    seen = {c.photo: c for c in check_photos(_read(names, unread), known, progress)}
    return [unread.get(name) or seen[name] for name in names]


def _names(paths: list[Path]) -> dict[str, Path]:
    """A name for each photo: its file's, or its path where two files share one."""
    names = [path.name for path in paths]
    return {(str(p) if names.count(p.name) > 1 else p.name): p for p in paths}


def _read(paths: dict[str, Path], unread: dict[str, PhotoCheck]) -> Iterator[Photo]:
    from photomeasure import files
    from photomeasure.records.check import Finding, Fitness, PhotoCheck

    for name, path in paths.items():
        try:
            yield replace(files.read_photo(path), name=name)
        except PhotoError as error:
            unread[name] = PhotoCheck(
                name, None, (), (Finding("file", str(error), Fitness.RETAKE),)
            )


def _known(camera: Path | None, job: Path | None) -> Known:
    from photomeasure import files
    from photomeasure.checkup import Known
    from photomeasure.files.cameras import read_camera

    record = read_camera(camera) if camera else None
    if job is None:
        return Known(record)
    path = job / "job.toml" if job.is_dir() else job
    asked = files.read_job(path)
    records = files.read_cameras(path.parent, asked)
    if record is None and len(records) == 1:
        (record,) = records.values()
    return Known(record, asked.prints)
