"""A card checks the resolution of a scan, and gives the plane of an opening in place."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import cv2
import numpy as np
import pytest
import shapely

from photomeasure import outlining
from photomeasure.errors import CalibrationError, GeometryError
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
    assert any(CARD in said and "agrees" in said for said in made.part.remarks)


def test_a_card_that_contradicts_the_resolution_is_refused():
    """3 % fewer pixels than stated, as after resizing."""
    with pytest.raises(CalibrationError, match=CARD):
        outlining.outline(
            PartEntry("gasket", "scan.png", 0.8, scan=Scan(DPI)), scan_with_card(0.97)
        )


@dataclass(frozen=True)
class Frame:
    """A frame in place: its bore's radius, thickness and share of light that comes back, and how
    far the card's middle lies from the rim. tilt_deg : of the photo."""

    radius_mm: float
    thickness_mm: float
    reflectance: float
    card_mm: float = 42.0
    tilt_deg: tuple[float, float] = (0.0, 30.0)


def bore_beside_card(seed: int, frame: Frame) -> Scene:
    """A bore through a guard, beside a card stuck on its face."""
    scene = card_scene(seed, tilt_deg=frame.tilt_deg)
    plate, placed = scene.parts[0], scene.cards[0]
    lift = frame.thickness_mm - plate.thickness_mm
    x, y, z = placed.middle_mm
    card = np.array([x, y])
    centre = card - (frame.card_mm + frame.radius_mm) * card / np.hypot(*card)
    middle = (float(card[0] + centre[0]) / 2, float(card[1] + centre[1]) / 2)
    guard = replace(
        plate,
        name="guard",
        thickness_mm=frame.thickness_mm,
        face_reflectance=frame.reflectance,
        wall_reflectance=0.8 * frame.reflectance,
        outline=rounded_rectangle(220, 220, 10, middle),
        holes=(Hole("bore", (float(centre[0]), float(centre[1])), frame.radius_mm),),
    )
    tx, ty, tz = scene.pose.numbers[3:] - scene.pose.rotation @ np.array([0.0, 0.0, lift])
    return replace(
        scene,
        parts=(guard,),
        cards=(replace(placed, middle_mm=(x, y, z + lift)),),
        pose=replace(scene.pose, tx=float(tx), ty=float(ty), tz=float(tz)),
        features=(),
        measurements=(),
    )


def cover(scene: Scene, **hints: Any) -> PartEntry:
    """What its user says of the cover that shall close the bore: a touch inside it."""
    bore = scene.parts[0].holes[0]
    (touch,) = pixels(scene, np.array([bore.centre_mm]))
    return PartEntry(
        "cover",
        "photo.jpg",
        3.0,
        face_mm=-PAPER_MM,
        on=scene.cards[0].print.sheet,
        opening=True,
        hints=Hints(inside=(touch,), **hints),
        prints=(scene.stated_print,) if scene.stated_print else (),
    )


def pixels(scene: Scene, places_mm: np.ndarray) -> tuple[tuple[float, float], ...]:
    """Where places on the upper face are seen."""
    seen = scene.image_from_plane(places_mm, scene.parts[0].thickness_mm)
    return tuple((float(x), float(y)) for x, y in seen)


FRAMES = {
    "shallow": (21, Frame(25.0, 3.0, 0.4)),
    "bright": (14, Frame(15.0, 20.0, 0.6)),
    "black": (16, Frame(25.0, 12.0, 0.06, tilt_deg=(25.0, 30.0))),
    "deep": (17, Frame(22.0, 30.0, 0.2)),
    "steep and deep": (15, Frame(25.0, 40.0, 0.4, tilt_deg=(20.0, 30.0))),
}


@pytest.mark.parametrize("which", FRAMES)
def test_an_opening_in_place_is_outlined_from_a_card_in_its_plane(which):
    """A touch inside and a card beside it: the cover is as large as the bore within its U, however
    deep the bore and whatever is seen in it."""
    seed, frame = FRAMES[which]
    scene = bore_beside_card(seed, frame)
    made = outlining.outline(cover(scene), photo_of(scene))
    doubt = 2 * 2 * made.part.u_boundary_mm
    size = 2 * frame.radius_mm
    assert made.part.photo_size_mm == pytest.approx((size, size), abs=min(doubt, 0.2))


LIKE_ITS_SHADOW = 41, Frame(13.0, 45.0, 0.053, 38.0, (22.0, 26.0))


def test_a_bore_in_which_something_is_as_light_as_the_face_asks_for_a_stroke():
    """And with a stroke round the rim the cover is as large as the bore."""
    seed, frame = LIKE_ITS_SHADOW
    scene = bore_beside_card(seed, frame)
    photo = photo_of(scene)
    with pytest.raises(GeometryError, match="troke"):
        outlining.outline(cover(scene), photo)
    rim = scene.parts[0].holes[0].ring(frame.radius_mm)
    stroke = pixels(scene, np.vstack([rim, rim[:1]]))
    made = outlining.outline(cover(scene, strokes=(stroke,)), photo)
    assert made.part.photo_size_mm == pytest.approx((26, 26), abs=0.3)


def test_a_card_over_the_edge_of_an_opening_is_refused():
    """Its own edge is none of the opening's."""
    scene = bore_beside_card(14, Frame(15.0, 20.0, 0.6, card_mm=22.0))
    with pytest.raises(GeometryError, match="card"):
        outlining.outline(cover(scene), photo_of(scene))
