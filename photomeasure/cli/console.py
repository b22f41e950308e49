"""What do all commands share? Progress on one line, files written all or none."""

from __future__ import annotations

import sys
from collections.abc import Callable
from pathlib import Path
from typing import Annotated

import typer

Quiet = Annotated[bool, typer.Option("--quiet", help="Say nothing about progress.")]
Photos = Annotated[
    list[Path], typer.Argument(help="Photos: JPEG, HEIC, PNG, TIFF, WebP, AVIF, DNG.")
]
Progress = Callable[[str], None]


def write(outputs: dict[Path, bytes]) -> None:
    """Write files that lie in one folder, all or none, and say so."""
    from photomeasure import files

    (folder,) = {path.parent for path in outputs}
    files.write_outputs(folder, {path.name: content for path, content in outputs.items()})
    print("\n".join(f"Wrote {path}" for path in outputs))


def progress_line(quiet: bool) -> Progress:
    """A function that shows what is being done on one line of a terminal; "" clears it."""
    if quiet or not sys.stderr.isatty():
        return lambda stage: None

    def show(stage: str) -> None:
        sys.stderr.write(f"\r\x1b[K{stage + ' …' if stage else ''}")
        sys.stderr.flush()

    return show
