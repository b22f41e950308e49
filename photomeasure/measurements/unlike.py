"""Is one of several holes of another size than the rest?

In most patterns all holes are equal. Where one alone is not, its other rim (of a chamfer, of
the back) may have been taken, which moves its centre too: a person should look.
"""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from photomeasure.records.shapes import Circle, Shape

_ALIKE, _UNLIKE = 0.02, 0.04  # of the usual diameter
_FEWEST_ALIKE = 3


def unlike_words(holes: Iterable[Shape]) -> tuple[str, ...]:
    """A sentence on each hole that is of another size than at least three alike."""
    diameters = {
        number: 2 * hole.radius
        for number, hole in enumerate(holes, start=1)
        if isinstance(hole, Circle)
    }
    if len(diameters) <= _FEWEST_ALIKE:
        return ()
    usual = float(np.median(list(diameters.values())))
    off = {number: diameter - usual for number, diameter in diameters.items()}
    if sum(abs(d) < _ALIKE * usual for d in off.values()) < max(_FEWEST_ALIKE, len(off) / 2):
        return ()
    return tuple(
        f"Hole {number} came out {abs(d):.2f} mm {'larger' if d > 0 else 'smaller'} than the "
        f"others, which are alike at about {usual:.2f} mm. If all are equal, another of its rims "
        "was taken and its centre is off as well: look at it in the picture, and set its `choice`."
        for number, d in off.items()
        if abs(d) > _UNLIKE * usual
    )
