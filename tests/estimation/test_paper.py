"""Paper that lies flat in the middle and may lift at its rim."""

import numpy as np
import pytest

from photomeasure.estimation.paper import paper_of
from photomeasure.vision.sheets import sheet


@pytest.mark.parametrize("identity", ["window-a4-A", "window-letter-landscape-B"])
def test_the_middle_of_a_ring_stays_flat(identity):
    """All bumps of a window sheet together hardly lift what lies under the part."""
    paper = paper_of(sheet(identity).saddles_mm)
    assert paper.rim.all()
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
    assert (~paper.rim).any()
    assert np.abs(paper.basis(np.zeros((1, 2)))).sum() > 0.5
