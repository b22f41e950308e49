"""Commands for what is printed and for the camera: sheet, camera."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from photomeasure.cli.console import Photos, Quiet, progress_line, write


def sheet(
    design: Annotated[str, typer.Argument(help="A design; none lists them.")] = "",
    copy: Annotated[str, typer.Option(help="A letter for each sheet in one photo.")] = "A",
    to: Annotated[Path | None, typer.Option(help="The PDF to write.")] = None,
) -> None:
    """Write a scale sheet or calibration board as a PDF."""
    from photomeasure.exporters.sheet_pdf import render_sheet_pdf
    from photomeasure.vision.sheets import COPIES, DESIGNS
    from photomeasure.vision.sheets import sheet as laid_out

    if not design:
        copies = ", ".join(COPIES)
        lines = [f"{d.name:24} {laid_out(f'{d.name}-A').title}" for d in DESIGNS]
        print("\n".join([*lines, f"Every design has the copies {copies}."]))
        return
    drawn = laid_out(f"{design}-{copy}")
    write({to or Path(f"{drawn.identity}.pdf"): render_sheet_pdf(drawn)})
    print("Print it at actual size, then measure both check bars with a caliper.")


def camera(
    photos: Photos,
    to: Annotated[Path, typer.Option(help="The camera record to write.")],
    name: Annotated[str, typer.Option(help="What you call this camera.")] = "",
    quiet: Quiet = False,
) -> None:
    """Make a camera record and its plot from board photos."""
    from dataclasses import replace

    from photomeasure import files, pipeline
    from photomeasure.exporters.camera_plot import render_camera_plot
    from photomeasure.files.cameras import render_camera

    progress = progress_line(quiet)
    read = [files.read_photo(path, path.name) for path in photos]
    found = pipeline.calibrate(read, progress)
    progress("")
    record = replace(found.record, name=name or to.stem)
    plot = render_camera_plot(record, found.corners_px, found.residuals_px)
    write({to: render_camera(record), to.with_name(f"{to.stem}-coverage.png"): plot})
