"""From a click to a feature of the picture, to sub-pixel, on pictures with exact edges."""

from dataclasses import replace

import flat_pictures as flat
import numpy as np
import pytest

from photomeasure.errors import GeometryError
from photomeasure.geometry.circles import fit_circle
from photomeasure.records.job import FeatureEntry
from photomeasure.vision.locate import Scenery, locate
from photomeasure.vision.tone import _MEAN, Tone, light_of

STRAIGHT = np.array([1.0, 0.0, 0.0, 0.0, flat.BLUR_PX, 0.0, 1.0])
TONE = Tone(light_of(STRAIGHT), STRAIGHT, 1e-8 * np.eye(len(_MEAN)), 40, 0.5, 0.75)
CENTRE, RADIUS = (350.3, 249.6), 80.4


def scenery(light: np.ndarray) -> Scenery:
    return Scenery(flat.noisy(light), TONE, flat.VIEW)


def entry(kind: str, *clicks, choice: int | None = None) -> FeatureEntry:
    pairs = tuple((float(x), float(y)) for x, y in clicks)
    return FeatureEntry("it", kind, "photo", "sheet", pairs, choice)


def on_rim(*degrees: float, off_px: float = 0.0) -> list:
    turns = np.radians(degrees)
    around = np.column_stack([np.cos(turns), np.sin(turns)])
    return list(np.array(CENTRE) + (RADIUS + off_px) * around)


def radius_of(found) -> tuple[np.ndarray, float]:
    return fit_circle(found.points_px)


@pytest.mark.parametrize(
    "clicks",
    [
        [(370.0, 240.0)],
        on_rim(10, 190, off_px=3.0),
        on_rim(0, 120, 240, off_px=-4.0),
        on_rim(0, 80, 170, 260, off_px=2.0),
    ],
    ids=["one inside", "two opposite", "three", "four"],
)
def test_a_circle_is_the_same_by_any_clicks(clicks):
    """One click inside, two across or three on the rim: one circle, within 0.03 px."""
    found = locate(entry("circle", *clicks), scenery(flat.disc(CENTRE, RADIUS)), 0.0)
    centre, radius = radius_of(found)
    np.testing.assert_allclose(centre, CENTRE, atol=0.05)
    assert radius == pytest.approx(RADIUS, abs=0.03)
    assert found.closed
    assert found.spread_px < 0.2


def test_normals_point_from_dark_to_light():
    """Around a dark disc they point outwards, around a light one inwards."""
    for inside, outside, way in ((0.15, 0.75, 1.0), (0.75, 0.15, -1.0)):
        light = flat.disc(CENTRE, RADIUS, inside, outside)
        found = locate(entry("circle", *on_rim(0, 120, 240)), scenery(light), 0.0)
        out = (found.points_px - CENTRE) / RADIUS
        assert np.mean(np.sum(out * found.normals_px, axis=1)) == pytest.approx(way, abs=0.01)


def test_a_straight_edge_keeps_its_extents():
    """The edge is placed within 0.03 px; its ends are where the first and last click were."""
    x, y = flat.grid()
    light = flat.step(x - 300.3 - 0.05 * (y - 250), 0.1, 0.7)
    found = locate(entry("edge", (295, 90), (305, 420)), scenery(light), 0.0)
    miss = found.points_px[:, 0] - 300.3 - 0.05 * (found.points_px[:, 1] - 250)
    assert abs(miss.mean()) < 0.03
    np.testing.assert_allclose(found.extent_px, [[295, 90], [305, 420]])


def two_edges() -> np.ndarray:
    x, _ = flat.grid()
    return flat.step(x - 300.4, 0.1, 0.4) + flat.step(x - 310.2, 0.0, 0.35)


def test_the_other_edge_can_be_chosen():
    """Both answers are reported, and the job's choice takes either one."""
    clicks = (301, 80), (301, 420)
    plain = locate(entry("edge", *clicks), scenery(two_edges()), 0.0)
    (other,) = plain.alternatives
    assert {plain.chosen, other.number} == {1, 2}
    places = {}
    for choice in (1, 2):
        found = locate(entry("edge", *clicks, choice=choice), scenery(two_edges()), 0.0)
        assert found.chosen == choice
        places[choice] = found.points_px[:, 0].mean()
    assert sorted(places.values()) == pytest.approx([300.4, 310.2], abs=0.1)
    assert abs(other.offset_mm) == pytest.approx(0.98, abs=0.05)


def test_a_choice_out_of_range_names_the_range():
    """A choice that no edge has is refused with how many fit."""
    with pytest.raises(GeometryError, match=r"it in photo: .* 2 edges fit\. .* from 1 to 2"):
        locate(entry("edge", (301, 80), (301, 420), choice=5), scenery(two_edges()), 0.0)


def test_half_a_rim_is_enough():
    """A circle whose half is covered by something grey is still right within 0.15 px."""
    light = flat.disc(CENTRE, RADIUS)
    light[:235, :] = 0.45
    found = locate(entry("circle", *on_rim(30, 90, 150)), scenery(light), 0.0)
    _, radius = radius_of(found)
    assert radius == pytest.approx(RADIUS, abs=0.15)
    assert found.points_px[:, 1].min() > 230


def test_glare_on_the_rim_is_left_out():
    """A burnt-out spot over a twelfth of the rim does not move the circle."""
    light = flat.disc(CENTRE, RADIUS)
    x, y = flat.grid()
    light[np.hypot(x - CENTRE[0] - RADIUS, y - CENTRE[1]) < 22] = 0.98
    found = locate(entry("circle", *on_rim(60, 180, 300)), scenery(light), 0.0)
    _, radius = radius_of(found)
    assert radius == pytest.approx(RADIUS, abs=0.05)
    away = np.linalg.norm(found.points_px - CENTRE - [RADIUS, 0], axis=1)
    assert away.min() > 15  # nothing of it was used


def test_a_curve_is_followed():
    """A wave that the clicks only sketch is followed within 0.1 px rms."""
    x, y = flat.grid()
    light = flat.step(y - 250 - 6 * np.sin(x / 45), 0.1, 0.7)
    clicks = [(c, 250 + 6 * np.sin(c / 45) + 2) for c in range(100, 601, 70)]
    found = locate(entry("curve", *clicks), scenery(light), 0.0)
    miss = found.points_px[:, 1] - 250 - 6 * np.sin(found.points_px[:, 0] / 45)
    assert np.sqrt(np.mean(miss**2)) < 0.1


def test_a_point_is_the_corner_near_the_click_or_the_click():
    """A corner within 4 px is taken; on a plain face the click stands, with a remark."""
    x, y = flat.grid()
    light = 0.15 + 0.6 * np.maximum(flat.step(x - 320.0, 0, 1), flat.step(y - 260.0, 0, 1))
    corner = locate(entry("point", (322.0, 257.5)), scenery(light), 0.0)
    np.testing.assert_allclose(corner.points_px, [[320, 260]], atol=0.6)
    bare = locate(entry("point", (150.0, 100.0)), scenery(light), 0.0)
    np.testing.assert_allclose(bare.points_px, [[150, 100]])
    assert "the click itself is used" in bare.warnings[0]
    assert bare.u_noise_px > corner.u_noise_px
    twice = locate(entry("point", (150.0, 100.0), (151.0, 100.0)), scenery(light), 0.0)
    assert twice.u_noise_px < bare.u_noise_px


def test_more_noise_is_more_doubt():
    """The stated noise of a point grows with that of the picture."""
    clean, rough = (
        replace(scenery(flat.disc(CENTRE, RADIUS)), light=flat.noisy(flat.disc(CENTRE, RADIUS), s))
        for s in (0.004, 0.04)
    )
    quiet, loud = (locate(entry("circle", *on_rim(0, 120, 240)), s, 0.0) for s in (clean, rough))
    assert loud.u_noise_px > 3 * quiet.u_noise_px


def test_a_dark_face_is_told_from_paper_in_shadow_by_the_width_of_its_wall():
    """Face, a darker wall 4 px wide, and paper in shadow: the faint edge of the face is meant,
    not the sharp foot of its wall, whose paper might be a face as well."""
    height_mm, face_at, foot_at = 7.3, 412.0, 408.06  # z is 300 mm: 162 px x 7.3/300
    _, y = flat.grid()
    light = flat.step(foot_at - y, 0.008, 0.25) + flat.step(face_at - y, 0.05, 0.0)
    clicks = ((150.0, 410.0), (560.0, 410.0))
    asked = FeatureEntry("it", "edge", "photo", "top", clicks)
    found = locate(asked, Scenery(flat.noisy(light, 0.002), TONE, flat.VIEW), height_mm)
    assert found.points_px[:, 1].mean() == pytest.approx(face_at, abs=0.5)
