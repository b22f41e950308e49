"""A number read by hand is marked as such wherever it shows."""

import csv
import io
import json
from dataclasses import replace

import pytest

from photomeasure.exporters import EXPORTERS
from photomeasure.exporters.text import render_table
from photomeasure.measurements.readings import read_by_hand
from photomeasure.records.job import ReadingEntry, Rule
from photomeasure.records.report import Report
from photomeasure.rules.judging import decisions

MARK = "read by hand with feeler gauge"
RULE = Rule("chain-room", "gap", "mm", "It whips.", "own", "user", at_least=10.0)
READING = ReadingEntry(
    "gap behind the guard", "gap", 11.3, 0.2, "mm", "feeler gauge", (RULE.name,), "cover off"
)


@pytest.fixture(scope="module")
def with_reading(report: Report) -> Report:
    """The made-up report with one more number, read by hand and judged."""
    job = replace(report.job, rules=(*report.job.rules, RULE), readings=(READING,))
    read = read_by_hand(job)
    alone = replace(job, measurements=())
    made = decisions(alone, {m.name: m for m in read})
    return replace(
        report,
        job=job,
        measurements=(*report.measurements, *read),
        decisions=(*report.decisions, *made),
    )


def test_the_table_marks_it(with_reading):
    """On the terminal the mark stands in the line of the number."""
    text = " ".join(render_table(with_reading, 200).split())
    assert f"gap behind the guard ({MARK}) 11.30 ± 0.20 mm" in text


def test_the_page_marks_it_beside_verdict_and_number(with_reading):
    """In the page: beside the verdict, over the number, and with the reason of the decision."""
    page = EXPORTERS["html"].render(with_reading).decode()
    assert page.count(f"({MARK})") >= 1
    assert f"gap, {MARK}" in page
    assert "Read by hand with feeler gauge. 11.30" in page
    assert "cover off" in page


def test_json_and_csv_carry_the_instrument(with_reading):
    """Number and decision name the instrument; numbers of photos name none."""
    document = json.loads(EXPORTERS["json"].render(with_reading))
    assert [m["instrument"] for m in document["measurements"]][-2:] == ["", "feeler gauge"]
    assert document["decisions"][-1]["instrument"] == "feeler gauge"
    assert document["measurements"][-1]["quantities"][0]["budget"] == {"hand reading": 0.1}
    rows = list(csv.DictReader(io.StringIO(EXPORTERS["csv"].render(with_reading).decode())))
    assert [row["source"] for row in rows][-2:] == ["photo", MARK]


def test_the_report_without_readings_says_nothing_of_hands(report):
    """No mark where nothing was read by hand."""
    assert "by hand" not in render_table(report, 200)
