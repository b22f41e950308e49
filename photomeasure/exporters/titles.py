"""What is each quantity called in plain words? As its kind of measurement says."""

from __future__ import annotations

from photomeasure.measurements import MEASUREMENTS
from photomeasure.records.report import Measurement, Report


def quantity_titles(report: Report) -> dict[tuple[str, str], str]:
    """(measurement, quantity) → plain words, such as "bolt circle diameter"."""
    return {
        (m.name, q.name): _words(report, m).get(q.name, q.name.replace("_", " "))
        for m in report.measurements
        for q in m.quantities
    }


def _words(report: Report, measurement: Measurement) -> dict[str, str]:
    """Quantity → words; empty where the job does not say what each feature is for."""
    for entry in report.job.measurements:
        if entry.name == measurement.name:
            shapes = {
                role: tuple(report.features[name].shape for name in names)
                for role, names in entry.of
            }
            return {o.name: o.words for o in MEASUREMENTS[entry.kind].outputs(shapes)}
    return {}
