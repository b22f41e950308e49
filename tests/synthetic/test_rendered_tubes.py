"""Rendered tubes stand where they are said to, and the whole line measures them."""

from dataclasses import replace

import numpy as np
import pytest
import worlds

from photomeasure import pipeline
from photomeasure.records.job import FeatureEntry, MeasurementEntry, PlaneEntry, ReadingEntry
from photomeasure.synthetic.tubes import RoundBody, _in_sight, photo_of_tubes, render_tubes

FLANGE = worlds.flange_scene(0.5)
SCENE = replace(FLANGE, parts=())
HOSE = RoundBody(np.array([[-40.0, -50.0], [35.0, -30.0]]), 13.0, 11.0, 0.12, 0.3)
PIPE = RoundBody(np.array([[-30.0, 20.0], [30.0, 60.0]]), 7.0, 7.0, 0.35)


def entry(name: str, body: RoundBody) -> FeatureEntry:
    """Two clicks along either silhouette, to the nearest px."""
    lines = [body.line(n, 101) for n in body.normals(np.array(_in_sight(SCENE, body)))]
    places = np.vstack([line[[10, 90]] for line in lines])
    px = np.round(SCENE.image_from_space(places))
    clicks = tuple((float(x), float(y)) for x, y in px)
    return FeatureEntry(name, "tube", "photo", f"axis of the {name}", clicks)


@pytest.fixture(scope="module")
def report():
    """A hose and a pipe on the sheet, measured from one photo."""
    measurements = (
        MeasurementEntry("hose", "outside_diameter", (("tube", ("hose",)),)),
        MeasurementEntry("pipe", "outside_diameter", (("tube", ("pipe",)),)),
        MeasurementEntry("angle", "angle", (("edge_a", ("hose",)), ("edge_b", ("pipe",)))),
    )
    bodies = {"hose": HOSE, "pipe": PIPE}
    job = worlds.flange_job(
        FLANGE,
        features=tuple(entry(name, body) for name, body in bodies.items()),
        measurements=measurements,
        planes=tuple(
            PlaneEntry(f"axis of the {name}", body.height_mm, 0.5) for name, body in bodies.items()
        ),
    )
    photo = photo_of_tubes(SCENE, (HOSE, PIPE))
    return pipeline.measure(job, lambda entry: photo)


def test_diameters_and_angle_of_rendered_tubes(report):
    """22 and 14 mm and the angle between the axes, within their own intervals and the goals."""
    hose, pipe, angle = (m.primary for m in report.measurements)
    ways = [np.diff(body.axis_mm, axis=0)[0] for body in (HOSE, PIPE)]
    turns = [np.degrees(np.arctan2(way[1], way[0])) for way in ways]
    for quantity, truth, limit in (
        (hose, 22.0, 0.25),
        (pipe, 14.0, 0.25),
        (angle, turns[1] - turns[0], 0.2),
    ):
        low, high = quantity.interval
        assert low < truth < high
        assert abs(quantity.value - truth) < limit


def test_a_tube_casts_its_shadow_on_the_paper_only():
    """The paper beside a tube is darker than without it on the side away from the lamp, and the
    tube itself has its own light."""
    darker = render_tubes(SCENE, ()) - render_tubes(SCENE, (PIPE,))
    assert darker.max() > 0.3
    assert np.mean(np.abs(darker) > 1e-6) < 0.2


def test_a_job_of_readings_alone_is_a_job():
    """Numbers read by hand need no feature: the report holds them and their verdicts."""
    reading = ReadingEntry("gap behind the guard", "gap", 3.0, 0.1, instrument="feeler gauge")
    job = worlds.flange_job(FLANGE, features=(), measurements=(), readings=(reading,))
    found = pipeline.measure(job, lambda entry: worlds.photo(0.5))
    assert [m.instrument for m in found.measurements] == ["feeler gauge"]
