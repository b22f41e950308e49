"""What a bad photo, a bad touch or an unread bar costs: what needs it, and nothing else."""

import csv
import io
from dataclasses import replace

import numpy as np
import pytest
import worlds

from photomeasure import cli, pipeline
from photomeasure.errors import PhotoError
from photomeasure.exporters import EXPORTERS, words
from photomeasure.exporters.text import render_table
from photomeasure.records.job import PhotoEntry, ReadingEntry, Rule
from photomeasure.records.report import Verdict

SCENE = worlds.flange_scene(0.5)
RULE = Rule("room", "gap", "mm", "They would touch.", "the maker", "user", at_least=1.0)
BARE = replace(worlds.photo(0.5), pixels=np.full_like(worlds.photo(0.5).pixels, 120))


def two_photos(**changes):
    """The flange's job with the bore in a second photo, and a rule for the gap."""
    job = worlds.flange_job(SCENE)
    features = (replace(job.features[0], photo="side"), *job.features[1:])
    slot = replace(job.measurements[0], rules=("room",))
    return replace(
        job,
        photos=(*job.photos, PhotoEntry("side", "side.jpg")),
        features=features,
        measurements=(slot, *job.measurements[1:]),
        rules=(RULE,),
        **changes,
    )


def without_sheet(entry):
    return BARE if entry.name == "side" else worlds.photo(0.5)


def unreadable(entry):
    if entry.name == "side":
        raise PhotoError("side.jpg: the picture is damaged or cut short. Copy it again.")
    return worlds.photo(0.5)


@pytest.fixture(scope="module")
def partial_report():
    return pipeline.measure(two_photos(), without_sheet)


def test_the_numbers_of_the_good_photo_are_those_it_gives_alone(partial_report):
    """A photo that tells nothing changes nothing: same digits as a job without it."""
    whole = pipeline.measure(worlds.flange_job(SCENE), lambda entry: worlds.photo(0.5))
    alone = {m.name: m.primary for m in whole.measurements}
    assert [m.name for m in partial_report.measurements] == ["slot", "bolts"]
    for measured in partial_report.measurements:
        assert measured.primary.value == pytest.approx(alone[measured.name].value, abs=1e-9)
        assert measured.primary.u == pytest.approx(alone[measured.name].u, rel=1e-6)


def test_what_is_missing_is_said_with_its_reason_in_every_output(partial_report):
    """The sheet that was not found, the remedy, the measurement that it cost; never "conforms"."""
    (missing,) = partial_report.missing
    assert missing.measurements == ("bore",)
    assert "side: no scale sheet or card was found (0 markers seen" in missing.words
    assert missing.words.endswith("Put the print fully into the picture, in focus.")
    assert words.overall(partial_report) is Verdict.CANNOT_TELL
    assert cli.exit_code(partial_report) == 4
    table = " ".join(render_table(partial_report).split())
    page = EXPORTERS["html"].render(partial_report).decode()
    assert "1 rule judged: 1 conforms. Not measured: bore." in table
    assert f"bore: {missing.words}" in table
    for text in ("<h2>Not measured</h2>", "<b>bore.</b> side: no scale sheet"):
        assert text in page
    rows = list(csv.DictReader(io.StringIO(EXPORTERS["csv"].render(partial_report).decode())))
    (lost,) = [row for row in rows if row["measurement"] == "bore"]
    assert (lost["source"], lost["value"]) == ("not measured", "")
    assert lost["remarks"] == missing.words


def test_a_photo_that_cannot_be_read_costs_no_more():
    """Damaged instead of bare: the same numbers are left, and its own words are said."""
    report = pipeline.measure(two_photos(), unreadable)
    assert [m.name for m in report.measurements] == ["slot", "bolts"]
    assert [(m.words[:9], m.measurements) for m in report.missing] == [("side.jpg:", ("bore",))]


def test_a_touch_that_finds_nothing_costs_what_needs_it():
    """An edge clicked on bare paper: the gap is missing, bore and bolts stand."""
    job = worlds.flange_job(SCENE)
    features = tuple(
        replace(f, clicks_px=((10.0, 10.0), (12.0, 10.0))) if f.name == "lower" else f
        for f in job.features
    )
    report = pipeline.measure(replace(job, features=features), lambda entry: worlds.photo(0.5))
    assert [m.name for m in report.measurements] == ["bore", "bolts"]
    (missing,) = report.missing
    assert missing.measurements == ("slot",)
    assert "lower" in missing.words


def test_readings_by_hand_outlive_every_photo():
    """No photo can be used: what was read by hand is still judged."""
    read = ReadingEntry("behind", "gap", 13.4, 0.3, rules=("room",))
    job = worlds.flange_job(SCENE, readings=(read,), rules=(RULE,))
    report = pipeline.measure(job, lambda entry: BARE)
    assert [m.name for m in report.measurements] == ["behind"]
    assert report.lost == ("slot", "bore", "bolts")
    assert b"Not measured" in EXPORTERS["html"].render(report)


def test_where_nothing_is_left_the_job_is_refused():
    """One photo, no sheet: its own error, as it always was."""
    with pytest.raises(PhotoError, match="no scale sheet"):
        pipeline.measure(worlds.flange_job(SCENE), lambda entry: BARE)


def test_doubts_of_the_card_stand_in_table_page_and_json():
    """Unread bars and a face taken as on the paper, beside the numbers that they weaken."""
    job = worlds.flange_job(SCENE, prints=())
    features = tuple(replace(f, plane="sheet") if f.name == "bore" else f for f in job.features)
    report = pipeline.measure(replace(job, features=features), lambda entry: worlds.photo(0.5))
    table = " ".join(render_table(report).split())
    assert "slot, bore, bolts: Print not checked. The two check bars of window-a4-A" in table
    assert "bore: Taken as flat on the paper. bore: as if on the paper itself." in table
    page = EXPORTERS["html"].render(report).decode()
    assert page.count("<b>Print not checked.</b>") == 3
    assert page.count("<b>Taken as flat on the paper.</b>") == 1
    rows = list(csv.DictReader(io.StringIO(EXPORTERS["csv"].render(report).decode())))
    assert rows[0]["doubts"] == "Print not checked."
