"""How level are the sides of an edge, as all its places tell together?

Each profile lets both sides of its step tilt, as shadows and round faces do, and pays for it: the
place of a blurred step scatters up to three times as far as that of one with level sides. But the
sides of one edge are much alike along it. So the tilts' mean and spread are learned from all
places of the edge, and each place is put where it is likeliest given both (an empirical Bayes
estimate; Efron and Morris 1973). A mean hardly larger than chance makes it counts as none.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from photomeasure.vision.steps import Steps, fit_tilted_steps

Array = NDArray[np.float64]

_CHANCE = 2.0  # standard errors: a mean tilt below that counts as none
_APART = 3  # places so far apart see other pixels
_LEAST_CONTRAST = 1e-4  # of full light: what has no step has no tilt in shares of it
_FEWEST = 12  # places that can tell how much their sides differ


def fit_steps_alike(
    positions_px: Array, profiles: Array, weights: Array, start_px: Array
) -> Steps:
    """Fit a step to each profile of one edge, in the order in which they lie along it.

    positions_px : (B,) along the profile. profiles, weights : (N, B). start_px : (N,) where to
    begin.
    """
    steps, tilts, covariance = fit_tilted_steps(positions_px, profiles, weights, start_px)
    usable = _usable(steps, covariance)
    if usable.sum() < _FEWEST:
        return steps
    size = (steps.high - steps.low)[usable, None]
    share, between = tilts[usable] / size, covariance[usable, 0, 1:] / size
    doubt = covariance[usable, 1:, 1:] / size[:, :, None] ** 2
    mean, spread, scale = _learned(share, doubt)
    gain = np.linalg.solve(doubt + np.diag((spread / scale) ** 2), between[:, :, None])[:, :, 0]
    offset = steps.offset_px.copy()
    offset[usable] += np.einsum("ni,ni->n", gain, mean - share)
    return replace(steps, offset_px=offset)


def _usable(steps: Steps, covariance: Array) -> NDArray[np.bool_]:
    """Places that show a step at all and whose sides could be told from it."""
    sure = np.isfinite(covariance).all(axis=(1, 2)) & (steps.misfit < 0.25 * steps.contrast)
    return sure & (np.abs(steps.offset_px) < 2.5) & (steps.contrast > _LEAST_CONTRAST)


def _learned(share: Array, doubt: Array) -> tuple[Array, Array, Array]:
    """(2,) mean tilt, as a share of the step a px; its spread along the edge; and by what the
    stated doubt is too small, as neighbouring samples see the same pixels.

    What places a few apart have in common is real, what they do not is noise.
    """
    mean = np.median(share, axis=0)
    noise = _wide(share[_APART:] - share[:-_APART]) / np.sqrt(2)
    scatter = np.maximum(_wide(share - mean), noise)
    away = np.clip(share - mean, -2.5 * scatter, 2.5 * scatter)
    common = (away[_APART:] * away[:-_APART]).mean(axis=0)
    spread = np.sqrt(np.maximum(common, 0.0))
    stated = np.sqrt(np.median(np.diagonal(doubt, axis1=1, axis2=2), axis=0))
    chance = _CHANCE * 1.25 * scatter / np.sqrt(len(share))
    kept = np.maximum(0.0, 1 - (chance / np.maximum(np.abs(mean), 1e-12)) ** 2)
    return mean * kept, spread, np.maximum(noise / stated, 1.0)


def _wide(values: Array) -> Array:
    """(2,) standard deviation of (N, 2) by its median, never zero."""
    middle = np.median(values, axis=0)
    return np.maximum(1.4826 * np.median(np.abs(values - middle), axis=0), 1e-9)
