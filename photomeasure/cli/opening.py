"""The command for pointing with a finger: open."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer


def open_(
    job: Annotated[Path, typer.Argument(help="A job folder or job.toml; new ones too.")] = Path(),
    lan: Annotated[bool, typer.Option("--lan", help="Let phones in, by a QR code.")] = False,
    port: Annotated[int | None, typer.Option(min=0, max=65535, help="The port to use.")] = None,
    browser: Annotated[bool, typer.Option(help="Open the browser.")] = True,
) -> None:
    """Make and edit a job by pointing, on a page in your browser."""
    from photomeasure.web.serve import Wishes, serve

    path = job if job.suffix == ".toml" else job / "job.toml"
    serve(path, _sample(), Wishes(lan, port, browser), lambda text: print(text, flush=True))


def _sample() -> Path | None:
    """The sample job to try things on; an installed program comes without."""
    from photomeasure.cli.measuring import sample_jobs
    from photomeasure.errors import JobError

    try:
        jobs = sample_jobs()
    except JobError:
        return None
    return next((j for j in jobs if j.parent.name == "guard"), jobs[0])
