"""What can be asked on the command line? One short function a command.

Nothing heavy is imported until a command needs it. Exit codes: 0 every judged number
conforms, 1 some do not, 3 some cannot be told, 4 an error a person can act on; 2 is a
command typed wrongly.
"""

from __future__ import annotations

import sys
import traceback
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, NoReturn

import typer

from photomeasure.errors import JobError, PhotoError, PhotomeasureError

if TYPE_CHECKING:
    from photomeasure.exporters import Exporter
    from photomeasure.measurements.kind import MeasurementKind, Output
    from photomeasure.records.report import Report

ERROR = 4

app = typer.Typer(
    help="Millimetres with an honest uncertainty, from phone photos of a printed sheet.",
    no_args_is_help=True,
    add_completion=False,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
)

Quiet = Annotated[bool, typer.Option("--quiet", help="Say nothing about progress.")]
Photos = Annotated[list[Path], typer.Argument(help="Photos: JPEG, PNG or HEIC.")]


def main() -> None:
    """Run the command line; a PhotomeasureError becomes one message and exit code 4."""
    try:
        app(prog_name="photomeasure")
    except PhotomeasureError as error:
        _complain(str(error))
    except Exception:
        traceback.print_exc()
        _complain("This is a mistake in the program, not in your job; please report it.")


@app.command()
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
    _write({to or Path(f"{drawn.identity}.pdf"): render_sheet_pdf(drawn)})
    print("Print it at actual size, then measure both check bars with a caliper.")


@app.command()
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

    progress = _progress(quiet)
    read = [files.read_photo(path, path.name) for path in photos]
    found = pipeline.calibrate(read, progress)
    progress("")
    record = replace(found.record, name=name or to.stem)
    plot = render_camera_plot(record, found.corners_px, found.residuals_px)
    _write({to: render_camera(record), to.with_name(f"{to.stem}-coverage.png"): plot})


@app.command()
def begin(
    folder: Annotated[Path, typer.Argument(help="The folder to make.")],
    photos: Photos,
    camera: Annotated[Path | None, typer.Option(help="A camera record to use.")] = None,
    quiet: Quiet = False,
) -> None:
    """Make a job folder with the photos and a job.toml."""
    from photomeasure import files
    from photomeasure.vision.detection import detect_sheets

    progress = _progress(quiet)
    seen: dict[Path, tuple[str, ...]] = {}
    for path in photos:
        progress(f"looking for sheets in {path.name}")
        photo = files.read_photo(path, path.name)
        try:
            seen[path] = tuple(o.sheet for o in detect_sheets(photo))
            remark = f"{path.name}: sheet {', '.join(seen[path])}"
        except PhotoError as error:  # the folder is useful all the same; say what is wrong
            seen[path], remark = (), str(error)
        progress("")
        print(remark)
    print(f"Now fill in {files.begin_job(folder, seen, camera)}")


@app.command()
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
    report = _measure(path, folder, form or (), _progress(quiet))
    print(f"Report: {folder}")
    raise typer.Exit(exit_code(report))


@app.command()
def demo(
    to: Annotated[Path, typer.Option(help="Folder for the reports.")] = Path("demo_report"),
    quiet: Quiet = False,
) -> None:
    """Measure every job that comes with the sample photos."""
    from photomeasure.exporters import EXPORTERS

    jobs = sample_jobs()
    for path in jobs:
        _measure(path, to / path.parent.name, EXPORTERS.names, _progress(quiet))
        print()
    print(f"Reports of {len(jobs)} jobs, as pages to open in a browser, and stills for a video:")
    print("\n".join(f"  {to.resolve() / path.parent.name / 'report.html'}" for path in jobs))


@app.command()
def rules(name: Annotated[str, typer.Argument(help="A rule; none lists them.")] = "") -> None:
    """List the rules that are built in, or explain one."""
    from photomeasure.exporters.words import limit_words
    from photomeasure.rules import RULES

    if not name:
        for rule in RULES:
            print(f"{rule.name:32} {rule.quantity} {limit_words(rule)} ({rule.status})")
        return
    rule = RULES[name]
    facts = {
        "Limit": f"{rule.quantity} {limit_words(rule)}",
        "Condition": rule.condition,
        "Why": rule.why,
        "Source": " ".join((rule.source, rule.edition)).strip(),
        "Status": f"{rule.status} ({'can fail a job' if rule.can_fail else 'advises'})",
    }
    print("\n".join([rule.name, *(f"  {k:10} {v}" for k, v in facts.items() if v)]))


@app.command()
def kinds() -> None:
    """List what can be measured, with needs and results."""
    from photomeasure.measurements import MEASUREMENTS

    for kind in MEASUREMENTS:
        print(f"{kind.name}: {kind.summary}")
        for need in kind.needs:
            count = "" if need.minimum == 1 else f", {need.minimum} or more"
            print(f"  needs {need.role}: {' or '.join(need.kinds)}{count}")
        for output in _least_outputs(kind):
            print(f"  gives {output.name}: {output.words}, {output.unit}")


@app.command()
def schema() -> None:
    """Print the JSON Schema of job.toml, for editors."""
    import json

    from photomeasure.files import job_schema

    print(json.dumps(job_schema(), indent=2))


@app.command()
def benchmark(
    which: Annotated[list[str] | None, typer.Argument(help="Parts; none runs them all.")] = None,
    scenes: Annotated[int, typer.Option(min=1, help="Rendered photos in the large parts.")] = 100,
    workers: Annotated[int, typer.Option(min=1, help="Processes to share the work.")] = 2,
    to: Annotated[Path | None, typer.Option(help="Folder for every number and the worst.")] = None,
    quiet: Quiet = False,
) -> None:
    """Measure rendered photos against their truth, and the time it takes."""
    from photomeasure.benchmark.parts import run_parts
    from photomeasure.benchmark.tables import Settings

    for table in run_parts(which or (), Settings(scenes, workers, _progress(quiet)), to):
        print(table, end="\n\n", flush=True)


def _complain(message: str) -> NoReturn:
    _progress(quiet=False)("")
    print(f"photomeasure: {message}", file=sys.stderr)
    sys.exit(ERROR)


def exit_code(report: Report) -> int:
    """0, 1 or 3 from the decisions that can fail a job; 1 outranks 3."""
    from photomeasure.records.report import Verdict

    verdicts = {d.verdict for d in report.decisions if d.rule.can_fail}
    if Verdict.DOES_NOT_CONFORM in verdicts:
        return 1
    return 3 if Verdict.CANNOT_TELL in verdicts else 0


def sample_jobs() -> list[Path]:
    """The job files in sample_images/, beside the package in a source checkout."""
    folder = Path(__file__).resolve().parents[1] / "sample_images"
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


def _least_outputs(kind: MeasurementKind) -> tuple[Output, ...]:
    """What a kind gives for as few features as it takes."""
    import numpy as np

    from photomeasure.records.shapes import Circle, Curve, Edge, Point, Shape

    example: dict[str, Shape] = {
        "point": Point(np.zeros(2)),
        "edge": Edge(np.eye(2)),
        "circle": Circle(np.zeros(2), 1.0),
        "curve": Curve(np.eye(2)),
    }
    return kind.outputs({n.role: (example[n.kinds[0]],) * n.minimum for n in kind.needs})


def _files(exporter: Exporter, report: Report) -> dict[str, bytes]:
    """File name below the report's folder → content."""
    made = exporter.render(report)
    if isinstance(made, bytes):
        return {exporter.filename: made}
    return {f"{exporter.filename}/{name}": content for name, content in made.items()}


def _write(outputs: dict[Path, bytes]) -> None:
    """Write files that lie in one folder, all or none, and say so."""
    from photomeasure import files

    (folder,) = {path.parent for path in outputs}
    files.write_outputs(folder, {path.name: content for path, content in outputs.items()})
    print("\n".join(f"Wrote {path}" for path in outputs))


def _progress(quiet: bool) -> Callable[[str], None]:
    """A function that shows what is being done on one line of a terminal; "" clears it."""
    if quiet or not sys.stderr.isatty():
        return lambda stage: None

    def show(stage: str) -> None:
        sys.stderr.write(f"\r\x1b[K{stage + ' …' if stage else ''}")
        sys.stderr.flush()

    return show
