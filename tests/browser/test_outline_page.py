"""From a picture of a part to files for a shop, at a desk and with a finger."""

import io

import ezdxf
import numpy as np
import pytest
from hands import DESK, PHONE, wait_until
from PIL import Image
from test_access import serious
from test_outlining import scan

from photomeasure.files.part_file import parse_part
from photomeasure.uncertainty.notation import parse_length_mm


@pytest.fixture
def scanned(tmp_path):
    """A folder with the scan of a gasket and nothing else."""
    folder = tmp_path / "press"
    folder.mkdir()
    path = tmp_path / "gasket.png"
    Image.fromarray(scan()).save(path)
    return folder, path


def part_of(folder):
    return parse_part((folder / "part.toml").read_text())


def outlined(page):
    page.wait_for_selector("#part-file-all", timeout=60000)
    page.wait_for_function("() => !document.querySelector('#outline-doing .busy')", timeout=60000)


def begin(hand, thickness):
    hand.tap("#outline-part")
    hand.page.fill("#part-name", "gasket")
    hand.page.fill("#part-thickness", thickness)


@pytest.mark.parametrize("how", [DESK, PHONE], ids=["desk", "phone"])
def test_from_a_scan_to_a_file_to_cut(program, look, scanned, how):
    """Add, outline, take what is on offer, save: the file is as large as the gasket."""
    folder, picture = scanned
    hand = look(program(folder).address, how)
    page = hand.page
    page.set_input_files("#choose", picture)
    page.wait_for_selector(".photo .verdict")
    hand.tap("#step-point")
    begin(hand, "1/32 in")
    assert page.input_value("#part-way") == "scan"  # no sheet is in the picture
    page.fill("#part-dpi", "300")
    hand.tap("#part-begin")
    outlined(page)
    assert part_of(folder).thickness_mm == pytest.approx(parse_length_mm("1/32 in"))
    assert part_of(folder).take == ()
    ticks = page.locator(".offer input")
    assert ticks.count() >= 1
    assert not any(ticks.nth(k).is_checked() for k in range(ticks.count()))  # nothing is imposed
    page.locator(".offer", has_text="inside the ±").first.click()
    wait_until(lambda: len(part_of(folder).take) == 1)
    page.wait_for_selector(".offer input:checked")
    outlined(page)
    for details in ("#about-part", "#hole-H1", "#hints"):
        hand.tap(f"{details} summary")
    assert serious(page) == []
    assert page.evaluate("document.getElementById('panel').scrollWidth") <= 448
    with page.expect_download(timeout=60000) as saved:
        hand.tap("#part-file-dxf")
    assert saved.value.suggested_filename == "gasket.dxf"
    document = ezdxf.read(io.StringIO(saved.value.path().read_text()))
    corners = np.array(document.modelspace().query("LWPOLYLINE")[0].get_points("xy"))
    assert np.ptp(corners, axis=0) == pytest.approx([60, 40], abs=0.15)
    hand.tap("#undo:not([disabled])")
    wait_until(lambda: part_of(folder).take == ())


@pytest.mark.parametrize("how", [DESK, PHONE], ids=["desk", "phone"])
def test_help_is_asked_for_and_given_by_touch(program, look, begun, clicks, how):
    """Two parts lie in the window: the page says so; a touch and a trace are kept where they were
    made, and taken away again."""
    hand = look(program(begun).address, how)
    page = hand.page
    page.wait_for_selector(".figure")
    begin(hand, "4")
    hand.tap("#part-begin")
    page.wait_for_selector(".note:has-text('second part')", timeout=60000)
    assert page.locator("#hints[open]").count() == 1
    inside = np.mean(clicks["bore"], axis=0) + np.array([0, 60])
    hand.tap("#hint-inside")
    page.wait_for_selector("#ask .what")
    hand.touch(inside)
    wait_until(lambda: part_of(begun).hints.inside)
    assert np.abs(np.array(part_of(begun).hints.inside[0]) - inside).max() < 5
    page.wait_for_selector("#hint-stroke:not([disabled])")
    hand.tap("#hint-stroke")
    for px in clicks["upper"]:
        hand.touch(px)
    hand.tap("#keep")
    wait_until(lambda: part_of(begun).hints.strokes)
    assert len(part_of(begun).hints.strokes[0]) == len(clicks["upper"])
    hand.tap("#unhint-strokes-0")
    wait_until(lambda: not part_of(begun).hints.strokes)


def test_a_diameter_against_the_photo_is_asked_about(program, look, scanned):
    """21 mm for a hole of 20 mm is doubted; once it is confirmed it is made so."""
    folder, picture = scanned
    hand = look(program(folder).address)
    page = hand.page
    page.set_input_files("#choose", picture)
    page.wait_for_selector(".photo .verdict")
    hand.tap("#step-point")
    begin(hand, "0.8")
    page.fill("#part-dpi", "300")
    hand.tap("#part-begin")
    outlined(page)
    page.click("#hole-H1 summary")
    page.wait_for_selector("#hole-H1[open]")
    page.fill("#diameter-H1", "21")
    page.click("#hole-H1 button")
    page.wait_for_selector("dialog:has-text('speaks against')")
    page.keyboard.press("Escape")
    assert part_of(folder).holes == ()
    page.click("#hole-H1 button")
    page.click("dialog .main")
    wait_until(lambda: part_of(folder).confirmed == ("H1",))
    page.wait_for_selector("#hole-H1:has-text('Ø21.00')", timeout=60000)


def test_a_part_changed_in_an_editor_is_followed(program, look, scanned):
    """The page outlines anew; deleting it can be undone."""
    folder, picture = scanned
    (folder / "gasket.png").write_bytes(picture.read_bytes())
    (folder / "part.toml").write_text(
        'name = "gasket"\nphoto = "gasket.png"\nthickness = 0.8\nscan = { dpi = 300.0 }\n'
    )
    hand = look(program(folder).address)
    page = hand.page
    page.set_input_files("#choose", picture)
    page.wait_for_selector(".photo .verdict")
    hand.tap("#step-point")
    page.click("#open-part")
    outlined(page)
    path = folder / "part.toml"
    path.write_text(path.read_text().replace('"gasket"\n', '"seal"\n'))
    page.wait_for_selector("h2:text-is('seal')")
    outlined(page)
    page.click("#delete-part")
    page.click("dialog .main")
    wait_until(lambda: not path.exists())
    page.click("#undo:not([disabled])")
    wait_until(path.exists)
    page.wait_for_selector("h2:text-is('seal')")
