"""Where does a point of the sheet frame appear in the picture, and the way back?

The pinhole model with square pixels and OpenCV's radial (k1, k2, k3) and decentring
(p1, p2) distortion. A view is 14 numbers: CAMERA_PARAMETERS then POSE_PARAMETERS. Points
behind the camera and distortion that folds back are refused, not extrapolated.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from photomeasure.errors import GeometryError

Array = NDArray[np.float64]

_STEPS = 20
_CONVERGED = 1e-10
_PLACE_STEP_MM = 0.01
_BEHIND = "A point lies behind the camera. Check heights and clicks."


def rotation_matrix(rotation_vector: Array) -> Array:
    """(3, 3) from a rotation vector in rad (Rodrigues' formula)."""
    angle = float(np.linalg.norm(rotation_vector))
    x, y, z = rotation_vector
    cross = np.array([[0.0, -z, y], [z, 0.0, -x], [-y, x, 0.0]])
    # sin(a)/a and (1 - cos(a))/a², both finite at 0.
    first = float(np.sinc(angle / np.pi))
    second = 0.5 * float(np.sinc(angle / (2 * np.pi))) ** 2
    return np.asarray(np.eye(3) + first * cross + second * (cross @ cross))


def rotation_vector(matrix: Array) -> Array:
    """(3,) rotation vector in rad of a (3, 3) rotation, half turns included.

    By the unit quaternion, the eigenvector of a symmetric matrix (Bar-Itzhack 2000).
    """
    m = matrix
    skew = np.array([m[2, 1] - m[1, 2], m[0, 2] - m[2, 0], m[1, 0] - m[0, 1]])
    trace = float(np.trace(m))
    k = np.block([[m + m.T - trace * np.eye(3), skew[:, None]], [skew[None, :], trace]])
    quaternion = np.linalg.eigh(k)[1][:, -1]
    quaternion = quaternion if quaternion[3] >= 0 else -quaternion
    sine = float(np.linalg.norm(quaternion[:3]))
    if sine < 1e-15:
        return np.zeros(3)
    angle = 2 * float(np.arctan2(sine, quaternion[3]))
    return np.asarray(angle / sine * quaternion[:3])


def distort(normal: Array, camera: Array) -> Array:
    """(…, N, 2) undistorted to distorted normalised coordinates, OpenCV's model."""
    _, _, _, k1, k2, p1, p2, k3 = camera
    x, y = normal[..., 0], normal[..., 1]
    r2 = x * x + y * y
    radial = 1 + r2 * (k1 + r2 * (k2 + r2 * k3))
    return np.stack(
        [
            x * radial + 2 * p1 * x * y + p2 * (r2 + 2 * x * x),
            y * radial + p1 * (r2 + 2 * y * y) + 2 * p2 * x * y,
        ],
        axis=-1,
    )


def undistort(distorted: Array, camera: Array) -> Array:
    """(N, 2) distorted to undistorted normalised coordinates.

    Raises GeometryError where the model folds back on itself.
    """
    _, _, _, k1, k2, p1, p2, k3 = camera
    normal = distorted.copy()
    for _ in range(_STEPS):
        x, y = normal[:, 0], normal[:, 1]
        r2 = x * x + y * y
        radial = 1 + r2 * (k1 + r2 * (k2 + r2 * k3))
        shift_x = 2 * p1 * x * y + p2 * (r2 + 2 * x * x)
        shift_y = p1 * (r2 + 2 * y * y) + 2 * p2 * x * y
        new = (distorted - np.column_stack([shift_x, shift_y])) / radial[:, None]
        step = float(np.max(np.abs(new - normal), initial=0.0))
        normal = new
        if step < _CONVERGED:
            return np.asarray(normal)
    if not np.isfinite(step) or step > 1e-6:
        raise GeometryError(
            "The lens model folds back at the edge of this picture. "
            "Keep the part nearer to the middle, or use a camera record."
        )
    return np.asarray(normal)


def image_from_space(points_mm: Array, view: Array) -> Array:
    """(N, 3) sheet frame to (N, 2) px. Raises GeometryError behind the camera."""
    camera, pose = view[:8], view[8:14]
    in_camera = points_mm @ rotation_matrix(pose[:3]).T + pose[3:]
    depth = in_camera[:, 2:]
    if np.any(depth <= 0):
        raise GeometryError(_BEHIND)
    return np.asarray(distort(in_camera[:, :2] / depth, camera) * camera[0] + camera[1:3])


def images_from_space(points_mm: Array, views: Array) -> Array:
    """(V, N, 3) or (N, 3) sheet frame to (V, N, 2) px, of many views (V, 14) at once."""
    cameras = views[:, :8].T[:, :, None]
    turns = {pose.tobytes(): rotation_matrix(pose).T for pose in views[:, 8:11]}
    turned = points_mm @ np.array([turns[pose.tobytes()] for pose in views[:, 8:11]])
    in_camera = turned + views[:, None, 11:14]
    depth = in_camera[..., 2:]
    if np.any(depth <= 0):
        raise GeometryError(_BEHIND)
    centre = np.moveaxis(cameras[1:3], 0, -1)
    return np.asarray(
        distort(in_camera[..., :2] / depth, cameras) * cameras[0][..., None] + centre
    )


def slopes_by_place(points_mm: Array, view: Array) -> Array:
    """(N, 2, 3) px per mm of movement of each point (N, 3) in space."""
    places = points_mm + np.concatenate([np.eye(3), -np.eye(3)])[:, None] * _PLACE_STEP_MM
    ahead, behind = np.split(images_from_space(places, np.tile(view, (6, 1))), 2)
    return np.moveaxis((ahead - behind) / (2 * _PLACE_STEP_MM), 0, 2)


def image_from_plane(points_mm: Array, view: Array, height_mm: float) -> Array:
    """(N, 2) on the plane at this height above the sheet to (N, 2) px."""
    lifted = np.column_stack([points_mm, np.full(len(points_mm), float(height_mm))])
    return image_from_space(lifted, view)


def plane_from_image(points_px: Array, view: Array, height_mm: float) -> Array:
    """(N, 2) px to (N, 2) mm on the plane at this height above the sheet.

    Raises GeometryError where the sight line does not meet the plane in front.
    """
    camera, pose = view[:8], view[8:14]
    normal = undistort((points_px - camera[1:3]) / camera[0], camera)
    to_sheet = rotation_matrix(pose[:3]).T
    centre = -to_sheet @ pose[3:]
    rays = np.column_stack([normal, np.ones(len(normal))]) @ to_sheet.T
    distance = (height_mm - centre[2]) / rays[:, 2]
    if np.any(~(distance > 0)):
        raise GeometryError(
            "A point lies above the horizon of its plane. Check the plane's height and the click."
        )
    return np.asarray(centre[:2] + rays[:, :2] * distance[:, None])


def lowered(view: Array, down_mm: float) -> Array:
    """(14,) the same view from a sheet frame that lies so far below this one."""
    moved = view.copy()
    moved[11:14] -= rotation_matrix(view[8:11])[:, 2] * down_mm
    return moved


def leaned(view: Array, axis: Array, angle_rad: float) -> Array:
    """(14,) the view from a sheet frame that is turned about an axis (3,) through its origin."""
    moved = view.copy()
    turn = rotation_matrix(axis * angle_rad)
    moved[8:11] = rotation_vector(rotation_matrix(view[8:11]) @ turn)
    return moved


def camera_centre(view: Array) -> Array:
    """(3,) where the camera stood, sheet frame, mm; z is its height above the sheet."""
    return -rotation_matrix(view[8:11]).T @ view[11:14]


def tilt_rad(view: Array) -> float:
    """Angle between the optical axis and the normal of the sheet."""
    return float(np.arccos(np.clip(-rotation_matrix(view[8:11])[2, 2], -1.0, 1.0)))
