"""Is one of several holes of another size than the rest?

Where it is, its other rim (of a chamfer, of the back) may have been taken, which moves its
centre too: a person should look.
"""

from __future__ import annotations

from collections.abc import Iterable

from photomeasure.geometry.odd_sizes import odd_sizes
from photomeasure.records.shapes import Circle, Shape

_FEWEST_ALIKE = 3  # one more than where another rim of the usual size bears witness as well


def unlike_words(holes: Iterable[Shape]) -> tuple[str, ...]:
    """A sentence on each hole that is of another size than most, at least three, of them."""
    diameters = {
        number: 2 * hole.radius
        for number, hole in enumerate(holes, start=1)
        if isinstance(hole, Circle)
    }
    found = odd_sizes(list(diameters.values()), _FEWEST_ALIKE)
    if found is None:
        return ()
    numbers = list(diameters)
    return tuple(_words(numbers[k], diameters[numbers[k]], found.usual_mm) for k in found.odd)


def _words(number: int, diameter_mm: float, usual_mm: float) -> str:
    off_mm = diameter_mm - usual_mm
    off = f"{abs(off_mm):.2f} mm {'larger' if off_mm > 0 else 'smaller'}"
    return (
        f"Hole {number} came out {off} than the others, which are alike at about "
        f"{usual_mm:.2f} mm. If all are equal, another of its rims was taken and its centre is "
        "off as well: look at it in the picture, and set its `choice`."
    )
