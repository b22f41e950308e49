"""Shipped rules and inch fractions against standard sizes.

ISO 273 clearance holes: read second-hand. ASME B18.2.8 normal clearance holes: read in
Machinery's Handbook, 31st edition, p. 1741. ISO 13854 / EN 349: read as an excerpt.
"""

import pytest

from photomeasure.rules import RULES
from photomeasure.uncertainty.notation import format_fraction, parse_length_mm

ISO_273_MEDIUM = {"m6": 6.6, "m8": 9.0}
ISO_13854 = {
    "finger": 25, "toes": 50, "hand": 100, "arm": 120, "foot": 120, "leg": 180, "head": 300,
    "body": 500,
}  # fmt: skip


@pytest.mark.parametrize(("thread", "hole"), ISO_273_MEDIUM.items())
def test_clearance_holes_are_those_of_iso_273(thread, hole):
    """The medium series of ISO 273 is what the shipped rules ask for."""
    assert RULES[f"clearance-hole-{thread}-medium"].at_least == hole


@pytest.mark.parametrize(("part", "gap"), ISO_13854.items())
def test_crush_gaps_are_those_of_iso_13854(part, gap):
    """The gaps that do not crush a part of the body."""
    rule = RULES[f"crush-gap-{part}"]
    assert (rule.at_least, rule.unit) == (gap, "mm")


@pytest.mark.parametrize(
    ("bolt", "hole", "play_mm"),
    [("1/4", "9/32", 0.79375), ("5/16", "11/32", 0.79375), ("3/8", "13/32", 0.79375),
     ("7/16", "15/32", 0.79375)],
)  # fmt: skip
def test_inch_clearance_holes_read_and_write(bolt, hole, play_mm):
    """ASME B18.2.8 normal holes are 1/32 in over the bolt, read and written as fractions."""
    size = parse_length_mm(hole)
    assert size - parse_length_mm(bolt) == pytest.approx(play_mm)
    assert format_fraction(size) == f"{hole} in"
