"""Where several edges fit, what would each of them make of the numbers?"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from photomeasure.records.feature import Features
from photomeasure.records.report import Measurement, Otherwise, Quantity
from photomeasure.uncertainty.notation import MM_PER_INCH, rounded_pair

_SIGNS = {"mm": " mm", "in": " in", "deg": "°"}
_ROUGH = 0.1  # mm or degrees: how well an edge that was not sharpened tells a number


def choice_words(
    features: Features,
    measurements: Iterable[Measurement],
    others: Sequence[Otherwise],
    told_in: str,
) -> dict[str, str]:
    """Feature → what its measurements come out as by each edge that fits.

    told_in : "mm" or "in", of lengths. Features of which one edge fits, or that nothing is
    measured from, are left out.
    """
    told: dict[str, list[str]] = {}
    for measurement in measurements:
        for name in measurement.features:
            mine = [o for o in others if (o.feature, o.measurement) == (name, measurement.name)]
            if mine:
                chosen = features[name].image.chosen
                words = _words(measurement.primary, chosen, mine, told_in)
                told.setdefault(name, []).append(words)
    return {name: " ".join(words) for name, words in told.items()}


def _words(quantity: Quantity, chosen: int, others: Sequence[Otherwise], told_in: str) -> str:
    name = f"“{quantity.measurement}”"
    apart = [o for o in others if abs(o.value - quantity.value) > max(quantity.expanded, _ROUGH)]
    if not apart:
        return f"{name} stays within its ±, or nearly so, whichever it is."
    listed = ", ".join(f"{_size(o.value, quantity, told_in)} by number {o.number}" for o in apart)
    return (
        f"{name} is {_size(quantity.value, quantity, told_in)} by number {chosen}; it would be "
        f"about {listed}."
    )


def _size(value: float, quantity: Quantity, told_in: str) -> str:
    unit = told_in if quantity.unit == "mm" else quantity.unit
    factor = MM_PER_INCH if unit == "in" else 1.0
    doubt = max(quantity.expanded, _ROUGH)
    return f"{rounded_pair(value / factor, doubt / factor)[0]}{_SIGNS[unit]}"
