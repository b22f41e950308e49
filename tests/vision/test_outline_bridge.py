"""Where a boundary may run that is not seen for a stretch, by arithmetic."""

from __future__ import annotations

import numpy as np
import pytest

from photomeasure.vision.outline_bridge import Gap, gaps_of

STEP_MM = 0.2
SIDE = 20.0
RADIUS = 3.0


def rounded_corner() -> np.ndarray:
    """(N, 2) a side along x, a rounding of 3 mm and a side along y: the tangent points lie 3 mm
    before (20, 0)."""
    along = np.arange(0, SIDE - RADIUS, STEP_MM)
    turn = np.arange(0, np.pi / 2, STEP_MM / RADIUS)
    arc = [SIDE - RADIUS, RADIUS] + RADIUS * np.column_stack([np.sin(turn), -np.cos(turn)])
    up = np.arange(RADIUS, SIDE, STEP_MM)
    return np.vstack(
        [
            np.column_stack([along, 0 * along]),
            arc,
            np.column_stack([0 * up + SIDE, up]),
            # closed well away from the corner
            np.column_stack([np.linspace(SIDE, 0, 200), np.linspace(SIDE, 0.2, 200)]),
        ]
    )


def corner_gap() -> tuple[Gap, np.ndarray]:
    """The gap from one tangent point to the other, and the points of the arc in it."""
    points = rounded_corner()
    in_arc = (points[:, 0] > SIDE - RADIUS) & (points[:, 1] < RADIUS)
    (gap,) = gaps_of(points, ~in_arc)
    return gap, points[gap.rows]


def sharp(count: int) -> np.ndarray:
    """The same corner without a rounding: 3 mm of each side."""
    far = np.linspace(0, 2 * RADIUS, count)
    return np.column_stack(
        [
            SIDE - RADIUS + np.minimum(far, RADIUS),
            np.maximum(far - RADIUS, 0),
        ]
    )


def test_a_rounding_is_bridged_by_its_own_arc():
    """Where what was followed ran round, on the arc that touches both sides."""
    gap, arc = corner_gap()
    places = gap.places_as_followed(arc + 0.05)
    centre = [SIDE - RADIUS, RADIUS]
    assert np.hypot(*(places - centre).T) == pytest.approx(RADIUS, abs=0.05)


def test_a_sharp_corner_is_bridged_where_that_was_followed():
    """Both sides run on to (20, 0), which the arc misses by 1.2 mm."""
    gap, arc = corner_gap()
    places = gap.places_as_followed(sharp(len(arc)))
    assert np.hypot(*(places - [SIDE, 0]).T).min() < STEP_MM
    off = np.minimum(np.abs(places[:, 1]), np.abs(places[:, 0] - SIDE))
    assert off.max() < 0.02


def test_nothing_bridges_where_something_else_was_followed():
    """Neither arc nor corner: then it is said, and the fit is left alone."""
    gap, arc = corner_gap()
    elsewhere = arc + np.array([-2.0, 2.0])
    assert gap.places_as_followed(elsewhere) is None
    assert gap.is_open(elsewhere)


def test_what_runs_on_straight_beside_a_gap_is_known():
    """Points on either side's line, and points of the arc between them, up to 1.2 mm off it."""
    gap, arc = corner_gap()
    assert gap.straight_on(sharp(len(arc))).all()
    assert not gap.straight_on(arc[len(arc) // 3 : -len(arc) // 3]).any()
