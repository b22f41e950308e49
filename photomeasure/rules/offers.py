"""Which rules fit the things that meet here?"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace

from photomeasure.records.job import RULE_STATUSES, Rule
from photomeasure.rules import RULES
from photomeasure.rules.limits import limit_words
from photomeasure.rules.things import ANYTHING, fits


def rules_between(things: Sequence[str], own: Iterable[Rule] = ()) -> tuple[Rule, ...]:
    """The rules for one thing by itself, or for two that meet.

    own : a job's rules, which come beside the built-in ones and in place of their
    namesakes. Those that bind stand first, advice in words last. Raises JobError for a
    thing that is not known.
    """
    mine = {rule.name: rule for rule in own}
    known = [_in_place_of(rule, mine.pop(rule.name, None)) for rule in RULES]
    found = [r for r in (*known, *mine.values()) if any(_meets(w, things) for w in r.between)]
    return tuple(sorted(found, key=_rank))


def rules_about(words: str) -> tuple[Rule, ...]:
    """The built-in rules in which all these words occur, wherever in their text."""
    wanted = words.lower().split()
    return tuple(rule for rule in RULES if all(word in _text(rule) for word in wanted))


def _in_place_of(built_in: Rule, own: Rule | None) -> Rule:
    """A job's own rule, for the same things as its built-in namesake if it says none."""
    if own is None:
        return built_in
    return own if own.between else replace(own, between=built_in.between)


def _meets(wanted: tuple[str, ...], things: Sequence[str]) -> bool:
    """Whether a rule's one or two things are these, in either order."""
    if len(wanted) == 1 or len(things) == 1:
        named = [thing for thing in wanted if thing != ANYTHING]
        return len(named) == len(things) == 1 and fits(named[0], things[0])
    (a, b), (first, second) = wanted, things
    return (fits(a, first) and fits(b, second)) or (fits(a, second) and fits(b, first))


def _rank(rule: Rule) -> tuple[bool, bool, int]:
    return not rule.judges, not rule.can_fail, RULE_STATUSES.index(rule.status)


def _text(rule: Rule) -> str:
    things = " ".join(thing for pair in rule.between for thing in pair)
    texts = (rule.name, limit_words(rule), rule.condition, rule.why, rule.source, things)
    return " ".join(texts).lower()
