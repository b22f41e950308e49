from __future__ import annotations

import cv2
import numpy as np
import pytest

from photomeasure.errors import GeometryError
from photomeasure.synthetic.lens import Lens, normal_map
from tests.synthetic.scenes import LENS


def grid_px() -> np.ndarray:
    return np.stack(
        np.meshgrid(np.linspace(0, 4031, 30), np.linspace(0, 3023, 30)), axis=-1
    ).reshape(-1, 2)


def test_the_lens_agrees_with_opencv_with_all_its_terms() -> None:
    lens = Lens(3000, 2030, 1500, (4032, 3024), *np.linspace(0.01, 0.06, 6), *([1e-3] * 6))
    normal = np.random.default_rng(0).uniform(-0.5, 0.5, (200, 2))
    matrix = np.array([[lens.f_px, 0, lens.cx], [0, lens.f_px, lens.cy], [0, 0, 1]])
    names = ("k1", "k2", "p1", "p2", "k3", "k4", "k5", "k6", "s1", "s2", "s3", "s4")
    terms = np.array([getattr(lens, name) for name in names])
    space = np.column_stack([normal, np.ones(len(normal))])
    seen, _ = cv2.projectPoints(space, np.zeros(3), np.zeros(3), matrix, terms)
    assert np.abs(lens.pixels_from_normal(normal) - seen.reshape(-1, 2)).max() < 1e-9


def test_the_inverse_brings_every_pixel_back() -> None:
    back = LENS.pixels_from_normal(LENS.normal_from_pixels(grid_px()))
    assert np.abs(back - grid_px()).max() < 1e-8


def test_the_fast_map_of_a_region_is_exact_to_a_thousandth_of_a_pixel() -> None:
    region = (3400, 2500, 4032, 3024)
    fast = normal_map(LENS, region).reshape(-1, 2).astype(float)
    rows, columns = np.mgrid[region[1] : region[3], region[0] : region[2]]
    pixels = np.column_stack([columns.ravel(), rows.ravel()])
    assert np.abs(LENS.pixels_from_normal(fast) - pixels).max() < 0.001


def test_a_lens_that_folds_back_is_refused() -> None:
    with pytest.raises(GeometryError, match="folds back"):
        Lens(3000, 2016, 1512, k1=-2.0).normal_from_pixels(np.array([[0.0, 0.0]]))
