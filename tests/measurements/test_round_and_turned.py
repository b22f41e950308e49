"""Kinds about arcs, tubes, clocks, gravity, symmetry and threads: values, words, refusals."""

import numpy as np
import pytest
from given_shapes import EXAMPLES, arc, edge, hole, mirrored, moved, point, row, tube

from photomeasure.errors import GeometryError
from photomeasure.measurements import MEASUREMENTS
from photomeasure.measurements.clock_position import clock_words
from photomeasure.records.shapes import DrawnArc, Row


def values(kind, features):
    return MEASUREMENTS[kind].evaluate(features)


def said(kind, features):
    return " ".join(MEASUREMENTS[kind].remarks(features, values(kind, features)))


def test_radius_of_an_arc():
    """A curve along an arc gives its circle's radius; 120° of it are no short arc."""
    assert values("radius", EXAMPLES["radius"])["radius"] == pytest.approx(12)
    assert "120° of it was seen" in said("radius", EXAMPLES["radius"])
    assert "Short" not in said("radius", EXAMPLES["radius"])


def test_a_short_arc_is_flagged_with_what_its_sagitta_costs():
    """60° of R 20: sagitta 2.68 mm over a chord of 20 mm; 0.1 mm more is 0.6 mm of radius."""
    features = {"arc": (arc((0, 0), 20, 10, 70),)}
    words = said("radius", features)
    assert words.startswith("Short arc, under 90°: 60° of it was seen")
    assert "chord of 20.0 mm with a sagitta of 2.68 mm" in words
    assert "one of 0.6 mm in the radius" in words


def test_a_circle_feature_is_flagged_by_the_report_and_not_twice():
    """The report warns of short circles by itself; the kind adds only what the sagitta costs."""
    words = said("radius", {"arc": (hole(0, 0, 20, 60.0),)})
    assert "Short" not in words
    assert "sagitta" in words
    short = {"circle": (hole(0, 0, 3, 60.0),)}
    assert MEASUREMENTS["diameter"].remarks(short, {"diameter": 6.0}) == ()


def test_bend_radius_is_that_of_the_inside():
    """Inside 12 and outside 15: 3 mm thick, 13.5 mm on the centreline, centres together."""
    found = values("bend_radius", EXAMPLES["bend_radius"])
    assert list(found.values()) == pytest.approx([12.0, 15.0, 13.5, 3.0])
    assert list(found) == ["inside_radius", "outside_radius", "centreline_radius", "thickness"]
    assert "lie 0.00 mm apart" in said("bend_radius", EXAMPLES["bend_radius"])
    alone = {"inside": EXAMPLES["bend_radius"]["inside"]}
    assert values("bend_radius", alone) == {"inside_radius": pytest.approx(12.0)}


def test_outside_diameter_says_when_the_sides_run_together():
    """Twice the radius; a tube whose sides converge slopes or is conical, which is said."""
    assert values("outside_diameter", EXAMPLES["outside_diameter"])["outside_diameter"] == 18
    assert "run together" not in said("outside_diameter", EXAMPLES["outside_diameter"])
    conical = {"tube": (tube([0, 0], [50, 0], 9.0, taper=2.0),)}
    assert "run together by 2.0°" in said("outside_diameter", conical)


def test_angle_between_two_tubes_is_that_of_their_axes():
    """A tube counts by its axis, alone or beside an edge."""
    features = {
        "edge_a": (tube([0, 0], [50, 0], 9.0),),
        "edge_b": (tube([0, 0], [30 * np.cos(1.0), 30 * np.sin(1.0)], 5.0),),
    }
    assert values("angle", features)["angle"] == pytest.approx(np.degrees(1.0))
    beside = {**features, "edge_a": (edge([0, 0], [50, 0]),)}
    assert values("angle", beside)["angle"] == pytest.approx(np.degrees(1.0))


def test_edges_that_meet_far_away_are_not_drawn_there():
    """At 0.1° the corner lies metres away: only the label is drawn, near the edges."""
    features = {"edge_a": (edge([0, 0], [40, 0]),), "edge_b": (edge([0, 9], [40, 9.07]),)}
    drawn = MEASUREMENTS["angle"].draw(features, values("angle", features))
    assert not [shape for shape in drawn if isinstance(shape, DrawnArc)]


@pytest.mark.parametrize(
    ("clockwise", "time"),
    [(0, "12:00"), (90, "3:00"), (135, "4:30"), (180, "6:00"), (359.9, "12:00"), (352.5, "11:45")],
)
def test_clock_position_runs_clockwise_from_the_datum(clockwise, time):
    """A hand turned clockwise by so much reads so, by degrees and by the clock."""
    turn = np.radians(90 - clockwise)
    pointing = edge([0, 0], [20 * np.cos(turn), 20 * np.sin(turn)])
    features = {"datum": (edge([0, 0], [0, 10]),), "feature": (pointing,)}
    found = values("clock_position", features)["clock_position"]
    assert (found - clockwise + 180) % 360 - 180 == pytest.approx(0, abs=1e-9)
    assert f"{time} as seen from this side" in said("clock_position", features)


def test_clock_of_a_hole_needs_a_centre():
    """A hole is a place: with a centre it has a direction, without one it is refused."""
    features = {"datum": (edge([0, 0], [0, 10]),), "feature": (hole(20, 0),)}
    with pytest.raises(GeometryError, match="needs a centre"):
        values("clock_position", features)
    centred = {**features, "centre": (point(0, 0),)}
    assert values("clock_position", centred)["clock_position"] == pytest.approx(90)


@pytest.mark.parametrize(("turn", "words"), [(-1, "11:58"), (3, "12:05"), (-30, "11:00")])
def test_the_hour_hand_rounds_to_five_minutes(turn, words):
    """Half a degree is a minute of the hour hand; the nearest five are told."""
    rounded = {"11:58": "12:00"}.get(words, words)
    assert clock_words(turn) == rounded


@pytest.mark.parametrize("kind", ["plumb_angle", "level_angle"])
def test_angles_from_gravity_lean_clockwise_or_not(kind):
    """1 in 30 is 1.91°, 33.3 mm per metre; the mirror image leans the other way."""
    features = EXAMPLES[kind]
    (found,) = values(kind, features).values()
    assert abs(found) == pytest.approx(np.degrees(np.arctan(1 / 30)))
    assert "33.3 mm per metre" in said(kind, features)
    (other,) = values(kind, mirrored(features)).values()
    assert other == pytest.approx(-found)


def test_plumb_does_not_depend_on_the_way_of_clicking():
    """A post clicked from its foot or its head leans the same."""
    features = EXAMPLES["plumb_angle"]
    (post,) = features["edge"]
    upside_down = {**features, "edge": (edge(*post.ends[::-1]),)}
    assert values("plumb_angle", upside_down) == pytest.approx(values("plumb_angle", features))


def test_a_perfect_part_has_its_axis_and_no_misses():
    """Two pairs about y = 0 and one hole between: axis along x, one hole 0.1 mm beside it."""
    features = {**EXAMPLES["symmetry_axis"], "centred": (hole(12, 0),)}
    found = values("symmetry_axis", features)
    misses = [v for k, v in found.items() if k.startswith(("pair", "centred"))]
    assert found["axis_angle"] % 360 == pytest.approx(0, abs=1e-9)
    assert misses == pytest.approx([0] * 5, abs=1e-9)


def test_what_misses_symmetry_is_told_by_pair():
    """A right hole that is 1 mm ahead shows in its pair, and the remark names it."""
    features = dict(EXAMPLES["symmetry_axis"])
    features["right"] = (hole(0, -10), hole(21, -14))
    found = values("symmetry_axis", features)
    assert abs(found["pair_2_along"]) > 0.5
    assert "Pair 2 is the least symmetric" in said("symmetry_axis", features)


def test_one_pair_has_an_axis_but_no_residual():
    """One pair always mirrors: only the axis is stated, and why."""
    features = {"left": (hole(0, 10),), "right": (hole(0, -10),)}
    assert list(values("symmetry_axis", features)) == ["axis_angle", "middle_x", "middle_y"]
    assert "a second would show" in said("symmetry_axis", features)


@pytest.mark.parametrize(
    ("right", "words"),
    [((hole(0, -10),), "2 feature"), ((hole(20, -10), hole(0, -10)), "same order")],
)
def test_pairs_that_are_none_are_refused(right, words):
    """Missing partners, and partners crosswise, which fit two axes, raise GeometryError."""
    features = {"left": (hole(0, 10), hole(20, 10)), "right": right}
    with pytest.raises(GeometryError, match=words):
        values("symmetry_axis", features)


def test_handedness_tells_a_part_from_its_mirror_image():
    """6 mm to the left here, to the right on the other part: mirror images; turned, the same."""
    features = EXAMPLES["handedness"]
    assert values("handedness", features) == {"left_by": 6.0, "other_left_by": -6.0}
    words = said("handedness", features)
    assert "lies left as seen from this side, right as seen from the back" in words
    assert "mirror images" in words
    other = moved({"other": EXAMPLES["handedness"]["other"]}, turn_deg=77)["other"]
    assert "mirror images" in said("handedness", {**features, "other": other})
    same = {**features, "other": (hole(0, 0), hole(0, 30), hole(-6, 10))}
    assert "of the same hand" in said("handedness", same)
    with pytest.raises(GeometryError, match="same three"):
        values("handedness", {**features, "other": other[:2]})


def test_thread_pitch_is_a_slope_over_all_crests():
    """Twelve crests 1.25 mm apart, as a row or as points in any order."""
    features = EXAMPLES["thread_pitch"]
    assert values("thread_pitch", features) == {
        "pitch": pytest.approx(1.25),
        "outside_diameter": 8.0,
    }
    places = features["crests"][0].points
    shuffled = tuple(point(*places[k]) for k in (3, 0, 5, 1, 2, 4))
    assert values("thread_pitch", {"crests": shuffled})["pitch"] == pytest.approx(1.25)


def test_outside_diameter_of_a_thread_from_two_edges():
    """Two edges 7.8 mm apart; one edge alone, or an edge beside a tube, is refused."""
    crests = EXAMPLES["thread_pitch"]["crests"]
    edges = (edge([0, 0], [15, 0]), edge([15, 7.8], [0, 7.8]))
    found = values("thread_pitch", {"crests": crests, "body": edges})
    assert found["outside_diameter"] == pytest.approx(7.8)
    for body in (edges[:1], (edges[0], tube([0, 0], [9, 0], 4))):
        with pytest.raises(GeometryError, match="one tube, or two edges"):
            values("thread_pitch", {"crests": crests, "body": body})


def test_a_crest_left_out_is_counted_as_there():
    """Without the fifth of twelve the pitch stays, and the remark tells."""
    places = np.delete(row((0, 0), (1.5, 0.2), 12).points, 4, axis=0)
    features = {"crests": (Row(places),)}
    assert values("thread_pitch", features)["pitch"] == pytest.approx(np.hypot(1.5, 0.2))
    assert "1 crest(s) between them" in said("thread_pitch", features)


def test_what_a_pitch_alone_cannot_tell_is_said():
    """Few crests and a missing outside diameter leave the thread undecided."""
    features = {"crests": (row((0, 0), (1.25, 0), 5),)}
    words = said("thread_pitch", features)
    assert "20.32 threads per inch" in words
    assert "5 crests are few" in words
    assert "Pitch alone does not name a thread" in words


@pytest.mark.parametrize(
    ("places", "words"),
    [
        ([[0, 0], [1, 0]], "2 crest"),
        ([[0, 0], [1, 0], [2, 0], [2.2, 0], [3, 0], [4, 0]], "lie 0.20 mm apart"),
        ([[x, 0] for x in np.cumsum([1.0] * 8 + [1.45] * 8)], "miss equal steps"),
    ],
)
def test_crests_that_are_no_thread_are_refused(places, words):
    """Too few, clicked twice, or at no equal steps: GeometryError says which."""
    with pytest.raises(GeometryError, match=words):
        values("thread_pitch", {"crests": (Row(np.array(places, float)),)})
