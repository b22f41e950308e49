"""Small scenes with known truth that several tests share."""

from __future__ import annotations

import numpy as np

from photomeasure.synthetic.framing import pose_at
from photomeasure.synthetic.lens import Lens
from photomeasure.synthetic.random_parts import rounded_rectangle
from photomeasure.synthetic.scene import Curl, Hole, Part, Pose, Print, Scene

LENS = Lens(
    f_px=3000.0,
    cx=2030.0,
    cy=1500.0,
    k1=0.05,
    k2=-0.06,
    k3=0.02,
    k4=0.004,
    p1=4e-4,
    p2=-3e-4,
    s1=1e-4,
    s3=-1e-4,
)


def looking(tilt_deg: float, lean_deg: float, distance_mm: float) -> Pose:
    """A camera whose x axis lies near the sheet's, tilted towards a direction."""
    tilt, lean = np.radians([tilt_deg, lean_deg])
    forward = -np.array([np.sin(tilt) * np.cos(lean), np.sin(tilt) * np.sin(lean), np.cos(tilt)])
    right = np.array([1.0, 0.0, 0.0]) - forward[0] * forward
    right /= np.linalg.norm(right)
    return pose_at(np.vstack([right, np.cross(forward, right), forward]), np.zeros(3), distance_mm)


def plate(thickness_mm: float = 8.0, edge_chamfer_mm: float = 1.0) -> Part:
    """A dark plate with a plain bore and a chamfered hole."""
    return Part(
        "plate",
        rounded_rectangle(70, 90, 6, (-20.0, 5.0), 0.05),
        thickness_mm,
        (Hole("bore", (-25.0, 10.0), 15.0), Hole("hole", (-5.0, -20.0), 4.0, 1.0)),
        edge_chamfer_mm=edge_chamfer_mm,
        face_reflectance=0.2,
        wall_reflectance=0.1,
        chamfer_reflectance=0.3,
    )


def cover() -> Part:
    """A thinner part beside the plate, partly hidden by it."""
    return Part("cover", rounded_rectangle(40, 60, 3, (36.5, 0.0), -0.03), 5.0)


def scene(*parts: Part, tilt_deg: float = 28.0, lean_deg: float = 200.0) -> Scene:
    """A sheet with growth, scale and curl under a lens with every kind of distortion."""
    return Scene(
        name="test",
        print=Print(
            scale_x=1.004,
            scale_y=0.997,
            growth_mm=0.035,
            curl=Curl(0.4, 1.2, 80.0, 140.0),
        ),
        parts=parts,
        lens=LENS,
        pose=looking(tilt_deg, lean_deg, 320.0),
    )
