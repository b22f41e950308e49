"""Where an outline steps aside is told, by how much and where; shapes that parts have are not."""

from __future__ import annotations

from dataclasses import replace

import pytest
from made_parts import cover, rectangle

from photomeasure.parts.jogs import jogs
from photomeasure.parts.profiles import circle, profile_through, stadium
from photomeasure.parts.shaping import rounded
from photomeasure.parts.shop import check_for_shop
from photomeasure.records.part import Profile


def stepped(step_mm: float, over_mm: float) -> Profile:
    """A plate of 80 x 40 mm whose upper side from x = 40 on lies lower, after a slope."""
    right = 40 - over_mm / 2
    points = ((0, 0), (80, 0), (80, 40 - step_mm), (right + over_mm, 40 - step_mm), (right, 40))
    return Profile((*points, (0, 40)), (0.0,) * 6)


@pytest.mark.parametrize("over", [1.0, 4.0])
def test_a_step_aside_is_told_with_its_size(over):
    """By 1.2 mm, whether at once or over some mm, as where a line changes from rim to foot."""
    (jog,) = jogs(stepped(1.2, over))
    assert jog.step_mm == pytest.approx(1.2, abs=1e-6)
    assert jog.at_mm == pytest.approx((40, 39.4))


def test_a_step_on_an_arc_is_told():
    """Two arcs about one middle, of 30 and 31 mm, joined by a short line."""
    points = ((30, 0), (0, 30), (0, 31), (-31, 0), (-31, -40), (30, -40))
    quarter = 0.41421356
    (jog,) = jogs(profile_through(points, (quarter, 0, quarter, 0, 0, 0)))
    assert jog.step_mm == pytest.approx(1.0, abs=1e-6)


@pytest.mark.parametrize(
    "profile",
    [
        rectangle(60, 40),
        rounded(rectangle(60, 40), 3),
        stadium((0, 0), 20, 8, 0.3),
        circle((0, 0), 20),
        stepped(12.0, 1.0),
        stepped(1.2, 25.0),
    ],
    ids=["rectangle", "rounded", "slot", "disc", "shoulder", "taper"],
)
def test_what_parts_have_is_no_jog(profile):
    """Corners, roundings, slots, a shoulder of 12 mm and a long taper."""
    assert not list(jogs(profile))


def test_the_shop_check_asks_about_it():
    """With the place; it is no fault, for the part may have such a step."""
    part = replace(cover(), outline=stepped(1.2, 2.0), holes=(), slots=(), levels=())
    (said,) = [r for r in check_for_shop(part) if "steps aside by 1.20 mm" in r.words]
    assert "draw a stroke" in said.words
    assert not said.grave
