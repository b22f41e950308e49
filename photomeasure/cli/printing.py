"""Commands for what is printed and for the camera: sheet, camera."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from photomeasure.cli.console import Photos, Quiet, progress_line, write
from photomeasure.errors import JobError


def sheet(
    design: Annotated[str, typer.Argument(help="A sheet or page of cards; none lists them.")] = "",
    copy: Annotated[str, typer.Option(help="A letter for each print in one photo.")] = "A",
    to: Annotated[Path | None, typer.Option(help="The PDF to write.")] = None,
) -> None:
    """Write a scale sheet, a board or a page of cards as a PDF."""
    from photomeasure.exporters.sheet_pdf import render_page_pdf, render_sheet_pdf
    from photomeasure.vision import sheets

    if not design:
        print(_listing())
        return
    identity = f"{_design(design)}-{copy.upper()}"
    is_page = design in {p.name for p in sheets.PAGES}
    drawn = (
        render_page_pdf(sheets.page(identity))
        if is_page
        else render_sheet_pdf(sheets.sheet(identity))
    )
    write({to or Path(f"{identity}.pdf"): drawn})
    print("Print it at actual size, then measure both check bars with a caliper.")


def _design(name: str) -> str:
    """The name of a design. Raises JobError for another one, with the nearest."""
    from photomeasure.registry import mean_words
    from photomeasure.vision import sheets

    known = [*(d.name for d in sheets.DESIGNS), *(p.name for p in sheets.PAGES)]
    if name not in known:
        raise JobError(
            f'There is no sheet or page of cards called "{name}".'
            f"{mean_words(name, known, most=3)} `photomeasure sheet` lists all {len(known)}. "
            "The letter of a copy is given apart: --copy B."
        )
    return name


def _listing() -> str:
    """Every design with what it is, then which copies there are."""
    from photomeasure.vision import sheets

    first = sheets.COPIES[0]
    lines = [f"{d.name:24} {sheets.sheet(f'{d.name}-{first}').title}" for d in sheets.DESIGNS]
    lines += [f"{p.name:24} {sheets.page(f'{p.name}-{first}').title}" for p in sheets.PAGES]
    return "\n".join(
        [
            *lines,
            f"Every sheet has the copies {', '.join(sheets.COPIES)}, every page of cards "
            f"{', '.join(sheets.PAGE_COPIES)}; each copy has cards of its own.",
        ]
    )


def camera(
    photos: Photos,
    to: Annotated[Path, typer.Option(help="The camera record to write.")],
    name: Annotated[str, typer.Option(help="What you call this camera.")] = "",
    quiet: Quiet = False,
) -> None:
    """Make a camera record and its plot from board photos."""
    from dataclasses import replace

    from photomeasure import files, pipeline
    from photomeasure.exporters.camera_plot import camera_words, render_camera_plot
    from photomeasure.files.cameras import render_camera

    progress = progress_line(quiet)
    read = [files.read_photo(path, path.name) for path in photos]
    found = pipeline.calibrate(read, progress)
    progress("")
    record = replace(found.record, name=name or to.stem)
    plot = render_camera_plot(record, found.corners_px, found.residuals_px)
    write({to: render_camera(record), to.with_name(f"{to.stem}-coverage.png"): plot})
    print(camera_words(record, found.corners_px))
