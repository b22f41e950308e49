"""Which sheet is in the picture: read from our own PDFs, whatever is printed beside it."""

import cv2
import numpy as np
import pypdfium2
import pytest

from photomeasure.errors import PhotoError
from photomeasure.exporters.sheet_pdf import render_sheet_pdf
from photomeasure.geometry.homography import apply_homography, estimate_homography
from photomeasure.records.photo import Photo
from photomeasure.vision.detection import detect_sheets
from photomeasure.vision.markers import FoundMarkers, detect_markers, identify_sheets
from photomeasure.vision.sheets import identities, sheet

PX_PER_MM = 5.0


def printed(identity: str) -> np.ndarray:
    """(H, W) grey of the PDF as a printer would see it."""
    page = pypdfium2.PdfDocument(render_sheet_pdf(sheet(identity)))[0]
    return page.render(scale=PX_PER_MM * 25.4 / 72, grayscale=True).to_numpy().squeeze()


def laid(identity: str, corners_px: list, size: tuple[int, int]) -> tuple[np.ndarray, np.ndarray]:
    """A picture of the page with its corners there, and the homography from mm to px."""
    page = printed(identity)
    x0, y0, x1, y1 = sheet(identity).page
    corners_mm = np.array([(x0, y1), (x1, y1), (x1, y0), (x0, y0)])
    to_px = estimate_homography(corners_mm, np.array(corners_px, float))
    # Page pixel (column, row) lies at x0 + (column + ½) / sx, y1 - (row + ½) / sy.
    sx, sy = page.shape[1] / (x1 - x0), page.shape[0] / (y1 - y0)
    to_mm = np.array([[1 / sx, 0, x0 + 0.5 / sx], [0, -1 / sy, y1 - 0.5 / sy], [0, 0, 1]])
    warp = to_px @ to_mm
    flags = cv2.INTER_AREA
    return cv2.warpPerspective(page, warp, size, flags=flags, borderValue=90), to_px


def photo(grey: np.ndarray) -> Photo:
    return Photo("photo", np.repeat(grey[:, :, None], 3, axis=2), "0" * 64)


@pytest.mark.parametrize(
    "identity",
    ["window-a4-A", "window-letter-landscape-C", "board-a4-landscape-B", "board-letter-D"],
)
def test_a_printed_page_is_read_and_its_corners_lie_where_they_were_drawn(identity):
    """PDF to raster to a slanted picture: identity and corners come back within 0.1 px."""
    design = sheet(identity)
    wide = design.turned
    corners = (
        [(150, 90), (1500, 60), (1610, 1150), (60, 1120)]
        if wide
        else [(120, 120), (1060, 90), (1150, 1500), (60, 1560)]
    )
    grey, to_px = laid(identity, corners, (1680, 1220) if wide else (1200, 1640))
    (seen,) = detect_sheets(photo(grey))
    assert seen.sheet == identity
    assert len(seen.saddles_px) > 0.9 * seen.expected
    miss = seen.saddles_px - apply_homography(to_px, seen.saddles_mm)
    assert np.sqrt(np.mean(miss**2)) < 0.1


def test_two_copies_in_one_picture_are_told_apart():
    """Sheets A and B side by side are two sheets, each with its own corners."""
    left, _ = laid("window-a4-A", [(60, 60), (1000, 80), (1010, 1420), (50, 1400)], (1060, 1480))
    right, _ = laid("window-a4-B", [(60, 60), (1000, 80), (1010, 1420), (50, 1400)], (1060, 1480))
    seen = detect_sheets(photo(np.hstack([left, right])))
    assert {o.sheet for o in seen} == {"window-a4-A", "window-a4-B"}
    for one in seen:
        half = one.saddles_px[:, 0] < 1060
        assert half.all() if one.sheet == "window-a4-A" else not half.any()


def test_every_sheet_is_told_from_every_other_by_its_arrangement():
    """The markers of each of the printable sheets, in place, name that sheet and no other."""
    for identity in identities():
        markers = sheet(identity).markers
        corners = np.array([m.corners_mm for m in markers]) * [6.0, -6.0] + 1500.0
        found = FoundMarkers(np.array([m.id for m in markers]), corners)
        (best,) = identify_sheets(found)
        assert best.sheet.identity == identity
        assert len(best.corners_px) == len(markers)


def test_a_few_markers_in_the_wrong_place_are_left_out():
    """A marker read from a scrap of paper elsewhere does not become part of the sheet."""
    markers = sheet("window-a4-A").markers
    corners = np.array([m.corners_mm for m in markers]) * [6.0, -6.0] + 1500.0
    corners[5] += 400.0
    (best,) = identify_sheets(FoundMarkers(np.array([m.id for m in markers]), corners))
    assert len(best.corners_px) == len(markers) - 1


def test_a_mirrored_page_is_no_sheet():
    """A reflection shows no marker of ours."""
    grey, _ = laid("window-a4-A", [(60, 60), (1000, 80), (1010, 1420), (50, 1400)], (1060, 1480))
    assert len(detect_markers(grey[:, ::-1].copy()).ids) < 4
    with pytest.raises(PhotoError, match="no scale sheet"):
        detect_sheets(photo(grey[:, ::-1].copy()))
