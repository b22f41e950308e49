"""What is the limit of a rule in millimetres, once the sizes that it hangs on are known?

A limit may be a multiple of a size (six times the hose's inside diameter), lie beyond one
(the clamp's width and 6 mm), or follow from a nominal and a general tolerance. The job
states the sizes, or the measurement has one of that name.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from photomeasure.errors import JobError
from photomeasure.records.job import Rule
from photomeasure.rules.tolerances import general_tolerance, needed_size
from photomeasure.uncertainty.notation import MM_PER_INCH

Sizes = Mapping[str, float]
"""The name of a size → mm, taken as exact."""

_SIGNS = {"mm": " mm", "in": " in", "deg": "°"}


def missing_sizes(rule: Rule, sizes: Sizes) -> tuple[str, ...]:
    """The names of the sizes that a rule hangs on and nobody stated."""
    general = needed_size(rule.tolerance, rule.unit) if rule.tolerance else ""
    return tuple(name for name in (rule.of, rule.beyond, general) if name and name not in sizes)


def work_out(rule: Rule, sizes: Sizes) -> tuple[Rule, str]:
    """A rule with plain limits in mm, in or deg, and in words how they were found.

    A rule whose limits are plain already comes back as it is, with "".
    Raises JobError where the general tolerance does not reach; KeyError for a missing size.
    """
    if rule.tolerance:
        return _with_tolerance(rule, sizes)
    if not rule.of and not rule.beyond:
        return rule, ""
    factor = sizes[rule.of] if rule.of else MM_PER_INCH if rule.unit == "in" else 1.0
    start = sizes[rule.beyond] if rule.beyond else 0.0
    low, high = (
        None if limit is None else round(limit * factor + start, 6)
        for limit in (rule.at_least, rule.at_most)
    )
    plain = replace(rule, at_least=low, at_most=high, unit="mm", of="", beyond="")
    stated = ", ".join(f"{n} {sizes[n]:g} mm" for n in (rule.of, rule.beyond) if n)
    return plain, f"{limit_words(rule)}, with {stated}"


def limit_words(rule: Rule) -> str:
    """The limit as one says it: at least, at most, a range, or the advice."""
    if not rule.judges:
        return rule.advice
    if rule.tolerance:
        return f"{rule.nominal:g}{_SIGNS[rule.unit]} within {rule.tolerance}"
    low, high = rule.at_least, rule.at_most
    after = _unit_words(rule)
    if low is not None and high is not None:
        return f"{low:g} to {high:g}{after}"
    if low == 0:
        return f"more than {low:g}{after}"
    return f"at least {low:g}{after}" if low is not None else f"at most {high:g}{after}"


def limit_in_both(rule: Rule, told_in: str) -> str:
    """The limit as one says it; of a plain length in another unit also in `told_in`.

    told_in : "mm" or "in": "at least 9 mm (0.3543 in)".
    """
    words = limit_words(rule)
    plain = rule.judges and not (rule.of or rule.beyond or rule.tolerance)
    if not plain or rule.unit not in ("mm", "in") or rule.unit == told_in:
        return words
    factor = 1 / MM_PER_INCH if told_in == "in" else MM_PER_INCH
    limits = [rule.at_least, rule.at_most]
    numbers = " to ".join(f"{limit * factor:.4g}" for limit in limits if limit)
    return f"{words} ({numbers} {told_in})" if numbers else words


def _unit_words(rule: Rule) -> str:
    unit = f" × {rule.of}" if rule.of else _SIGNS.get(rule.unit, f" {rule.unit}")
    if not rule.beyond:
        return unit
    return f"{unit} + {rule.beyond}" if rule.of else f"{unit} beyond the {rule.beyond}"


def _with_tolerance(rule: Rule, sizes: Sizes) -> tuple[Rule, str]:
    assert rule.nominal is not None  # a well-formed rule with a tolerance has one
    factor = MM_PER_INCH if rule.unit == "in" else 1.0
    unit = "deg" if rule.unit == "deg" else "mm"
    size = sizes.get(needed_size(rule.tolerance, unit), 0.0)
    try:
        half = general_tolerance(rule.tolerance, rule.nominal * factor, unit, size)
    except JobError as error:
        raise JobError(f"Rule {rule.name!r}: {error}") from None
    middle = rule.nominal * factor
    low, high = round(middle - half, 6), round(middle + half, 6)
    plain = replace(rule, at_least=low, at_most=high, unit=unit, nominal=None, tolerance="")
    return plain, f"{limit_words(rule)}, which is ±{half:.4g}{_SIGNS[unit]}"
