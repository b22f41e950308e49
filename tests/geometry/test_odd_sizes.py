"""Which hole is odd: one answer for the rim that is taken and for the warning that is said."""

import pytest

from photomeasure.geometry.odd_sizes import ODD, odd_sizes


def test_the_odd_one_and_the_mean_of_the_others():
    """The fifth of six holes of 8.8 mm was read along the foot of its chamfer."""
    found = odd_sizes([8.81, 8.79, 8.80, 8.82, 7.95, 8.80], 3)
    assert found.odd == (4,)
    assert found.usual_mm == pytest.approx(8.804)


@pytest.mark.parametrize(("off", "odd"), [(0.9 * ODD, ()), (1.1 * ODD, (3,)), (-1.1 * ODD, (3,))])
def test_the_limit_is_a_share_of_the_usual_size(off, odd):
    """Just inside and just outside, on either side."""
    assert odd_sizes([20.0, 20.0, 20.0, 20.0 * (1 + off)], 2).odd == odd


def test_without_a_majority_that_is_alike_nobody_is_odd():
    """Pairs of two sizes; all different; fewer alike than wanted; none at all."""
    assert odd_sizes([6.6, 6.6, 9.0, 9.0], 2) is None
    assert odd_sizes([5.0, 6.6, 9.0], 2) is None
    assert odd_sizes([6.6, 6.6, 5.0], 3) is None
    assert odd_sizes([], 2) is None
