"""In which words and digits does a report speak, whatever the format?

One place, so that the page, the table and the still say the same. It refuses to call
anything safe: a verdict is always about one number and one rule.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import replace
from math import hypot

from photomeasure.records.job import Rule
from photomeasure.records.report import (
    Check,
    Decision,
    Measurement,
    Missing,
    Offer,
    Quantity,
    Report,
    Verdict,
)
from photomeasure.rules import limits
from photomeasure.uncertainty.notation import (
    MM_PER_INCH,
    decimals,
    format_angle,
    format_fraction,
    format_length,
)

limit_words = limits.limit_words  # how a rule's limit reads is told where it is worked out
limit_in_both = limits.limit_in_both

_ADVICE = {
    Verdict.CONFORMS: "advice: met",
    Verdict.DOES_NOT_CONFORM: "advice: not met",
    Verdict.CANNOT_TELL: "advice: cannot tell",
}
_WOULD = {
    Verdict.CONFORMS: "would conform",
    Verdict.DOES_NOT_CONFORM: "would not conform",
    Verdict.CANNOT_TELL: "could not be told",
}
_UNIT_SIGNS = {"mm": " mm", "in": " in", "deg": "°"}
_WORST_FIRST = (Verdict.DOES_NOT_CONFORM, Verdict.CANNOT_TELL, Verdict.CONFORMS)

HOW_TO_READ = (
    "A number such as 11.13 ± 0.06 mm means: the true value lies between 11.07 and 11.19 mm "
    "with 95 % confidence, if the heights, the readings and the edges stated below are right. "
    "A verdict compares that whole interval with a rule. “Conforms” means the rule is obeyed "
    "with at least 95 % probability, “does not conform” at most 5 %, and “cannot tell” lies "
    "between: measure again as advised. It speaks of this number and this rule only."
)


def verdict_words(decision: Decision) -> str:
    """The verdict, or what the advice came to where the rule cannot fail a job."""
    return decision.verdict.value if decision.rule.can_fail else _ADVICE[decision.verdict]


def standing_words(rule: Rule) -> str:
    """Who says so, and whether it can fail a job."""
    if not rule.judges:
        return f"{rule.status}: advice in words, judges nothing"
    if rule.can_fail:
        return f"{rule.status}: can fail the job"
    if rule.unverified:
        return f"{rule.status}, but nobody checked it: advises, never fails the job"
    return f"{rule.status}: advises, never fails the job"


def source_words(rule: Rule) -> str:
    """The source and its edition."""
    return ", ".join(part for part in (rule.source, rule.edition) if part)


def replaced_words(decision: Decision) -> str:
    """The built-in rule whose place a job's own took, and who says so; else empty."""
    if decision.replaced is None:
        return ""
    built_in = decision.replaced
    return (
        f"{limit_words(built_in)} ({built_in.status}; {source_words(built_in)}); "
        f"this job overrides it: {decision.rule.source}"
    )


def offered(report: Report, measurement: str) -> tuple[Offer, ...]:
    """The rules with a limit that fit what meets at a measurement, offered and not judged."""
    return tuple(o for o in report.offers if o.measurement == measurement and o.rule.judges)


def advised(report: Report, measurement: str) -> tuple[Offer, ...]:
    """The advice in words that fits what meets at a measurement."""
    return tuple(o for o in report.offers if o.measurement == measurement and not o.rule.judges)


def offer_words(offer: Offer) -> str:
    """How an offered rule would come out."""
    if offer.decision is None:
        return f"state {offer.missing} to compare" if offer.missing else ""
    if offer.rule.can_fail:
        return _WOULD[offer.decision.verdict]
    return verdict_words(offer.decision)


def meeting_words(report: Report, measurement: str) -> str:
    """What meets at a measurement: "hose and exhaust"; empty where nobody said."""
    between = {entry.name: entry.between for entry in report.job.judged}
    return " and ".join(between.get(measurement, ()))


def caution_words(report: Report) -> str:
    """What can hurt, in a few words for where the cautions themselves have no room."""
    return ", ".join(line.split(":", 1)[0].lower() for line in report.cautions)


def hand_words(measurement: Measurement) -> str:
    """That a number was read by hand, and with what; empty for what photos gave."""
    return f"read by hand with {measurement.instrument}" if measurement.instrument else ""


def figure(quantity: Quantity, job_unit: str) -> str:
    """Value ± U in the job's unit (lengths) or degrees."""
    if quantity.unit == "deg":
        return _with_minus(format_angle(quantity.value, quantity.expanded))
    return _with_minus(format_length(quantity.value, quantity.expanded, job_unit))


def second_figure(quantity: Quantity, job_unit: str) -> str:
    """The same length in the other unit, and as an inch fraction; empty for an angle."""
    if quantity.unit == "deg":
        return ""
    other = format_length(quantity.value, quantity.expanded, "in" if job_unit == "mm" else "mm")
    return f"{other}, {format_fraction(quantity.value, quantity.expanded)}"


def length_words(length_mm: float, job_unit: str) -> str:
    """A plain length in the job's unit: "0.26 mm", or "0.010 in (0.26 mm)"."""
    metric = f"{length_mm:.2f} mm"
    return f"{length_mm / MM_PER_INCH:.3f} in ({metric})" if job_unit == "in" else metric


def interval_words(quantity: Quantity, job_unit: str = "mm") -> str:
    """The 95 % interval in the job's unit, and how it was found.

    A length in inches has its mm in brackets.
    """
    told = _ends(quantity, quantity.unit)
    how = coverage_words(quantity)
    if quantity.unit == "mm" and job_unit == "in":
        told, how = _ends(quantity, "in"), f"{told}; {how}"
    return _with_minus(f"95 % interval {told} ({how})")


def _ends(quantity: Quantity, unit: str) -> str:
    """Both ends of the interval, with the digits that U deserves in this unit."""
    factor = MM_PER_INCH if unit == "in" else 1.0
    digits = max(0, decimals(quantity.expanded / factor))
    low, high = (f"{end / factor:.{digits}f}{_UNIT_SIGNS[unit]}" for end in quantity.interval)
    return f"{low} to {high}"


def coverage_words(quantity: Quantity) -> str:
    """How the interval was found."""
    return "k = 2" if quantity.samples is None else "Monte Carlo"


def percent(probability: float) -> str:
    """A probability that never claims 0 or 100 %, on one line."""
    if probability > 0.999:
        return ">\u00a099.9\u00a0%"
    if probability < 0.001:
        return "<\u00a00.1\u00a0%"
    return f"{100 * probability:.{0 if 0.1 < probability < 0.95 else 1}f}\u00a0%"


def standard_uncertainty(u: float, unit: str, job_unit: str = "mm") -> str:
    """A standard uncertainty in the job's unit with the digits that its size deserves."""
    if unit == "mm" and job_unit == "in":
        u, unit = u / MM_PER_INCH, job_unit
    return f"{u:.{max(0, decimals(u))}f}{_UNIT_SIGNS[unit]}"


def judging(report: Report) -> tuple[Decision, ...]:
    """The decisions whose rule can fail the job, worst first."""
    return worst_first(d for d in report.decisions if d.rule.can_fail)


def advising(report: Report) -> tuple[Decision, ...]:
    """The decisions that only advise, worst first."""
    return worst_first(d for d in report.decisions if not d.rule.can_fail)


def overall(report: Report) -> Verdict | None:
    """The worst verdict of the rules that can fail a job; None when there is none.

    Nothing conforms as a whole where something could not be measured.
    """
    decisions = judging(report)
    worst = decisions[0].verdict if decisions else None
    return Verdict.CANNOT_TELL if worst is Verdict.CONFORMS and report.lost else worst


def summary_words(report: Report) -> str:
    """The verdicts counted, and what could not be measured."""
    lost = report.lost
    if not lost:
        return _counted(report)
    return f"{_counted(report)} Not measured: {', '.join(lost)}."


def missing_words(missing: Missing) -> str:
    """What could not be measured, and why: "bore, hole 1: side: no scale sheet was found …"."""
    names = ", ".join(missing.measurements)
    return f"{names}: {missing.words}" if names else missing.words


def doubt_lines(report: Report) -> list[str]:
    """Each doubt that can be mended at once, with the measurements that it weakens."""
    weakens: dict[str, list[str]] = {}
    for measurement in report.measurements:
        for doubt in report.doubts.get(measurement.name, ()):
            weakens.setdefault(f"{doubt.short} {doubt.words}", []).append(measurement.name)
    return [f"{', '.join(names)}: {words}" for words, names in weakens.items()]


def _counted(report: Report) -> str:
    decisions = judging(report)
    if not decisions and report.lost:
        return "Nothing was judged."
    if not decisions:
        return "Nothing was judged: this job names no rule that can fail."
    counts = Counter(d.verdict for d in decisions)
    told = [f"{counts[v]} {_plural(v, counts[v])}" for v in _WORST_FIRST if counts[v]]
    number = len(decisions)
    judged = f"{number} {'rule' if number == 1 else 'rules'} judged: {', '.join(told)}."
    if disagreeing(report):
        judged += " But photo and caliper disagree: rely on none of it before you know why."
    return judged


def disagreeing(report: Report) -> tuple[Check, ...]:
    """The caliper checks that photo and tool do not agree on."""
    return tuple(c for c in report.checks if not c.agrees)


def check_words(check: Check, report: Report) -> str:
    """One sentence on a caliper check, in the job's unit or in degrees."""
    entry = check.entry
    quantity = quantity_of(report, entry.measurement, check.quantity)
    read = replace(
        quantity,
        value=entry.value_mm,
        interval=(entry.value_mm - entry.plus_minus_mm, entry.value_mm + entry.plus_minus_mm),
    )
    unit = report.job.unit
    apart, allowed = (
        f"{size:.2f}°" if quantity.unit == "deg" else length_words(size, unit)
        for size in (abs(quantity.value - read.value), hypot(quantity.expanded, read.expanded))
    )
    sentence = (
        f"{entry.measurement}: the {entry.instrument} reads {figure(read, unit)}, the photo "
        f"{figure(quantity, unit)}; they {'agree' if check.agrees else 'disagree'}: "
        f"{apart} apart, where both uncertainties together allow {allowed} "
        f"(E_n = {_signed(check.e_n)}, limit ±1)."
    )
    if check.agrees:
        return sentence
    return f"{sentence} Find out why before using any number of this report."


def shown(measurement: Measurement, report: Report) -> tuple[Quantity, ...]:
    """The primary quantity and every other one that a rule judges."""
    judged = {d.quantity for d in report.decisions if d.measurement == measurement.name}
    return tuple(q for q in measurement.quantities if q.primary or q.name in judged)


def unjudged(report: Report) -> tuple[Measurement, ...]:
    """The measurements that no rule judges."""
    judged = {d.measurement for d in report.decisions}
    return tuple(m for m in report.measurements if m.name not in judged)


def rest(measurement: Measurement, report: Report) -> tuple[Quantity, ...]:
    """The quantities that are neither asked for nor judged."""
    told = shown(measurement, report)
    return tuple(q for q in measurement.quantities if q not in told)


def decisions_of(quantity: Quantity, report: Report) -> tuple[Decision, ...]:
    """The decisions on one quantity."""
    return tuple(
        d
        for d in report.decisions
        if d.measurement == quantity.measurement and d.quantity == quantity.name
    )


def measurement_of(report: Report, name: str) -> Measurement:
    """A measurement by its name; KeyError when the report has none."""
    return {m.name: m for m in report.measurements}[name]


def quantity_of(report: Report, measurement: str, name: str) -> Quantity:
    """A quantity by its names; KeyError when the report has none."""
    for found in report.measurements:
        for quantity in found.quantities:
            if (found.name, quantity.name) == (measurement, name):
                return quantity
    raise KeyError((measurement, name))


def _signed(value: float) -> str:
    return _with_minus(f"{value:+.2f}")


def _with_minus(figures: str) -> str:
    """Figures with a minus sign, as long as the plus and digits, where they have a hyphen."""
    return figures.replace("-", "−")


def worst_first(decisions: Iterable[Decision]) -> tuple[Decision, ...]:
    """Sorted by verdict; where two agree, the rule that can fail the job stands first."""
    return tuple(
        sorted(decisions, key=lambda d: (_WORST_FIRST.index(d.verdict), not d.rule.can_fail))
    )


def _plural(verdict: Verdict, count: int) -> str:
    if count == 1 or verdict is Verdict.CANNOT_TELL:
        return "cannot be told" if verdict is Verdict.CANNOT_TELL else verdict.value
    return {"conforms": "conform", "does not conform": "do not conform"}[verdict.value]
