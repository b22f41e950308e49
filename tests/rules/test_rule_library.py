"""Every rule that ships is well formed and honest about where it comes from."""

import numpy as np
import pytest

from photomeasure.errors import JobError
from photomeasure.measurements import MEASUREMENTS
from photomeasure.records.shapes import Circle, Curve, Edge, Point, Row, Tube
from photomeasure.rules import LIBRARY, RULES
from photomeasure.rules.library import parse_subject
from photomeasure.rules.tables import TABLES
from photomeasure.rules.things import THINGS

GOOD = """
[[rule]]
name = "n"
quantity = "gap"
unit = "mm"
why = "w"
source = "s"
status = "user"
at_least = 1
"""


def test_every_rule_names_condition_reason_and_source():
    """No rule comes without a condition, a reason and a source."""
    assert len(RULES) >= 100
    assert all(subject.title for subject in LIBRARY)
    for rule in RULES:
        assert rule.condition, rule.name
        assert rule.why, rule.name
        assert rule.source, rule.name


def test_practice_without_a_source_only_advises():
    """A rule said to be common practice can never fail a job."""
    unsourced = [rule for rule in RULES if "no source" in rule.source]
    assert unsourced
    assert not any(rule.can_fail for rule in unsourced)


def test_hearsay_never_fails_a_job():
    """A figure from memory or quoted by others is unverified or comes from no binding source."""
    hearsay = [r for r in RULES if "from memory" in r.source or "quoted" in r.source]
    assert len(hearsay) >= 15
    assert not any(rule.can_fail for rule in hearsay)


def test_what_was_not_read_in_full_says_so():
    """Every source is in words how it was read, common practice, or a supplier's guide."""
    marks = ("excerpt", "second-hand", "quoted", "from memory", "no source", "read)", "was not)")
    assert [r.name for r in RULES if not any(mark in r.source for mark in marks)] == []


def test_nothing_is_called_safe():
    """No rule uses the word that only a licensed person may use."""
    texts = [f"{r.condition} {r.why} {r.advice}" for r in RULES]
    assert not any("safe" in text.lower() for text in texts)


def test_every_rule_is_offered_for_something():
    """A rule without things would be offered to nobody; every thing of a rule is known."""
    for rule in RULES:
        assert rule.between, rule.name
        assert all(thing in THINGS for things in rule.between for thing in things)


def outputs():
    """Every output that any kind can give, with its unit; all optional roles filled."""
    shapes = {
        "point": Point(np.zeros(2)), "edge": Edge(np.eye(2)), "circle": Circle(np.zeros(2), 1.0),
        "curve": Curve(np.eye(2)), "tube": Tube(np.eye(2), 1.0), "row": Row(np.eye(2)),
    }  # fmt: skip
    for kind in MEASUREMENTS:
        features = {n.role: (shapes[n.kinds[0]],) * max(1, n.minimum) for n in kind.needs}
        yield from ((o.name, o.unit) for o in kind.outputs(features))


def test_every_rule_judges_an_output_that_some_kind_has():
    """A rule for a quantity that nothing measures would be dead."""
    units = dict(outputs())
    for rule in RULES:
        for name in (rule.quantity, *rule.also) if rule.judges else ():
            assert (units[name] == "deg") == (rule.unit == "deg"), rule.name


def test_clearance_hole_rules_are_the_medium_series_of_the_table():
    """Each rule's limit is the table's value, so that the two cannot drift apart."""
    medium = {str(row[0]).lower(): row[2] for row in TABLES["iso-273"].rows}
    rules = [r for r in RULES if r.name.startswith("clearance-hole-")]
    assert len(rules) == 9
    assert {r.name.split("-")[2]: r.at_least for r in rules}.items() <= medium.items()


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ('unit = "mm"', 'unit = "cm"', "unit 'cm'"),
        ('status = "user"', 'status = "guess"', "status 'guess'"),
        ("at_least = 1", "", "no limit"),
        ("at_least = 1", "at_least = inf", "finite"),
        ("at_least = 1", "at_least = 2\nat_most = 1", "nothing obeys"),
        ("at_least = 1", 'at_least = "1"', "must be a number"),
        ("at_least = 1", "at_lest = 1", "unknown key 'at_lest'"),
        ('why = "w"', "", "no 'why'"),
        ('why = "w"', "why = 3", "must be a text"),
        ('why = "w"', "why = ", "not valid TOML"),
        ('unit = "mm"', 'unit = "times"', "the size `of`"),
        ('why = "w"', 'why = "w"\nbetween = [["hose", "wombat"]]', "'wombat', which is not known"),
        ('why = "w"', 'why = "w"\nbetween = ["hose"]', "list of lists of texts"),
        ('why = "w"', 'why = "w"\nadvice = "look"', "advice in words and has a limit"),
        ("at_least = 1", 'tolerance = "ISO 2768-m"', "give its nominal"),
        ('why = "w"', 'why = "w"\nunverified = 1', "must be a true or false"),
    ],
)
def test_a_malformed_rule_is_refused_in_words(old, new, said):
    """Wrong unit, status, limit, key, type, thing and syntax raise JobError and say which."""
    assert parse_subject("x", GOOD).rules[0].at_least == 1
    with pytest.raises(JobError, match=said):
        parse_subject("x", GOOD.replace(old, new))
