"""Masks are worn down and grown as an independent library does it, up to the picture's rim."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import ndimage

from photomeasure.vision.outline_masks import dilated, eroded, opened


@pytest.mark.parametrize("seed", range(20))
def test_masks_change_as_scipy_changes_them(seed: int) -> None:
    """Random blobs, some cut off by the rim, give the same pixels as scipy.ndimage's cross."""
    rng = np.random.default_rng(seed)
    height, width = rng.integers(3, 80, 2)
    mask = ndimage.gaussian_filter(rng.normal(size=(height, width)), 2) > 0.02 * rng.normal()
    times = int(rng.integers(1, 12))
    assert (eroded(mask, times) == ndimage.binary_erosion(mask, iterations=times)).all()
    assert (dilated(mask, times) == ndimage.binary_dilation(mask, iterations=times)).all()
    assert (opened(mask, times) == ndimage.binary_opening(mask, iterations=times)).all()


def test_a_full_mask_is_worn_down_at_the_rim_of_the_picture() -> None:
    """Beyond the rim nothing is set."""
    assert eroded(np.ones((5, 5), bool), 2).sum() == 1
