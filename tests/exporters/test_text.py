"""The table on the terminal."""

from dataclasses import replace

import pytest

from photomeasure.exporters.text import render_table
from photomeasure.exporters.words import verdict_words

RULE = "gap-to-bracket: at least 10 mm"


def _table_lines(text):
    lines = text.splitlines()
    rule = next(k for k, line in enumerate(lines) if line.startswith("-----"))
    end = lines.index("", rule)
    return lines[rule - 1], lines[rule + 1 : end]


@pytest.mark.parametrize("width", [40, 60, 80, 140])
def test_no_line_is_wider_than_the_terminal(report, width):
    """Long names and remarks are wrapped, not cut, at any width."""
    text = render_table(report, width)
    assert max(len(line) for line in text.splitlines()) <= width
    assert "unplug" in text


def test_columns_are_aligned(report):
    """Every value begins in the column of its heading."""
    head, rows = _table_lines(render_table(report, 120))
    for heading, cell in (("Value", "11.13 ± 0.06 mm"), ("Rule", RULE)):
        assert rows[0].index(cell) == head.index(heading)


def test_every_verdict_names_its_rule(report):
    """Of several verdicts on one number each says which rule it is of, and so does its remedy."""
    text = render_table(report, 200)
    for decision in report.decisions:
        (line,) = [x for x in text.splitlines() if f"{decision.rule.name}: " in x and " (" in x]
        assert verdict_words(decision) in line
    for decision in report.decisions:
        if decision.verdict.value == "cannot tell":
            assert f"{decision.measurement}, {decision.rule.name}: " in text


def test_verdict_words_stand_without_colour(report):
    """Each verdict is a word, advice says that it is advice, and no escape codes appear."""
    text = render_table(report, 120)
    for words in ("conforms", "does not conform", "cannot tell", "advice: not met", "not judged"):
        assert words in text
    assert "\x1b" not in text


def test_a_disagreeing_check_stands_before_the_table(report):
    """The caliper's disagreement is read before any number."""
    text = render_table(report, 120)
    assert text.index("CHECK DISAGREES") < text.index("Measured")


def test_an_inch_job_reads_in_inches(report):
    """A job in inches shows lengths in inches and angles in degrees."""
    text = render_table(replace(report, job=replace(report.job, unit="in")), 120)
    assert "0.4381 ± 0.0022 in" in text
    assert "2.10° ± 0.12°" in text


def test_offers_and_advice_are_listed_apart_from_verdicts(report):
    """Offered rules are said to be unjudged, and each advice stands once."""
    text = " ".join(render_table(report).split())
    assert "Offered for hose and exhaust, not judged (Gap flange to bracket)" in text
    assert "hose-to-muffler, at least 50 mm (practice): advice: not met" in text
    assert text.count("The clamp sits beyond the bead.") == 1
    assert "3 rules judged" in text
