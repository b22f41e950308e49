"""A whole part is outlined on the plane of its face, or refused in words."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest
import shapely

from photomeasure import outlining
from photomeasure.benchmark.outlines import judged
from photomeasure.errors import GeometryError, JobError, PhotomeasureError
from photomeasure.records.outline import Hints, PartEntry
from photomeasure.records.photo import Photo
from photomeasure.synthetic.outline_scenes import littered_scene, outline_scene
from photomeasure.synthetic.random_parts import rounded_rectangle
from photomeasure.synthetic.scene import Part, Scene
from photomeasure.synthetic.taking import photo_of

SEED = 16  # a cover of bare aluminium, 5.9 mm thick
HIDDEN_SEED = 90023  # a shadow on the paper as light as the painted face beside it
SHADED_SEED = 90008  # a shadow that begins at the edge of a long side
SPARSE_SEED = 90017  # black rubber, whose narrow wall shows its edge only here and there
SICKLE_SEED = 95020  # bright aluminium, a bore of 21 mm
CORNER_SEED = 70018  # a corner half of which stands before its own dark wall
CURL_SEED = 79022  # a curl of swarf on the face, whose ends do not meet


@cache
def scene() -> Scene:
    return outline_scene(SEED)


@cache
def photo() -> Photo:
    return photo_of(scene())


def entry(of: Scene | None = None, **said) -> PartEntry:
    of = of or scene()
    stated = of.stated_planes[0]
    prints = (of.stated_print,) if of.stated_print else ()
    return PartEntry("part", "photo.jpg", stated.height_mm, prints=prints, **said)


def with_parts(*parts: Part) -> Scene:
    return replace(scene(), parts=parts)


def refusal(of: Scene, **said) -> str:
    with pytest.raises(PhotomeasureError) as caught:
        outlining.outline(entry(of, **said), photo_of(of))
    return str(caught.value)


def test_a_thick_bright_part_comes_out_within_the_goal():
    """Median 0.03 mm, 95 % 0.1 mm, offset 0.04 mm; all holes; the true number of pieces."""
    made = outlining.outline(entry(), photo())
    outline = judged(made.part, scene())
    assert np.median(outline.distances_mm) < 0.03
    assert np.quantile(outline.distances_mm, 0.95) < 0.1
    assert abs(outline.offset_mm) < 0.04
    assert outline.missing == 0
    assert outline.segments == (8, 8)


def test_the_stated_doubt_of_every_hole_holds_its_truth():
    """The 95 % intervals of five diameters hold what was rendered (one may miss)."""
    made = outlining.outline(entry(), photo())
    true = sorted(2 * h.radius_mm for h in scene().parts[0].holes)
    sizes = sorted((h.diameter for h in made.part.holes), key=lambda s: s.measured)
    hits = sum(abs(s.measured - t) <= s.expanded for s, t in zip(sizes, true, strict=True))
    assert hits >= len(true) - 1


def test_a_tolerance_finer_than_what_is_seen_is_refused():
    """Nothing is fitted to noise."""
    with pytest.raises(GeometryError, match="no better"):
        outlining.outline(entry(tolerance_mm=0.001), photo())


def test_no_thickness_is_refused():
    """A part of no thickness."""
    with pytest.raises(JobError, match="thickness"):
        outlining.outline(replace(entry(), thickness_mm=0.0), photo())


def plate(x: float, y: float, width: float, height: float, shade: float = 0.2) -> Part:
    outline = rounded_rectangle(width, height, 4.0, (x, y))
    thickness = scene().parts[0].thickness_mm
    return Part("plate", outline, thickness, face_reflectance=shade, wall_reflectance=0.8 * shade)


def test_two_parts_are_refused():
    """Which one is meant is not guessed."""
    assert "second part" in refusal(with_parts(plate(0, -55, 60, 40), plate(0, 45, 70, 60)))


def test_a_part_that_touches_the_ring_is_refused():
    """It lies half on the squares."""
    assert "ring" in refusal(with_parts(plate(70, 0, 120, 80)))


def test_an_empty_window_is_refused():
    """No part at all."""
    assert "No part was found" in refusal(with_parts())


def test_a_part_as_white_as_the_paper_asks_for_help():
    """Too little contrast is told, not guessed."""
    said = refusal(with_parts(plate(0, 0, 80, 80, shade=0.85)))
    assert any(words in said for words in ("stroke", "touch", "Touch"))


def test_where_a_shadow_is_as_light_as_the_face_a_stroke_is_asked_for_and_helps():
    """Refused with the place; with the edge drawn by hand (2 px rough) the shape comes out."""
    hidden = outline_scene(HIDDEN_SEED)
    picture = photo_of(hidden)
    with pytest.raises(GeometryError, match="Draw a stroke"):
        outlining.outline(entry(hidden), picture)
    part = hidden.parts[0]
    ring = shapely.LinearRing(part.outline.polygon())
    along = shapely.line_interpolate_point(ring, np.linspace(0, 1, 240), normalized=True)
    stroke = hidden.image_from_plane(shapely.get_coordinates(along), part.thickness_mm)
    stroke = stroke + np.random.default_rng(0).normal(0, 2, stroke.shape)
    hints = Hints(strokes=(tuple((float(x), float(y)) for x, y in stroke),))
    made = outlining.outline(entry(hidden, hints=hints), picture)
    assert np.median(judged(made.part, hidden).distances_mm) < 0.1
    assert any("follows a stroke drawn by hand" in said for said in made.part.remarks)


def test_an_edge_at_which_a_shadow_begins_is_found_without_help():
    """A shadow grows lighter from the edge on, so that the edge's own step is the smaller part."""
    shaded = outline_scene(SHADED_SEED)
    made = outlining.outline(entry(shaded), photo_of(shaded))
    outline = judged(made.part, shaded)
    assert np.quantile(outline.distances_mm, 0.95) < 0.1
    assert outline.segments == (8, 8)


def test_a_hole_of_which_only_its_shadow_stands_out_is_no_sickle():
    """Paper as light as the face: what shows is bounded by the rim and the shadow's edge."""
    assert "looks like a sickle" in refusal(outline_scene(SICKLE_SEED, tilt_deg=(0.0, 35.0)))


def test_a_corner_of_which_little_is_seen_comes_out_round():
    """Lines alone would meet 1.1 mm outside it, and nobody would be told."""
    corner = outline_scene(CORNER_SEED)
    outline = judged(outlining.outline(entry(corner), photo_of(corner)).part, corner)
    assert outline.distances_mm.max() < 0.3


def test_a_curl_of_swarf_is_no_opening():
    """What shows of it would close to an opening of 3 mm that the part does not have."""
    assert "Wipe off what lies there" in refusal(littered_scene(CURL_SEED))


def test_a_touch_in_the_wrong_place_is_refused():
    """A touch inside that lies outside the window."""
    with pytest.raises(GeometryError, match="outside the window"):
        outlining.outline(entry(hints=Hints(inside=((5.0, 5.0),))), photo())


def test_where_the_edge_shows_only_here_and_there_the_outline_does_not_bend_between():
    """Over 15 mm few places show it: within 0.3 mm of the truth all the same (it was 1 mm off)."""
    sparse = outline_scene(SPARSE_SEED)
    made = outlining.outline(entry(sparse), photo_of(sparse))
    assert judged(made.part, sparse).distances_mm.max() < 0.3
