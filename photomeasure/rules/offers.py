"""Which rules fit the things that meet here?"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from itertools import permutations

from photomeasure.records.job import RULE_STATUSES, Rule
from photomeasure.rules import RULES
from photomeasure.rules.limits import limit_words
from photomeasure.rules.things import ANYTHING, fits, is_a

_ANYTHING_STEPS = 9  # wider than any kind is


def rules_between(things: Sequence[str], own: Iterable[Rule] = ()) -> tuple[Rule, ...]:
    """The rules for one thing by itself, or for two that meet.

    own : a job's rules, which come beside the built-in ones and in place of their
    namesakes. Those that bind stand first, then those meant for just these things before
    those for wider kinds of them; advice in words stands last. Raises JobError for a thing
    that is not known.
    """
    mine = {rule.name: rule for rule in own}
    known = [_in_place_of(rule, mine.pop(rule.name, None)) for rule in RULES]
    found = [r for r in (*known, *mine.values()) if any(_meets(w, things) for w in r.between)]
    return tuple(sorted(found, key=lambda rule: _rank(rule, things)))


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


def _rank(rule: Rule, things: Sequence[str]) -> tuple[bool, bool, int, int]:
    wider = min(_wider(wanted, things) for wanted in rule.between if _meets(wanted, things))
    return not rule.judges, not rule.can_fail, wider, RULE_STATUSES.index(rule.status)


def _wider(wanted: tuple[str, ...], things: Sequence[str]) -> int:
    """By how many steps a rule's things that fit are wider kinds than these, in all."""
    named = [thing for thing in wanted if thing != ANYTHING]
    orders = permutations(things, len(named))
    fitting = [
        pair
        for pair in (list(zip(named, order, strict=True)) for order in orders)
        if all(fits(kind, thing) for kind, thing in pair)
    ]
    steps = min(sum(is_a(thing).index(kind) for kind, thing in pair) for pair in fitting)
    return steps + _ANYTHING_STEPS * (len(things) - len(named))


def _text(rule: Rule) -> str:
    things = " ".join(thing for pair in rule.between for thing in pair)
    texts = (rule.name, limit_words(rule), rule.condition, rule.why, rule.source, things)
    return " ".join(texts).lower()
