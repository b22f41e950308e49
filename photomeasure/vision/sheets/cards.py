"""How is a card laid out, and how do cards lie on the page that they are cut from?

A card is a small chessboard for places where no sheet goes. It is too small to lose a corner,
so it has no window, and too few markers to tell an arrangement, so every card has ids of its
own. Markers stand in its outermost squares and in every second ring inwards, grey patches in
the rings between. Below the chessboard, inside the cut, stand its identity and an arrow up.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from photomeasure.records.sheet import Page, Rectangle, Sheet
from photomeasure.vision.sheets.layout import (
    BAR_BLOCK_MM,
    check_bars,
    marker,
    paper_rectangle,
    patch,
    saddles,
    square,
)

BORDER_MM = 1.5  # white left and right of the chessboard and above it
STRIP_MM = 4.0  # white below it, with the identity
BETWEEN_MM = 3.0  # between the cuts of two cards
MARGIN_MM = 6.5  # from the paper's edge to bars and text
HEADER_MM = 9.0

Cell = tuple[int, int]


@dataclass(frozen=True)
class CardDesign:
    """A kind of card: so many squares of this size along each side."""

    name: str
    side: int
    square_mm: float

    @property
    def grid(self) -> tuple[int, int]:
        """Columns and rows."""
        return self.side, self.side

    @property
    def marked(self) -> list[Cell]:
        """The cells with a marker, in reading order from the lower left."""
        return [c for c in self._white() if self._depth(c) % 2 == 0]

    @property
    def patched(self) -> list[Cell]:
        """The cells with a grey patch."""
        return [c for c in self._white() if self._depth(c) % 2 == 1]

    @property
    def cut(self) -> Rectangle:
        """Where to cut, card frame."""
        half = self.side * self.square_mm / 2
        return (-half - BORDER_MM, -half - STRIP_MM, half + BORDER_MM, half + BORDER_MM)

    def _white(self) -> list[Cell]:
        return [(i, j) for j in range(self.side) for i in range(self.side) if (i + j) % 2 == 1]

    def _depth(self, cell: Cell) -> int:
        return min(*cell, self.side - 1 - cell[0], self.side - 1 - cell[1])


@dataclass(frozen=True)
class PageDesign:
    """A page of cards on one paper; `rows` from above: a card design and how many beside
    each other."""

    name: str
    paper: str
    rows: tuple[tuple[CardDesign, int], ...]

    @property
    def cards(self) -> list[CardDesign]:
        """The design of each card, in reading order from the upper left."""
        return [design for design, count in self.rows for _ in range(count)]


def lay_out_card(design: CardDesign, letter: str, first_id: int) -> Sheet:
    """Everything that is printed on one card."""
    cells = {(i, j) for j in range(design.side) for i in range(design.side)}
    black = sorted(c for c in cells if sum(c) % 2 == 0)
    width = design.cut[2] - design.cut[0]
    return Sheet(
        identity=f"{design.name}-{letter}",
        title=f"Card, {width:.0f} mm wide",
        paper="",
        turned=False,
        page=design.cut,
        square_mm=design.square_mm,
        squares=np.array([square(design, c) for c in black]),
        markers=tuple(marker(design, c, first_id + k) for k, c in enumerate(design.marked)),
        patches=tuple(patch(design, c) for c in design.patched),
        saddles_mm=saddles(design, cells),
        bars=(),
        window=None,
    )


def lay_out_page(design: PageDesign, copy: str, cards: tuple[Sheet, ...]) -> Page:
    """The page with its cards, in the order of `design.cards`."""
    paper = paper_rectangle(design.paper)
    return Page(
        identity=f"{design.name}-{copy}",
        title=f"Cards to cut out, {design.paper}",
        paper=design.paper,
        page=paper,
        cards=tuple(zip(cards, _places(design, paper), strict=True)),
        bars=check_bars(paper[2] - MARGIN_MM - BAR_BLOCK_MM[1], paper[1] + MARGIN_MM),
    )


def _places(design: PageDesign, paper: Rectangle) -> Iterator[tuple[float, float]]:
    """Where the middle of each card's chessboard lies: rows from above, even gaps in a row."""
    left, right = paper[0] + MARGIN_MM, paper[2] - MARGIN_MM - BAR_BLOCK_MM[1] - BETWEEN_MM
    y = paper[3] - MARGIN_MM - HEADER_MM
    for card, count in design.rows:
        x0, y0, x1, y1 = card.cut
        gap = (right - left - count * (x1 - x0)) / (count + 1)
        for k in range(count):
            yield left + gap + k * (x1 - x0 + gap) - x0, y - y1
        y -= y1 - y0 + BETWEEN_MM
