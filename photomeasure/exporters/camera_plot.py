"""Did the board photos cover the picture, and does the camera model fit everywhere?

One PNG beside a camera record: where corners were seen, with the empty parts of the
picture shaded, and what the model left over at each corner, drawn many times too long.
"""

from __future__ import annotations

import io
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from photomeasure.records.view import CameraRecord

if TYPE_CHECKING:
    from matplotlib.axes import Axes

Array = NDArray[np.float64]

_COVERED_WELL = 0.8  # of the picture; common practice, no source
_CELLS_ACROSS = 12
_ARROW_SHARE = 0.05  # of the picture's width, for a residual of three times the rms
_EMPTY = "#f1d9c8"
_ARROW = "#3a6ea5"


def render_camera_plot(
    record: CameraRecord, corners_px: Sequence[Array], residuals_px: Sequence[Array]
) -> bytes:
    """A PNG of coverage and residuals.

    corners_px, residuals_px : one (N, 2) array per photo, image frame; a residual is where
    the corner was seen minus where the model puts it.
    """
    from matplotlib.backends.backend_agg import FigureCanvasAgg  # noqa: PLC0415 - slow
    from matplotlib.figure import Figure  # noqa: PLC0415

    width, height = record.size_px
    figure = Figure(figsize=(11, 0.9 + 5.3 * height / width), layout="constrained")
    FigureCanvasAgg(figure)
    figure.suptitle(_headline(record), fontsize=10)
    left, right = figure.subplots(1, 2)
    _draw_coverage(left, record, corners_px)
    _draw_residuals(right, record, np.vstack(corners_px), np.vstack(residuals_px))
    out = io.BytesIO()
    figure.savefig(out, format="png", dpi=130)
    return out.getvalue()


def empty_share(size_px: tuple[int, int], corners_px: Array) -> float:
    """The share of the picture's cells in which no corner was seen, 0 to 1."""
    return float(np.mean(_counts(size_px, corners_px) == 0))


def _counts(size_px: tuple[int, int], corners_px: Array) -> Array:
    """(columns, rows) how many corners lie in each cell of the picture."""
    width, height = size_px
    rows = max(1, round(_CELLS_ACROSS * height / width))
    limits = [[-0.5, width - 0.5], [-0.5, height - 0.5]]
    counts, _, _ = np.histogram2d(
        corners_px[:, 0], corners_px[:, 1], bins=(_CELLS_ACROSS, rows), range=limits
    )
    return counts


def camera_words(record: CameraRecord, corners_px: Sequence[Array]) -> str:
    """How well the photos tell of the lens, and what would tell more."""
    empty = empty_share(record.size_px, np.vstack(corners_px))
    said = (
        f"{_headline(record)}. Corners were seen in {1 - empty:.0%} of the picture; at least "
        f"{_COVERED_WELL:.0%} is good."
    )
    if 1 - empty >= _COVERED_WELL:
        return said
    return f"{said} Take more photos with the board at the rim and in the corners of the picture."


def _headline(record: CameraRecord) -> str:
    f, u = record.parameters[0], float(np.sqrt(record.covariance[0, 0]))
    return (
        f"{record.name}: focal length {f:.1f} ± {2 * u:.1f} px (k = 2), from "
        f"{record.corners} corners in {record.photos} photos, which it leaves "
        f"{record.residual_px:.3f} px off (rms)"
    )


def _frame(axes: Axes, record: CameraRecord, title: str) -> None:
    width, height = record.size_px
    axes.set(xlim=(-0.5, width - 0.5), ylim=(height - 0.5, -0.5), aspect="equal")
    axes.set_title(title, fontsize=9)
    axes.set_xlabel("x, px", fontsize=8)
    axes.set_ylabel("y, px", fontsize=8)
    axes.tick_params(labelsize=7)


def _draw_coverage(axes: Axes, record: CameraRecord, corners_px: Sequence[Array]) -> None:
    every = np.vstack(corners_px)
    counts = _counts(record.size_px, every)
    width, height = record.size_px
    step_x, step_y = width / counts.shape[0], height / counts.shape[1]
    for i, j in np.argwhere(counts == 0):
        corner = (i * step_x - 0.5, j * step_y - 0.5)
        axes.add_patch(_rectangle(corner, step_x, step_y))
    for corners in corners_px:
        axes.plot(corners[:, 0], corners[:, 1], ".", markersize=2.5)
    share = 100 * empty_share(record.size_px, every)
    _frame(axes, record, f"Where corners were seen (shaded: nowhere, {share:.0f} %)")


def _rectangle(corner: tuple[float, float], width: float, height: float) -> Any:
    from matplotlib.patches import Rectangle  # noqa: PLC0415

    return Rectangle(corner, width, height, facecolor=_EMPTY, edgecolor="none", zorder=0)


def _draw_residuals(axes: Axes, record: CameraRecord, corners: Array, residuals: Array) -> None:
    rms = float(np.sqrt(np.mean(residuals**2))) or 1.0
    times = _ARROW_SHARE * record.size_px[0] / (3 * rms)
    arrows = axes.quiver(
        *corners.T, *residuals.T, angles="xy", scale_units="xy", scale=1 / times,
        width=0.0018, color=_ARROW,
    )  # fmt: skip
    key = float(f"{3 * rms:.1g}")
    axes.quiverkey(
        arrows, 0.86, 1.04, key, f"{key:g} px", labelpos="E", fontproperties={"size": 8}
    )
    _frame(axes, record, f"What the model leaves over (× {times:.0f})")
