"""From a picture of a part to files for a shop, at a desk and with a finger."""

import io

import ezdxf
import numpy as np
import pytest
from hands import DESK, PHONE, wait_until
from PIL import Image
from test_access import serious
from test_outlining import PX_PER_MM, scan

from photomeasure.files.part_file import parse_part
from photomeasure.records.outline import BendSaid, HoleSaid, LevelSaid
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
    outlined(page)
    assert part_of(folder).name == "seal"
    assert page.inner_text("#panel .figure").startswith("60.0")  # the gasket is 60 x 40 mm


def begun_part(program, look, scanned, how=DESK):
    """The gasket outlined, as a part of a folder; returns the hand that did it."""
    folder, picture = scanned
    (folder / "gasket.png").write_bytes(picture.read_bytes())
    (folder / "part.toml").write_text(
        'name = "gasket"\nphoto = "gasket.png"\nthickness = 0.8\nscan = { dpi = 300.0 }\n'
    )
    hand = look(program(folder).address, how)
    hand.page.set_input_files("#choose", picture)
    hand.page.wait_for_selector(".photo .verdict")
    hand.tap("#step-point")
    hand.tap("#open-part")
    outlined(hand.page)
    return hand


def test_a_new_word_of_progress_leaves_the_panel_as_it_is(program, look, scanned):
    """While the program tells what it does, nothing under a finger is drawn anew."""
    hand = begun_part(program, look, scanned)
    page = hand.page
    told, held = {"words": "first"}, []
    page.route("**/api/outline?*", lambda route: held.append(route))  # noqa: PLW0108
    page.route("**/api/doing?*", lambda route: route.fulfill(json=told))
    hand.tap("#about-part summary")
    page.fill("#part-tolerance", "0.2")
    page.keyboard.press("Tab")
    page.wait_for_selector("#outline-doing:has-text('first')")
    hand.settled()
    page.evaluate("document.querySelector('#about-part').marked = true")
    told["words"] = "last"
    page.wait_for_selector("#outline-doing:has-text('last')")
    assert page.evaluate("document.querySelector('#about-part').marked")
    assert page.evaluate("document.activeElement.id") == "part-offset"
    for route in held:
        route.continue_()
    outlined(page)
    assert page.locator("#panel:has-text('within 0.2 mm')").count() == 1


def test_what_was_read_before_a_change_was_saved_does_not_come_back_after_it(
    program, look, scanned
):
    """The page looks every 2 s what stands; an answer that is late shows the part as it was, and
    the next change was taken for one against somebody else's."""
    hand = begun_part(program, look, scanned)
    page, folder = hand.page, scanned[0]
    late = []
    page.route("**/api/parts", lambda route: late.append((route, route.fetch())))
    hand.tap("#about-part summary")
    page.wait_for_timeout(2500)
    assert late
    page.fill("#part-tolerance", "0.2")
    page.keyboard.press("Tab")
    wait_until(lambda: part_of(folder).tolerance_mm == 0.2)
    hand.settled()
    for route, was in late:
        route.fulfill(response=was)
    page.unroute("**/api/parts")
    page.wait_for_timeout(200)
    page.fill("#part-offset", "1.5")
    page.keyboard.press("Tab")
    wait_until(lambda: part_of(folder).offset_mm == 1.5)
    assert part_of(folder).tolerance_mm == 0.2
    assert page.locator("dialog").count() == 0


@pytest.mark.parametrize("how", [DESK, PHONE], ids=["desk", "phone"])
def test_a_seat_is_said_changed_and_taken_back(program, look, scanned, how):
    """4 mm round the hole; then a recess, which may not go through; deleted, and back by undo."""
    hand = begun_part(program, look, scanned, how)
    page, folder = hand.page, scanned[0]
    hand.tap("#levels summary")
    hand.tap("#new-level")
    assert serious(page) == []
    page.fill("#level-height", "1,5")
    page.fill("#level-offset", "4")
    hand.tap("#keep-level")
    wait_until(lambda: part_of(folder).levels)
    assert part_of(folder).levels == (LevelSaid("level 1", "H1", 4.0, 1.5),)
    outlined(page)
    hand.tap("#level-0")
    page.select_option("#level-way", "down")
    page.fill("#level-height", "0.8")
    hand.tap("#keep-level")
    page.wait_for_selector("#level-said:has-text('goes through a part of 0.8 mm')")
    page.fill("#level-height", "0.3")
    hand.tap("#keep-level")
    wait_until(lambda: part_of(folder).levels[0].height_mm == -0.3)
    outlined(page)
    hand.tap("#level-0")
    hand.tap("#delete-level")
    wait_until(lambda: not part_of(folder).levels)
    hand.tap("#undo:not([disabled])")
    wait_until(lambda: part_of(folder).levels == (LevelSaid("level 1", "H1", 4.0, -0.3),))


@pytest.mark.parametrize("how", [DESK, PHONE], ids=["desk", "phone"])
def test_a_bend_line_is_touched_or_typed(program, look, scanned, how):
    """Both ends touched in the picture become mm of the part; typed ones are taken as they are."""
    hand = begun_part(program, look, scanned, how)
    page, folder = hand.page, scanned[0]
    hand.tap("#bends summary")
    hand.tap("#touch-bend")
    page.wait_for_selector("#ask .what:has-text('both ends')")
    for mm in ((20, 50), (80, 50)):  # as the gasket was drawn, y down
        hand.touch(np.array(mm) * PX_PER_MM)
    page.wait_for_selector("#bend-angle")
    page.fill("#bend-angle", "45")
    page.select_option("#bend-way", "down")
    hand.tap("#keep-bend")
    wait_until(lambda: part_of(folder).bends)
    (bend,) = part_of(folder).bends
    assert np.allclose([bend.start_mm, bend.end_mm], [(0, 10), (60, 10)], atol=0.6)
    assert (bend.angle_deg, bend.up, bend.inside_radius_mm) == (45.0, False, 1.0)
    outlined(page)
    hand.tap("#type-bend")
    for field, value in (("start-0", "5"), ("start-1", "0"), ("end-0", "5"), ("end-1", "40")):
        page.fill(f"#bend-{field}", value)
    page.keyboard.press("Enter")
    wait_until(lambda: len(part_of(folder).bends) == 2)
    assert part_of(folder).bends[1] == BendSaid((5.0, 0.0), (5.0, 40.0), 90.0, True, 1.0)
    page.wait_for_selector("#bend-1")
    hand.tap("#bend-0")
    hand.tap("#delete-bend")
    wait_until(lambda: len(part_of(folder).bends) == 1)
    assert part_of(folder).bends[0].start_mm == (5.0, 0.0)


def test_a_screw_is_chosen_for_a_hole_and_a_thread_typed(program, look, scanned):
    """The clearance classes near the hole's size are offered, of ISO 273:1979 (M18 medium is
    20 mm, from memory); the one that is chosen fills in the diameter."""
    hand = begun_part(program, look, scanned)
    page, folder = hand.page, scanned[0]
    page.click("#hole-H1 summary")
    page.wait_for_selector("#hole-H1[open]")
    options = page.locator("#fit-H1 option").evaluate_all("all => all.map((o) => o.value)")
    assert "M18 medium, ISO 273" in options
    assert "M6 medium, ISO 273" not in options
    page.select_option("#fit-H1", "M18 medium, ISO 273")
    assert page.input_value("#diameter-H1") == "20"
    page.click("#hole-H1 form > button")
    wait_until(lambda: part_of(folder).holes)
    assert part_of(folder).holes == (HoleSaid("H1", 20.0, "", "M18 medium, ISO 273"),)
    page.wait_for_selector("#hole-H1:has-text('Ø20.00 (M18 medium, ISO 273)')")
    page.select_option("#fit-H1", "")
    page.fill("#thread-H1", "M22")
    page.click("#hole-H1 form > button")
    wait_until(lambda: part_of(folder).holes == (HoleSaid("H1", None, "M22", ""),))
    page.wait_for_selector("#hole-H1:has-text('M22 (Ø')")
    assert part_of(folder).confirmed == ()
