"""The CSV of a report."""

import csv
import io
from dataclasses import replace

import pytest

from photomeasure.exporters.csv import COLUMNS, render


def _rows(report):
    return list(csv.DictReader(io.StringIO(render(report).decode("utf-8"), newline="")))


def test_one_line_per_quantity_with_its_numbers(report):
    """Every quantity has one line whose numbers are the report's to six digits."""
    rows = _rows(report)
    quantities = [q for m in report.measurements for q in m.quantities]
    assert tuple(rows[0]) == COLUMNS
    assert len(rows) == len(quantities)
    for row, quantity in zip(rows, quantities, strict=True):
        assert (row["measurement"], row["quantity"]) == (quantity.measurement, quantity.name)
        ends = float(row["interval_low"]), float(row["interval_high"])
        assert float(row["value"]) == pytest.approx(quantity.value, rel=1e-5)
        assert float(row["U"]) == pytest.approx(quantity.expanded, rel=1e-5)
        assert ends == pytest.approx(quantity.interval, rel=1e-5)


def test_numbers_carry_no_noise_of_the_computer(report):
    """0.1 + 0.2 in binary is written as anybody would write it, and no zero is negative."""
    first = report.measurements[0]
    noisy = replace(first.primary, value=13.700000000000001, interval=(0.1 + 0.2, -0.0))
    row = _rows(replace(report, measurements=(replace(first, quantities=(noisy,)),), checks=()))[0]
    assert (row["value"], row["interval_low"], row["interval_high"]) == ("13.7", "0.3", "0")


def test_verdicts_stand_beside_the_number_they_judge(report):
    """The judged numbers carry limit and verdict, the others leave them empty."""
    rows = {(r["measurement"], r["quantity"]): r for r in _rows(report)}
    gap = rows["Gap flange to bracket", "gap"]
    assert (gap["limits"], gap["verdicts"]) == ("at least 10 mm", "conforms")
    assert gap["coverage"] == "Monte Carlo"
    assert rows["Drive pin hole", "diameter"]["verdicts"] == ""


def test_a_check_that_disagrees_stands_on_every_line(report):
    """One that agrees stands on the line of the number it checks only."""
    check = next(c for c in report.checks if not c.agrees)
    assert all("they disagree" in row["checks"] for row in _rows(report))
    agreeing = replace(report, checks=(replace(check, e_n=0.4),))
    told = [(r["measurement"], r["quantity"]) for r in _rows(agreeing) if r["checks"]]
    assert told == [(check.entry.measurement, check.quantity)]


def test_a_title_is_not_taken_for_a_formula_and_keeps_its_commas(report):
    """A title that begins like a formula is quoted, and commas and quotes survive."""
    named = replace(report, job=replace(report.job, title='=HYPERLINK("x"), y'))
    assert _rows(named)[0]["job"] == '\'=HYPERLINK("x"), y'


def test_offers_remarks_and_cautions_are_in_the_table(report):
    """Offered rules stand beside the number they are about, and what can hurt on every line."""
    rows = {(r["measurement"], r["quantity"]): r for r in _rows(report)}
    gap = rows["Gap flange to bracket", "gap"]
    assert gap["offered"].startswith("hose-to-muffler: advice: not met; six-diameters: state")
    assert gap["remarks"].startswith("Narrowest at the left end")
    assert {row["cautions"] for row in rows.values()} == {"moving parts, lifting"}
