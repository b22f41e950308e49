"""Which numbers of a job were read by hand, because no photo could give them?

A caliper, a feeler gauge, a slice of clay: the reading stands as it was written, with its own
uncertainty, is judged like any other number and is marked as read by hand wherever it shows.
"""

from __future__ import annotations

from photomeasure.records.job import Job, ReadingEntry
from photomeasure.records.report import Measurement, Quantity
from photomeasure.uncertainty.propagation import COVERAGE_FACTOR, expanded_interval

KIND = "reading"
SOURCE = "hand reading"
"""What the budget of a reading calls its only source."""


def read_by_hand(job: Job) -> tuple[Measurement, ...]:
    """The readings of a job as measurements, in its order."""
    return tuple(_measurement(entry) for entry in job.readings)


def _measurement(entry: ReadingEntry) -> Measurement:
    u = entry.plus_minus / COVERAGE_FACTOR
    quantity = Quantity(
        measurement=entry.name,
        name=entry.quantity,
        unit=entry.unit,
        value=entry.value,
        u=u,
        interval=expanded_interval(entry.value, u),
        budget={SOURCE: u},
        primary=True,
    )
    remark = f"Read by hand with {entry.instrument}, as stated; no photo shows it."
    return Measurement(entry.name, KIND, (quantity,), (), (), (remark,), entry.instrument)
