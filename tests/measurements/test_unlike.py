"""Among equal holes the one that came out of another size is named."""

import numpy as np

from photomeasure.measurements.unlike import unlike_words
from photomeasure.records.shapes import Circle


def holes(*diameters: float) -> list[Circle]:
    return [Circle(np.array([20.0 * k, 0.0]), d / 2) for k, d in enumerate(diameters)]


def test_the_hole_whose_lower_rim_was_taken_is_named():
    """Six holes of 8.8 mm of which the fifth was read along the foot of its chamfer."""
    (said,) = unlike_words(holes(8.81, 8.79, 8.80, 8.82, 7.95, 8.80))
    assert said.startswith("Hole 5 came out 0.85 mm smaller than the others")
    assert "8.80 mm" in said


def test_equal_holes_and_patterns_of_several_sizes_are_no_matter():
    """Scatter of a few hundredths, two sizes in turn, or too few to compare: nothing is said."""
    assert unlike_words(holes(6.60, 6.55, 6.63, 6.58)) == ()
    assert unlike_words(holes(6.6, 9.0, 6.6, 9.0, 11.0, 13.0)) == ()
    assert unlike_words(holes(6.6, 6.6, 5.0)) == ()


def test_a_hole_that_is_warned_of_is_one_that_another_rim_would_have_been_taken_for():
    """3.5 % off: what asks for another rim where there is one is said where there is none."""
    (said,) = unlike_words(holes(20.0, 20.0, 20.0, 20.7))
    assert said.startswith("Hole 4 came out 0.70 mm larger")
