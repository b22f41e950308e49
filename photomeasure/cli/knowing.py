"""Commands that tell what the program knows: rules, tables, kinds, schema, benchmark."""

from __future__ import annotations

import textwrap
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from photomeasure.cli.console import Quiet, progress_line, write

if TYPE_CHECKING:
    from photomeasure.measurements.kind import MeasurementKind, Need, Output


_NO_RULE = "No rule fits. Try fewer or other words; `photomeasure rules` lists all of them."


def rules(
    name: Annotated[str, typer.Argument(help="A rule; none lists them.")] = "",
    find: Annotated[str, typer.Option(help="Only those in which these words occur.")] = "",
    between: Annotated[
        tuple[str, str] | None,
        typer.Option(help="Only those for two things that meet, as: hose exhaust."),
    ] = None,
    to: Annotated[Path | None, typer.Option(help="A Markdown page of all, with tables.")] = None,
) -> None:
    """List the rules that are built in, search them, or explain one."""
    from photomeasure.exporters import rule_pages
    from photomeasure.rules import RULES
    from photomeasure.rules.offers import rules_about, rules_between
    from photomeasure.rules.things import THINGS

    if to:
        write({to: rule_pages.render_rules_page()})
    elif name:
        print(rule_pages.render_rule(RULES[name]))
    else:
        chosen = set(rules_between(between) if between else RULES) & set(rules_about(find))
        listed = rule_pages.render_rule_list(chosen)
        print(f"{listed}\n\n{rule_pages.CAN_FAIL}" if listed else _NO_RULE)
        if not find and not between:
            things = ", ".join(THINGS.names)
            print(textwrap.fill(f"Things that can meet (--between): {things}.", 79))


def tables(
    name: Annotated[str, typer.Argument(help="A table; none lists them.")] = "",
    *,
    hole: Annotated[str, typer.Option(help="A hole's diameter to look up.")] = "",
    pitch: Annotated[str, typer.Option(help="A thread's pitch to look up.")] = "",
    outside: Annotated[str, typer.Option(help="The thread's outside diameter.")] = "",
    plus_minus: Annotated[str, typer.Option(help="How far the size may be off (95 %).")] = "0.05",
    nominal: Annotated[str, typer.Option(help="A size to give general tolerances.")] = "",
    leg: Annotated[str, typer.Option(help="Shorter leg: the nominal is in degrees.")] = "",
    thickness: Annotated[str, typer.Option(help="Of the plate, if it is cut by laser.")] = "",
) -> None:
    """List the tables of standard sizes, print one, or look a size up."""
    from photomeasure.exporters import rule_pages
    from photomeasure.rules.holes import hole_remark
    from photomeasure.rules.tables import TABLES
    from photomeasure.rules.threads import thread_remark
    from photomeasure.rules.tolerances import tolerance_lines
    from photomeasure.uncertainty.notation import parse_length_mm

    doubt = parse_length_mm(plus_minus)
    if hole:
        found = hole_remark(parse_length_mm(hole), doubt)
        said = [found or f"{hole} lies beyond the tables of holes."]
    elif pitch:
        body = parse_length_mm(outside) if outside else None
        said = [thread_remark(parse_length_mm(pitch), doubt, body)]
    elif nominal:
        unit = "deg" if leg else "mm"
        size = parse_length_mm(leg or thickness or "0")
        said = list(tolerance_lines(parse_length_mm(nominal), unit, size))
    else:
        whole = rule_pages.render_table_text(TABLES[name]) if name else ""
        print(whole or rule_pages.render_table_list())
        return
    print("\n".join(textwrap.fill(line, 79, subsequent_indent="  ") for line in said))


def kinds(
    name: Annotated[str, typer.Argument(help="One kind alone.")] = "",
) -> None:
    """List what can be measured, with needs and results."""
    from photomeasure.measurements import MEASUREMENTS

    for kind in [MEASUREMENTS[name]] if name else MEASUREMENTS:
        print(f"{kind.name}: {kind.summary}")
        for need in kind.needs:
            count = _count_words(need)
            print(f"  needs {need.role}: {' or '.join(need.kinds)}{count}")
        always = {output.name for output in _outputs(kind, fewest=0)}
        for output in _outputs(kind, fewest=1):
            verb = "gives" if output.name in always else "may give"
            print(f"  {verb} {output.name}: {output.words}, {output.unit}")


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


def _count_words(need: Need) -> str:
    """How many features a role takes, where it is not just one."""
    if need.minimum == 0:
        most = "one" if need.maximum == 1 else "some"
        return f", {most} if wanted"
    if need.maximum is None:
        return f", {need.minimum} or more"
    return "" if need.maximum == 1 else f", {need.maximum}"


def _outputs(kind: MeasurementKind, fewest: int) -> tuple[Output, ...]:
    """What a kind gives for as few features as it takes, but so many in every role."""
    import numpy as np

    from photomeasure.records.shapes import Circle, Curve, Edge, Point, Row, Shape, Tube

    example: dict[str, Shape] = {
        "point": Point(np.zeros(2)),
        "edge": Edge(np.eye(2)),
        "circle": Circle(np.zeros(2), 1.0),
        "curve": Curve(np.eye(2)),
        "tube": Tube(np.eye(2), 1.0),
        "row": Row(np.eye(2)),
    }
    counts = {need: max(fewest, need.minimum) for need in kind.needs}
    return kind.outputs({n.role: (example[n.kinds[0]],) * k for n, k in counts.items()})
