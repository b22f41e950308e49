"""Half of a real fiducial board fits the sheet's mapping, the other half judges it.

choriginal.jpg and gboriginal.png of Debian's opencv-doc. Figures to meet were computed
beforehand with OpenCV, 20 splits, rms an axis: ChArUco corners 0.20 px (0.15 px refined, 0.12
mm); ArUco markers with APRILTAG refinement 0.30 px, 0.26 mm. The 40 mm squares come from the
package's documentation; the 30 mm markers and their gap of 0.2 are assumed.
"""

import cv2
import numpy as np
import pytest
from opencv_doc import find, read_grey

from photomeasure.geometry.homography import apply_homography, estimate_homography
from photomeasure.vision.saddles import refine_saddles

SPLITS = 20
SQUARE_MM = 40.0
MARKER_MM = 30.0
GRID_COLUMNS = 5


def held_out(sheet_mm: np.ndarray, found_px: np.ndarray) -> tuple[float, float]:
    """(px, mm) rms an axis of the half not fitted. Both (N, K, 2): N groups stay together."""
    random = np.random.default_rng(1)
    off_px, off_mm = [], []
    for _ in range(SPLITS):
        order = random.permutation(len(sheet_mm))
        fit, judge = order[: len(order) // 2], order[len(order) // 2 :]
        mapping = estimate_homography(sheet_mm[fit].reshape(-1, 2), found_px[fit].reshape(-1, 2))
        mm, px = sheet_mm[judge].reshape(-1, 2), found_px[judge].reshape(-1, 2)
        off_px.append(apply_homography(mapping, mm) - px)
        off_mm.append(apply_homography(np.linalg.inv(mapping), px) - mm)
    return tuple(float(np.sqrt(np.mean(np.concatenate(off) ** 2))) for off in (off_px, off_mm))


@pytest.fixture(scope="module")
def charuco():
    """The photograph, its corners in mm and as OpenCV finds them."""
    grey = read_grey("choriginal.jpg")
    dictionary = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_6X6_250)
    board = cv2.aruco.CharucoBoard((5, 7), SQUARE_MM, SQUARE_MM / 2, dictionary)
    corners, ids, _, _ = cv2.aruco.CharucoDetector(board).detectBoard(grey)
    places = np.asarray(board.getChessboardCorners(), float)[np.asarray(ids).ravel(), :2]
    return grey, places, np.asarray(corners, float).reshape(-1, 2)


def test_charuco_corners_predict_the_other_half(charuco):
    """All 24 corners are found; half of them predict the rest within 0.25 px."""
    _, places, corners = charuco
    assert len(corners) == 24
    px, mm = held_out(places[:, None], corners[:, None])
    assert px < 0.25
    assert mm < 0.20


def test_our_saddles_are_sharper_than_the_detector(charuco):
    """Refined by our saddle fit the same corners predict within 0.17 px and 0.14 mm."""
    grey, places, corners = charuco
    mapping = estimate_homography(places, corners)
    guess = apply_homography(mapping, places)
    sides = [
        apply_homography(mapping, places + step) - guess
        for step in ([SQUARE_MM, 0.0], [0.0, SQUARE_MM])
    ]
    saddles = refine_saddles(grey, guess, np.stack(sides, axis=1))
    assert saddles.good.sum() >= 22
    px, mm = held_out(places[saddles.good, None], saddles.points_px[saddles.good, None])
    assert px < 0.17
    assert mm < 0.14
    assert px < held_out(places[:, None], corners[:, None])[0]


@pytest.fixture(scope="module")
def grid():
    """Ids (N,) and corners (N, 4, 2) px of the 35 markers of the grid board."""
    grey = read_grey("gboriginal.png")
    dictionary = cv2.aruco.Dictionary()
    storage = cv2.FileStorage(str(find("tutorial_dict.yml")), cv2.FILE_STORAGE_READ)
    assert dictionary.readDictionary(storage.root())
    parameters = cv2.aruco.DetectorParameters()
    parameters.cornerRefinementMethod = cv2.aruco.CORNER_REFINE_APRILTAG
    corners, ids, _ = cv2.aruco.ArucoDetector(dictionary, parameters).detectMarkers(grey)
    found = np.array([np.asarray(quad, float).reshape(4, 2) for quad in corners])
    return np.asarray(ids).ravel(), found


def marker_corners_mm(ids: np.ndarray, gap: float) -> np.ndarray:
    """(N, 4, 2) of a grid whose markers stand `gap` of their side apart."""
    pitch = MARKER_MM * (1 + gap)
    origin = pitch * np.column_stack([ids % GRID_COLUMNS, ids // GRID_COLUMNS])
    return origin[:, None] + MARKER_MM * np.array([[0, 0], [1, 0], [1, 1], [0, 1]])


def test_half_of_a_marker_grid_predicts_the_other(grid):
    """All 35 markers are found; half of them predict the rest within 0.4 px and 0.35 mm."""
    ids, found = grid
    assert len(ids) == 35
    px, mm = held_out(marker_corners_mm(ids, 0.2), found)
    assert px < 0.40
    assert mm < 0.35


def test_residuals_show_a_wrong_sheet(grid):
    """A layout with the gap of 0.1 that the tutorial names fits five times worse than 0.2."""
    ids, found = grid
    wrong, right = (held_out(marker_corners_mm(ids, gap), found)[0] for gap in (0.1, 0.2))
    assert wrong > 5 * right
