"""What does `photomeasure benchmark` consist of, and in what order does it run?"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

from photomeasure import files
from photomeasure.benchmark import (
    accuracy,
    cards,
    corners,
    coverage,
    edges,
    garage,
    kinds,
    outlines,
    page,
    speed,
    tubes,
)
from photomeasure.benchmark.cases import Case
from photomeasure.benchmark.tables import Result, Settings, render_result
from photomeasure.benchmark.workers import spread
from photomeasure.benchmark.worst import render_case, render_cases, worst_of
from photomeasure.registry import Registry


@dataclass(frozen=True)
class Part:
    """One part of the benchmark, asked for by its name."""

    name: str
    run: Callable[[Settings], Result]


PARTS: Registry[Part] = Registry(
    "part of the benchmark",
    (
        Part("corners", corners.run),
        Part("edges", edges.run),
        Part("accuracy", accuracy.run),
        Part("coverage", coverage.run),
        Part("kinds", kinds.run),
        Part("tubes", tubes.run),
        Part("cards", cards.run),
        Part("garage", garage.run),
        Part("outlines", outlines.run),
        Part("speed", speed.run),
        Part("page", page.run),
    ),
)


def run_parts(names: Sequence[str], settings: Settings, folder: Path | None) -> Iterator[str]:
    """The table of each part as soon as it is there; no names means all of them.

    folder : where every single number goes as CSV and the ten worst as pictures.
    Raises JobError for an unknown name, ExportError when the folder cannot be written.
    """
    for part in [PARTS[name] for name in names] or list(PARTS):
        result = part.run(settings)
        yield render_result(result)
        if folder is not None and result.cases:
            files.write_outputs(folder, _outputs(part.name, result.cases, settings))


def _outputs(name: str, cases: Sequence[Case], settings: Settings) -> dict[str, bytes]:
    worst = worst_of(cases)
    pictures = spread(settings, "pictures of the worst", render_case, worst)
    return {
        f"{name}.csv": render_cases(cases),
        **{
            f"{name}-worst-{k:02}-{case.shot.words}-{case.measurement}.png": picture
            for k, (case, picture) in enumerate(zip(worst, pictures, strict=True), 1)
        },
    }
