"""What is said of a part speaks of strokes, not of a job's entries."""

from __future__ import annotations

from types import SimpleNamespace

from photomeasure.vision.locate import _warnings
from photomeasure.vision.outline import _in_words_of_parts


def test_a_hole_with_two_edges_asks_for_a_stroke():
    """The word `choice` means nothing where there is no job."""
    one, other = (SimpleNamespace(words="edge", depth=0.0) for _ in range(2))
    (warning,) = _warnings(one, [one, other], 3.0)
    assert "`choice`" in warning
    said = _in_words_of_parts(warning)
    assert "2 edges fit" in said
    assert "draw a stroke" in said
    assert "`choice`" not in said


def test_other_words_are_left_alone():
    """Only that one sentence is meant for jobs."""
    assert _in_words_of_parts("Bring more light.") == "Bring more light."
