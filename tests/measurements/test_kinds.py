"""Each kind of measurement gives its formula's value, keeps its promises, draws itself."""

import numpy as np
import pytest
from given_shapes import EXAMPLES, edge, hole, holes, mirrored, moved, point

from photomeasure.errors import GeometryError
from photomeasure.measurements import MEASUREMENTS
from photomeasure.records.shapes import (
    Curve,
    DrawnArc,
    DrawnCircle,
    DrawnLabel,
    DrawnSegment,
)

IN_THE_SHEET_FRAME = {"symmetry_axis"}
"""Kinds whose main number is an angle from the sheet's own axis, so it turns with the part."""


def test_every_kind_has_an_example_here():
    """A new kind cannot be added without these tests seeing it."""
    assert set(EXAMPLES) == set(MEASUREMENTS.names)


@pytest.mark.parametrize("name", EXAMPLES)
def test_a_kind_keeps_what_it_declares(name):
    """The values are finite and just the outputs; the first alone is primary and labelled."""
    kind, features = MEASUREMENTS[name], EXAMPLES[name]
    values = kind.evaluate(features)
    outputs = kind.outputs(features)
    assert [output.name for output in outputs] == list(values)
    assert [output.primary for output in outputs] == [True] + [False] * (len(outputs) - 1)
    assert all(np.isfinite(value) for value in values.values())
    assert {output.unit for output in outputs} <= {"mm", "deg"}
    labels = [s for s in kind.draw(features, values) if isinstance(s, DrawnLabel)]
    assert [label.quantity for label in labels].count(outputs[0].name) == 1
    assert all(said.endswith(".") for said in kind.remarks(features, values))


@pytest.mark.parametrize("name", EXAMPLES)
def test_turning_the_sheet_changes_no_primary_value(name):
    """The number a person asks for does not depend on how the part lies on the sheet."""
    kind, features = MEASUREMENTS[name], EXAMPLES[name]
    there = moved(features, turn_deg=73.74, shift=(31.0, -12.0))
    primary = kind.outputs(features)[0]
    turned = 73.74 if name in IN_THE_SHEET_FRAME else 0.0
    expected = kind.evaluate(features)[primary.name] + turned
    assert kind.evaluate(there)[primary.name] == pytest.approx(expected, abs=1e-9)


SIGNED = {"clock_position", "plumb_angle", "level_angle", "handedness"}
"""Kinds that tell a part from its mirror image: the number changes its sign."""


@pytest.mark.parametrize("name", [n for n in EXAMPLES if n not in IN_THE_SHEET_FRAME])
def test_mirroring_the_sheet_changes_no_length(name):
    """Seen from the back lengths stay; what has a hand changes its sign, and nothing else does."""
    kind, features = MEASUREMENTS[name], EXAMPLES[name]
    primary = kind.outputs(features)[0]
    here = kind.evaluate(features)[primary.name]
    there = kind.evaluate(mirrored(features))[primary.name]
    expected = -here if name in SIGNED else here
    period = primary.period or 1e9
    assert (there - expected + period / 2) % period - period / 2 == pytest.approx(0.0, abs=1e-9)


def test_distance_uses_centres_and_says_so():
    """A 3–4–5 triangle from a point to a centre, with the remark that it is a centre."""
    kind, features = MEASUREMENTS["distance"], EXAMPLES["distance"]
    values = kind.evaluate(features)
    assert values == {"distance": 5.0}
    assert "centre" in kind.remarks(features, values)[0]


@pytest.mark.parametrize(
    ("a", "b", "gap"),
    [
        (edge([0, 0], [10, 0]), edge([13, 4], [20, 4]), 5.0),
        (edge([0, 0], [10, 0]), hole(5, 9, 4), 5.0),
        (hole(5, 9, 4), edge([0, 0], [10, 0]), 5.0),
        (hole(0, 0, 10), hole(1, 0, 8), 1.0),
        (point(0, 2), edge([-5, 0], [5, 0]), 2.0),
        (Curve(np.array([[0.0, 0], [4, 0], [4, 4], [0, 4]]), closed=True), point(-3, 2), 3.0),
        (Curve(np.array([[0.0, 0], [4, 0], [4, 4], [0, 4]])), point(-3, 2), np.sqrt(13)),
        (edge([0, 0], [10, 0]), edge([5, 0], [5, 8]), 0.0),
        (edge([0, 0], [10, 0]), edge([5, -1.5], [5, 8]), -1.5),
        (hole(0, 0, 10), hole(15, 0, 6), -1.0),
    ],
)
def test_gap_between_all_shapes(a, b, gap):
    """Edges, circles, points, open and closed curves: clear, touching and overlapping."""
    kind, features = MEASUREMENTS["gap"], {"a": (a,), "b": (b,)}
    values = kind.evaluate(features)
    assert values["gap"] == pytest.approx(gap, abs=1e-12)
    segment = next(s for s in kind.draw(features, values) if isinstance(s, DrawnSegment))
    length = np.hypot(*np.subtract(segment.start_mm, segment.end_mm))
    assert length == pytest.approx(abs(gap), abs=1e-9)


@pytest.mark.parametrize(("reach", "said"), [(2.0, "Narrowest"), (0.0, "touch"), (-1, "overlap")])
def test_gap_says_what_it_found(reach, said):
    """The remarks give the place, and name contact and overlap."""
    features = {"a": (edge([-9, 0], [9, 0]),), "b": (edge([1, reach], [1, 9]),)}
    kind = MEASUREMENTS["gap"]
    assert any(said in remark for remark in kind.remarks(features, kind.evaluate(features)))


def test_gap_at_an_end_warns_that_nothing_was_seen_beyond():
    """Where the minimum is an end of what was pointed at, the remark names that side."""
    features = {"a": (edge([-9, 0], [9, 0]),), "b": (edge([1, 2], [1, 9]),)}
    kind = MEASUREMENTS["gap"]
    ends = [r for r in kind.remarks(features, kind.evaluate(features)) if "beyond" in r]
    assert len(ends) == 1
    assert "'b'" in ends[0]


def test_bolt_circle_gives_angles_and_deviations():
    """Hole 1 from the x axis, the others from hole 1; a hole pushed out shows outside."""
    features = {"holes": holes([20, 95, 170, 245, 310])}
    values = MEASUREMENTS["bolt_circle"].evaluate(features)
    assert values["diameter"] == pytest.approx(80)
    assert (values["centre_x"], values["centre_y"]) == (pytest.approx(10), pytest.approx(-5))
    angles = [values[f"hole_{n}_angle"] for n in range(1, 6)]
    assert angles == pytest.approx([20, 75, 150, 225, 290])
    pushed = list(features["holes"])
    pushed[2] = hole(*(pushed[2].centre + 0.5 * np.array([np.cos(2.967), np.sin(2.967)])))
    deviations = MEASUREMENTS["bolt_circle"].evaluate({"holes": tuple(pushed)})
    largest = max((f"hole_{n}_deviation" for n in range(1, 6)), key=deviations.__getitem__)
    assert largest == "hole_3_deviation"


def test_bolt_circle_says_how_even_the_spacing_is():
    """Holes at 40, 130, 221 and 310° miss equal spacing, turned as fits best, by 0.5°."""
    kind = MEASUREMENTS["bolt_circle"]
    features = {"holes": holes([40, 130, 221, 310])}
    said = " ".join(kind.remarks(features, kind.evaluate(features)))
    assert "4 holes at equal spacing, 90.00° apart" in said
    assert "off by 0.50°" in said


def test_three_holes_have_no_deviations():
    """Three holes always lie on a circle, so no deviation is stated and the remark says why."""
    features = {"holes": holes([0, 120, 240])}
    kind = MEASUREMENTS["bolt_circle"]
    assert not [name for name in kind.evaluate(features) if "deviation" in name]
    assert any("fourth" in said for said in kind.remarks(features, kind.evaluate(features)))


@pytest.mark.parametrize(
    ("centres", "said"),
    [
        ([(0, 0), (20, 0), (40, 0)], "straight line"),
        ([(0, 0), (20, 0.1), (40, 0)], "almost in a row"),
        ([(0, 0), (20, 30), (0, 0.01)], "same hole"),
        ([(5, 5), (5, 5), (5, 5)], "same hole"),
    ],
)
def test_holes_in_a_row_are_refused(centres, said):
    """Collinear, nearly collinear and repeated holes raise GeometryError and say which."""
    with pytest.raises(GeometryError, match=said):
        MEASUREMENTS["bolt_circle"].evaluate({"holes": tuple(hole(*c) for c in centres)})


def test_bolt_circle_draws_a_dashed_circle():
    """The construction line is dashed, the holes are not."""
    features = EXAMPLES["bolt_circle"]
    drawn = MEASUREMENTS["bolt_circle"].draw(features, {})
    assert [s.dashed for s in drawn if isinstance(s, DrawnCircle)] == [True] + [False] * 4


@pytest.mark.parametrize(("turn", "angle"), [(0, 0), (30, 30), (90, 90), (150, 150), (330, 30)])
def test_angle_is_the_one_at_the_corner(turn, angle):
    """Edges run away from where they meet, whichever way they were pointed at; the supplement
    is remarked."""
    t = np.radians(turn)
    features = {
        "edge_a": (edge([1, 0], [9, 0]),),
        "edge_b": (edge([0, 0], [5 * np.cos(t), 5 * np.sin(t)]),),
    }
    kind = MEASUREMENTS["angle"]
    values = kind.evaluate(features)
    assert values["angle"] == pytest.approx(angle, abs=1e-9)
    assert f"{180 - angle:.2f}°" in kind.remarks(features, values)[0]
    arcs = [s for s in kind.draw(features, values) if isinstance(s, DrawnArc)]
    assert all(a.end_deg - a.start_deg == pytest.approx(angle) for a in arcs)
    assert len(arcs) == (0 if turn == 0 else 1)


def test_edges_that_cross_are_drawn_at_their_crossing():
    """An X of two edges has its arc at the crossing, spanning the acute angle."""
    features = {"edge_a": (edge([-5, 0], [5, 0]),), "edge_b": (edge([-4, -4], [4, 4]),)}
    (arc,) = [s for s in MEASUREMENTS["angle"].draw(features, {}) if isinstance(s, DrawnArc)]
    assert arc.centre_mm == pytest.approx((0, 0))
    assert arc.end_deg - arc.start_deg == pytest.approx(45)


def test_an_edge_of_no_length_has_no_angle():
    """An edge whose ends coincide is refused rather than read as 0°."""
    features = {"edge_a": (edge([1, 1], [1, 1]),), "edge_b": (edge([0, 0], [4, 4]),)}
    with pytest.raises(GeometryError, match="'edge_a' has no length"):
        MEASUREMENTS["angle"].evaluate(features)
