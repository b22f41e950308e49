"""A number read by hand stands as it was written, is judged, and is marked everywhere."""

import pytest

from photomeasure.errors import JobError
from photomeasure.files.job_writer import job_text
from photomeasure.files.jobs import parse_job, read_job
from photomeasure.measurements.readings import read_by_hand
from photomeasure.records.job import Job, PhotoEntry, ReadingEntry, Rule
from photomeasure.records.report import Verdict
from photomeasure.rules.judging import decisions

RULE = Rule("clear of the chain", "gap", "mm", "It whips.", "own", "user", at_least=10.0)
READING = ReadingEntry(
    "gap behind the guard", "gap", 11.3, 0.4, "mm", "clay slice", (RULE.name,), "by candle light"
)
TEXT = """
title = "t"
[[photos]]
name = "p"
file = "p.jpg"
[[readings]]
name = "gap behind the guard"
quantity = "gap"
value = "7/16 in"
plus_minus = 0.05
instrument = "feeler gauge"
"""


def job(*readings: ReadingEntry) -> Job:
    return Job("t", (PhotoEntry("p", "p.jpg"),), (), (), rules=(RULE,), readings=readings)


def test_a_reading_keeps_its_value_and_its_own_uncertainty():
    """± 0.4 at 95 % is u = 0.2, from one source, and no drawing."""
    (found,) = read_by_hand(job(READING))
    assert found.primary.value == 11.3
    assert found.primary.u == pytest.approx(0.2)
    assert found.primary.interval == pytest.approx((10.9, 11.7))
    assert found.primary.budget == {"hand reading": pytest.approx(0.2)}
    assert (found.instrument, found.drawing) == ("clay slice", ())


def test_a_reading_is_judged_and_the_reason_says_how_it_was_read():
    """11.3 ± 0.4 against at least 10 conforms, read by hand."""
    measured = {m.name: m for m in read_by_hand(job(READING))}
    (made,) = decisions(job(READING), measured)
    assert made.verdict is Verdict.CONFORMS
    assert made.reason.startswith("Read by hand with clay slice.")


def test_a_reading_is_read_from_the_file_and_written_back():
    """A fraction of an inch becomes mm; the job survives a round trip."""
    read = parse_job(TEXT)
    (entry,) = read.readings
    assert (entry.value, entry.instrument) == (pytest.approx(11.1125), "feeler gauge")
    assert parse_job(job_text(read)) == read


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ("plus_minus = 0.05", "", '"plus_minus" is missing'),
        ('quantity = "gap"', 'quantity = "gap"\nunit = "deg"', "plain number of degrees"),
        ('quantity = "gap"', 'quantity = "gap"\nunit = "in"', "not known"),
        ('instrument = "feeler gauge"', 'rules = ["none"]', 'no rule called "none"'),
        (
            "[[readings]]",
            '[[features]]\nname = "e"\nkind = "edge"\nphoto = "p"\nclicks = [[1, 1], [9, 9]]\n'
            '[[measurements]]\nname = "gap behind the guard"\nkind = "edge_length"\n'
            'of = { edge = "e" }\n[[readings]]',
            "Names must differ",
        ),
    ],
)
def test_a_faulty_reading_is_refused_in_words(tmp_path, old, new, words):
    """A missing ±, a fraction of a degree, an unknown rule, a name given twice."""
    (tmp_path / "job.toml").write_text(TEXT.replace(old, new))
    with pytest.raises(JobError, match=words):
        read_job(tmp_path / "job.toml", ())
