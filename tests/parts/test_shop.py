"""The shop check finds what a shop would ask."""

from dataclasses import replace

import pytest
from made_parts import cover, rectangle

from photomeasure.parts.clearances import neck_mm, webs
from photomeasure.parts.shop import check_for_shop
from photomeasure.records.part import Bend, Level, Part, Profile, RoundHole, Size


def plate(*holes: RoundHole, outline: Profile | None = None, thickness: float = 3.0) -> Part:
    return Part("plate", outline or rectangle(40, 20), thickness, tuple(holes))


def hole(name: str, x: float, y: float, diameter: float) -> RoundHole:
    return RoundHole(name, (x, y), Size(diameter, 0.01))


def words(part: Part) -> str:
    return " ".join(r.words for r in check_for_shop(part))


def test_a_sound_part_raises_no_question():
    """Holes and webs of the thickness and more."""
    assert check_for_shop(plate(hole("H1", 10, 10, 6), hole("H2", 30, 10, 6))) == ()


@pytest.mark.parametrize(
    ("part", "told"),
    [
        (plate(hole("H1", 20, 10, 2)), "no hole smaller than the thickness"),
        (plate(hole("H1", 20, 4, 6)), "thin web"),
        (plate(hole("H1", 16, 10, 6), hole("H2", 24, 10, 6)), "thin web"),
        (plate(hole("H1", 39, 10, 6)), "runs out of the outline"),
        (plate(hole("H1", 18, 10, 6), hole("H2", 20, 10, 6)), "run into each other"),
        (plate(outline=Profile(((0, 0), (9, 9), (9, 0), (0, 9)), (0.0,) * 4)), "crosses itself"),
        (
            plate(outline=Profile(((0, 0), (9, 0), (9, 0.01), (9, 9), (0, 9)), (0.0,) * 5)),
            "a machine stops there",
        ),
        (plate(outline=Profile(((0, 0),), (0.0,))), "open gap"),
        (replace(plate(), photo_size_mm=(42.0, 20.0)), "42.00 mm in the photo"),
        (
            replace(plate(), bends=(Bend((0.0, 30.0), (40.0, 30.0), 90.0, True, 1.0),)),
            "Bend line 1",
        ),
        (
            replace(plate(), levels=(Level("seat", rectangle(60, 60), 1.0),)),
            "reaches the part's edge",
        ),
    ],
)
def test_each_fault_is_told(part, told):
    """One fault, one remark."""
    assert told in words(part)


def test_webs_are_exact():
    """The web between two holes is their distance less their radii."""
    found = {w.between: w for w in webs(cover())}
    assert found["outline", "H2"].width_mm == pytest.approx(10 - 3.3)
    assert found["outline", "H2"].centre_mm == pytest.approx(10)


def test_the_narrowest_neck_is_found():
    """A plate with a neck of 4 mm falls apart when 2 mm are taken off each side."""
    outline = Profile(
        ((0, 0), (20, 0), (20, 8), (30, 8), (30, 0), (50, 0), (50, 20), (30, 20), (30, 12),
         (20, 12), (20, 20), (0, 20)),
        (0.0,) * 12,
    )  # fmt: skip
    assert neck_mm(Part("waist", outline, 3.0)) == pytest.approx(4.0, abs=0.02)
