"""How far do the jobs of `sample_images/` come out from the truth beside their photos?

`python -m photomeasure.benchmark.samples` prints one line a number.
"""

from __future__ import annotations

import json
import sys
from collections.abc import Iterator
from pathlib import Path

from photomeasure import files, pipeline
from photomeasure.benchmark.tables import Result, Row, render_result
from photomeasure.records.report import Quantity, Report
from photomeasure.rules import RULES

Truths = dict[tuple[str, str], float]
"""(measurement, quantity) → true value, mm or deg."""


def sample_result(root: Path) -> Result:
    """Every number of every job in a folder of job folders against its truth."""
    rows = [row for path in sorted(root.glob("*/job.toml")) for row in _rows(path)]
    held = sum(bool(row.met) for row in rows)
    remark = f"{held} of {len(rows)} intervals hold the truth."
    return Result("Sample photos", tuple(rows), (remark,))


def report_of(path: Path) -> Report:
    """The report of one job file."""
    job = files.read_job(path, RULES.names)
    cameras = files.read_cameras(path.parent, job)
    return pipeline.measure(job, lambda entry: files.load_photo(path, entry), cameras)


def truths_beside(path: Path) -> Truths:
    """What is true of the photos in a job's folder."""
    told = [json.loads(p.read_text(encoding="utf-8")) for p in path.parent.glob("*.truth.json")]
    return {
        (measured["name"], name): value
        for photo in told
        for measured in photo["measurements"]
        for name, value in measured["quantities"].items()
    }


def _rows(path: Path) -> Iterator[Row]:
    truths = truths_beside(path)
    for measurement in report_of(path).measurements:
        for quantity in measurement.quantities:
            true = truths.get((measurement.name, quantity.name))
            if true is not None:
                yield _row(path.parent.name, quantity, true)


def _row(folder: str, quantity: Quantity, true: float) -> Row:
    low, high = quantity.interval
    error = quantity.value - true
    return Row(
        f"{folder}: {quantity.measurement}, {quantity.name}",
        f"{error:+.3f} {quantity.unit} off, U {quantity.expanded:.3f}, "
        f"{abs(error) / quantity.expanded:.2f} of U",
        f"{true:.3f} {quantity.unit}",
        bool(low <= true <= high),
    )


if __name__ == "__main__":
    print(render_result(sample_result(Path(sys.argv[1] if sys.argv[1:] else "sample_images"))))
