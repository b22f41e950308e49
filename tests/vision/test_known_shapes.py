"""A thing of known size gives the scale where no sheet lies, with the U that it deserves."""

import numpy as np
import pytest
import worlds
from benches import HOLES, THICK_MM, corners, rectangle, scene

from photomeasure import pipeline
from photomeasure.errors import PhotoError, PhotomeasureError
from photomeasure.files.job_writer import job_text
from photomeasure.files.jobs import parse_job
from photomeasure.records.job import (
    FeatureEntry,
    Job,
    MeasurementEntry,
    PhotoEntry,
    ScaleEntry,
)
from photomeasure.synthetic.scene import Hole
from photomeasure.synthetic.taking import photo_of
from photomeasure.vision.sheets.known import KNOWN

APART_MM = float(np.hypot(75.0, 4.0))


def measured(taken, *scales):
    """The distance of the holes, and the report."""
    features = tuple(
        FeatureEntry(
            name,
            "circle",
            "photo",
            "sheet",
            worlds.clicks(taken, worlds.rim(Hole(name, centre, 5.0), 3), THICK_MM),
        )
        for name, centre in HOLES
    )
    job = Job(
        title="Shim",
        photos=(PhotoEntry("photo", "photo.jpg"),),
        features=features,
        measurements=(
            MeasurementEntry("spacing", "distance", (("a", ("left",)), ("b", ("right",)))),
        ),
        scales=scales,
    )
    assert parse_job(job_text(job)) == job
    report = pipeline.measure(job, lambda entry: photo_of(taken))
    return report.measurements[0].primary, report


@pytest.mark.parametrize("turned", [False, True])
def test_a_bank_card_gives_the_scale(turned):
    """ISO/IEC 7810 ID-1 (85.60 × 53.98 mm, corners 3.18 mm): 75.1 mm beside it within U."""
    width, height = (53.98, 85.60) if turned else (85.60, 53.98)
    taken = scene(rectangle(width, height, 3.18, (0.0, 45.0 if not turned else 40.0)))
    clicks = corners(taken, width, height, (0.0, 45.0 if not turned else 40.0))
    spacing, report = measured(taken, ScaleEntry("photo", "bank card", clicks))
    assert abs(spacing.value - APART_MM) < spacing.expanded
    assert 0.1 < spacing.expanded < 1.5
    assert any("bank card" in w and "not from a printed sheet" in w for w in report.warnings)


def test_corners_may_be_named_from_any_and_either_way():
    """The same number whichever corner is first and whichever way round they go."""
    taken = scene(rectangle(85.60, 53.98, 3.18))
    clicks = corners(taken, 85.60, 53.98)
    numbers = [
        measured(taken, ScaleEntry("photo", "bank card", order))[0].value
        for order in (clicks, clicks[2:] + clicks[:2], clicks[1:] + clicks[:1], clicks[::-1])
    ]
    assert np.ptp(numbers) < 0.02


def test_a_paper_sheet_and_a_measured_rectangle():
    """A6 by ISO 216 (105 × 148 mm) has a wide U; the same sheet measured has a narrow one."""
    taken = scene(rectangle(148.0, 105.0, 0.5, (0.0, 50.0)), distance_mm=400.0)
    clicks = corners(taken, 148.0, 105.0, (0.0, 50.0))
    paper, _ = measured(taken, ScaleEntry("photo", "A6", clicks))
    stated = ScaleEntry("photo", "rectangle", clicks, 148.0, 105.0, None, 0.1)
    known, _ = measured(taken, stated)
    for spacing in (paper, known):
        assert abs(spacing.value - APART_MM) < spacing.expanded
    assert known.expanded < 0.7 * paper.expanded


def test_one_known_distance_states_its_assumption():
    """A hole spacing gives the scale; U holds the unseen tilt, and a warning says so."""
    taken = scene(rectangle(85.60, 53.98, 3.18), tilt_deg=8.0)
    ends = worlds.clicks(taken, np.array([c for _, c in HOLES]), THICK_MM)
    scale = ScaleEntry("photo", "distance", ends, None, None, APART_MM, 0.1, "circle")
    spacing, report = measured(taken, scale)
    assert spacing.value == pytest.approx(APART_MM, abs=0.3)
    assert 0.03 < spacing.expanded / APART_MM < 0.08
    assert any("square-on within ± 20° is assumed" in w for w in report.warnings)


def test_a_wrong_thing_is_noticed():
    """A rectangle of another shape than a bank card is not taken for one in silence."""
    taken = scene(rectangle(85.60, 46.0, 3.18), tilt_deg=5.0)
    clicks = corners(taken, 85.60, 46.0)
    with pytest.raises(PhotomeasureError, match=r"Is it what was named|does not fit"):
        measured(taken, ScaleEntry("photo", "bank card", clicks))


def test_corners_where_no_edges_are_say_what_to_do():
    """Clicks on the bare bench are refused with the remedy."""
    taken = scene(rectangle(85.60, 53.98, 3.18))
    nowhere = ((100, 150), (420, 150), (420, 330), (100, 330))
    with pytest.raises(PhotoError, match="Point at its corners in turn"):
        measured(taken, ScaleEntry("photo", "bank card", nowhere))


def test_sizes_are_those_of_the_standards():
    """ISO/IEC 7810:2019 ID-1; ISO 216:2007 A series, each half of the one before (1 mm down)."""
    assert KNOWN["bank card"].sides_mm == (85.60, 53.98)
    assert KNOWN["A4"].sides_mm == (297.0, 210.0)
    for larger, smaller in (("A3", "A4"), ("A4", "A5"), ("A5", "A6")):
        long, short = KNOWN[larger].sides_mm
        assert KNOWN[smaller].sides_mm == (short, long // 2)
    assert KNOWN["letter"].sides_mm == (pytest.approx(11 * 25.4), pytest.approx(8.5 * 25.4))
