"""A card checks the resolution of a scan, and gives the plane of an opening in place."""

from __future__ import annotations

from dataclasses import replace

import cv2
import numpy as np
import pytest
import shapely

from photomeasure import outlining
from photomeasure.errors import CalibrationError
from photomeasure.records.outline import Hints, PartEntry, Scan
from photomeasure.records.photo import Photo
from photomeasure.synthetic import ink
from photomeasure.synthetic.card_scenes import PAPER_MM, card_scene
from photomeasure.synthetic.random_parts import rounded_rectangle
from photomeasure.synthetic.scene import Hole, Print, Scene
from photomeasure.synthetic.taking import photo_of
from photomeasure.vision.sheets import sheet

DPI, FINE = 300.0, 4
CARD = "card-50-C"


def scan_with_card(scale: float = 1.0) -> Photo:
    """A gasket of 60 x 40 mm with a hole of 20 mm beside a card, everything drawn larger by
    scale."""
    per_mm = DPI / 25.4 * FINE
    fine = np.full((round(100 * per_mm), round(140 * per_mm)), 0.75, np.float32)

    def draw(shape: shapely.Geometry, shade: float) -> None:
        for one in shapely.get_parts(shape):
            rings = [shapely.get_coordinates(r) for r in (one.exterior, *one.interiors)]
            px = [np.rint((r * [1, -1] + [105, 50]) * per_mm * scale - 0.5) for r in rings]
            cv2.fillPoly(fine, [p.astype(np.int32) for p in px], shade)

    design, printed = sheet(CARD), Print(sheet=CARD)
    draw(ink.page(design), 0.8)
    draw(ink.solid_ink(design, printed), 0.05)
    gasket = shapely.box(-95, -10, -35, 30).difference(shapely.Point(-65, 10).buffer(10, 64))
    draw(gasket, 0.06)
    small = cv2.resize(fine, None, fx=1 / FINE, fy=1 / FINE, interpolation=cv2.INTER_AREA)
    grey = 255 * cv2.GaussianBlur(small, (0, 0), 0.8) ** (1 / 2.2)
    noisy = grey + np.random.default_rng(1).normal(0, 1.5, grey.shape)
    pixels = np.repeat(np.clip(noisy, 0, 255).astype(np.uint8)[:, :, None], 3, axis=2)
    return Photo("scan", pixels, "0" * 64)


def test_a_card_in_a_scan_confirms_its_resolution_and_is_no_second_part():
    """60 x 40 mm and a hole of 20 mm come out, and the card is named as what agrees."""
    made = outlining.outline(
        PartEntry("gasket", "scan.png", 0.8, scan=Scan(DPI)), scan_with_card()
    )
    assert made.part.photo_size_mm == pytest.approx((60, 40), abs=0.1)
    assert made.part.holes[0].diameter.measured == pytest.approx(20, abs=0.1)
    assert any(CARD in said and "agrees" in said for said in made.warnings)


def test_a_card_that_contradicts_the_resolution_is_refused():
    """3 % fewer pixels than stated, as after resizing."""
    with pytest.raises(CalibrationError, match=CARD):
        outlining.outline(
            PartEntry("gasket", "scan.png", 0.8, scan=Scan(DPI)), scan_with_card(0.97)
        )


def bore_beside_card(seed: int) -> Scene:
    """A bore of 50 mm through a thick guard, 55 mm beside a card stuck on its face."""
    scene = card_scene(seed)
    card = np.array(scene.cards[0].middle_mm[:2])
    centre = card - 55 * card / np.hypot(*card)
    middle = (float(card[0] + centre[0]) / 2, float(card[1] + centre[1]) / 2)
    plate = replace(
        scene.parts[0],
        name="guard",
        outline=rounded_rectangle(220, 220, 10, middle),
        holes=(Hole("bore", (float(centre[0]), float(centre[1])), 25.0),),
    )
    return replace(scene, parts=(plate,), features=(), measurements=())


def test_an_opening_in_place_is_outlined_from_a_card_in_its_plane():
    """A touch inside and a card beside it: the cover's outline is 50 mm within its U."""
    scene = bore_beside_card(1)
    bore = np.array([scene.parts[0].holes[0].centre_mm])
    x, y = (float(v) for v in scene.image_from_plane(bore, 0.0)[0])
    entry = PartEntry(
        "cover",
        "photo.jpg",
        3.0,
        face_mm=-PAPER_MM,
        on=scene.cards[0].print.sheet,
        opening=True,
        hints=Hints(inside=((x, y),)),
        prints=(scene.stated_print,) if scene.stated_print else (),
    )
    made = outlining.outline(entry, photo_of(scene))
    doubt = 2 * 2 * made.part.u_boundary_mm
    assert made.part.photo_size_mm == pytest.approx((50, 50), abs=min(doubt, 0.15))
