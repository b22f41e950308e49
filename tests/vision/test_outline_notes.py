"""What is said of a part speaks of sizes and strokes, not of a job's entries."""

from __future__ import annotations

from types import SimpleNamespace

from photomeasure.records.feature import SET_CHOICE
from photomeasure.vision.locate import _warnings
from photomeasure.vision.outline import _other_rims


def test_a_hole_with_several_edges_tells_their_sizes_and_asks_for_a_stroke():
    """As a chamfered bore has; the smallest of the others first."""
    said = _other_rims(25.62, [24.04, 23.96])
    assert "3 edges fit: one of 25.6 mm across, which was taken, and about 24.0 and 24.0" in said
    assert "draw a stroke" in said
    assert "choice" not in said


def test_what_a_job_is_told_of_edges_ends_as_is_looked_for():
    """By its end the sentence is known that is told in other words of a part."""
    one, other = (SimpleNamespace(words="edge", depth=0.0) for _ in range(2))
    (warning,) = _warnings(one, [one, other], 3.0)
    assert warning.endswith(SET_CHOICE)
