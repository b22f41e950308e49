"""A printed sheet as designed: every drawn thing in mm in the sheet frame.

The sheet frame has its origin at the centre of the chessboard, x right and y up as
printed, z out of the paper. PDF, detector and renderer all draw from this one record.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Rectangle = tuple[float, float, float, float]
"""x0, y0, x1, y1 in mm with x0 < x1 and y0 < y1."""


@dataclass(frozen=True, eq=False)
class Marker:
    """One square marker: outer corners from its own top left, clockwise as printed.

    corners_mm : (4, 2) sheet frame.
    cells : (n, n) bool, True where white, black border included, row 0 at the top.
    """

    id: int
    corners_mm: NDArray[np.float64]
    cells: NDArray[np.bool_]


@dataclass(frozen=True)
class Patch:
    """A grey rectangle inside a white square; `ink` is 0 (paper) to 1 (solid black)."""

    rectangle: Rectangle
    ink: float


@dataclass(frozen=True)
class CheckBar:
    """The printed bar whose length the user reads with a caliper.

    From the like (left, or lower) edge of one block to that of the other, so that ink
    growth cancels. `axis` is "x" or "y"; start is the lower left corner of the first block.
    """

    axis: str
    start_mm: tuple[float, float]
    length_mm: float
    block_mm: tuple[float, float]

    @property
    def blocks(self) -> tuple[Rectangle, Rectangle]:
        """The two black blocks."""
        x, y = self.start_mm
        w, h = self.block_mm
        dx, dy = (self.length_mm, 0.0) if self.axis == "x" else (0.0, self.length_mm)
        return (x, y, x + w, y + h), (x + dx, y + dy, x + dx + w, y + dy + h)


@dataclass(frozen=True, eq=False)
class Sheet:
    """One printable sheet with its identity.

    page : rectangle of the paper in the sheet frame, mm.
    squares : (N, 4) black squares as rectangles, mm.
    saddles_mm : (M, 2) chessboard corners where four squares meet, mm.
    window : the empty rectangle in which a part lies, or None for a board or a card.
    paper : "A4", "Letter" or "A3"; `turned` is True for landscape. A card has no paper of
    its own and no bars: it is cut out of a `Page`, and `page` is where to cut.
    """

    identity: str
    title: str
    paper: str
    turned: bool
    page: Rectangle
    square_mm: float
    squares: NDArray[np.float64]
    markers: tuple[Marker, ...]
    patches: tuple[Patch, ...]
    saddles_mm: NDArray[np.float64]
    bars: tuple[CheckBar, ...]
    window: Rectangle | None

    @property
    def name(self) -> str:
        """The identity, for look-up by name."""
        return self.identity

    @property
    def is_card(self) -> bool:
        """Whether it is a card, cut out of a page of them."""
        return not self.bars


@dataclass(frozen=True, eq=False)
class Page:
    """A printed page of cards to cut out, with the check bars of all of them.

    page, bars : in the page frame, mm, origin in the middle of the paper.
    cards : each card with where the middle of its chessboard lies.
    """

    identity: str
    title: str
    paper: str
    page: Rectangle
    cards: tuple[tuple[Sheet, tuple[float, float]], ...]
    bars: tuple[CheckBar, CheckBar]
