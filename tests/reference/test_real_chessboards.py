"""Our corners and joint fit against real chessboard photographs (Debian's opencv-doc).

left01–14.jpg: 9 × 6 inner corners. The package's own left_intrinsics.yml and OpenCV's
calibration with a refinement window of 7 (computed: f 533.00, centre 342.31, 233.93, 0.1832 px
a point) are the figures to meet. The pitch is nominal and enters no figure here.
"""

import cv2
import numpy as np
import pytest
from opencv_doc import read_bytes, read_grey

from photomeasure.estimation.joint import ScalePrior, Sighting
from photomeasure.estimation.priors import LensPrior
from photomeasure.estimation.views import estimate_views
from photomeasure.geometry.homography import apply_homography, estimate_homography
from photomeasure.records.view import MarkerObservation
from photomeasure.vision.saddles import refine_saddles

COLUMNS, ROWS, PITCH_MM = 9, 6, 25.0
SIZE_PX = (640, 480)
CORNERS_MM = PITCH_MM * np.array(
    [(c - COLUMNS // 2, ROWS / 2 - r) for r in range(ROWS) for c in range(COLUMNS)]
)
SPREAD = ("01", "03", "05", "07", "09", "12", "14")


def observe(name: str) -> MarkerObservation:
    """All corners of one photograph, refined by our saddle fit."""
    grey = read_grey(name)
    found, corners = cv2.findChessboardCorners(grey, (COLUMNS, ROWS))
    assert found, name
    guess = np.asarray(corners, float).reshape(ROWS, COLUMNS, 2)
    axes = np.stack([np.gradient(guess, axis=1), np.gradient(guess, axis=0)], axis=2)
    saddles = refine_saddles(grey, guess.reshape(-1, 2), axes.reshape(-1, 2, 2))
    good = saddles.good
    assert good.sum() >= 45, name
    return MarkerObservation(
        name, "board", CORNERS_MM[good], saddles.points_px[good], 0.1, len(CORNERS_MM), 30.0
    )


@pytest.fixture(scope="module")
def fitted():
    """Seven photographs fitted together from a lens known only within a third."""
    mean = np.array([480.0, 319.5, 239.5, 0, 0, 0, 0, 0])
    u = np.array([150.0, 30, 30, 0.5, 0.5, 0.01, 0.01, 1.0])
    lens = LensPrior(mean, np.diag(u**2), SIZE_PX, known=False)
    sightings = [Sighting(observe(f"left{n}.jpg"), SIZE_PX, 1, "left") for n in SPREAD]
    scale = ScalePrior(np.ones(2), np.full(2, 1e-4))
    return estimate_views(sightings, {"left": lens}, {"board": scale})


def test_joint_fit_finds_the_lens(fitted):
    """Focal length within 1 %, centre within 3 px of OpenCV's and of the package's own."""
    f, cx, cy, k1 = fitted[0].vector[:4]
    assert f == pytest.approx(533.00, rel=0.01)
    assert (cx, cy) == (pytest.approx(342.31, abs=3), pytest.approx(233.93, abs=3))
    text = read_bytes("left_intrinsics.yml").decode()
    storage = cv2.FileStorage(text, cv2.FILE_STORAGE_READ | cv2.FILE_STORAGE_MEMORY)
    matrix = storage.getNode("camera_matrix").mat()
    assert f == pytest.approx(matrix[0, 0], rel=0.01)
    assert k1 == pytest.approx(-0.27, abs=0.03)


def test_joint_fit_leaves_no_more_than_opencv(fitted):
    """Residual per axis no more than OpenCV's 0.1832 px a point, which is 0.13 an axis."""
    residual = np.sqrt(np.mean([view.residual_px**2 for view in fitted[1].views]))
    assert residual <= 0.1832 / np.sqrt(2)


def test_a_ring_of_corners_predicts_the_inside_of_another_photograph(fitted):
    """left08 was not fitted: with the lens undone its outer ring predicts the inner corners.

    Reference (computed with OpenCV on these photographs): 0.0040 square rms, 0.030 with the
    lens left in.
    """
    seen = observe("left08.jpg")
    f, cx, cy = fitted[0].vector[:3]
    matrix = np.array([[f, 0, cx], [0, f, cy], [0, 0, 1]])
    undone = cv2.undistortPoints(
        seen.saddles_px.reshape(-1, 1, 2), matrix, fitted[0].vector[3:8], P=matrix
    )
    reach = np.abs(seen.saddles_mm / PITCH_MM - [0, 0.5])
    ring = (reach[:, 0] > 3.5) | (reach[:, 1] > 2.0)
    misses = {}
    for name, points in (("undone", undone), ("left in", seen.saddles_px)):
        px = np.asarray(points, float).reshape(-1, 2)
        mapping = estimate_homography(px[ring], seen.saddles_mm[ring])
        off = apply_homography(mapping, px[~ring]) - seen.saddles_mm[~ring]
        misses[name] = np.sqrt(np.mean(np.sum(off**2, axis=1))) / PITCH_MM
    assert misses["undone"] < 0.010
    assert misses["undone"] < 0.5 * misses["left in"]
