"""Every rule that ships is well formed and honest about where it comes from."""

import pytest

from photomeasure.errors import JobError
from photomeasure.measurements import MEASUREMENTS
from photomeasure.records.shapes import Circle, Edge
from photomeasure.rules import RULES
from photomeasure.rules.library import parse_rules

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
    assert len(RULES) >= 10
    for rule in RULES:
        assert rule.condition, rule.name
        assert rule.why, rule.name
        assert rule.source, rule.name


def test_practice_without_a_source_only_advises():
    """A rule said to be common practice can never fail a job."""
    unsourced = [rule for rule in RULES if "no source" in rule.source]
    assert unsourced
    assert not any(rule.can_fail for rule in unsourced)


def test_every_rule_judges_an_output_that_some_kind_has():
    """A rule for a quantity that nothing measures would be dead."""
    edge, hole = Edge, Circle
    features = {
        "a": (), "b": (), "circle": (), "holes": (hole, hole, hole), "edge_a": (edge,),
    }  # fmt: skip
    outputs = {o.name: o.unit for kind in MEASUREMENTS for o in kind.outputs(features)}
    for rule in RULES:
        assert (outputs[rule.quantity] == "deg") == (rule.unit == "deg"), rule.name


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
    ],
)
def test_a_malformed_rule_is_refused_in_words(old, new, said):
    """Wrong unit, status, limit, key, type and syntax raise JobError and say which."""
    assert parse_rules(GOOD)[0].at_least == 1
    with pytest.raises(JobError, match=said):
        parse_rules(GOOD.replace(old, new))
