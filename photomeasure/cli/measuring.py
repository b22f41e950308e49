"""Commands for a job: begin, measure, demo."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from photomeasure.cli.console import Photos, Quiet, progress_line
from photomeasure.errors import JobError, PhotoError

if TYPE_CHECKING:
    from photomeasure.exporters import Exporter
    from photomeasure.records.report import Report


def begin(
    folder: Annotated[Path, typer.Argument(help="The folder to make.")],
    photos: Photos,
    camera: Annotated[Path | None, typer.Option(help="A camera record to use.")] = None,
    quiet: Quiet = False,
) -> None:
    """Make a job folder with the photos and a job.toml."""
    from photomeasure import files
    from photomeasure.vision.detection import detect_targets

    progress = progress_line(quiet)
    seen: dict[Path, tuple[str, ...]] = {}
    for path in photos:
        progress(f"looking for sheets and cards in {path.name}")
        photo = files.read_photo(path, path.name)
        try:
            found = detect_targets(photo)
            seen[path] = tuple(o.sheet for o in found.sheets)
            remark = "\n".join([f"{path.name}: {', '.join(seen[path])}", *found.missed.values()])
        except PhotoError as error:  # the folder is useful all the same; say what is wrong
            seen[path], remark = (), str(error)
        progress("")
        print(remark)
    print(f"Now fill in {files.begin_job(folder, seen, camera)}, or point in the photo instead:")
    print(f"  photomeasure open {folder}")


def measure(
    job: Annotated[Path, typer.Argument(help="A job.toml or its folder.")],
    to: Annotated[Path | None, typer.Option(help="Folder for the report.")] = None,
    form: Annotated[
        list[str] | None, typer.Option("--format", help="Write only this format; repeatable.")
    ] = None,
    quiet: Quiet = False,
) -> None:
    """Measure a job: print a table, write the report."""
    path = job / "job.toml" if job.is_dir() else job
    folder = to or path.parent / "report"
    report = _measure(path, folder, form or (), progress_line(quiet))
    page = folder / "report.html"
    print(f"Report: {folder if form and 'html' not in form else page}")
    raise typer.Exit(exit_code(report))


def demo(
    to: Annotated[Path, typer.Option(help="Folder for the reports.")] = Path("demo_report"),
    quiet: Quiet = False,
) -> None:
    """Measure every job that comes with the sample photos."""
    from photomeasure.exporters import EXPORTERS

    jobs = sample_jobs()
    for path in jobs:
        _measure(path, to / path.parent.name, EXPORTERS.names, progress_line(quiet))
        print()
    print(f"Reports of {len(jobs)} jobs, as pages to open in a browser:")
    print("\n".join(f"  {to.resolve() / path.parent.name / 'report.html'}" for path in jobs))
    print("Beside each of them: stills/ for a video, and its numbers as JSON and CSV.")


def exit_code(report: Report) -> int:
    """4 where something could not be measured; else 0, 1 or 3 from the decisions that can fail
    a job, of which 1 outranks 3. Where a caliper and the photo disagree nothing can be told."""
    from photomeasure.records.report import Verdict

    if report.lost:
        return 4
    verdicts = {d.verdict for d in report.decisions if d.rule.can_fail}
    if Verdict.DOES_NOT_CONFORM in verdicts:
        return 1
    disagree = not all(check.agrees for check in report.checks)
    return 3 if disagree or Verdict.CANNOT_TELL in verdicts else 0


def sample_jobs() -> list[Path]:
    """The job files in sample_images/, beside the package in a source checkout."""
    folder = Path(__file__).resolve().parents[2] / "sample_images"
    jobs = sorted(folder.glob("*/job.toml"))
    if not jobs:
        raise JobError(
            f"No job was found in {folder}; the demo needs at least one sample_images/*/job.toml. "
            "Run it from a source checkout: ./run demo"
        )
    return jobs


def _measure(
    path: Path, folder: Path, formats: Iterable[str], progress: Callable[[str], None]
) -> Report:
    """Read, measure, print the table and write the files; nothing is written on error."""
    from shutil import get_terminal_size

    from photomeasure import files, pipeline
    from photomeasure.exporters import EXPORTERS
    from photomeasure.exporters.text import render_table
    from photomeasure.rules import RULES

    wanted = [EXPORTERS[name] for name in formats]
    exporters = wanted or [e for e in EXPORTERS if e.by_default]
    progress(f"reading {path}")
    job = files.read_job(path, RULES.names)
    cameras = files.read_cameras(path.parent, job)
    report = pipeline.measure(job, lambda entry: files.load_photo(path, entry), cameras, progress)
    progress("drawing the report")
    outputs = {name: made for e in exporters for name, made in _files(e, report).items()}
    files.write_outputs(folder, outputs)
    progress("")
    print(render_table(report, get_terminal_size().columns))
    return report


def _files(exporter: Exporter, report: Report) -> dict[str, bytes]:
    """File name below the report's folder → content."""
    made = exporter.render(report)
    if isinstance(made, bytes):
        return {exporter.filename: made}
    return {f"{exporter.filename}/{name}": content for name, content in made.items()}
