"""Names on a drawing can be read: they lie on no line and not on each other."""

from __future__ import annotations

from itertools import combinations

import pytest
import shapely
from made_parts import cover

from photomeasure.exporters.parts.labels import _HIGH, _WIDE, _lines, labels
from photomeasure.parts.profiles import circle
from photomeasure.records.part import Part, RoundHole, Size

DISC = Part(
    name="Disc",
    outline=circle((50.0, 50.0), 50.0),
    thickness_mm=3.0,
    holes=(
        RoundHole("H1", (50.0, 50.0), Size(40.0, 0.02), 0.01),
        RoundHole("H2", (93.0, 60.0), Size(6.6, 0.02), 0.01),  # its upper right is the rim
        RoundHole("H3", (60.0, 93.0), Size(6.6, 0.02), 0.01),
    ),
)


@pytest.mark.parametrize("scale", [0.5, 1.0, 2.0])
@pytest.mark.parametrize("part", [DISC, cover()], ids=["disc", "cover"])
def test_names_lie_on_no_line(part, scale):
    """Boxes of all names against everything that is drawn, and against each other."""
    letter, lines = 3.0 / scale, _lines(part, scale)
    boxes = [
        shapely.box(x, y, x + _WIDE * letter * len(name), y + _HIGH * letter)
        for name, (x, y) in labels(part, 3.0, scale)
    ]
    assert len(boxes) == len(part.holes) + len(part.slots)
    assert not any(box.intersects(lines) for box in boxes)
    assert not any(a.intersects(b) for a, b in combinations(boxes, 2))
