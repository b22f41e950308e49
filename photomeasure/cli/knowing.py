"""Commands that tell what the program knows: rules, kinds, schema, benchmark."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from photomeasure.cli.console import Quiet, progress_line

if TYPE_CHECKING:
    from photomeasure.measurements.kind import MeasurementKind, Output


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


def schema() -> None:
    """Print the JSON Schema of job.toml, for editors."""
    import json

    from photomeasure.files import job_schema

    print(json.dumps(job_schema(), indent=2))


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

    for table in run_parts(which or (), Settings(scenes, workers, progress_line(quiet)), to):
        print(table, end="\n\n", flush=True)


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
