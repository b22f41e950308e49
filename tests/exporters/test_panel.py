"""What stands beside the picture of a still: all of it, in its place, worst first."""

from dataclasses import replace

import pytest

from photomeasure.exporters.canvas import text_width
from photomeasure.exporters.panel import Area, draw_panel, entries, share_out
from photomeasure.records.report import Verdict

AREA = Area(1308.0, 54.0, 1824.0, 1026.0)
"""The narrowest panel that a still has."""


class _Listener:
    """Takes what is drawn instead of a canvas. texts : (at, words, size)."""

    def __init__(self):
        self.texts, self.badges = [], []

    def text(self, at, words, size, fill, anchor="la"):
        (self.badges if anchor == "mm" else self.texts).append((at, words, size))

    def disc(self, at, radius, fill):
        """A badge is told by its text."""


def _panels(report, measurements):
    """(drawn, entries) of every still that these measurements make."""
    panels = []
    for page in share_out(entries(report, measurements), report, report.pictures[0], AREA):
        drawn = _Listener()
        draw_panel(drawn, page, report, report.pictures[0], AREA)
        panels.append((drawn, page))
    return panels


def _keeps_to_its_area(drawn):
    ys = [y for (_, y), _, _ in drawn.texts]
    steps = [b - a - s for a, b, (_, _, s) in zip(ys, ys[1:], drawn.texts, strict=False)]
    return (
        ys[0] >= AREA.top
        and min(steps) >= 0
        and ys[-1] + drawn.texts[-1][2] <= AREA.bottom
        and all(x + text_width(words, size) <= AREA.right for (x, _), words, size in drawn.texts)
    )


def _said(drawn):
    return " ".join(words for _, words, _ in drawn.texts).replace("\u00a0", " ")


def _with_verdicts(report, count):
    """The first measurement judged by so many rules, from "at least 1 mm" upwards."""
    first, rule = report.measurements[0], report.decisions[0].rule
    made = [
        replace(
            report.decisions[0],
            measurement=first.name,
            quantity=first.primary.name,
            rule=replace(rule, at_least=float(k), at_most=None),
            verdict=Verdict.CONFORMS if k < count else Verdict.DOES_NOT_CONFORM,
        )
        for k in range(1, count + 1)
    ]
    return replace(report, decisions=tuple(made))


def test_every_measurement_verdict_and_caution_is_said_in_its_place(report):
    """On the stills of all measurements nothing is missing, overlaps or leaves the panel."""
    panels = _panels(report, report.measurements)
    assert all(_keeps_to_its_area(drawn) for drawn, _ in panels)
    for drawn, page in panels:
        said = _said(drawn)
        assert "± spans a 95 % interval" in said
        assert "Can hurt: moving parts, lifting." in said
        assert len(drawn.badges) == len(page) <= 3
        for entry in page:
            assert entry.measurement.name in said
            assert all(text in said for text, _ in entry.verdicts)
    told = [e.measurement.name for _, page in panels for e in page]
    assert told == [m.name for m in report.measurements]


def test_no_line_begins_with_the_unit_of_a_number(report):
    """However narrow the panel is, "mm" stands beside its number."""
    for drawn, _ in _panels(_with_verdicts(report, 9), report.measurements[:1]):
        assert not any(words.startswith("mm") for _, words, _ in drawn.texts)


def test_every_verdict_of_a_measurement_is_listed_worst_first(report):
    """Advice that is not met stands with, and before, a rule that is obeyed."""
    judged = [d for d in report.decisions if d.verdict is Verdict.DOES_NOT_CONFORM]
    advice = next(d for d in judged if not d.rule.can_fail)
    rule = next(d for d in report.decisions if d.rule.can_fail)
    name = advice.measurement
    met = replace(rule, measurement=name, quantity=advice.quantity, verdict=Verdict.CONFORMS)
    mixed = replace(report, decisions=(met, advice))
    (entry,) = entries(mixed, [m for m in report.measurements if m.name == name])
    first, second = (text for text, _ in entry.verdicts)
    assert "advice: not met (" in first
    assert "conforms (" in second


def test_a_number_that_is_not_on_the_picture_is_told_with_its_verdict(report):
    """A rule on another quantity than the one asked for names it and gives its value."""
    bolts = report.measurements[1]
    other = next(q for q in bolts.quantities if not q.primary)
    judged = replace(report.decisions[0], measurement=bolts.name, quantity=other.name)
    (entry,) = entries(replace(report, decisions=(judged,)), [bolts])
    assert "±" in entry.verdicts[0][0].split(":")[0]


def test_type_shrinks_before_anything_goes_to_a_further_still(report):
    """Seven verdicts of one number fit one still in smaller type, which stays above 27 px."""
    ((few, _),) = _panels(_with_verdicts(report, 1), report.measurements[:1])
    ((many, page),) = _panels(_with_verdicts(report, 7), report.measurements[:1])
    assert len(page[0].verdicts) == 7
    assert max(s for *_, s in few.texts) == 62
    assert 28 <= min(s for *_, s in many.texts) < 40
    assert _keeps_to_its_area(many)


@pytest.mark.parametrize("count", [20, 60])
def test_too_many_verdicts_go_on_to_further_stills_and_none_is_lost(report, count):
    """All limits are told once, the failed one on the first still, each still in its area."""
    panels = _panels(_with_verdicts(report, count), report.measurements[:1])
    assert len(panels) > 1
    assert all(_keeps_to_its_area(drawn) for drawn, _ in panels)
    told = [text for _, page in panels for e in page for text, _ in e.verdicts]
    expected = [f"conforms (at least {k} mm)" for k in range(1, count)]
    assert told == [f"does not conform (at least {count} mm)", *expected]
    assert all(text in " ".join(_said(drawn) for drawn, _ in panels) for text in told)


def test_the_longest_words_still_leave_room_for_every_verdict(report):
    """Endless title, place and names end in "…", and the verdicts stand whole."""
    endless = "Wheelbarrow-mounted apple mill " * 20
    first = replace(report.measurements[0], name="x" * 400)
    quantities = tuple(replace(q, measurement=first.name) for q in first.quantities)
    named = replace(first, quantities=quantities)
    judged = replace(report.decisions[0], measurement=first.name, quantity=first.primary.name)
    long = replace(
        report,
        job=replace(report.job, title=endless, position=endless),
        measurements=(named,),
        decisions=(judged,),
    )
    ((drawn, page),) = _panels(long, [named])
    assert _keeps_to_its_area(drawn)
    assert _said(drawn).count("…") == 3
    assert page[0].verdicts[0][0] in _said(drawn)
