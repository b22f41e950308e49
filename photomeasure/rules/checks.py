"""Does a caliper agree with the photo?"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from photomeasure.errors import JobError
from photomeasure.records.job import CheckEntry
from photomeasure.records.report import Check, Measurement, Quantity
from photomeasure.uncertainty.coverage import e_number


def check_readings(
    entries: Sequence[CheckEntry], measurements: Mapping[str, Measurement]
) -> tuple[Check, ...]:
    """Each reading against what the photo gave. Raises JobError for an unknown quantity."""
    return tuple(_check(entry, measurements[entry.measurement]) for entry in entries)


def _check(entry: CheckEntry, measurement: Measurement) -> Check:
    quantity = _quantity(entry, measurement)
    e_n = e_number(quantity.value, quantity.expanded, entry.value_mm, entry.plus_minus_mm)
    return Check(entry, quantity.name, quantity.value, e_n)


def _quantity(entry: CheckEntry, measurement: Measurement) -> Quantity:
    if not entry.quantity:
        return measurement.primary
    for quantity in measurement.quantities:
        if quantity.name == entry.quantity:
            return quantity
    names = ", ".join(q.name for q in measurement.quantities)
    raise JobError(
        f"The check of {entry.measurement!r} names {entry.quantity!r}, but it gives {names}. "
        "Rename the quantity or leave it out."
    )
