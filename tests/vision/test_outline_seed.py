"""Where a part is taken to lie, on drawn windows whose regions are known as they were drawn."""

import numpy as np
import pytest
from scipy import ndimage

from photomeasure.vision.outline_seed import find_seed
from photomeasure.vision.outline_window import Look

PAPER = 0.81  # linear light
PX_PER_MM = 4.0
ROWS, COLUMNS = np.indices((400, 480))


def disc(x, y, radius_mm):
    return np.hypot(COLUMNS - x, ROWS - y) < radius_mm * PX_PER_MM


def look(*painted):
    """Surfaces laid over the paper in turn: where, and their linear light."""
    light = np.full(ROWS.shape, PAPER)
    for where, value in painted:
        light = np.where(where, value, light)
    light = ndimage.gaussian_filter(np.sqrt(light), 0.7).astype(np.float32)
    light += np.random.default_rng(3).normal(0, 0.004, light.shape).astype(np.float32)
    seen = np.full(light.shape, True)
    return Look(light, (0.0, 0.0, 120.0, 100.0), PX_PER_MM, seen, ~seen)


@pytest.mark.parametrize("part", [0.62, 0.66, 1.0])
def test_a_face_nearly_as_bright_as_paper_is_found_beside_its_wall(part):
    """Its texture makes only patches of it clearly unlike paper; the wall is dark all along."""
    body = (np.abs(COLUMNS - 240) < 100) & (np.abs(ROWS - 200) < 80)
    wall = (np.abs(COLUMNS - 240) < 100) & (np.abs(ROWS - 290) < 10)
    streaks = part * (1 + 0.05 * np.sin(COLUMNS / 7) * np.cos(ROWS / 30))
    row, column = find_seed(look((wall, 0.1), (body, streaks)), PAPER)
    assert body[row, column]


def test_the_ring_past_a_high_face_is_no_part():
    """Its squares are darker than a bright face, and lie clear of the window's edge."""
    body, square = disc(240, 260, 4), (np.abs(COLUMNS - 60) < 20) & (np.abs(ROWS - 40) < 20)
    shown = look((square, 0.02), (body, 0.55))
    shown.ring[:80] = True
    row, column = find_seed(shown, PAPER)
    assert body[row, column]


@pytest.mark.parametrize("part", [0.05, 0.3, 1.4], ids=["rubber", "painted", "bright metal"])
def test_a_bore_in_shadow_is_not_taken_for_the_part(part):
    """Paper deep in a wide bore looks as unlike paper as a part does, and is further from all
    edges than the narrow land round it."""
    body, bore = disc(240, 200, 40), disc(240, 200, 28)
    row, column = find_seed(look((body, part), (bore, 0.55)), PAPER)
    assert (body & ~bore)[row, column]


def test_a_hole_in_shadow_beside_a_land_is_not_in_the_middle_of_it():
    """Land and hole together are deepest at the very edge between them."""
    body = (np.abs(COLUMNS - 240) < 120) & (np.abs(ROWS - 200) < 40)
    hole = disc(240, 200, 5)
    row, column = find_seed(look((body, 0.05), (hole, 0.5)), PAPER)
    assert ndimage.binary_erosion(body & ~hole, iterations=4)[row, column]


def test_a_part_in_its_own_shadow_is_the_part():
    part = disc(240, 200, 20)
    row, column = find_seed(look((disc(240, 200, 32), 0.55), (part, 0.2)), PAPER)
    assert part[row, column]


def test_a_texture_as_coarse_as_edges_is_still_a_part():
    part = disc(240, 200, 30)
    streaks = np.where(COLUMNS // 3 % 2, 0.1, 0.4)
    row, column = find_seed(look((part, streaks)), PAPER)
    assert part[row, column]
