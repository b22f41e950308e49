"""Which phones took the sample photos, and where did they stand?

Makes and models are invented. Each has its own lens, tone curve and sharpening.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from scipy.spatial.transform import Rotation

from photomeasure.synthetic.lens import Lens
from photomeasure.synthetic.scene import Pair, Phone, Pose

PORTRAIT, LANDSCAPE = (3024, 4032), (4032, 3024)


@dataclass(frozen=True)
class Handset:
    """A phone and its lens focused far away; focusing near moves the lens a little."""

    phone: Phone
    lens: Lens

    def focused(self, distance_mm: float, seed: int) -> Lens:
        """The lens at this distance; its centre wanders as stabilised lenses do."""
        focal = self.phone.focal_length_mm or 5.0
        wander = np.random.default_rng([seed, 7]).normal(0.0, 1.5, 2)
        return replace(
            self.lens,
            f_px=self.lens.f_px * distance_mm / (distance_mm - focal),
            cx=self.lens.cx + float(wander[0]),
            cy=self.lens.cy + float(wander[1]),
        )


PIPPIN = Handset(
    Phone(0.7, 0.011, 0.7, 0.92, "film-soft", 0.5, 1.2, 90, 5.6, 26, 6, "Orchard", "Pippin 3"),
    Lens(
        2992.0,
        1519.3,
        2006.8,
        PORTRAIT,
        0.041,
        -0.082,
        0.035,
        p1=0.0006,
        p2=-0.0004,
        s1=0.0003,
        s3=-0.0002,
        vignetting=0.18,
    ),
)
PRESS = Handset(
    Phone(0.8, 0.014, 0.7, 0.90, "film-strong", 0.7, 1.0, 90, 5.1, 24, 1, "Cidery", "Press 7"),
    Lens(
        2760.0,
        2007.2,
        1520.4,
        LANDSCAPE,
        -0.036,
        0.044,
        -0.018,
        p1=-0.0005,
        p2=0.0007,
        s1=-0.0002,
        s3=0.0003,
        vignetting=0.22,
    ),
)
PERRY = Handset(
    Phone(0.75, 0.012, 0.7, 0.90, "lifted", 0.9, 1.4, 89, 6.8, 28, 6, "Hedgerow", "Perry S"),
    Lens(
        3236.0,
        1504.6,
        2021.5,
        PORTRAIT,
        0.018,
        -0.021,
        0.006,
        p1=0.0003,
        p2=0.0005,
        s1=0.0002,
        s3=0.0002,
        vignetting=0.15,
    ),
)


def looking_at(
    aim: Pair, distance_mm: float, tilt_deg: float, towards_deg: float, roll_deg: float = 0.0
) -> Pose:
    """The pose of a camera over the sheet.

    towards_deg : from +x, the side to which the camera leans. roll_deg : how far the
    picture's up is turned from the sheet's, anticlockwise.
    """
    tilt, way, roll = np.radians([tilt_deg, towards_deg, roll_deg])
    back = np.array([np.sin(tilt) * np.cos(way), np.sin(tilt) * np.sin(way), np.cos(tilt)])
    right = np.cross(-back, np.array([-np.sin(roll), np.cos(roll), 0.0]))
    right /= np.linalg.norm(right)
    rotation = np.stack([right, np.cross(-back, right), -back])
    shift = -rotation @ (np.array([*aim, 0.0]) + distance_mm * back)
    turn = Rotation.from_matrix(rotation).as_rotvec()
    return Pose(*(float(v) for v in (*turn, *shift)))
