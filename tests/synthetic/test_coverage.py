from __future__ import annotations

import numpy as np
import pytest
import shapely

from photomeasure.synthetic.coverage import Box, Canvas, box_of

REGION: Box = (2, 1, 12, 11)


def by_clipping(shape: shapely.Geometry, region: Box) -> np.ndarray:
    """Covered area of each pixel as an independent library clips it."""
    rows, columns = np.mgrid[region[1] : region[3], region[0] : region[2]]
    pixels = shapely.box(columns - 0.5, rows - 0.5, columns + 0.5, rows + 0.5)
    return np.asarray(shapely.area(shapely.intersection(pixels, shape)))


@pytest.mark.parametrize("seed", range(20))
def test_coverage_of_polygons_with_holes_equals_the_clipped_area(seed: int) -> None:
    rng = np.random.default_rng(seed)
    centre = rng.uniform(-3, 15, 2)
    turns = np.sort(rng.uniform(0, 2 * np.pi, 7))
    arms = np.column_stack([np.cos(turns), np.sin(turns)]) * rng.uniform(1, 8, (7, 1))
    shape = shapely.Polygon(centre + arms).buffer(0).difference(shapely.Point(centre).buffer(1))
    canvas = Canvas(REGION)
    canvas.add(shape, 2.0)
    assert np.abs(canvas.picture() - 2 * by_clipping(shape, REGION)).max() < 1e-5


@pytest.mark.parametrize("shift", [0.0, 0.5])
def test_borders_that_lie_on_pixel_borders_or_centres_are_exact(shift: float) -> None:
    shape = shapely.box(4 + shift, 3 + shift, 9 + shift, 20)
    canvas = Canvas(REGION)
    canvas.add(shape)
    assert np.allclose(canvas.picture(), by_clipping(shape, REGION), atol=1e-6)


def test_each_polygon_keeps_its_own_weight() -> None:
    canvas = Canvas((0, 0, 10, 4))
    canvas.add([shapely.box(0, 0, 3, 3), shapely.box(5, 0, 8, 3)], [0.25, -1.0])
    picture = canvas.picture()
    assert picture[1, 1] == pytest.approx(0.25)
    assert picture[1, 6] == pytest.approx(-1.0)
    assert picture[1, 4] == pytest.approx(0.0)


def test_the_box_of_a_shape_is_cut_to_the_picture() -> None:
    assert box_of(shapely.box(-5, 2.2, 7.9, 300), 2, (0, 0, 100, 50)) == (0, 0, 10, 50)


def test_nothing_to_cover_leaves_the_canvas_empty() -> None:
    canvas = Canvas((0, 0, 4, 4))
    canvas.add([], [])
    canvas.add(shapely.Polygon())
    assert not canvas.picture().any()
