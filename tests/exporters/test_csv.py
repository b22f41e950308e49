"""The CSV of a report."""

import csv
import io
from dataclasses import replace

from photomeasure.exporters.csv import COLUMNS, render


def _rows(report):
    return list(csv.DictReader(io.StringIO(render(report).decode("utf-8"), newline="")))


def test_one_line_per_quantity_with_its_numbers(report):
    """Every quantity has one line whose numbers parse to the report's."""
    rows = _rows(report)
    quantities = [q for m in report.measurements for q in m.quantities]
    assert tuple(rows[0]) == COLUMNS
    assert len(rows) == len(quantities)
    for row, quantity in zip(rows, quantities, strict=True):
        assert (row["measurement"], row["quantity"]) == (quantity.measurement, quantity.name)
        assert float(row["value"]) == quantity.value
        assert float(row["U"]) == quantity.expanded
        assert (float(row["interval_low"]), float(row["interval_high"])) == quantity.interval


def test_verdicts_stand_beside_the_number_they_judge(report):
    """The judged numbers carry limit and verdict, the others leave them empty."""
    rows = {(r["measurement"], r["quantity"]): r for r in _rows(report)}
    gap = rows["Gap flange to bracket", "gap"]
    assert (gap["limits"], gap["verdicts"]) == ("at least 10 mm", "conforms")
    assert gap["coverage"] == "Monte Carlo"
    assert rows["Drive pin hole", "diameter"]["verdicts"] == ""


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
