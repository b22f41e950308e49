"""How a boundary may be off as a whole, and what that makes of a hole."""

from __future__ import annotations

import numpy as np
import pytest

from photomeasure.estimation.boundaries import place_boundaries
from photomeasure.estimation.features import Height
from photomeasure.parts.holes import round_hole
from photomeasure.records.outline import Boundary
from photomeasure.records.view import Solution, View

PX_PER_MM = 10.0
SHIFT_PX = 0.2


def ring(x: float, y: float, radius_px: float) -> Boundary:
    turns = np.linspace(0, 2 * np.pi, 360, endpoint=False)
    normals = np.column_stack([np.cos(turns), np.sin(turns)])
    return Boundary(
        points_px=np.array([x, y]) + radius_px * normals,
        normals_px=normals,
        light_side=np.ones(360),
        u_noise_px=0.001,
        u_shift_px=SHIFT_PX,
        u_tone_px=0.0,
        inner=True,
    )


def test_what_an_edge_is_makes_a_hole_larger_and_moves_it():
    """Seen square-on at 10 px per mm. By as much as the edge is in doubt the radius changes, so
    the diameter by twice that, and each coordinate of the middle moves, as the edge on one side
    may be what that on the other is not. Shift and turn of all three take out a part of it."""
    camera = np.array([3000.0, 1000.0, 1000.0, 0, 0, 0, 0, 0])
    pose = np.array([np.pi, 0, 0, 0, 0, 3000.0 / PX_PER_MM])
    view = View("photo", "sheet", (2000, 2000), camera, pose, 0.1, 0.0)
    solution = Solution((view,), view.parameters, {})
    rings = [ring(300, 300, 100), ring(1700, 300, 100), ring(1000, 1700, 100)]
    contour, *_ = place_boundaries(rings, view, solution, Height(0.0, 0.0))
    hole = round_hole(contour, "H1", 0.1)
    assert hole is not None
    assert hole.diameter.measured == pytest.approx(20.0, abs=1e-6)
    shift_mm = SHIFT_PX / PX_PER_MM
    assert hole.diameter.u == pytest.approx(2 * shift_mm, rel=0.05)
    assert 0.6 * shift_mm < hole.u_centre_mm < 1.05 * shift_mm
