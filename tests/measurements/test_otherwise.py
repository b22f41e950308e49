"""Where several edges fit, a report says what each of them would make of the numbers."""

import numpy as np
import pytest
import worlds

from photomeasure.estimation.features import Height, place_features
from photomeasure.estimation.views import estimate_views
from photomeasure.geometry.camera import image_from_plane
from photomeasure.measurements.evaluate import evaluate_measurements
from photomeasure.measurements.otherwise import by_other_edges
from photomeasure.records.feature import Alternative, ImageFeature
from photomeasure.records.job import FeatureEntry, Job, MeasurementEntry, PhotoEntry
from photomeasure.rules.rivals import choice_words

HEIGHT_MM = 6.0


@pytest.fixture(scope="module")
def solution():
    """The view of one photo, close to the true one."""
    seen = worlds.sighting(worlds.looking_down(25.0), np.random.default_rng(3))
    lenses, scales = {"lens": worlds.phone_prior()}, {"window-a4-A": worlds.printer(3e-4)}
    return estimate_views([seen], lenses, scales)[1]


def rim(solution, radius: float) -> np.ndarray:
    turns = np.linspace(0, 2 * np.pi, 60, endpoint=False)
    points = np.array([20.0, -10.0]) + radius * np.column_stack([np.cos(turns), np.sin(turns)])
    return image_from_plane(points, solution.views[0].parameters, HEIGHT_MM)


def told(solution, radii: list[float], unit: str = "mm") -> dict[str, str]:
    """The words on a bore whose first rim was taken and whose others have these radii."""
    px = rim(solution, radii[0])
    others = tuple(
        Alternative(k, "edge", rim(solution, r), r - radii[0])
        for k, r in enumerate(radii[1:], start=2)
    )
    bore = ImageFeature(
        "bore", "circle", "photo", "top", px, np.zeros_like(px), 0.05, 0.03, 0.05,
        alternatives=others,
    )  # fmt: skip
    entry = FeatureEntry("bore", "circle", "photo", "top", ((0.0, 0.0),))
    asked = MeasurementEntry("pilot", "diameter", (("circle", ("bore",)),))
    job = Job("t", (PhotoEntry("photo", "p.jpg"),), (entry,), (asked,))
    features = place_features([bore], solution, {"top": Height(HEIGHT_MM, 0.05)})
    measured = evaluate_measurements(job, features)
    found = by_other_edges(job, features, measured, solution, {"top": HEIGHT_MM})
    return choice_words(features, measured, found, unit)


def test_each_edge_is_told_with_what_it_would_give(solution):
    """The size that was taken, then those of the other rims by the number that `choice` takes."""
    assert told(solution, [12.01, 12.805, 11.0]) == {
        "bore": "“pilot” is 24.02 mm by number 1; it would be about 25.61 mm by number 2, "
        "22.00 mm by number 3."
    }


def test_a_job_in_inches_is_told_in_inches(solution):
    """24.02 and 25.61 mm are 0.946 and 1.008 in."""
    words = told(solution, [12.01, 12.805], "in")["bore"]
    assert "0.946 in by number 1" in words
    assert "1.008 in by number 2" in words


def test_edges_that_make_no_difference_say_so(solution):
    """A rim within the uncertainty needs no choice."""
    assert "stays within its ±" in told(solution, [12.0, 12.01])["bore"]


def test_an_edge_that_has_no_such_shape_is_left_out(solution):
    """Three points in a line make no circle; nothing is told of them, and nothing fails."""
    assert told(solution, [12.0]) == {}
    assert told(solution, [12.0, 0.0]) == {}
