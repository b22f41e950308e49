"""A job's rules judge, others are offered, and what was replaced is told."""

from dataclasses import replace

import numpy as np
import pytest

from photomeasure.errors import JobError
from photomeasure.records.job import Job, MeasurementEntry, Rule
from photomeasure.records.report import Measurement, Quantity, Verdict
from photomeasure.rules import RULES
from photomeasure.rules.judging import claims, decisions, offers, replacements
from photomeasure.rules.library import rule_problems
from photomeasure.rules.offers import rules_about, rules_between


def quantity(name, value, u=0.05, unit="mm", samples=None, primary=True):
    interval = (value - 2 * u, value + 2 * u)
    return Quantity("m", name, unit, value, u, interval, {"edge": u}, primary, samples)


def measured(*quantities):
    return {"m": Measurement("m", "kind", quantities, (), ())}


def job(rules=(), between=(), sizes=(), own=()):
    entry = MeasurementEntry("m", "gap", (), tuple(rules), "", tuple(between), tuple(sizes))
    return Job("t", (), (), (entry,), rules=tuple(own))


OWN = Rule(
    "rubber-hose-to-exhaust", "gap", "mm", "wrapped in tape", "own trial, autumn", "user",
    at_least=30,
)  # fmt: skip


def test_a_multiple_of_a_stated_size():
    """Six times a bore of 12 mm is 72 mm, and the decision says where the 72 comes from."""
    asked = job(["bend-radius-moulded-hose"], sizes=[("hose inside diameter", 12.0)])
    (made,) = decisions(asked, measured(quantity("inside_radius", 80.0)))
    assert (made.rule.at_least, made.rule.unit) == (72.0, "mm")
    assert made.verdict is Verdict.CONFORMS
    assert made.worked_out == (
        "at least 6 × hose inside diameter, with hose inside diameter 12 mm"
    )


def test_a_limit_beyond_a_stated_size():
    """A clamp of 10 mm and 6 mm more want 16 mm."""
    asked = job(["spigot-straight-behind-bead"], sizes=[("clamp width", 10.0)])
    (made,) = decisions(asked, measured(quantity("distance", 15.0)))
    assert made.rule.at_least == 16.0
    assert made.verdict is Verdict.DOES_NOT_CONFORM


def test_both_at_once():
    """Three times 2 mm of sheet beyond a bend radius of 3 mm is 9 mm."""
    asked = job(["hole-to-bend-careful"], sizes=[("thickness", 2.0), ("bend radius", 3.0)])
    (made,) = decisions(asked, measured(quantity("wall", 9.5)))
    assert made.rule.at_least == 9.0


def test_a_size_that_is_missing_is_asked_for_by_name():
    """The message names rule and size, and shows the line to write."""
    with pytest.raises(JobError, match=r'hangs on the span.*sizes = \{ "span" = … \}'):
        decisions(job(["chain-sag"]), measured(quantity("distance", 9.0)))


def test_a_measured_size_brings_its_doubt_along():
    """Paired draws decide the ratio itself: what hole and edge share does not count twice."""
    random = np.random.default_rng(1)
    shared = random.normal(1.0, 0.05, 4000)  # a scale that is 5 % off moves both alike
    edge = quantity("edge_distance", 12.4, 0.6, samples=12.4 * shared)
    hole = quantity("hole_diameter", 10.0, 0.5, samples=10.0 * shared, primary=False)
    (made,) = decisions(job(["edge-distance-structural"]), measured(edge, hole))
    assert made.rule.at_least == pytest.approx(12.0)
    assert made.verdict is Verdict.CONFORMS
    stated = job(["edge-distance-structural"], sizes=[("hole diameter", 10.0)])
    assert decisions(stated, measured(edge, hole))[0].verdict is Verdict.CANNOT_TELL


def test_without_draws_both_doubts_add_up():
    """The wall's u 0.1 and the thickness's u 0.1 count as 0.2 for at least 1 × thickness."""
    wall = quantity("inside_radius", 3.3, 0.1)
    thickness = quantity("thickness", 3.0, 0.1, primary=False)
    (made,) = decisions(job(["bend-inside-radius"]), measured(wall, thickness))
    assert made.probability == pytest.approx(0.9332, abs=1e-4)  # 1.5 standard deviations


def test_a_general_tolerance_gives_the_limits():
    """60 mm within ISO 2768-m is 59.7 to 60.3 mm (± 0.3 from 30 to 120 mm)."""
    own = Rule(
        "width", "distance", "mm", "w", "the drawing", "user", nominal=60, tolerance="ISO 2768-m"
    )
    (made,) = decisions(job(["width"], own=[own]), measured(quantity("distance", 60.1)))
    assert (made.rule.at_least, made.rule.at_most) == (59.7, 60.3)
    assert made.worked_out == "60 mm within ISO 2768-m, which is ±0.3 mm"


def test_an_angle_needs_its_shorter_leg():
    """90° with a leg of 40 mm is 89.5° to 90.5°; without the leg it is asked for."""
    own = Rule("square", "angle", "deg", "w", "s", "user", nominal=90, tolerance="ISO 2768-m")
    right = measured(quantity("angle", 90.1, 0.1, "deg"))
    (made,) = decisions(job(["square"], sizes=[("shorter leg", 40.0)], own=[own]), right)
    assert (made.rule.at_least, made.rule.at_most, made.rule.unit) == (89.5, 90.5, "deg")
    with pytest.raises(JobError, match="the shorter leg"):
        decisions(job(["square"], own=[own]), right)


def test_an_own_rule_replaces_its_namesake_and_says_so():
    """The decision keeps the built-in rule; the report tells value, source and who overrode."""
    made = decisions(job([OWN.name], own=[OWN]), measured(quantity("gap", 40.0)))
    assert made[0].verdict is Verdict.CONFORMS
    assert made[0].replaced is RULES[OWN.name]
    (told,) = replacements(made)
    assert "at least 30 mm (user; own trial, autumn)" in told
    assert "at least 50 mm (practice; common practice, no source)" in told
    assert "binds" not in told


def test_a_law_that_was_replaced_still_binds():
    """Who overrides a law is reminded that it is one."""
    own = replace(OWN, name="exhaust-to-fuel-brake-wiring")
    (told,) = replacements(decisions(job([own.name], own=[own]), measured(quantity("gap", 40))))
    assert told.endswith("It still binds where it is in force.")


@pytest.mark.parametrize(("status", "said"), [("law", True), ("standard", True), ("user", False)])
def test_what_a_job_alone_calls_law_is_questioned(status, said):
    """Its source is repeated as unchecked; a built-in law and a wish of one's own are not."""
    own = replace(OWN, name="mine", status=status, source="the neighbour")
    told = claims(job([own.name], own=[own]))
    assert bool(told) is said
    assert all("called law by" in t or "called standard by" in t for t in told)
    assert all("“the neighbour” says so was not checked" in t for t in told)
    assert claims(job(["exhaust-to-fuel-brake-wiring"])) == ()
    assert claims(job([], own=[own])) == ()


def test_a_rule_without_a_source_is_refused():
    """A blank is no source."""
    assert "names no source" in rule_problems(replace(OWN, source=" "))[0]


def test_rules_for_what_meets_are_offered_and_not_judged():
    """A hose beside an exhaust is offered what fits both, with the verdict it would have."""
    asked, found = job(between=["hose", "exhaust"]), measured(quantity("gap", 20.0))
    assert decisions(asked, found) == ()
    offered = {o.rule.name: o for o in offers(asked, found)}
    assert set(offered) == {
        "rubber-hose-to-exhaust", "hose-to-heat-shield", "exhaust-must-not-burn"
    }  # fmt: skip
    assert offered["rubber-hose-to-exhaust"].decision.verdict is Verdict.DOES_NOT_CONFORM
    assert offered["hose-to-heat-shield"].decision.verdict is Verdict.CONFORMS
    assert offered["exhaust-must-not-burn"].decision is None


def test_only_rules_for_a_number_that_is_there_are_offered():
    """A gap is not offered the rules for a bend radius."""
    names = {o.rule.name for o in offers(job(between=["hose"]), measured(quantity("gap", 9)))}
    assert not any(name.startswith("bend-radius-moulded") for name in names)


def test_an_offer_names_the_size_it_lacks():
    """A bend radius alone cannot be compared with a multiple of the bore."""
    found = offers(job(between=["hose"]), measured(quantity("inside_radius", 60.0)))
    lacking = {o.rule.name: o.missing for o in found if o.missing}
    assert lacking["bend-radius-moulded-hose"] == "the hose inside diameter"


def test_a_job_that_names_its_rules_is_only_offered_advice():
    """Where the job chose, other limits stay out; advice in words still comes."""
    asked = job(["rubber-hose-to-exhaust"], between=["hose", "exhaust"])
    found = offers(asked, measured(quantity("gap", 60.0)))
    assert [o.rule.name for o in found] == ["exhaust-must-not-burn"]


def test_advice_that_a_job_names_is_shown_and_judges_nothing():
    """A rule in words may stand in a job's list and gives no verdict."""
    asked, found = job(["clamp-beyond-the-bead"]), measured(quantity("gap", 1.0))
    assert decisions(asked, found) == ()
    assert [o.rule.name for o in offers(asked, found)] == ["clamp-beyond-the-bead"]


@pytest.mark.parametrize(
    ("things", "name", "fits"),
    [
        (("hose", "exhaust"), "rubber-hose-to-exhaust", True),
        (("exhaust", "hose"), "rubber-hose-to-exhaust", True),
        (("coolant hose", "muffler"), "rubber-hose-to-exhaust", True),
        (("hose", "guard"), "rubber-hose-to-exhaust", False),
        (("brake hose", "exhaust"), "exhaust-to-fuel-brake-wiring", True),
        (("hose", "exhaust"), "exhaust-to-fuel-brake-wiring", False),
        (("tyre", "guard"), "tyre-contact", True),
        (("tire",), "tyre-contact", True),
        (("hand", "guard"), "crush-gap-hand", True),
        (("hand", "guard"), "crush-gap-finger", False),
        (("hose",), "bend-radius-moulded-hose", True),
        (("hose", "exhaust"), "bend-radius-moulded-hose", False),
    ],
)
def test_rules_follow_the_kinds_of_the_things(things, name, fits):
    """Order does not matter, a brake hose is a hose, and other words for a thing serve too."""
    assert (name in [rule.name for rule in rules_between(things)]) is fits


def test_what_binds_stands_first_and_words_last():
    """Offers are ordered by whether they can fail a job, and end with advice."""
    found = rules_between(("brake hose", "exhaust"))
    assert found[0].can_fail
    assert [rule.judges for rule in found] == sorted((r.judges for r in found), reverse=True)


def test_an_own_rule_is_offered_in_place_of_its_namesake():
    """A job that overrides a rule is offered its own limit for the same things."""
    (found,) = [r for r in rules_between(("hose", "exhaust"), [OWN]) if r.name == OWN.name]
    assert found.at_least == 30


def test_rules_are_found_by_words_anywhere_in_them():
    """All words must occur; case does not matter."""
    assert "wire-above-fuel-line" in [rule.name for rule in rules_about("LEAKS wire")]
    assert rules_about("wombat") == ()


def test_a_rule_for_just_these_things_stands_before_one_for_wider_kinds():
    """A hose is wider than a coolant hose, and anything is wider than that."""
    mine = [
        replace(OWN, name=name, between=(things,))
        for name, things in (
            ("for anything", ("anything", "exhaust")),
            ("for hoses", ("exhaust", "hose")),
            ("for these", ("coolant hose", "muffler")),
        )
    ]
    found = [rule.name for rule in rules_between(("muffler", "coolant hose"), mine)]
    assert [name for name in found if name in {rule.name for rule in mine}] == [
        "for these",
        "for hoses",
        "for anything",
    ]
