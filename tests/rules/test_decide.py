"""Verdicts follow the probability of conformity, and advice names what would settle them."""

import numpy as np
import pytest

from photomeasure.errors import JobError
from photomeasure.records.job import Rule
from photomeasure.records.report import Measurement, Quantity, Verdict
from photomeasure.rules import RULES
from photomeasure.rules.decide import decide, find_rule, judged_quantity


def rule(**given):
    facts = {"name": "r", "quantity": "gap", "unit": "mm", "why": "w", "source": "s"}
    return Rule(**{**facts, "status": "user", **given})


def quantity(value, budget, unit="mm", samples=None):
    u = float(np.sqrt(sum(part**2 for part in budget.values())))
    interval = (value - 2 * u, value + 2 * u)
    return Quantity("m", "gap", unit, value, u, interval, budget, True, samples)


@pytest.mark.parametrize(
    ("value", "verdict"),
    [
        (10.17, Verdict.CONFORMS),
        (10.16, Verdict.CANNOT_TELL),
        (10.0, Verdict.CANNOT_TELL),
        (9.84, Verdict.CANNOT_TELL),
        (9.83, Verdict.DOES_NOT_CONFORM),
    ],
)
def test_the_guard_band_is_1_645_u_on_both_sides(value, verdict):
    """With u 0.1 mm a lower limit of 10 is told beyond ±0.1645 mm and not within."""
    assert decide(rule(at_least=10), quantity(value, {"height": 0.1})).verdict is verdict


def test_an_upper_limit_mirrors_a_lower_one():
    """At most 10 judges 9.8 as at least 10 judges 10.2."""
    assert decide(rule(at_most=10), quantity(9.8, {"a": 0.1})).verdict is Verdict.CONFORMS
    assert decide(rule(at_most=10), quantity(10.2, {"a": 0.1})).verdict is Verdict.DOES_NOT_CONFORM


def test_limits_closer_than_the_uncertainty_cannot_be_told():
    """A window narrower than the spread holds no value with 95 %."""
    decision = decide(rule(at_least=9.9, at_most=10.1), quantity(10, {"a": 0.1}))
    assert decision.verdict is Verdict.CANNOT_TELL
    assert decision.probability == pytest.approx(0.6827, abs=1e-4)


def test_samples_outrank_the_gaussian():
    """Where draws are given, their share within the limit decides."""
    samples = np.concatenate([np.full(97, 11.0), np.full(3, 5.0)])
    decision = decide(rule(at_least=10), quantity(10.8, {"a": 1.0}, samples=samples))
    assert decision.probability == 0.97
    assert decision.verdict is Verdict.CONFORMS


def test_a_rule_in_inches_judges_millimetres():
    """A limit of 1/2 in is 12.7 mm."""
    half_inch = rule(at_least=0.5, unit="in")
    assert decide(half_inch, quantity(12.8, {"a": 0.01})).verdict is Verdict.CONFORMS
    assert decide(half_inch, quantity(12.6, {"a": 0.01})).verdict is Verdict.DOES_NOT_CONFORM
    assert "at least 0.5 in" in decide(half_inch, quantity(12.8, {"a": 0.01})).reason


@pytest.mark.parametrize(("unit", "of"), [("deg", "mm"), ("mm", "deg"), ("in", "deg")])
def test_a_rule_in_the_wrong_unit_is_refused(unit, of):
    """Degrees against millimetres raise JobError with rule, quantity and remedy."""
    with pytest.raises(JobError, match=r"Rule 'r' is in .*'gap' of measurement 'm'.*Give"):
        decide(rule(at_least=1, unit=unit), quantity(1, {"a": 0.1}, unit=of))


def test_a_rule_for_another_quantity_is_refused():
    """A rule on a diameter cannot judge a gap, and the message lists what there is."""
    measured = Measurement("m", "gap", (quantity(1, {"a": 0.1}),), (), ())
    assert judged_quantity(rule(at_least=1), measured).value == 1
    with pytest.raises(JobError, match=r"judges 'diameter'.*gives gap"):
        judged_quantity(rule(at_least=1, quantity="diameter"), measured)


def test_what_would_settle_it_does_settle_it():
    """When the source named shrinks as advised, the same value conforms, just."""
    budget = {"height of plane 'flange'": 0.25, "camera": 0.08, "print": 0.05}
    limit = rule(at_least=15)
    decision = decide(limit, quantity(15.3, budget))
    assert decision.verdict is Verdict.CANNOT_TELL
    assert "Height of plane 'flange' carries 88 % of the doubt" in decision.settle
    assert "from ± 0.5 to ± 0.3 mm" in decision.settle
    better = {**budget, "height of plane 'flange'": 0.155}
    assert decide(limit, quantity(15.3, better)).verdict is Verdict.CONFORMS


def test_a_job_in_inches_is_told_in_inches_with_the_mm_in_brackets():
    """Both texts of a decision speak the job's unit; an angle has only one."""
    told = decide(rule(at_least=10), quantity(10.1, {"plane height": 0.1}), "in")
    assert told.reason.startswith("0.398 ± 0.008 in (10.10 ± 0.20 mm) against at least")
    assert "from ± 0.008 to ± 0.005 in (± 0.20 to ± 0.12 mm)" in told.settle
    assert "against at least 10 mm (0.3937 in): " in told.reason
    angle = decide(rule(at_least=1, unit="deg"), quantity(1.1, {"a": 0.1}, "deg"), "in")
    assert angle.reason.startswith("1.10° ± 0.20° against at least 1°")
    assert "from ± 0.20 to ± 0.12°" in angle.settle


def test_every_source_of_a_photo_comes_with_what_to_do():
    """Each source named says what makes it smaller; one with no remedy ends plainly."""
    told = decide(rule(at_least=15), quantity(15.1, {"plane height": 0.1, "lens": 0.09})).settle
    assert "Plane height: measure the height of that face with a caliper" in told
    assert "Lens: use a camera record" in told
    alone = decide(rule(at_least=15), quantity(15.1, {"hand reading": 0.1})).settle
    assert alone.endswith("times as close).")


def test_two_sources_are_named_when_one_is_not_enough():
    """Where the largest source alone cannot settle it, the next is named too."""
    decision = decide(rule(at_least=15), quantity(15.1, {"a": 0.1, "b": 0.09, "c": 0.01}))
    assert decision.settle.startswith("A and b together carry")


def test_a_value_on_the_limit_sends_to_the_feeler_gauge():
    """No sharper photo settles a value that lies on its limit."""
    assert "feeler" in decide(rule(at_least=15), quantity(15.001, {"a": 0.2})).settle


def test_a_told_verdict_needs_no_advice():
    """What is decided has nothing left to settle."""
    assert decide(rule(at_least=10), quantity(20, {"a": 0.1})).settle == ""


def test_a_jobs_own_rule_comes_before_the_library():
    """A job's rule of a library rule's name is used; unknown names are refused with a hint."""
    own = rule(name="crush-gap-hand", at_least=120)
    assert find_rule("crush-gap-hand", (own,)) is own
    assert find_rule("crush-gap-hand") is RULES["crush-gap-hand"]
    with pytest.raises(JobError, match='Did you mean "crush-gap-hand"'):
        find_rule("crush-gap-hands")
