"""The plot beside a camera record."""

import io

import numpy as np
import pytest
from PIL import Image

from photomeasure.exporters.camera_plot import empty_share, render_camera_plot
from photomeasure.records.view import CameraRecord

SIZE = (1200, 900)
RECORD = CameraRecord(
    name="bench phone",
    size_px=SIZE,
    orientation=1,
    parameters=np.array([1000.0, 600, 450, 0, 0, 0, 0, 0]),
    covariance=np.eye(8),
    residual_px=0.05,
    photos=2,
    corners=80,
)


def test_empty_share_counts_the_parts_of_the_picture_without_corners():
    """Corners in the left half only leave half of the picture empty."""
    x, y = np.meshgrid(np.arange(5, 600, 10), np.arange(5, 900, 10))
    assert empty_share(SIZE, np.column_stack([x.ravel(), y.ravel()])) == pytest.approx(0.5)


def test_render_camera_plot_is_a_png_that_shades_what_was_not_seen():
    """The PNG decodes, and more of it is shaded when corners cover less."""
    rng = np.random.default_rng(3)

    def shaded(limit):
        corners = [rng.uniform(0, limit, (40, 2)) for _ in range(2)]
        png = render_camera_plot(RECORD, corners, [rng.normal(0, 0.05, (40, 2)) for _ in corners])
        pixels = np.asarray(Image.open(io.BytesIO(png)).convert("RGB")).astype(int)
        return np.mean(np.abs(pixels - [0xF1, 0xD9, 0xC8]).sum(axis=2) < 4)

    assert shaded(300) > shaded(900) > 0
