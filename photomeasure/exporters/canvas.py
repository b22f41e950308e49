"""How are lines and letters drawn on a still so that their edges come out smooth?

On a picture twice as fine, halved at the end: the drawing library itself knows only hard
edges. All positions and sizes are in px of the finished frame, (0, 0) at its top left corner.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache
from importlib.util import find_spec
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw, ImageFont

from photomeasure.errors import ExportError

Colour = tuple[int, int, int]
Place = tuple[float, float]

_FINE = 2


class Canvas:
    """A frame that is drawn on."""

    def __init__(self, frame: Image.Image) -> None:
        size = (frame.width * _FINE, frame.height * _FINE)
        self._image = frame.resize(size, Image.Resampling.BICUBIC)
        self._draw = ImageDraw.Draw(self._image)

    def line(
        self, points: NDArray[np.float64] | Sequence[Place], fill: Colour, width: int
    ) -> None:
        """A chain of straight lines with round ends. points : (N, 2)."""
        chain = _fine(points)
        self._draw.line(chain, fill=fill, width=width * _FINE, joint="curve")
        radius = width * _FINE / 2 - 0.5
        for x, y in (chain[0], chain[-1]):
            self._draw.ellipse([x - radius, y - radius, x + radius, y + radius], fill=fill)

    def polygon(self, points: NDArray[np.float64], fill: Colour, outline: Colour) -> None:
        """A filled polygon. points : (N, 2)."""
        self._draw.polygon(_fine(points), fill=fill, outline=outline, width=_FINE)

    def disc(self, at: Place, radius: float, fill: Colour) -> None:
        """A filled circle."""
        corners = np.array(at) + radius * np.array([[-1.0, -1.0], [1.0, 1.0]])
        self._draw.ellipse(_fine(corners), fill=fill)

    def box(
        self,
        sides: tuple[float, float, float, float],
        fill: Colour,
        outline: Colour | None = None,
        radius: float = 0,
    ) -> None:
        """A filled box (x0, y0, x1, y1), its corners rounded."""
        corners = _fine(np.reshape(sides, (2, 2)))
        self._draw.rounded_rectangle(
            corners, radius * _FINE, fill=fill, outline=outline, width=2 * _FINE
        )

    def text(self, at: Place, words: str, size: int, fill: Colour, anchor: str = "la") -> None:
        """One line of text; `anchor` as the drawing library has it."""
        self._draw.text(_fine([at])[0], words, fill=fill, font=_font(size * _FINE), anchor=anchor)

    def finished(self) -> Image.Image:
        """The frame as it is seen."""
        return self._image.reduce(_FINE)


def text_width(words: str, size: int) -> float:
    """How wide a line of text is, in px of the frame."""
    return _font(size * _FINE).getlength(words) / _FINE


def _fine(points: NDArray[np.float64] | Sequence[Place]) -> list[Place]:
    """The drawing library counts from pixel centres, a frame from its corner."""
    return [(float(x) * _FINE - 0.5, float(y) * _FINE - 0.5) for x, y in points]


@cache
def _font(size: int) -> ImageFont.FreeTypeFont:
    """The sans serif that comes with the plotting library, found without importing it."""
    spec = find_spec("matplotlib")
    folder = Path(spec.origin).parent if spec and spec.origin else Path()
    path = folder / "mpl-data" / "fonts" / "ttf" / "DejaVuSans.ttf"
    try:
        return ImageFont.truetype(str(path), size)
    except OSError as error:
        raise ExportError(
            f"The font {path.name} is not in the installed matplotlib. Install it again."
        ) from error
