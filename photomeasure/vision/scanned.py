"""How is a flatbed scan looked at like a photo from very far away?

The scanner's stated resolution is the scale; a card or ruler in the scan checks it. The face
on the glass is the one that is outlined, at height 0.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from photomeasure.errors import CalibrationError, JobError
from photomeasure.records.outline import Scan
from photomeasure.records.photo import Photo
from photomeasure.records.view import VIEW_SIZE, MarkerObservation, Solution, View
from photomeasure.vision.sheets import sheet
from photomeasure.vision.tone import BELIEFS, Tone, light_of

Array = NDArray[np.float64]

MM_PER_INCH = 25.4
SCALE, RULER = "scanner resolution", "ruler in the scan"
_FAR_MM = 1e7
_SCANNER_U = 0.001  # of the scale, each axis ("common practice, no source")
_RULER_U_MM = 0.15
_PRINTED_U = 0.003  # of a card whose bars nobody measured
_MOST_SIGMAS = 3.0


def scan_solution(
    photo: Photo, scan: Scan, seen: tuple[MarkerObservation, ...]
) -> tuple[Solution, tuple[str, ...]]:
    """The view of a scan, its frame at the lower left of the picture, and remarks.

    Raises JobError for an absurd resolution and CalibrationError where the ruler or a card
    contradicts it.
    """
    if not 50 <= scan.dpi <= 9600:
        raise JobError(
            f"A scan of {scan.dpi:g} dots per inch was stated; from 50 to 9600 are possible. "
            "Correct it."
        )
    px_per_mm = scan.dpi / MM_PER_INCH
    remarks = [_check_card(o, px_per_mm) for o in seen]
    u, source = _SCANNER_U, SCALE
    if scan.ruler_px is not None:
        length_px = float(np.hypot(*np.subtract(*scan.ruler_px)))
        u_ruler = _RULER_U_MM / scan.ruler_mm
        _refuse_other_scale("ruler", length_px / scan.ruler_mm, px_per_mm, u_ruler)
        if u_ruler < u:
            px_per_mm, u, source = length_px / scan.ruler_mm, u_ruler, RULER
        remarks.append(f"The ruler agrees with {scan.dpi:g} dots per inch.")
    if not remarks:
        remarks.append("Nothing in the scan checks its resolution: lay a ruler or a card in it.")
    return _solution(photo, px_per_mm, u, source), tuple(remarks)


def page_px(seen: MarkerObservation) -> Array:
    """(4, 2) px of the corners of a card's paper in a scan."""
    x0, y0, x1, y1 = sheet(seen.sheet).page
    corners = np.array([(x0, y0, 1), (x1, y0, 1), (x1, y1, 1), (x0, y1, 1)], float)
    known = np.column_stack([seen.saddles_mm, np.ones(len(seen.saddles_mm))])
    return np.asarray(corners @ np.linalg.lstsq(known, seen.saddles_px, rcond=None)[0])


def _solution(photo: Photo, px_per_mm: float, u: float, source: str) -> Solution:
    height = photo.size_px[1]
    camera = np.array([px_per_mm * _FAR_MM, 0.0, height - 1.0, 0, 0, 0, 0, 0], float)
    # Seen from far above: x right, y up, the camera looking down.
    pose = np.array([np.pi, 0.0, 0.0, 0.0, 0.0, _FAR_MM])
    view = View(photo.name, "scan", photo.size_px, camera, pose, 0.0, 0.0)
    covariance = np.zeros((VIEW_SIZE, VIEW_SIZE))
    covariance[0, 0] = (u * camera[0]) ** 2
    return Solution((view,), view.parameters, {source: covariance})


def _check_card(seen: MarkerObservation, px_per_mm: float) -> str:
    """How well a card's corners agree with the stated scale."""
    mm = seen.saddles_mm - seen.saddles_mm.mean(axis=0)
    px = seen.saddles_px - seen.saddles_px.mean(axis=0)
    u, _, v = np.linalg.svd(mm.T @ (px * [1, -1]))
    found = float(((mm @ u @ v) * (px * [1, -1])).sum() / (mm**2).sum())
    _refuse_other_scale(seen.sheet, found, px_per_mm, _PRINTED_U)
    return f"{seen.sheet} agrees with the stated resolution within {found / px_per_mm - 1:+.2%}."


def _refuse_other_scale(what: str, found: float, stated: float, u: float) -> None:
    off = found / stated - 1
    limit = _MOST_SIGMAS * float(np.hypot(u, _SCANNER_U))
    if abs(off) > limit:
        raise CalibrationError(
            f"The {what} in the scan says {found * MM_PER_INCH:.1f} dots per inch, "
            f"{off:+.2%} off the {stated * MM_PER_INCH:.1f} stated; {limit:.2%} is the limit. "
            "State the resolution that it was scanned with, and scan without resizing."
        )


def believed_tone(grey: NDArray[np.uint8]) -> Tone:
    """A tone curve as most devices have it, where no printed edge tells; the brightest tenth
    of the picture counts as paper."""
    parameters = np.array([mean for mean, *_ in BELIEFS.values()])
    spread = np.array([u for _, u, *_ in BELIEFS.values()])
    table = light_of(parameters)
    paper = float(np.interp(np.quantile(grey, 0.9), np.arange(256.0), table))
    return Tone(table, parameters, np.diag(spread**2), 0, 0.0, paper)
