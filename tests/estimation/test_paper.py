"""Paper that lies flat in the middle and may lift at its rim."""

import numpy as np
import pytest

from photomeasure.estimation.paper import paper_of
from photomeasure.vision.sheets import sheet


@pytest.mark.parametrize("identity", ["window-a4-A", "window-letter-landscape-B"])
def test_the_middle_of_a_ring_stays_flat(identity):
    """All bumps of a window sheet together hardly lift what lies under the part."""
    paper = paper_of(sheet(identity).saddles_mm)
    assert np.abs(paper.basis(np.zeros((1, 2)))).sum() < 0.05


def test_bumps_can_shape_a_lifted_side():
    """A parabolic lift of a side is matched within a tenth of its peak."""
    saddles = sheet("window-a4-A").saddles_mm
    paper = paper_of(saddles)
    lift = np.clip((saddles[:, 0] - 40) / 45, 0, None) ** 2
    basis = paper.basis(saddles)
    heights, *_ = np.linalg.lstsq(basis, lift, rcond=None)
    assert np.sqrt(np.mean((basis @ heights - lift) ** 2)) < 0.1 * lift.max()


def test_a_board_may_bend_in_its_middle():
    """Where the middle is seen it has bumps of its own."""
    paper = paper_of(sheet("board-a4-A").saddles_mm)
    assert np.abs(paper.basis(np.zeros((1, 2)))).sum() > 0.5


@pytest.mark.parametrize("identity", ["card-25-A", "card-50-G", "card-80-D"])
def test_a_card_bends_as_one_piece_about_its_mean_plane(identity):
    """Any cylinder is matched exactly, and no bend lifts or leans the mean plane."""
    design = sheet(identity)
    paper = paper_of(design.saddles_mm)
    along = design.saddles_mm @ [np.cos(0.7), np.sin(0.7)]
    basis = np.column_stack([paper.basis(design.saddles_mm), np.ones(len(along))])
    heights, *_ = np.linalg.lstsq(basis, along**2 / 5000, rcond=None)
    np.testing.assert_allclose(basis @ heights, along**2 / 5000, atol=1e-12)
    half = np.max(np.abs(design.saddles_mm)) + design.square_mm
    spots = (np.arange(200) + 0.5) / 100 - 1
    board = np.stack(np.meshgrid(spots, spots), axis=-1).reshape(-1, 2) * half
    planes = np.column_stack([np.ones(len(board)), board])
    np.testing.assert_allclose(planes.T @ paper.basis(board) / len(board), 0, atol=1e-3)


def test_a_card_of_twice_the_size_may_sag_four_times_as_much():
    """One curvature for all cards, whatever their size."""
    small, large = (paper_of(sheet(i).saddles_mm).lift_u_mm for i in ("card-25-A", "card-80-A"))
    np.testing.assert_allclose(large / small, (9 * 8.5 / (5 * 4.4)) ** 2, rtol=1e-9)
