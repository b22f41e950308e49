"""How deep is the wall below an edge, and what if nobody knows?

Which edge is the face's is told by where the foot of its wall must appear. Walls end on the
sheet, or as deep below the plane as was stated; an edge is then located from a frame on that
floor, as if a sheet lay there. Beside a card nobody knows the floor unless it is stated, and a
wall so narrow in the picture that it merges with the face moves an edge unseen.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from photomeasure.estimation.features import Height, lean_u_rad
from photomeasure.geometry.camera import lowered
from photomeasure.records.feature import ImageFeature
from photomeasure.records.job import FeatureEntry
from photomeasure.vision.locate import Scenery, locate

UNKNOWN_WALL_U_PX = 0.6  # a wall of up to 2 px merges with the edge; evenly in between
_CARD_TILT_U_DEG = 0.2  # how well the tilt of so small a target is seen; a judgement
_WITHOUT_WALLS = ("point", "row")


def locate_above_floor(
    entry: FeatureEntry, scenery: Scenery, height: Height, *, beside_card: bool
) -> ImageFeature:
    """What was pointed at, on a plane at this height. Raises GeometryError in words."""
    stated = _floor_mm(height, beside_card)
    floor_mm = height.mm if stated is None else stated
    view = lowered(scenery.view, -floor_mm)
    from_floor = replace(
        scenery,
        view=view,
        on_paper=not beside_card,
        foot_u_mm=abs(height.mm - floor_mm) * _tilt_u_rad(height, beside_card),
    )
    found = locate(entry, from_floor, height.mm - floor_mm)
    return found if stated is not None or entry.kind in _WITHOUT_WALLS else _in_doubt(found)


def _tilt_u_rad(height: Height, beside_card: bool) -> float:
    """How far the plane may be tilted in the view, by its lean and by the pose of a card."""
    if not beside_card:
        return 0.0
    return float(np.hypot(lean_u_rad(height, beside_card=True), np.radians(_CARD_TILT_U_DEG)))


def _floor_mm(height: Height, beside_card: bool) -> float | None:
    """How high above the sheet or card walls end; None where nobody said."""
    if height.depth_mm is not None:
        return height.mm - height.depth_mm
    return None if beside_card else 0.0


def _in_doubt(found: ImageFeature) -> ImageFeature:
    words = (
        f"How far down walls go from plane {found.plane!r} is not stated, so a narrow one may "
        "have been taken for the face. Write it as `depth` in its [[planes]]; 0 for a line that "
        "has none."
    )
    return replace(
        found,
        u_shift_px=float(np.hypot(found.u_shift_px, UNKNOWN_WALL_U_PX)),
        warnings=(*found.warnings, words),
    )
