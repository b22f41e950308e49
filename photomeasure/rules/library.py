"""Which rules come with the program, and is a rule well formed?

The rules are data, one TOML file a subject in `library/`: value, unit, condition, reason,
source, edition and status. A rule whose status is neither law, standard nor user advises
and never fails a job; nor does one whose figure nobody checked (`unverified`).
"""

from __future__ import annotations

import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import MISSING, dataclass, fields
from importlib.resources import files
from math import isfinite
from typing import Any

from photomeasure.errors import JobError
from photomeasure.records.job import RULE_STATUSES, Rule
from photomeasure.rules.things import THINGS

RULE_UNITS = ("mm", "in", "deg", "times")
SUBJECTS = ("clearance", "crushing", "drives", "hoses", "plates", "screw_holes")
"""The files of the library, in the order in which they are shown."""

_KEYS = {field.name for field in fields(Rule)}
_REQUIRED = {field.name for field in fields(Rule) if field.default is MISSING}
_SPARED = {"quantity", "unit"}  # of advice in words, which has no number
_NOUNS = {
    **dict.fromkeys(("at_least", "at_most", "nominal"), "number"),
    "also": "list of texts",
    "between": "list of lists of texts",
    "unverified": "true or false",
}


@dataclass(frozen=True)
class Subject:
    """The rules on one subject. title : what it is called before a reader."""

    name: str
    title: str
    rules: tuple[Rule, ...]


def read_library() -> tuple[Subject, ...]:
    """The program's own library. Raises JobError, listing every fault of a file."""
    folder = files("photomeasure.rules").joinpath("library")
    return tuple(
        parse_subject(name, folder.joinpath(f"{name}.toml").read_text(encoding="utf-8"))
        for name in SUBJECTS
    )


def parse_subject(name: str, text: str) -> Subject:
    """A `title` and `[[rule]]` tables from TOML. Raises JobError, listing every fault."""
    try:
        raw = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise JobError(f"The rules are not valid TOML: {error}. Correct that line.") from error
    tables = raw.get("rule", [])
    problems = [problem for table in tables for problem in _field_problems(table)]
    if problems:
        raise JobError(problems)
    rules = tuple(_rule(table) for table in tables)
    problems = [problem for rule in rules for problem in rule_problems(rule)]
    if problems:
        raise JobError(problems)
    return Subject(name, str(raw.get("title", name)), rules)


def rule_problems(rule: Rule) -> tuple[str, ...]:
    """Every fault of a rule in words; empty when it is well formed."""
    return tuple(f"Rule {rule.name!r} {problem}" for problem in _problems(rule))


def _problems(rule: Rule) -> Iterator[str]:
    if rule.judges and rule.unit not in RULE_UNITS:
        yield f"has the unit {rule.unit!r}; use {', '.join(RULE_UNITS)}."
    if rule.status not in RULE_STATUSES:
        yield f"has the status {rule.status!r}; use {', '.join(RULE_STATUSES)}."
    if not rule.source.strip():
        yield "names no source. Say who asks for it, if only yourself."
    if (rule.unit == "times") != bool(rule.of):
        yield 'needs the unit "times" and the size `of` which it is a multiple, both or neither.'
    yield from _limit_problems(rule)
    for thing in (thing for things in rule.between for thing in things):
        if thing not in THINGS:
            yield f"is between {thing!r}, which is not known. Correct it or add it to THINGS."
    if any(len(things) not in (1, 2) for things in rule.between):
        yield "is between more than two things or none. Name one or two in each list."


def _limit_problems(rule: Rule) -> Iterator[str]:
    limits = [limit for limit in (rule.at_least, rule.at_most) if limit is not None]
    if not rule.judges:
        if limits or rule.tolerance:
            yield "is advice in words and has a limit too. Keep one of the two."
    elif rule.tolerance:
        if limits or rule.nominal is None:
            yield "has a tolerance: give its nominal, and neither at_least nor at_most."
    elif not limits:
        yield "has no limit. Give at_least or at_most."
    if not all(isfinite(limit) for limit in limits):
        yield "has a limit that is not a finite number. Change it."
    elif len(limits) == 2 and limits[0] > limits[1]:
        yield (
            f"wants at least {limits[0]:g} and at most {limits[1]:g} {rule.unit}, which "
            "nothing obeys. Swap them."
        )


def _rule(table: Mapping[str, Any]) -> Rule:
    between = tuple(tuple(things) for things in table.get("between", ()))
    lists = {"between": between, "also": tuple(table.get("also", ()))}
    return Rule(**{"quantity": "", "unit": "", **table, **lists})


def _field_problems(table: Mapping[str, object]) -> list[str]:
    who = f"Rule {table.get('name', '(without a name)')!r}"
    needed = _REQUIRED - _SPARED if "advice" in table else _REQUIRED
    said = [f"{who} has no {key!r}. Add it." for key in sorted(needed - table.keys())]
    said += [
        f"{who} has the unknown key {key!r}. Remove it." for key in sorted(table.keys() - _KEYS)
    ]
    for key, value in table.items():
        noun = _NOUNS.get(key, "text")
        if key in _KEYS and not _is_a(noun, value):
            said.append(f"{who}: {key} is {value!r}; it must be a {noun}. Change it.")
    return said


def _is_a(noun: str, value: object) -> bool:
    if noun.startswith("list of "):
        inner = noun.removeprefix("list of ").replace("lists of", "list of")
        return isinstance(value, list) and all(_is_a(inner, item) for item in value)
    if noun == "number":
        return isinstance(value, int | float) and not isinstance(value, bool)
    return isinstance(value, bool if noun == "true or false" else str)
