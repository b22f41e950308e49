"""Which card is it: read by ids of its own, never by a guess."""

import cv2
import numpy as np
import pytest
import shapely
from test_markers import photo

from photomeasure.records.sheet import Sheet
from photomeasure.synthetic import ink
from photomeasure.synthetic.coverage import Canvas
from photomeasure.synthetic.scene import Print
from photomeasure.vision.detection import Detection, detect_targets, least_saddles
from photomeasure.vision.markers import FoundMarkers, glimpsed_cards, identify_sheets
from photomeasure.vision.sheets import (
    CARDS,
    PAGE_COPIES,
    PAGES,
    bars_of,
    identities,
    page,
    printed,
    prints_of,
    sheet,
)

CARD = "card-50-H"
NAMES = [i for i in identities() if sheet(i).is_card]


def markers_of(card: Sheet, count: int, at: float = 500.0) -> FoundMarkers:
    """The first markers of a card as seen from above at 8 px/mm."""
    some = card.markers[:count]
    corners = np.array([m.corners_mm for m in some]) * [8.0, -8.0] + at
    return FoundMarkers(np.array([m.id for m in some]), corners)


def both(one: FoundMarkers, other: FoundMarkers) -> FoundMarkers:
    return FoundMarkers(
        np.concatenate([one.ids, other.ids]), np.concatenate([one.corners_px, other.corners_px])
    )


def drawn(card: Sheet, px_per_mm: float, size=(700, 900)) -> np.ndarray:
    """(H, W) grey: the card straight from above on a grey table, slightly blurred."""
    canvas = Canvas((0, 0, size[1], size[0]))
    for shapes, level in (
        (ink.page(card), 230 - 120),
        (ink.solid_ink(card, Print()), 20 - 230),
    ):
        canvas.add(shapely.transform(shapes, lambda p: place(card, p, px_per_mm)), level)
    return np.rint(cv2.GaussianBlur(canvas.picture() + 120, (0, 0), 0.7)).astype(np.uint8)


def place(card: Sheet, points_mm: np.ndarray, px_per_mm: float) -> np.ndarray:
    """Where `drawn` puts points of a card."""
    return (points_mm - [card.page[0], card.page[3]]) * [px_per_mm, -px_per_mm] + 60.3


def test_no_marker_is_on_two_cards_or_on_a_sheet():
    """One marker can belong to one card only, and to no sheet."""
    ids = [m.id for i in NAMES for m in sheet(i).markers]
    others = {m.id for i in identities() if i not in NAMES for m in sheet(i).markers}
    assert len(ids) == len(set(ids))
    assert others.isdisjoint(ids)
    assert max(ids) < 1000


def test_the_cards_are_about_as_wide_as_their_names_say():
    """25, 50 and 80 mm wide to be cut out, within 1 mm."""
    for design in CARDS:
        assert design.cut[2] - design.cut[0] == pytest.approx(float(design.name[5:]), abs=1.0)


def test_every_card_is_on_one_copy_of_each_page():
    """Cut from A4 or Letter, of copy A or B: the print is known up to the paper."""
    on = {p: {c.identity for c, _ in page(p).cards} for p in printed() if p.startswith("cards")}
    assert len(on) == len(PAGES) * len(PAGE_COPIES)
    for name in NAMES:
        assert set(prints_of(name)) == {p for p, cards in on.items() if name in cards}
        assert len({p[-1] for p in prints_of(name)}) == 1
    assert [bar.length_mm for bar in bars_of("cards-letter-B")] == [150.0, 150.0]


@pytest.mark.parametrize("name", NAMES)
def test_three_markers_name_a_card_and_two_do_not(name):
    """Three in their places name it; of two nothing is said but that they were glimpsed."""
    (found,) = identify_sheets(markers_of(sheet(name), 3))
    assert found.sheet.identity == name
    assert identify_sheets(markers_of(sheet(name), 2)) == ()
    assert list(glimpsed_cards(markers_of(sheet(name), 2))) == [name]


def test_markers_of_a_card_in_wrong_places_name_nothing():
    """A scrap with the right ids but another arrangement is no card."""
    found = markers_of(sheet(CARD), 6)
    shuffled = FoundMarkers(found.ids, np.roll(found.corners_px, 1, axis=0)[::-1])
    assert identify_sheets(shuffled) == ()


def test_two_prints_of_one_card_are_both_found_and_neither_is_used():
    """Which of them is meant cannot be known; the message says so."""
    card = sheet(CARD)
    twice = both(markers_of(card, 16), markers_of(card, 16, at=2000.0))
    assert [s.sheet.identity for s in identify_sheets(twice)] == [CARD, CARD]
    assert all(len(s.corners_px) == 16 for s in identify_sheets(twice))
    grey = np.hstack([drawn(card, 7.0, size=(500, 470)), drawn(card, 7.0, size=(500, 470))])
    grey = np.hstack([grey, drawn(sheet("card-25-A"), 12.0, size=(500, 470))])
    seen = detect_targets(photo(grey))
    assert [o.sheet for o in seen.sheets] == ["card-25-A"]
    assert "two prints" in seen.missed[CARD]


@pytest.mark.parametrize(
    ("name", "px_per_mm"), [("card-25-J", 8.0), (CARD, 7.0), ("card-80-C", 6.0)]
)
def test_the_corners_of_a_card_lie_where_they_were_drawn(name, px_per_mm):
    """Identity and at least 90 % of the corners, rms below 0.03 px without noise."""
    card = sheet(name)
    (seen,) = detect_targets(photo(drawn(card, px_per_mm))).sheets
    assert seen.sheet == name
    assert seen.prints == prints_of(name)
    assert len(seen.saddles_px) >= 0.9 * seen.expected
    miss = seen.saddles_px - place(card, seen.saddles_mm, px_per_mm)
    assert np.sqrt(np.mean(miss**2)) < 0.03


def test_a_card_too_small_to_be_read_is_told_with_the_distance():
    """The large card is used; of the small one it is said from where to take it.

    A file without EXIF is taken for a 27 mm equivalent lens: f = 0.75 × 1800 = 1350 px, so a
    square of 4.4 mm spans 30 px from 0.198 m (pinhole: focal length × size / image).
    """
    small = drawn(sheet("card-25-C"), 4.2)
    grey = np.hstack([drawn(sheet(CARD), 10.0), small])
    seen = detect_targets(photo(grey))
    assert [o.sheet for o in seen.sheets] == [CARD]
    assert list(seen.missed) == ["card-25-C"]
    assert "a square spans 17 px" in seen.missed["card-25-C"]
    assert "about 0.2 m" in seen.missed["card-25-C"]


def test_a_small_card_needs_half_of_its_corners():
    """16 corners in all: 8 are enough; a sheet still needs 16."""
    assert least_saddles(len(sheet("card-25-A").saddles_mm)) == 8
    assert least_saddles(len(sheet("card-50-A").saddles_mm)) == 16
    assert least_saddles(len(sheet("window-a4-A").saddles_mm)) == 16
    assert Detection(()).missed == {}
