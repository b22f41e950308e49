"""Does this number obey this rule, and if nobody can tell, what would settle it?

A decision after ISO 14253-1:2017 with its default of 95 %: the number conforms where the
true value obeys the rule with a probability of 95 % or more, does not conform at 5 % or
less, and between them nobody can tell. It is about one number and one rule, nothing else.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import inf, sqrt

from photomeasure.errors import JobError
from photomeasure.records.job import Rule
from photomeasure.records.report import Decision, Measurement, Quantity, Verdict
from photomeasure.rules import RULES
from photomeasure.rules.limits import limit_in_both
from photomeasure.rules.remedies import remedy_words
from photomeasure.uncertainty.coverage import guard_band, probability_within, share_within
from photomeasure.uncertainty.notation import (
    MM_PER_INCH,
    format_length,
    format_result,
    rounded_pair,
)

CONFIDENCE = 0.95

Source = tuple[str, float]
"""A name of the budget and its standard uncertainty."""

_HOPELESS = 0.05
"""No photo is asked to become more than 20 times as sharp."""

_EASIEST = 0.9
"""What settles a number is stated as at least this much of an improvement."""

_SIGNS = {"mm": " mm", "deg": "°"}


def find_rule(name: str, own: Sequence[Rule] = ()) -> Rule:
    """A job's own rule of this name, else the library's. Raises JobError for neither."""
    return next((rule for rule in own if rule.name == name), None) or RULES[name]


def judged_quantity(rule: Rule, measurement: Measurement) -> Quantity:
    """The quantity of a measurement that a rule judges.

    Raises JobError where the measurement has no such quantity.
    """
    for name in (rule.quantity, *rule.also):
        for quantity in measurement.quantities:
            if quantity.name == name:
                return quantity
    names = ", ".join(quantity.name for quantity in measurement.quantities)
    raise JobError(
        f"Rule {rule.name!r} judges {rule.quantity!r}, but measurement {measurement.name!r} "
        f"({measurement.kind}) gives {names}. Use another rule or another kind of measurement."
    )


def decide(rule: Rule, quantity: Quantity, told_in: str = "mm") -> Decision:
    """The verdict on one quantity, with its reason and what would settle it.

    told_in : "mm" or "in", the job's unit, of the lengths in both texts; inches have their mm
    in brackets. Raises JobError where the rule is in a unit that the quantity cannot have.
    """
    low, high = limits(rule, quantity)
    if quantity.samples is None:
        probability = probability_within(quantity.value, quantity.u, low, high)
    else:
        probability = share_within(quantity.samples, low, high)
    verdict = _verdict(probability)
    return Decision(
        measurement=quantity.measurement,
        quantity=quantity.name,
        rule=rule,
        verdict=verdict,
        probability=probability,
        reason=_reason(rule, quantity, probability, told_in),
        settle=_settle(quantity, low, high, told_in) if verdict is Verdict.CANNOT_TELL else "",
    )


def limits(rule: Rule, quantity: Quantity) -> tuple[float | None, float | None]:
    """(at least, at most) in the unit of the quantity; None where there is no limit.

    Raises JobError where the units do not go together.
    """
    if (rule.unit == "deg") != (quantity.unit == "deg"):
        use = "deg" if quantity.unit == "deg" else "mm or in"
        raise JobError(
            f"Rule {rule.name!r} is in {rule.unit}, but {quantity.name!r} of measurement "
            f"{quantity.measurement!r} is in {quantity.unit}. Give the rule in {use}."
        )
    factor = MM_PER_INCH if rule.unit == "in" else 1.0
    low, high = rule.at_least, rule.at_most
    return None if low is None else low * factor, None if high is None else high * factor


def _verdict(probability: float) -> Verdict:
    if probability >= CONFIDENCE:
        return Verdict.CONFORMS
    if probability <= 1 - CONFIDENCE:
        return Verdict.DOES_NOT_CONFORM
    return Verdict.CANNOT_TELL


def _reason(rule: Rule, quantity: Quantity, probability: float, told_in: str) -> str:
    shown = format_result(quantity.value, quantity.expanded, quantity.unit)
    if quantity.unit == "mm" and told_in == "in":
        shown = f"{format_length(quantity.value, quantity.expanded, told_in)} ({shown})"
    return (
        f"{shown} against {limit_in_both(rule, told_in)}: the rule is obeyed with a probability "
        f"of {_percent(probability)}."
    )


def _percent(probability: float) -> str:
    if probability > 0.999:
        return "more than 99.9 %"
    if probability < 0.001:
        return "less than 0.1 %"
    return f"{100 * probability:.{0 if 0.1 <= probability <= 0.9 else 1}f} %"


def _settle(quantity: Quantity, low: float | None, high: float | None, told_in: str) -> str:
    """Which source must shrink, and how far, for the value as it stands to be told."""
    margin = min(
        abs(quantity.value - low) if low is not None else inf,
        abs(quantity.value - high) if high is not None else inf,
    )
    sources = sorted(quantity.budget.items(), key=lambda item: -item[1])
    variance = sum(u * u for _, u in sources)
    # Capped, because a skewed distribution may need less than its Gaussian does.
    needed = min(margin / guard_band(1.0, CONFIDENCE), _EASIEST * sqrt(variance))
    if not variance or needed <= _HOPELESS * sqrt(variance):
        return (
            "The value lies on the limit, too close for any photo: measure it with a feeler "
            "gauge or caliper, or change the part."
        )
    names, share, now, then = _shrinking(sources, variance, needed)
    verb, its = ("carries", "its") if len(names) == 1 else ("together carry", "their")
    told = " and ".join(names)
    return (
        f"{told[:1].upper()}{told[1:]} {verb} {100 * share:.0f} % of the doubt (of the variance). "
        f"If the value stays, {its} part must fall from "
        f"{_fall_words(2 * now, 2 * then, quantity.unit, told_in)} ({now / then:.1f} times as "
        f"close){remedy_words(names)}"
    )


def _shrinking(
    sources: Sequence[Source], variance: float, needed: float
) -> tuple[list[str], float, float, float]:
    """The fewest of the largest sources that must shrink, all by the same factor.

    Their names, their share of the variance, and their u together now and then.
    """
    for count in range(1, len(sources) + 1):
        rest = sum(u * u for _, u in sources[count:])
        now, spare = sqrt(variance - rest), needed * needed - rest
        if spare > (_HOPELESS * now) ** 2:
            break
    return [name for name, _ in sources[:count]], 1 - rest / variance, now, sqrt(spare)


def _fall_words(now: float, then: float, unit: str, told_in: str) -> str:
    """Two expanded uncertainties: "± 0.12 to ± 0.06 mm", of inches with the mm in brackets."""
    shown = f"± {_size(now)} to ± {_size(then)}{_SIGNS[unit]}"
    if unit == "mm" and told_in == "in":
        inches = f"± {_size(now / MM_PER_INCH)} to ± {_size(then / MM_PER_INCH)} in"
        return f"{inches} ({shown})"
    return shown


def _size(expanded: float) -> str:
    return rounded_pair(0.0, expanded)[1]
