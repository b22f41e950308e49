"""One line through most places, whatever the others do."""

import numpy as np
import pytest

from photomeasure.vision.agreeing import agreeing

ROWS = 120
SHARE = np.linspace(-1, 1, ROWS)
TURNS = 2 * np.pi * np.arange(ROWS) / ROWS
LINE = np.column_stack([np.ones(ROWS), SHARE])
CIRCLE = np.column_stack([np.ones(ROWS), np.cos(TURNS), np.sin(TURNS)])
ALL = np.ones(ROWS, bool)


@pytest.mark.parametrize("basis", [LINE, CIRCLE], ids=["line", "circle"])
@pytest.mark.parametrize("share", [0.1, 0.35])
def test_a_part_that_follows_another_edge_is_left_out(basis, share):
    """Up to a third of the places in one piece on another edge: all of them go, few others."""
    rng = np.random.default_rng(3)
    offset = basis @ np.array([0.4, 1.0, -0.6])[: basis.shape[1]] + rng.normal(0, 0.05, ROWS)
    other = np.arange(ROWS) < share * ROWS
    offset[other] += 2.0 + rng.normal(0, 0.05, other.sum())
    kept = agreeing(offset, ALL, basis)
    assert not kept[other].any()
    assert kept[~other].mean() > 0.95


def test_places_that_agree_are_all_kept():
    """Plain noise loses nobody, and places that were not good stay so."""
    rng = np.random.default_rng(4)
    good = np.arange(ROWS) % 10 != 0
    kept = agreeing(CIRCLE @ [1.0, -0.5, 0.3] + rng.normal(0, 0.1, ROWS), good, CIRCLE)
    assert kept[good].mean() > 0.98
    assert not kept[~good].any()


def test_a_free_curve_is_left_to_itself():
    """What may bend as it likes has no line that most of it follows."""
    free = np.column_stack([SHARE**k for k in range(8)])
    offset = np.where(np.arange(ROWS) < 40, 3.0, 0.0)
    assert agreeing(offset, ALL, free).all()
