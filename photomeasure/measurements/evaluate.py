"""What are the numbers of a job, each with its uncertainty and budget?

A kind's formula is evaluated at the features' values; its numeric Jacobian by the features'
numbers carries every source's covariance to its results. Where a kind asks for it, the
distribution is drawn as well (JCGM 101).
"""

from __future__ import annotations

from collections.abc import Callable, Mapping

import numpy as np
from numpy.typing import NDArray

from photomeasure.errors import GeometryError, JobError
from photomeasure.measurements import MEASUREMENTS
from photomeasure.measurements.kind import (
    MeasurementKind,
    Output,
    Shapes,
    check_needs,
    check_planes,
)
from photomeasure.records.feature import Feature, Features
from photomeasure.records.job import Job, MeasurementEntry
from photomeasure.records.report import Measurement, Quantity
from photomeasure.uncertainty.monte_carlo import (
    coverage_interval,
    draw_samples,
    evaluate_samples,
    generator,
)
from photomeasure.uncertainty.propagation import (
    budget,
    expanded_interval,
    jacobian,
    propagate,
    standard_uncertainties,
    total_covariance,
)

Array = NDArray[np.float64]

DRAWS = 3000
_LEAST_STEP = 1e-6


def evaluate_measurements(job: Job, features: Features) -> tuple[Measurement, ...]:
    """All measurements of a job, in its order.

    Raises JobError for features that do not fit a kind, GeometryError where they define
    no result.
    """
    check_measurements(job)
    return tuple(_evaluate(entry, features) for entry in job.measurements)


def check_measurements(job: Job) -> None:
    """Raise JobError where a measurement's features cannot serve it; needs no photo."""
    entries = {f.name: f for f in job.features}
    for asked in job.measurements:
        kind = MEASUREMENTS[asked.kind]
        given = {role: [entries[name].kind for name in names] for role, names in asked.of}
        check_needs(kind, asked.name, given)
        _refuse_twice(asked)
        names = [name for _, group in asked.of for name in group]
        check_planes(kind, asked.name, {name: entries[name].plane for name in names})


def _evaluate(entry: MeasurementEntry, features: Features) -> Measurement:
    kind = MEASUREMENTS[entry.kind]
    used = {role: [features[name] for name in names] for role, names in entry.of}
    mine = list(dict.fromkeys(f for fs in used.values() for f in fs))
    formula = _Formula(kind, used, mine)
    try:
        quantities = _quantities(entry, formula, features)
        values = {q.name: q.value for q in quantities}
        shapes = formula.shapes(formula.values)
        return Measurement(
            name=entry.name,
            kind=entry.kind,
            quantities=quantities,
            drawing=kind.draw(shapes, values),
            features=tuple(f.name for f in mine),
            remarks=kind.remarks(shapes, values),
        )
    except GeometryError as error:
        raise GeometryError(f"Measurement {entry.name}: {error}") from None


def _refuse_twice(entry: MeasurementEntry) -> None:
    names = [name for _, group in entry.of for name in group]
    for name in dict.fromkeys(names):
        if names.count(name) > 1:
            raise JobError(
                f"Measurement {entry.name!r} names {name!r} {names.count(name)} times; each "
                "feature can serve once. Name another feature."
            )


class _Formula:
    """A kind's evaluate as a function from its features' numbers to its outputs."""

    def __init__(
        self, kind: MeasurementKind, used: Mapping[str, list[Feature]], mine: list[Feature]
    ) -> None:
        self.kind = kind
        self.used = used
        self.mine = mine
        self.indices = np.concatenate([f.indices for f in mine])
        self.values = np.concatenate([f.shape.numbers for f in mine])
        self.outputs: tuple[Output, ...] = kind.outputs(self.shapes(self.values))

    def shapes(self, numbers: Array) -> Shapes:
        """Role → shapes with these numbers."""
        made, start = {}, 0
        for feature in self.mine:
            size = len(feature.shape.numbers)
            made[feature.name] = feature.shape.with_numbers(numbers[start : start + size])
            start += size
        return {role: tuple(made[f.name] for f in fs) for role, fs in self.used.items()}

    def __call__(self, numbers: Array) -> Array:
        """(m,) outputs in their declared order."""
        values = self.kind.evaluate(self.shapes(numbers))
        return np.array([values[o.name] for o in self.outputs])


def _quantities(
    entry: MeasurementEntry, formula: _Formula, features: Features
) -> tuple[Quantity, ...]:
    block = np.ix_(formula.indices, formula.indices)
    covariances = {s: c[block] for s, c in features.covariances.items()}
    total = total_covariance(covariances)
    steps = np.maximum(0.1 * standard_uncertainties(total), _LEAST_STEP)
    values = formula(formula.values)
    nearby = _without_jumps(formula, values)
    slopes = jacobian(nearby, formula.values, steps)
    parts = propagate(slopes, covariances)
    u = standard_uncertainties(total_covariance(parts))
    samples = _samples(entry, formula, nearby, total) if formula.kind.monte_carlo else None
    return tuple(
        _quantity(
            entry,
            output,
            float(values[k]),
            float(u[k]),
            budget(k, parts),
            None if samples is None else samples[:, k],
        )
        for k, output in enumerate(formula.outputs)
    )


def _without_jumps(formula: _Formula, values: Array) -> Callable[[Array], Array]:
    """The formula near its values: an angle of 359.9° beside 0.1° comes out as -0.1°."""
    periods = np.array([output.period for output in formula.outputs])
    if not periods.any():
        return formula
    turns = np.where(periods > 0, periods, 1.0)

    def nearby(numbers: Array) -> Array:
        found = formula(numbers)
        return found + np.where(periods > 0, turns * np.round((values - found) / turns), 0.0)

    return nearby


def _samples(
    entry: MeasurementEntry,
    formula: _Formula,
    nearby: Callable[[Array], Array],
    total: Array,
) -> Array:
    random = generator(entry.name, entry.kind)
    return evaluate_samples(nearby, draw_samples(formula.values, total, DRAWS, random))


def _quantity(
    entry: MeasurementEntry,
    output: Output,
    value: float,
    u: float,
    parts: dict[str, float],
    samples: Array | None,
) -> Quantity:
    if samples is not None:
        u = float(np.std(samples))
    return Quantity(
        measurement=entry.name,
        name=output.name,
        unit=output.unit,
        value=value,
        u=u,
        interval=expanded_interval(value, u) if samples is None else coverage_interval(samples),
        budget=parts,
        primary=output.primary,
        samples=samples,
    )
