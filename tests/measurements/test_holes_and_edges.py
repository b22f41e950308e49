"""Kinds about holes beside edges, patterns, slots and lengths: values, words, refusals."""

import numpy as np
import pytest
from given_shapes import EXAMPLES, arc, edge, hole, holes, mirrored, moved, point, tube

from photomeasure.errors import GeometryError
from photomeasure.measurements import MEASUREMENTS
from photomeasure.records.shapes import Curve, DrawnCircle


def values(kind, features):
    return MEASUREMENTS[kind].evaluate(features)


def said(kind, features):
    return " ".join(MEASUREMENTS[kind].remarks(features, values(kind, features)))


@pytest.mark.parametrize(("y", "side"), [(3.0, "left"), (-3.0, "right")])
def test_a_point_lies_on_a_side_of_an_edge(y, side):
    """The distance is the same on both sides; the side is said as seen along the edge."""
    features = {"point": (point(4, y),), "edge": (edge([0, 0], [10, 0]),)}
    assert values("point_to_edge", features) == {"distance": pytest.approx(3.0)}
    assert f"It lies {side} of the edge" in said("point_to_edge", features)
    assert "beyond" not in said("point_to_edge", features)


def test_an_edge_goes_on_beyond_its_clicks_and_says_so():
    """The foot 5 mm beyond the end counts, at right angles, with the remark."""
    features = {"point": (point(15, 2),), "edge": (edge([0, 0], [10, 0]),)}
    assert values("point_to_edge", features)["distance"] == pytest.approx(2.0)
    assert "5.0 mm beyond" in said("point_to_edge", features)


def test_a_point_beside_a_tube_counts_from_the_axis():
    """A tube serves as an edge by its axis."""
    features = {"point": (point(4, 7),), "edge": (tube([0, 0], [10, 0], 2.0),)}
    assert values("point_to_edge", features)["distance"] == pytest.approx(7.0)


def test_wall_edge_distance_and_their_ratio():
    """A hole of 5 mm whose centre lies 7 mm from the edge leaves 4.5 mm; 1.4 diameters."""
    found = values("hole_to_edge", EXAMPLES["hole_to_edge"])
    assert found == {"wall": 4.5, "edge_distance": 7.0, "hole_diameter": 5.0}
    assert "1.40 times" in said("hole_to_edge", EXAMPLES["hole_to_edge"])


def test_wall_to_a_curve_is_to_its_nearest_place():
    """Inside a ring of 20 mm, a hole 12 mm off the middle with radius 3 leaves 5 mm."""
    ring = arc((0, 0), 20, 0, 180, 721)
    features = {"hole": (hole(0, 12, 3.0),), "edge": (ring,)}
    assert values("hole_to_edge", features)["wall"] == pytest.approx(5.0, abs=1e-4)


def test_a_hole_that_cuts_the_edge_has_a_negative_wall():
    """2 mm past the edge reads -2 and is said."""
    features = {"hole": (hole(5, 1, 3.0),), "edge": (edge([0, 0], [10, 0]),)}
    assert values("hole_to_edge", features)["wall"] == pytest.approx(-2.0)
    assert "cuts the edge" in said("hole_to_edge", features)


def test_the_thinnest_web_of_all_is_found_and_named():
    """Of three holes the first two are nearest: 10 - 2 - 3 = 5 mm, 1.67 diameters apart."""
    features = EXAMPLES["web"]
    assert values("web", features) == {"web": 5.0, "centre_distance": 10.0}
    assert "between holes 1 and 2" in said("web", features)
    assert "1.67 diameters" in said("web", features)


def test_edge_length_between_corners_and_between_clicks():
    """With its two ends the clicks no longer count; without them they do, and it says so."""
    features = EXAMPLES["edge_length"]
    assert values("edge_length", features)["length"] == pytest.approx(8.0)
    alone = {"edge": features["edge"]}
    assert values("edge_length", alone)["length"] == pytest.approx(10.0)
    assert "where it was clicked" in said("edge_length", alone)
    with pytest.raises(GeometryError, match="One end"):
        values("edge_length", {**features, "ends": features["ends"][:1]})


def test_width_of_a_tapered_land():
    """From 6 to 6.2 mm over 10 mm: mean, least, most, and 1.146° out of parallel."""
    found = values("width", EXAMPLES["width"])
    assert found["mean_width"] == pytest.approx(6.1, abs=2e-3)
    assert (found["least_width"], found["most_width"]) == pytest.approx((6.0, 6.2), abs=2e-3)
    assert found["out_of_parallel"] == pytest.approx(np.degrees(np.arctan(0.02)))


@pytest.mark.parametrize("back", [False, True])
def test_out_of_parallel_does_not_depend_on_the_way_the_other_side_was_clicked(back):
    """Opening along side a is positive, whichever way b was pointed at and on either side."""
    ends = [[10, 6.2], [0, 6]] if back else [[0, 6], [10, 6.2]]
    features = {"a": (edge([0, 0], [10, 0]),), "b": (edge(*ends),)}
    for seen in (features, mirrored(features)):
        assert values("width", seen)["out_of_parallel"] == pytest.approx(1.1458, abs=1e-4)


def test_width_of_a_ring_shaped_land():
    """Two concentric arcs, 30 and 34 mm: 4 mm all along, only where both are seen."""
    features = {"a": (arc((0, 0), 30, 0, 120, 200),), "b": (arc((0, 0), 34, 30, 150, 200),)}
    found = values("width", features)
    assert list(found) == ["mean_width", "least_width", "most_width"]
    assert tuple(found.values()) == pytest.approx((4.0, 4.0, 4.0), abs=2e-3)


def test_sides_that_do_not_face_each_other_are_refused():
    """Edges one after the other have no width between them."""
    features = {"a": (edge([0, 0], [10, 0]),), "b": (edge([20, 5], [30, 5]),)}
    with pytest.raises(GeometryError, match="do not face"):
        values("width", features)


def test_a_hole_table_from_a_datum():
    """Origin and a hole on x give the axes; x and y of all others, and diameters of circles."""
    found = values("hole_pattern", EXAMPLES["hole_pattern"])
    xy = {k: v for k, v in found.items() if k.startswith("hole_")}
    assert xy == pytest.approx(
        {"hole_1_x": 10, "hole_1_y": 20, "hole_1_diameter": 8, "hole_2_x": 50, "hole_2_y": 25,
         "hole_2_diameter": 6, "hole_3_x": 5, "hole_3_y": 40}
    )  # fmt: skip
    assert found["x_axis_x"] == pytest.approx(60.0)
    assert "origin_x" not in found
    assert "as seen from this side" in said("hole_pattern", EXAMPLES["hole_pattern"])


def test_a_hole_table_seen_from_the_back():
    """With the positive y side chosen on the other side of x, y changes its sign; it is said."""
    features = {**EXAMPLES["hole_pattern"], "y_side": (hole(30, -35),)}
    found = values("hole_pattern", features)
    assert found["hole_1_y"] == pytest.approx(-20)
    assert found["y_side_y"] == pytest.approx(35)
    assert "mirrored" in said("hole_pattern", features)


def test_a_mirrored_plate_with_its_own_positive_side_reads_the_same_table():
    """Seen from the back, a table whose y side is chosen by a hole stays what it was."""
    features = EXAMPLES["hole_pattern"]
    assert values("hole_pattern", mirrored(features)) == pytest.approx(
        values("hole_pattern", features)
    )


def test_the_x_axis_may_be_an_edge():
    """An edge gives the direction only; the table turns with it."""
    features = {**EXAMPLES["hole_pattern"], "x_axis": (edge([0, -9], [0, 40]),)}
    found = values("hole_pattern", features)
    assert (found["hole_1_x"], found["hole_1_y"]) == pytest.approx((20, 10))
    assert "mirrored" in said("hole_pattern", features)


def test_a_y_side_on_the_x_axis_is_refused():
    """It shows no side."""
    features = {**EXAMPLES["hole_pattern"], "y_side": (hole(30, 0.1),)}
    with pytest.raises(GeometryError, match="'y_side' lies on the x axis"):
        values("hole_pattern", features)


def test_rotation_of_a_bolt_circle_against_a_datum_edge():
    """Holes from 50° on, against an edge at 20°: hole 1 at 30°; against the sheet 50°."""
    features = {"holes": holes([50, 140, 230, 320])}
    datum = edge([0, 0], [np.cos(np.radians(20)), np.sin(np.radians(20))])
    assert values("bolt_circle", features)["hole_1_angle"] == pytest.approx(50)
    turned = values("bolt_circle", {**features, "datum": (datum,)})
    assert turned["hole_1_angle"] == pytest.approx(30)


def test_rotation_against_a_datum_hole_counts_from_the_centre():
    """A key hole right above the centre stands at twelve; hole 1, a quarter turn on, at nine."""
    features = {"holes": holes([180, 300, 60]), "datum": (hole(10, 30),)}
    assert values("bolt_circle", features)["hole_1_angle"] == pytest.approx(90)
    assert "hole 1 stands at 9:00" in said("bolt_circle", features)


def test_a_missing_hole_is_found_said_and_drawn():
    """Five of six holes: one is missing at 180° from hole 1, drawn dashed where it should be."""
    features = {"holes": holes([10, 70, 130, 250, 310])}
    assert "5 of 6 holes" in said("bolt_circle", features)
    assert "missing at 180.0° from hole 1" in said("bolt_circle", features)
    drawn = MEASUREMENTS["bolt_circle"].draw(features, {})
    dashed = [s for s in drawn if isinstance(s, DrawnCircle) and s.dashed]
    place = 10 + 40 * np.cos(np.radians(190)), -5 + 40 * np.sin(np.radians(190))
    assert dashed[-1].centre_mm == pytest.approx(place)


def test_unequal_spacing_is_said_step_by_step():
    """Holes that no equal spacing explains are listed by their steps."""
    features = {"holes": holes([0, 50, 170, 260])}
    assert "not equal: steps of 50.00°, 120.00°, 90.00°, 100.00°" in said("bolt_circle", features)


def test_a_slot_by_its_ends_and_by_its_sides():
    """Ends of radius 4, 20 mm apart: 28 long, 8 wide; sides 7.9 mm apart make it 7.9 wide."""
    found = values("slot", EXAMPLES["slot"])
    assert found["length"] == pytest.approx(28)
    assert (found["width"], found["centre_distance"]) == pytest.approx((8, 20))
    sides = (edge([0, 3.95], [20, 3.95]), edge([20, -3.95], [0, -3.95]))
    assert values("slot", {**EXAMPLES["slot"], "sides": sides})["width"] == pytest.approx(7.9)
    with pytest.raises(GeometryError, match="One side"):
        values("slot", {**EXAMPLES["slot"], "sides": sides[:1]})


@pytest.mark.parametrize("turn", [0.0, 30.0, 90.0, 179.0])
def test_the_angle_of_a_slot_is_that_of_a_line(turn):
    """0° to 180° against the sheet; it does not matter which end was clicked first."""
    features = moved({"ends": EXAMPLES["slot"]["ends"]}, turn_deg=turn)
    swapped = {"ends": features["ends"][::-1]}
    for seen in (features, swapped):
        assert (values("slot", seen)["angle"] - turn + 90) % 180 - 90 == pytest.approx(0, abs=1e-9)


def test_a_straight_curve_is_no_slot_end():
    """A curve without a bend defines no round end."""
    straight = Curve(np.column_stack([np.linspace(0, 9, 20), np.zeros(20)]))
    with pytest.raises(GeometryError, match="straight line"):
        values("slot", {"ends": (straight, EXAMPLES["slot"]["ends"][1])})
