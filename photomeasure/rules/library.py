"""Which rules come with the program, and is a rule well formed?

The rules are data in `library.toml`: value, unit, condition, reason, source, edition and
status. A rule whose status is neither law, standard nor user advises and never fails a job.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import MISSING, fields
from importlib.resources import files
from math import isfinite

from photomeasure.errors import JobError
from photomeasure.records.job import RULE_STATUSES, Rule

RULE_UNITS = ("mm", "in", "deg")

_KEYS = {field.name for field in fields(Rule)}
_REQUIRED = {field.name for field in fields(Rule) if field.default is MISSING}
_NUMBERS = ("at_least", "at_most")


def read_library() -> tuple[Rule, ...]:
    """The rules of the program's own library. Raises JobError, listing every fault."""
    text = files("photomeasure.rules").joinpath("library.toml").read_text(encoding="utf-8")
    return parse_rules(text)


def parse_rules(text: str) -> tuple[Rule, ...]:
    """Rules from TOML, one `[[rule]]` table each. Raises JobError, listing every fault."""
    try:
        tables = tomllib.loads(text).get("rule", [])
    except tomllib.TOMLDecodeError as error:
        raise JobError(f"The rules are not valid TOML: {error}. Correct that line.") from error
    problems = [problem for table in tables for problem in _field_problems(table)]
    if problems:
        raise JobError(problems)
    rules = tuple(Rule(**table) for table in tables)
    problems = [problem for rule in rules for problem in rule_problems(rule)]
    if problems:
        raise JobError(problems)
    return rules


def rule_problems(rule: Rule) -> tuple[str, ...]:
    """Every fault of a rule in words; empty when it is well formed."""
    who = f"Rule {rule.name!r}"
    limits = [limit for limit in (rule.at_least, rule.at_most) if limit is not None]
    said = []
    if rule.unit not in RULE_UNITS:
        said.append(f"{who} has the unit {rule.unit!r}; use mm, in or deg.")
    if rule.status not in RULE_STATUSES:
        said.append(f"{who} has the status {rule.status!r}; use {', '.join(RULE_STATUSES)}.")
    if not limits:
        said.append(f"{who} has no limit. Give at_least or at_most.")
    if not all(isfinite(limit) for limit in limits):
        said.append(f"{who} has a limit that is not a finite number. Change it.")
    elif len(limits) == 2 and limits[0] > limits[1]:
        said.append(
            f"{who} wants at least {limits[0]:g} and at most {limits[1]:g} {rule.unit}, which "
            "nothing obeys. Exchange them."
        )
    return tuple(said)


def _field_problems(table: Mapping[str, object]) -> list[str]:
    who = f"Rule {table.get('name', '(without a name)')!r}"
    said = [f"{who} has no {key!r}. Add it." for key in sorted(_REQUIRED - table.keys())]
    said += [
        f"{who} has the unknown key {key!r}. Remove it." for key in sorted(table.keys() - _KEYS)
    ]
    for key, value in table.items():
        wanted: type | tuple[type, ...] = (int, float) if key in _NUMBERS else str
        if key in _KEYS and (not isinstance(value, wanted) or isinstance(value, bool)):
            noun = "number" if key in _NUMBERS else "text"
            said.append(f"{who}: {key} is {value!r}; it must be a {noun}. Change it.")
    return said
