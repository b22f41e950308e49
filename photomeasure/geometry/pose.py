"""Where does the camera stand, from the homography of a plane?"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from photomeasure.geometry.camera import rotation_vector, undistort
from photomeasure.geometry.homography import estimate_homography

Array = NDArray[np.float64]


def pose_from_plane(points_mm: Array, points_px: Array, camera: Array) -> Array:
    """(6,) T_camera_sheet from (N, 2) points of the sheet and where they appear.

    A start for refinement, exact for noise-free points; camera : (8,).
    Raises GeometryError for fewer than four points or collinear ones.
    """
    normal = undistort((points_px - camera[1:3]) / camera[0], camera)
    columns = estimate_homography(points_mm, normal).T.copy()
    scale = (np.linalg.norm(columns[0]) + np.linalg.norm(columns[1])) / 2
    columns /= scale * np.sign(columns[2, 2])
    third = np.cross(columns[0], columns[1])
    u, _, vt = np.linalg.svd(np.column_stack([columns[0], columns[1], third]))
    rotation = u @ np.diag([1.0, 1.0, np.linalg.det(u @ vt)]) @ vt
    return np.concatenate([rotation_vector(rotation), columns[2]])
