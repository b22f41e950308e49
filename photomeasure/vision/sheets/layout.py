"""How a sheet is laid out: a chessboard or a ring of one, markers in its white squares.

Saddle corners are what is measured: tone curve, sharpening and ink growth move a lone
black edge but not the crossing of two black squares. Grey patches in the middle row of a
ring show the tone curve by where their edges lie. The identity lies in the arrangement
of the markers: marker k of copy c carries id `first_id + (m_c · k) mod count`.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import gcd
from typing import Protocol

import cv2
import numpy as np
from numpy.typing import NDArray

from photomeasure.records.sheet import CheckBar, Marker, Patch, Rectangle, Sheet

DICTIONARY = cv2.aruco.DICT_5X5_1000
MARKER_CELLS = 7  # five data cells and a black border of one
COPIES = ("A", "B", "C", "D")
PAPERS_MM = {  # ISO 216; ANSI/ASME Y14.1
    "A4": (210.0, 297.0),
    "Letter": (215.9, 279.4),
    "A3": (297.0, 420.0),
}

BAR_MM = 150.0  # what a common 150 mm caliper still reads
BAR_BLOCK_MM = (2.0, 4.0)  # along and across the bar
BAR_GAP_MM = 3.0  # white between ring and bar
PATCH_INKS = (0.35, 0.65)


class Chessboard(Protocol):
    """Anything laid out in squares about its middle; `grid` is (columns, rows)."""

    @property
    def grid(self) -> tuple[int, int]:
        """Columns and rows."""

    @property
    def square_mm(self) -> float:
        """Side of a square."""


@dataclass(frozen=True)
class Design:
    """A row of the catalogue: paper, grid (columns, rows), square, ring width, marker ids.

    `ring` is the width of the ring in squares; 0 fills the whole board.
    """

    name: str
    paper: str
    turned: bool
    grid: tuple[int, int]
    square_mm: float
    ring: int
    first_id: int
    count: int


def lay_out(design: Design, copy: str) -> Sheet:
    """Everything that is printed on this copy of this design."""
    cells = [(i, j) for j in range(design.grid[1]) for i in range(design.grid[0])]
    present = {c for c in cells if _depth(design, c) is not None}
    black = [c for c in cells if c in present and (c[0] + c[1]) % 2 == 0]
    white = [c for c in cells if c in present and (c[0] + c[1]) % 2 == 1]
    patched = [c for c in white if design.ring and _depth(design, c) == design.ring // 2]
    marked = [c for c in white if c not in set(patched)]
    ids = marker_ids(design, copy)
    return Sheet(
        identity=f"{design.name}-{copy}",
        title=_title(design),
        paper=design.paper,
        turned=design.turned,
        page=paper_rectangle(design.paper, design.turned),
        square_mm=design.square_mm,
        squares=np.array([square(design, c) for c in black]),
        markers=tuple(marker(design, c, i) for c, i in zip(marked, ids, strict=True)),
        patches=tuple(patch(design, c) for c in patched),
        saddles_mm=saddles(design, present),
        bars=_bars(design),
        window=_window(design),
    )


def marker_ids(design: Design, copy: str) -> list[int]:
    """The ids of the markers in reading order from the lower left, row by row."""
    offset = COPIES.index(copy) + (len(COPIES) if design.turned else 0)
    coprime = [m for m in range(1, design.count) if gcd(m, design.count) == 1]
    step = coprime[offset]
    return [design.first_id + (step * k) % design.count for k in range(design.count)]


def _depth(design: Design, cell: tuple[int, int]) -> int | None:
    """How many squares lie between this one and the rim; None inside the window."""
    (i, j), (columns, rows) = cell, design.grid
    depth = min(i, j, columns - 1 - i, rows - 1 - j)
    return depth if not design.ring or depth < design.ring else None


def square(board: Chessboard, cell: tuple[int, int]) -> Rectangle:
    """Where the square of a cell (column, row from below) lies."""
    s, (columns, rows) = board.square_mm, board.grid
    x, y = (cell[0] - columns / 2) * s, (cell[1] - rows / 2) * s
    return (x, y, x + s, y + s)


def _inset(box: Rectangle, fraction: float) -> Rectangle:
    d = fraction * (box[2] - box[0])
    return (box[0] + d, box[1] + d, box[2] - d, box[3] - d)


def patch(board: Chessboard, cell: tuple[int, int]) -> Patch:
    """The grey patch in the square of a cell."""
    return Patch(_inset(square(board, cell), 0.1875), PATCH_INKS[sum(cell) // 2 % 2])


def marker(board: Chessboard, cell: tuple[int, int], identifier: int) -> Marker:
    """The marker in the square of a cell."""
    x0, y0, x1, y1 = _inset(square(board, cell), 0.171875)
    corners = np.array([(x0, y1), (x1, y1), (x1, y0), (x0, y0)])
    return Marker(identifier, corners, _marker_cells(identifier))


def _marker_cells(identifier: int) -> NDArray[np.bool_]:
    dictionary = cv2.aruco.getPredefinedDictionary(DICTIONARY)
    return np.asarray(dictionary.generateImageMarker(identifier, MARKER_CELLS)) > 127


def saddles(board: Chessboard, present: set[tuple[int, int]]) -> NDArray[np.float64]:
    """(M, 2) the corners where four squares of those present meet."""
    (columns, rows), s = board.grid, board.square_mm
    corners = [
        ((i - columns / 2) * s, (j - rows / 2) * s)
        for j in range(1, rows)
        for i in range(1, columns)
        if {(i - 1, j - 1), (i, j - 1), (i - 1, j), (i, j)} <= present
    ]
    return np.array(corners)


def paper_rectangle(paper: str, turned: bool = False) -> Rectangle:
    """A paper about its middle."""
    width, height = PAPERS_MM[paper]
    if turned:
        width, height = height, width
    return (-width / 2, -height / 2, width / 2, height / 2)


def _window(design: Design) -> Rectangle | None:
    if not design.ring:
        return None
    (columns, rows), s = design.grid, design.square_mm
    half_x, half_y = (columns / 2 - design.ring) * s, (rows / 2 - design.ring) * s
    return (-half_x, -half_y, half_x, half_y)


def _bars(design: Design) -> tuple[CheckBar, CheckBar]:
    (columns, rows), s = design.grid, design.square_mm
    _, across = BAR_BLOCK_MM
    return check_bars(columns / 2 * s + BAR_GAP_MM, -rows / 2 * s - BAR_GAP_MM - across)


def check_bars(right: float, below: float) -> tuple[CheckBar, CheckBar]:
    """The lower bar, whose lower edge lies at y = below, and the upright one at x = right."""
    along, across = BAR_BLOCK_MM
    half = (BAR_MM + along) / 2
    return (
        CheckBar("x", (-half, below), BAR_MM, (along, across)),
        CheckBar("y", (right, -half), BAR_MM, (across, along)),
    )


def _title(design: Design) -> str:
    kind = "Window sheet" if design.ring else "Calibration board"
    return f"{kind}, {design.paper} {'landscape' if design.turned else 'portrait'}"
