"""The command from a photo or scan of a part to files that a shop can cut: outline."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from threading import Thread
from typing import TYPE_CHECKING, Annotated

import typer

from photomeasure.cli.console import Quiet, progress_line
from photomeasure.errors import JobError

if TYPE_CHECKING:
    from photomeasure.exporters.parts import PartExporter
    from photomeasure.records.outline import PartEntry
    from photomeasure.records.part import Pair
    from photomeasure.records.photo import Photo
    from photomeasure.records.view import CameraRecord

    Read = tuple[PartEntry, Photo, dict[str, CameraRecord]]


def outline(
    picture: Annotated[Path, typer.Argument(help="A photo or scan, or a part.toml.")],
    *,
    thickness: Annotated[str, typer.Option(help="Of the part; a photo alone needs it.")] = "",
    tolerance: Annotated[
        float | None,
        typer.Option(help="How far lines and arcs may leave what is seen, mm. [default: 0.1]"),
    ] = None,
    scan: Annotated[float, typer.Option(help="Dots per inch, if it is a flatbed scan.")] = 0.0,
    inside: Annotated[str, typer.Option(help="A pixel inside the part, as 1200,900.")] = "",
    camera: Annotated[Path | None, typer.Option(help="A camera record to use.")] = None,
    take: Annotated[
        list[str] | None, typer.Option(help="Something on offer to take; repeatable.")
    ] = None,
    form: Annotated[
        list[str] | None, typer.Option("--format", help="Write only this format; repeatable.")
    ] = None,
    to: Annotated[Path | None, typer.Option(help="Folder for the files.")] = None,
    quiet: Quiet = False,
) -> None:
    """Outline a part: print what was found and a shop check, write files to cut it."""
    from photomeasure.exporters.parts import PART_EXPORTERS

    progress = progress_line(quiet)
    wanted = [PART_EXPORTERS[name] for name in form or ()]
    exporters = wanted or [e for e in PART_EXPORTERS if e.by_default]
    Thread(target=_import_line).start()
    progress(f"reading {picture}")
    if picture.suffix == ".toml" or picture.is_dir():
        _refuse_said_twice(thickness, scan, inside, camera, take)
        entry, photo, cameras = _from_file(picture)
    else:
        entry, photo, cameras = _from_options(picture, thickness, scan, inside, camera, take or [])
    if tolerance is not None:
        entry = replace(entry, tolerance_mm=tolerance)
    from photomeasure import files
    from photomeasure.exporters.parts.text import render_summary
    from photomeasure.outlining import outline as outline_from

    Thread(target=_load, args=(exporters,)).start()
    made = outline_from(entry, photo, cameras, progress)
    progress("drawing the files")
    outputs = {e.filename(made.part): e.render(made.part) for e in exporters}
    folder = to or _beside(picture)
    files.write_outputs(folder, outputs)
    progress("")
    print(render_summary(made.part, made.offers, made.shop))
    print("\n".join(f"Wrote {folder / name}" for name in outputs))


def _import_line() -> None:
    """Import what measures while the picture is unpacked, which leaves a core free."""
    import photomeasure.outlining  # noqa: F401


def _load(exporters: Sequence[PartExporter]) -> None:
    """Import what is needed later while sheets are looked for, which needs few of Python's
    hands and leaves a core free."""
    from photomeasure.vision import outline_rough

    outline_rough.load()
    for exporter in exporters:
        exporter.load()


def _beside(picture: Path) -> Path:
    if picture.is_dir():
        return picture / "part"
    folder = "part" if picture.suffix == ".toml" else f"{picture.stem}-part"
    return picture.parent / folder


def _refuse_said_twice(*options: object) -> None:
    if any(options):
        raise JobError(
            "Of the options only --tolerance goes with a part.toml, which says the rest itself. "
            "Write thickness, scan, inside, camera and take there, or give the photo instead."
        )


def _from_file(path: Path) -> Read:
    from photomeasure.files.part_file import read_part

    return read_part(path / "part.toml" if path.is_dir() else path)


def _from_options(
    picture: Path,
    thickness: str,
    scan: float,
    inside: str,
    camera: Path | None,
    take: list[str],
) -> Read:
    """A part file in short: what the command line said."""
    from photomeasure import files
    from photomeasure.records.outline import Hints, PartEntry, Scan
    from photomeasure.uncertainty.notation import parse_length_mm

    if not thickness:
        raise JobError(
            "How thick the part is must be stated: a photo cannot tell. Measure it with a "
            "caliper and add --thickness, as in --thickness 3.0."
        )
    record = None if camera is None else files.read_camera(camera)
    entry = PartEntry(
        name=picture.stem,
        file=picture.name,
        thickness_mm=parse_length_mm(thickness),
        camera=None if record is None else str(camera),
        hints=Hints(inside=(_pixel(inside),) if inside else ()),
        scan=Scan(scan) if scan else None,
        take=tuple(take),
    )
    cameras = {} if record is None else {str(camera): record}
    return entry, files.read_photo(picture, picture.name), cameras


def _pixel(words: str) -> Pair:
    try:
        x, y = (float(word) for word in words.split(","))
    except ValueError:
        raise JobError(
            f"{words!r} is no pixel. Write its x and y as a picture viewer shows them: 1200,900."
        ) from None
    return x, y
