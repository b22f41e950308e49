"""A kind's formula at the features' values, with the covariance carried through."""

import numpy as np
import pytest

from photomeasure.errors import GeometryError, JobError
from photomeasure.measurements.evaluate import check_measurements, evaluate_measurements
from photomeasure.records.feature import Feature, Features, ImageFeature
from photomeasure.records.job import FeatureEntry, Job, MeasurementEntry, PhotoEntry
from photomeasure.records.shapes import Circle, Edge, Point

A, B, C = Point(np.zeros(2)), Point(np.array([30.0, 40.0])), Point(np.array([60.0, 80.0]))


def features(shapes: dict, covariances: dict | None = None) -> Features:
    """Features of one plane with these shapes; 0.01 mm of independent noise by default."""
    made, start = [], 0
    for name, shape in shapes.items():
        kind = type(shape).__name__.lower()
        empty = np.empty((0, 2))
        image = ImageFeature(name, kind, "p", "sheet", empty, empty, 0.0, 0.0, 0.0)
        made.append(Feature(name, kind, "p", "sheet", shape, image, start))
        start += len(shape.numbers)
    values = np.concatenate([f.shape.numbers for f in made])
    return Features(tuple(made), values, covariances or {"noise": 1e-4 * np.eye(start)})


def job(shapes: dict, *asked: MeasurementEntry) -> Job:
    """A job that points at these and asks for that."""
    entries = tuple(
        FeatureEntry(n, type(s).__name__.lower(), "p", "sheet", ((0.0, 0.0),))
        for n, s in shapes.items()
    )
    return Job("t", (PhotoEntry("p", "p.jpg"),), entries, asked)


def distance(name: str, a: str, b: str) -> MeasurementEntry:
    return MeasurementEntry(name, "distance", (("a", (a,)), ("b", (b,))))


def evaluate(shapes: dict, *asked: MeasurementEntry, covariances: dict | None = None):
    return evaluate_measurements(job(shapes, *asked), features(shapes, covariances))


def test_a_distance_has_the_uncertainty_of_its_two_ends():
    """Two points of 0.01 mm each are 50 mm apart within 0.01·√2."""
    (measured,) = evaluate({"a": A, "b": B}, distance("ab", "a", "b"))
    assert measured.primary.value == pytest.approx(50.0)
    assert measured.primary.u == pytest.approx(0.01 * np.sqrt(2))
    assert measured.features == ("a", "b")


def test_what_is_common_to_both_ends_cancels():
    """x - x is exactly 0: an error that moves both points alike leaves their distance alone."""
    common = np.outer(np.tile([0.3, -0.2], 2), np.tile([0.3, -0.2], 2))
    (measured,) = evaluate(
        {"a": A, "b": B},
        distance("ab", "a", "b"),
        covariances={"tone": common, "noise": 1e-4 * np.eye(4)},
    )
    assert measured.primary.budget["tone"] == pytest.approx(0.0, abs=1e-7)
    assert measured.primary.u == pytest.approx(0.01 * np.sqrt(2))


def test_two_distances_of_one_point_are_what_their_features_say():
    """With b midway between a and c, an error of b along the line enters both with either sign."""
    along = np.zeros(6)
    along[2:4] = [0.6, 0.8]
    only_b = {"b": 0.05**2 * np.outer(along, along)}
    first, second, whole = evaluate(
        {"a": A, "b": B, "c": C},
        distance("ab", "a", "b"),
        distance("bc", "b", "c"),
        distance("ac", "a", "c"),
        covariances=only_b,
    )
    assert [q.primary.u for q in (first, second)] == pytest.approx([0.05, 0.05])
    assert whole.primary.u == pytest.approx(0.0, abs=1e-7)


def test_the_budget_adds_up_in_squares():
    """The squares of the sources' parts add up to that of the whole, for every output."""
    rng = np.random.default_rng(2)
    holes = {
        f"h{k}": Circle(20 * np.array([np.cos(t), np.sin(t)]), 3.0)
        for k, t in enumerate(np.radians([0, 90, 180, 270]))
    }
    roots = {s: 0.01 * rng.normal(size=(12, 12)) for s in ("x", "y")}
    mixed = {s: root @ root.T for s, root in roots.items()}
    asked = MeasurementEntry("row", "bolt_circle", (("holes", tuple(holes)),))
    (measured,) = evaluate(holes, asked, covariances=mixed)
    for quantity in measured.quantities:
        if quantity.samples is None:
            together = np.sqrt(sum(part**2 for part in quantity.budget.values()))
            assert quantity.u == pytest.approx(together)


def test_a_gap_near_contact_is_drawn_and_not_linearised():
    """The smallest of a gap is skewed: its interval comes from the draws, the same each time."""
    edges = {
        "a": Edge(np.array([[0.0, 0.0], [50.0, 0.0]])),
        "b": Edge(np.array([[0.0, 0.05], [50.0, 0.05]])),
    }
    asked = MeasurementEntry("slot", "gap", (("a", ("a",)), ("b", ("b",))))
    one, two = (evaluate(edges, asked, covariances={"n": 4e-4 * np.eye(8)})[0] for _ in "ab")
    assert one.primary.samples is not None
    assert one.primary.interval == two.primary.interval
    low, high = one.primary.interval
    assert low < one.primary.value < high
    assert np.mean((one.primary.samples > low) & (one.primary.samples < high)) == pytest.approx(
        0.95, abs=0.01
    )


def test_a_result_that_is_not_defined_names_its_measurement():
    """Holes in a row have no bolt circle, and the message says whose."""
    row = {f"h{k}": Circle(np.array([10.0 * k, 0.0]), 3.0) for k in range(3)}
    asked = MeasurementEntry("bolts", "bolt_circle", (("holes", tuple(row)),))
    with pytest.raises(GeometryError, match=r"^Measurement bolts: "):
        evaluate(row, asked)


@pytest.mark.parametrize(
    ("asked", "words"),
    [
        (distance("d", "a", "a"), "names 'a' 2 times"),
        (MeasurementEntry("d", "distance", (("a", ("a",)),)), "role 'b'"),
        (MeasurementEntry("d", "diameter", (("circle", ("a",)),)), "it takes circle"),
        (MeasurementEntry("d", "distence", ()), 'Did you mean "distance"'),
    ],
)
def test_features_that_cannot_serve_are_refused_before_any_photo(asked, words):
    """What is wrong with roles and kinds shows in the job alone."""
    with pytest.raises(JobError, match=words):
        check_measurements(job({"a": A, "b": B}, asked))


@pytest.mark.parametrize("first", [0.0, 180.0, -180.0, 359.9999])
def test_angles_that_begin_anew_do_not_jump(first):
    """Holes on the axes of the sheet, where an angle is 0° or 360°: its doubt stays small and
    its interval whole."""
    holes = {
        f"h{k}": Circle(20 * np.array([np.cos(t), np.sin(t)]), 3.0)
        for k, t in enumerate(np.radians([first, first + 90, first + 180, first + 270]))
    }
    asked = MeasurementEntry("row", "bolt_circle", (("holes", tuple(holes)),))
    (measured,) = evaluate(holes, asked)
    (angle,) = [q for q in measured.quantities if q.name == "hole_1_angle"]
    assert angle.u == pytest.approx(np.degrees(0.01 / 20) * np.sqrt(3 / 2), rel=0.3)
    low, high = angle.interval
    assert low < angle.value < high
    assert high - low < 1
