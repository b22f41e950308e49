"""Which printable sheets exist, and how each is laid out.

`sheet(identity)` builds one; `identities()` names them all. A new design is one entry in
DESIGNS.
"""

from __future__ import annotations

from functools import cache
from itertools import product

from photomeasure.errors import JobError
from photomeasure.records.sheet import Sheet
from photomeasure.vision.sheets.layout import COPIES, Design, lay_out

# Ids of one block are shared by a design and its turned twin: they differ in arrangement.
DESIGNS: tuple[Design, ...] = (
    Design("window-a4", "A4", False, (23, 33), 8.0, 3, 0, 100),
    Design("window-a4-landscape", "A4", True, (33, 23), 8.0, 3, 0, 100),
    Design("window-letter", "Letter", False, (23, 31), 8.0, 3, 100, 96),
    Design("window-letter-landscape", "Letter", True, (31, 23), 8.0, 3, 100, 96),
    Design("board-a4", "A4", False, (11, 15), 17.0, 0, 200, 82),
    Design("board-a4-landscape", "A4", True, (15, 11), 17.0, 0, 200, 82),
    Design("board-letter", "Letter", False, (11, 15), 16.0, 0, 290, 82),
    Design("board-letter-landscape", "Letter", True, (15, 11), 16.0, 0, 290, 82),
)


def identities() -> tuple[str, ...]:
    """Every sheet that can be printed and read: design and copy letter."""
    return tuple(f"{d.name}-{c}" for d, c in product(DESIGNS, COPIES))


@cache
def sheet(identity: str) -> Sheet:
    """The sheet with this identity, such as "window-a4-A".

    Raises JobError when there is none.
    """
    name, _, copy = identity.rpartition("-")
    for design in DESIGNS:
        if design.name == name and copy in COPIES:
            return lay_out(design, copy)
    raise JobError(f"There is no sheet {identity!r}. Known: {', '.join(identities())}.")


__all__ = ["COPIES", "DESIGNS", "Design", "identities", "sheet"]
