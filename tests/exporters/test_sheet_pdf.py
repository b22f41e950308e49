"""The printed sheet is what the design says, in millimetres on paper."""

from pathlib import Path

import cv2
import numpy as np
import pypdfium2
import pytest

from photomeasure.errors import ExportError
from photomeasure.exporters.sheet_pdf import (
    PRINTER_MARGIN_MM,
    render_page_pdf,
    render_ready_made_pdfs,
    render_sheet_pdf,
)
from photomeasure.vision.sheets import DESIGNS, PAGES, page, sheet
from photomeasure.vision.sheets.layout import BAR_GAP_MM, DICTIONARY

CALIBRATION = Path(__file__).parents[2] / "calibration"
IDENTITIES = [f"{design.name}-A" for design in DESIGNS]
CARD_PAGES = [f"{design.name}-A" for design in PAGES]
RENEW = (
    'python -c "from photomeasure.files.outputs import write_outputs as w; '
    "from photomeasure.exporters.sheet_pdf import render_ready_made_pdfs as r; "
    "w('calibration', r())\""
)


class Raster:
    """A page as grey values 0 (paper) to 1 (ink), addressed in millimetres."""

    def __init__(self, identity: str, dpi: float) -> None:
        self.sheet = sheet(identity)
        self.page = pypdfium2.PdfDocument(render_sheet_pdf(self.sheet))[0]
        pixels = self.page.render(scale=dpi / 72, grayscale=True).to_numpy()
        self.pixels = np.ascontiguousarray(pixels.reshape(pixels.shape[:2]))
        # The rasteriser rounds the page up to whole pixels and stretches it to fill them.
        x0, y0, x1, y1 = self.sheet.page
        height, width = self.pixels.shape
        self.px_per_mm = np.array([width / (x1 - x0), height / (y1 - y0)])
        self.ink = 1 - self.pixels / 255.0

    def box(self, x0: float, y0: float, x1: float, y1: float) -> np.ndarray:
        """The ink inside a rectangle in the sheet frame."""
        left, top = self.px((x0, y1))
        right, bottom = self.px((x1, y0))
        return self.ink[round(top) : round(bottom), round(left) : round(right)]

    def px(self, point_mm) -> np.ndarray:
        """Picture position, counted from the outer corner of the top left pixel."""
        x0, _, _, y1 = self.sheet.page
        return np.array([point_mm[0] - x0, y1 - point_mm[1]]) * self.px_per_mm

    def mm(self, point_px) -> np.ndarray:
        """Sheet frame position of a position counted from pixel centres."""
        x0, _, _, y1 = self.sheet.page
        x, y = (np.asarray(point_px) + 0.5) / self.px_per_mm
        return np.array([x0 + x, y1 - y])


@pytest.mark.parametrize("identity", IDENTITIES)
def test_page_has_the_size_of_the_paper(identity):
    """The page is the paper to 0.01 mm, so that 100 % means true size."""
    one = sheet(identity)
    page = pypdfium2.PdfDocument(render_sheet_pdf(one))[0]
    size_mm = np.array(page.get_size()) / 72 * 25.4
    x0, y0, x1, y1 = one.page
    np.testing.assert_allclose(size_mm, (x1 - x0, y1 - y0), atol=0.01)


@pytest.mark.parametrize("identity", ["window-a4-A", "board-letter-landscape-A"])
def test_check_bars_are_150_mm_between_like_edges(identity):
    """Both bars measure 150 mm within 0.05 mm in the raster, like edge to like edge."""
    raster = Raster(identity, 600)
    for bar in raster.sheet.bars:
        low, high = (_like_edge_mm(raster, block, bar.axis) for block in bar.blocks)
        assert high - low == pytest.approx(150.0, abs=0.05)


def _like_edge_mm(raster, block, axis):
    """Where the left (or lower) edge lies, by the ink around it, clear of the arrow."""
    x0, y0, _, _ = block
    if axis == "x":
        ink = raster.box(x0 - 1, y0 + 0.3, x0 + 1, y0 + 1)
        right = round(raster.px((x0 + 1, y0))[0]) / raster.px_per_mm[0] + raster.sheet.page[0]
        return right - ink.mean(axis=0).sum() / raster.px_per_mm[0]
    ink = raster.box(x0 + 0.3, y0 - 1, x0 + 1, y0 + 1)
    upper = raster.sheet.page[3] - round(raster.px((x0, y0 + 1))[1]) / raster.px_per_mm[1]
    return upper - ink.mean(axis=1).sum() / raster.px_per_mm[1]


@pytest.mark.parametrize("identity", ["window-letter-A", "board-a4-landscape-A"])
def test_saddles_lie_where_the_design_puts_them(identity):
    """The outermost saddles found in the raster are within 0.05 mm of the design."""
    raster = Raster(identity, 300)
    saddles = raster.sheet.saddles_mm
    chosen = saddles[[0, -1, saddles[:, 0].argmin(), saddles[:, 1].argmax()]]
    start = np.array([raster.px(p) - 0.5 for p in chosen], np.float32).reshape(-1, 1, 2) + 1.5
    stop = (cv2.TERM_CRITERIA_EPS + cv2.TERM_CRITERIA_COUNT, 50, 1e-4)
    found = cv2.cornerSubPix(raster.pixels, start, (7, 7), (-1, -1), stop).reshape(-1, 2)
    np.testing.assert_allclose([raster.mm(p) for p in found], chosen, atol=0.05)


@pytest.mark.parametrize("identity", IDENTITIES)
def test_every_marker_is_read_in_its_place(identity):
    """A plain detector finds all ids of the design and no other, each within 0.05 mm."""
    raster = Raster(identity, 254)
    parameters = cv2.aruco.DetectorParameters()
    parameters.cornerRefinementMethod = cv2.aruco.CORNER_REFINE_SUBPIX
    parameters.cornerRefinementWinSize = 3
    dictionary = cv2.aruco.getPredefinedDictionary(DICTIONARY)
    corners, ids, _ = cv2.aruco.ArucoDetector(dictionary, parameters).detectMarkers(raster.pixels)
    found = dict(zip(np.ravel(ids).tolist(), corners, strict=True))
    assert set(found) == {marker.id for marker in raster.sheet.markers}
    for marker in raster.sheet.markers:
        centre = raster.mm(np.reshape(found[marker.id], (-1, 2)).mean(axis=0))
        np.testing.assert_allclose(centre, marker.corners_mm.mean(axis=0), atol=0.05)


def test_marker_cells_leave_no_seams():
    """Inside the black border of every marker the ink is solid at an awkward resolution."""
    raster = Raster("window-a4-A", 217)
    cell = 0.65625 * raster.sheet.square_mm / 7
    for marker in raster.sheet.markers:
        (x0, y1), (x1, y0) = marker.corners_mm[0], marker.corners_mm[2]
        inset = 0.3 * cell
        assert raster.box(x0 + inset, y1 - 0.7 * cell, x1 - inset, y1 - inset).min() == 1.0
        assert raster.box(x0 + inset, y0 + inset, x0 + 0.7 * cell, y1 - inset).min() == 1.0


def test_grey_patches_carry_their_ink():
    """Each patch is an even grey of the ink that the design states."""
    raster = Raster("window-a4-A", 300)
    for patch in raster.sheet.patches:
        x0, y0, x1, y1 = patch.rectangle
        inside = raster.box(x0 + 0.3, y0 + 0.3, x1 - 0.3, y1 - 0.3)
        np.testing.assert_allclose(inside, patch.ink, atol=0.003)


@pytest.mark.parametrize("identity", IDENTITIES)
def test_quiet_zone_window_and_paper_edge_stay_white(identity):
    """No ink lies near the chessboard, in the window, or where printers cannot reach.

    The bars of the A4 boards lie 4.5 mm from the edge; their measured edges do not.
    """
    raster = Raster(identity, 150)
    one = raster.sheet
    x0, y0 = one.squares[:, :2].min(axis=0)
    x1, y1 = one.squares[:, 2:].max(axis=0)
    gap = BAR_GAP_MM - 0.35
    assert raster.box(x0 - gap, y1 + 0.2, x1 + gap, y1 + gap).max() == 0
    assert raster.box(x0 - gap, y0 - gap, x1 + gap, y0 - 0.2).max() == 0
    assert raster.box(x0 - gap, y0 - gap, x0 - 0.2, y1 + gap).max() == 0
    assert raster.box(x1 + 0.2, y0 - gap, x1 + gap, y1 + gap).max() == 0
    edge = int((PRINTER_MARGIN_MM - 0.5) * raster.px_per_mm.min())
    inside = np.zeros_like(raster.ink, bool)
    inside[edge:-edge, edge:-edge] = True
    assert raster.ink[~inside].max() == 0
    if one.window is not None:
        wx0, wy0, wx1, wy1 = one.window
        assert raster.box(wx0 + 0.2, wy0 + 0.2, wx1 - 0.2, wy1 - 0.2).max() == 0


@pytest.mark.parametrize("identity", IDENTITIES)
def test_page_says_what_a_person_must_know(identity):
    """Identity, actual size, which side is up, how to use and both bars are text."""
    page = pypdfium2.PdfDocument(render_sheet_pdf(sheet(identity)))[0]
    words = page.get_textpage().get_text_bounded()
    use = "in the window" if sheet(identity).window else "six to twelve photos"
    for phrase in (
        identity,
        "Print at actual size (100 %)",
        "this side up",
        use,
        "150 mm – measure left edge to left edge with a caliper:",
        "150 mm – measure lower edge to lower edge with a caliper:",
    ):
        assert phrase in words


class Cards:
    """A page of cards as a raster, addressed in the frame of one of its cards."""

    def __init__(self, identity: str, dpi: float) -> None:
        self.one = page(identity)
        self.page = pypdfium2.PdfDocument(render_page_pdf(self.one))[0]
        pixels = self.page.render(scale=dpi / 72, grayscale=True).to_numpy()
        self.pixels = np.ascontiguousarray(pixels.reshape(pixels.shape[:2]))
        x0, y0, x1, y1 = self.one.page
        height, width = self.pixels.shape
        self.px_per_mm = np.array([width / (x1 - x0), height / (y1 - y0)])

    def px(self, points_mm, at):
        """Picture positions, from pixel centres, of places on a card whose middle lies at `at`."""
        x0, _, _, y1 = self.one.page
        places = (np.asarray(points_mm) + at - [x0, y1]) * [1, -1]
        return places * self.px_per_mm - 0.5


@pytest.mark.parametrize("identity", CARD_PAGES)
def test_every_card_of_a_page_is_printed_in_its_place(identity):
    """A plain detector reads every marker of every card within 0.05 mm of its design, once."""
    raster = Cards(identity, 400)
    dictionary = cv2.aruco.getPredefinedDictionary(DICTIONARY)
    parameters = cv2.aruco.DetectorParameters()
    parameters.minMarkerPerimeterRate = 0.01
    parameters.cornerRefinementMethod = cv2.aruco.CORNER_REFINE_SUBPIX
    parameters.cornerRefinementWinSize = 3
    corners, ids, _ = cv2.aruco.ArucoDetector(dictionary, parameters).detectMarkers(raster.pixels)
    found = dict(zip(np.ravel(ids).tolist(), corners, strict=True))
    designed = {m.id: (m, at) for card, at in raster.one.cards for m in card.markers}
    assert len(ids) == len(found)
    assert set(found) == set(designed)
    for number, (marker, at) in designed.items():
        middle = np.reshape(found[number], (-1, 2)).mean(axis=0)
        miss_mm = (middle - raster.px(marker.corners_mm.mean(axis=0), at)) / raster.px_per_mm
        assert np.abs(miss_mm).max() < 0.05


@pytest.mark.parametrize("identity", CARD_PAGES)
def test_cards_lie_apart_and_where_printers_reach(identity):
    """No cut crosses another card, a bar or the margin that printers leave white."""
    one = page(identity)
    cuts = np.array([np.add(card.page, (*at, *at)) for card, at in one.cards])
    bars = np.array([block for bar in one.bars for block in bar.blocks])
    for k, cut in enumerate(cuts):
        others = np.vstack([np.delete(cuts, k, axis=0), bars])
        apart = np.maximum(others[:, :2] - cut[2:], cut[:2] - others[:, 2:]).max(axis=1)
        assert apart.min() > 1.0
    inside = np.vstack([cuts, bars])
    assert (inside[:, :2] >= np.array(one.page[:2]) + PRINTER_MARGIN_MM).all()
    assert (inside[:, 2:] <= np.array(one.page[2:]) - PRINTER_MARGIN_MM).all()


@pytest.mark.parametrize("identity", CARD_PAGES)
def test_a_page_of_cards_says_what_a_person_must_know(identity):
    """Page, actual size, both bars, what to do, and on each card its own name."""
    one = page(identity)
    words = pypdfium2.PdfDocument(render_page_pdf(one))[0].get_textpage().get_text_bounded()
    names = [card.identity for card, _ in one.cards]
    for phrase in (identity, "Print at actual size (100 %)", "left edge to left edge", *names):
        assert phrase in words
    assert words.count("this side up") == 1 + sum(not n.startswith("card-25") for n in names)


def test_viewer_is_told_not_to_scale():
    """The document asks the print dialogue for no scaling."""
    assert b"/PrintScaling /None" in render_sheet_pdf(sheet("window-a4-A"))


def test_several_sheets_become_several_pages():
    """One page a sheet, each of its own size; no sheet at all is refused."""
    document = pypdfium2.PdfDocument(
        render_sheet_pdf(sheet("window-a4-B"), sheet("board-letter-landscape-C"))
    )
    assert [round(page.get_width()) for page in document] == [595, 792]
    with pytest.raises(ExportError, match="at least one"):
        render_sheet_pdf()


def test_ready_made_sheets_are_up_to_date():
    """calibration/ holds copy A of every design, byte for byte as rendered now."""
    fresh = render_ready_made_pdfs()
    stored = {path.name: path.read_bytes() for path in CALIBRATION.glob("*.pdf")}
    every = sorted(f"{i}.pdf" for i in (*IDENTITIES, *CARD_PAGES))
    assert sorted(stored) == sorted(fresh) == every
    stale = [name for name in fresh if fresh[name] != stored[name]]
    assert not stale, f"Out of date: {stale}. Renew with: {RENEW}"
