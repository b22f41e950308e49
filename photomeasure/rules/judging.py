"""Which rules judge the numbers of a job, which others fit, and which were replaced?"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from itertools import chain

from photomeasure.errors import JobError
from photomeasure.records.job import Job, MeasurementEntry, ReadingEntry, Rule
from photomeasure.records.report import Decision, Measurement, Offer, Quantity
from photomeasure.rules import RULES
from photomeasure.rules.decide import decide, find_rule, judged_quantity
from photomeasure.rules.limits import Sizes, limit_words, missing_sizes, work_out
from photomeasure.rules.offers import rules_between

Measured = Mapping[str, Measurement]
Entry = MeasurementEntry | ReadingEntry


def decisions(job: Job, measured: Measured) -> tuple[Decision, ...]:
    """Every rule that a measurement names, applied. Raises JobError where it cannot be."""
    return tuple(
        _judge(rule, entry, measured[entry.name], job)
        for entry in job.judged
        for rule in _named(entry, job)
        if rule.judges
    )


def offers(job: Job, measured: Measured) -> tuple[Offer, ...]:
    """What else a measurement should know: rules for the things that meet, advice in words.

    Where the job names rules for a measurement itself, only the advice is offered.
    """
    return tuple(
        chain.from_iterable(_offers(entry, measured[entry.name], job) for entry in job.judged)
    )


def rule_warnings(job: Job, made: Sequence[Decision]) -> tuple[str, ...]:
    """What to ask of the job's own rules: what they replace, and what only the job calls law."""
    return (*replacements(made), *claims(job))


def replacements(made: Sequence[Decision]) -> tuple[str, ...]:
    """A sentence for each built-in rule whose place a job's own rule took."""
    told = {d.rule.name: d for d in made if d.replaced is not None}
    return tuple(
        _replacement(d.rule, d.worked_out, d.replaced) for d in told.values() if d.replaced
    )


def claims(job: Job) -> tuple[str, ...]:
    """A sentence for each rule in use that only the job itself calls law or standard."""
    mine = {rule.name for rule in job.rules if rule.status in ("law", "standard")}
    return tuple(
        f"Rule {rule.name!r} is called {rule.status} by this job alone; that “{rule.source}” says "
        "so was not checked. Read it there, beside what is in force where you are; a wish of your "
        'own has the status "user".'
        for rule in rules_named(job)
        if rule.name in mine
    )


def rules_named(job: Job) -> tuple[Rule, ...]:
    """Every rule that a measurement of the job names, once."""
    return tuple({rule.name: rule for entry in job.judged for rule in _named(entry, job)}.values())


def sizes_of(entry: Entry, measurement: Measurement) -> Sizes:
    """The sizes that rules may hang on: what was measured here, and before it what was stated."""
    measured = {
        q.name.replace("_", " "): q.value for q in measurement.quantities if q.unit == "mm"
    }
    return {**measured, **dict(entry.sizes_mm)}


def _named(entry: Entry, job: Job) -> list[Rule]:
    return [find_rule(name, job.rules) for name in entry.rules]


def _judge(rule: Rule, entry: Entry, measurement: Measurement, job: Job) -> Decision:
    sizes = sizes_of(entry, measurement)
    missing = missing_sizes(rule, sizes)
    if missing:
        given = ", ".join(f'"{name}" = …' for name in missing)
        raise JobError(
            f"Rule {rule.name!r} hangs on {_and(missing)}, which measurement {entry.name!r} "
            f"does not state. Write sizes = {{ {given} }} there."
        )
    plain, words = work_out(rule, sizes)
    quantity = _with_size(rule, judged_quantity(rule, measurement), entry, measurement)
    own = any(rule.name == mine.name for mine in job.rules)
    replaced = RULES[rule.name] if own and rule.name in RULES else None
    made = decide(plain, quantity, job.unit)
    hand = f"Read by hand with {measurement.instrument}. " if measurement.instrument else ""
    return replace(made, reason=hand + made.reason, worked_out=words, replaced=replaced)


def _with_size(rule: Rule, quantity: Quantity, entry: Entry, measurement: Measurement) -> Quantity:
    """A quantity with the doubt of the measured size that its limit is a multiple of.

    Draws of both are paired, so the ratio is exact; without draws both doubts add up in
    full, because how they hang together is not known here.
    """
    if not rule.of or rule.of in dict(entry.sizes_mm):
        return quantity
    size = next(q for q in measurement.quantities if q.name.replace("_", " ") == rule.of)
    if quantity.samples is not None and size.samples is not None:
        return replace(quantity, samples=quantity.samples * (size.value / size.samples))
    multiple = max(abs(limit) for limit in (rule.at_least, rule.at_most) if limit is not None)
    extra = multiple * size.u
    return replace(
        quantity, u=quantity.u + extra, budget={**quantity.budget, f"the {rule.of}": extra}
    )


def _offers(entry: Entry, measurement: Measurement, job: Job) -> Iterator[Offer]:
    named = _named(entry, job)
    found = rules_between(entry.between, job.rules) if entry.between else ()
    yield from (Offer(entry.name, rule) for rule in named if not rule.judges)
    for rule in found:
        wanted = not rule.judges or (not named and _has(measurement, rule))
        if wanted and rule.name not in entry.rules:
            yield _offer(rule, entry, measurement, job)


def _has(measurement: Measurement, rule: Rule) -> bool:
    """Whether a measurement gives a number that the rule is about, in its kind of unit."""
    return any(
        q.name in (rule.quantity, *rule.also) and (q.unit == "deg") == (rule.unit == "deg")
        for q in measurement.quantities
    )


def _offer(rule: Rule, entry: Entry, measurement: Measurement, job: Job) -> Offer:
    if not rule.judges:
        return Offer(entry.name, rule)
    missing = missing_sizes(rule, sizes_of(entry, measurement))
    if missing:
        return Offer(entry.name, rule, missing=_and(missing))
    return Offer(entry.name, rule, _judge(rule, entry, measurement, job))


def _replacement(rule: Rule, worked_out: str, built_in: Rule) -> str:
    binds = " It still binds where it is in force." if built_in.can_fail else ""
    return (
        f"{rule.name}: this job's own limit, {worked_out or limit_words(rule)} ({rule.status}; "
        f"{rule.source}), stands in place of the built-in one, {limit_words(built_in)} "
        f"({built_in.status}; {built_in.source}).{binds}"
    )


def _and(names: Sequence[str]) -> str:
    return " and ".join(f"the {name}" for name in names)
