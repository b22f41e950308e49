"""What do the tables of standard sizes say of the numbers of a job?"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from photomeasure.records.job import Job
from photomeasure.records.report import Measurement, Quantity
from photomeasure.rules.holes import hole_remark
from photomeasure.rules.limits import Sizes
from photomeasure.rules.threads import thread_remark

_HOLES = {("diameter", "diameter"), ("hole_to_edge", "hole_diameter")}
_PITCH = "pitch"
_OUTSIDE = "outside diameter"


def with_standard_sizes(job: Job, measured: Sequence[Measurement]) -> tuple[Measurement, ...]:
    """The measurements with what the tables say of them among their remarks."""
    stated = {entry.name: dict(entry.sizes_mm) for entry in job.judged}
    made = []
    for measurement in measured:
        sizes = stated.get(measurement.name, {})
        said = (_remark(measurement, quantity, sizes) for quantity in measurement.quantities)
        found = tuple(remark for remark in said if remark)
        made.append(replace(measurement, remarks=(*measurement.remarks, *found)))
    return tuple(made)


def _remark(measurement: Measurement, quantity: Quantity, stated: Sizes) -> str:
    if (measurement.kind, quantity.name) in _HOLES:
        return hole_remark(quantity.value, quantity.expanded)
    if quantity.name == _PITCH and quantity.unit == "mm":
        outside = _outside(measurement, stated)
        return thread_remark(quantity.value, quantity.expanded, *outside)
    return ""


def _outside(measurement: Measurement, stated: Sizes) -> tuple[float, float] | tuple[()]:
    """The outside diameter and its U, as stated or as measured beside the pitch."""
    if _OUTSIDE in stated:
        return stated[_OUTSIDE], 0.0
    wanted = _OUTSIDE.replace(" ", "_")
    found = [q for q in measurement.quantities if q.name == wanted]
    return (found[0].value, found[0].expanded) if found else ()
