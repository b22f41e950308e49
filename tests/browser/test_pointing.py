"""Touches: what they find, how they are corrected, undone, and gone on with after a reload."""

import numpy as np
import worlds
from hands import PHONE, wait_until

from photomeasure import files
from photomeasure.geometry.camera import image_from_plane, plane_from_image


def features(folder):
    return {f.name: f for f in files.read_job(folder / "job.toml").features}


def test_a_circle_is_found_and_its_residual_told(program, look, begun, clicks):
    """Three touches on a rim are enough; the page says how well they fit."""
    hand = look(program(begun).address)
    hand.begin("diameter")
    hand.come_closer(clicks["bore"][0], 0.8)
    for px in clicks["bore"]:
        hand.touch(px)
    wait_until(lambda: "circle 1" in features(begun))
    found = features(begun)["circle 1"]
    assert (found.kind, len(found.clicks_px)) == ("circle", 3)
    hand.page.wait_for_selector(".card.chosen .figure")
    value = float(hand.page.locator(".card.chosen .figure").first.inner_text().split()[0])
    assert abs(value - worlds.BORE_MM) < 0.3
    hand.page.wait_for_selector("#magnifier", state="hidden")  # though the mouse is still there


def test_two_rims_that_fit_are_shown_and_the_person_chooses(program, look, begun):
    """Where two edges fit, the page asks, and keeps what was chosen."""
    scene = worlds.flange_scene(0.5)
    hand = look(program(begun).address)
    page = hand.page
    page.route("**/api/touch", _with_a_second_rim)
    hand.begin("diameter")
    rim = worlds.clicks(scene, worlds.rim(scene.parts[0].hole("bore"), 3))
    hand.come_closer(rim[0], 0.8)
    for px in rim:
        hand.touch(px)
    page.wait_for_selector("#rival-2")
    assert "2 edges fit" in page.inner_text("#ask")
    assert "circle 1" not in features(begun)
    hand.tap("#rival-2")
    page.wait_for_selector("[id='m-diameter 1']")
    assert features(begun)["circle 1"].choice == 2


def _with_a_second_rim(route):
    """What the program says where two rims fit; the rendered flange has no rim as doubtful."""
    asked = route.request.post_data_json
    located = route.fetch(post_data={**asked, "choice": None}).json()
    chain = [[x + 0.8, y] for x, y in located["chains_mm"][0]]
    chosen = asked["choice"] or 1
    rival = {"number": 3 - chosen, "words": "edge", "offset_mm": 0.8, "chains_mm": [chain]}
    route.fulfill(json={**located, "ask": True, "chosen": chosen, "rivals": [rival]})


def test_a_touch_is_dragged_to_correct_it(program, look, begun, clicks):
    """While it is dragged the found edge follows; let go, it is saved."""
    hand = look(program(begun).address)
    page = hand.page
    page.wait_for_selector(".figure")
    before = features(begun)["upper"].clicks_px
    page.click("#features summary")
    page.click("#f-upper")
    hand.come_closer(before[0], 0.6)
    x, y = hand.place(before[0])
    page.mouse.move(x, y)
    page.mouse.down()
    page.mouse.move(x - 30, y + 1, steps=4)
    page.wait_for_function("() => !document.getElementById('magnifier').hidden")
    page.mouse.up()
    wait_until(lambda: features(begun)["upper"].clicks_px != before)
    moved = features(begun)["upper"].clicks_px
    assert abs(moved[0][0] - (before[0][0] - 50)) < 4
    assert moved[1] == before[1]


def test_undo_and_redo_go_through_everything(program, look, begun, clicks):
    """Six changes back to the beginning by button and key, and forward again."""
    hand = look(program(begun).address)
    page = hand.page
    before = (begun / "job.toml").read_bytes()
    hand.begin("bolt circle")
    hand.come_closer(clicks["bolt 1"][0], 0.5)
    page.evaluate("window.photomeasureViewer.fit()")
    for name in worlds.BOLTS[:3]:
        hand.tap(f"[id='take-{name}']")
    page.wait_for_selector("#enough")
    while page.locator("#enough").count():
        hand.tap("#enough")
        page.wait_for_timeout(200)
    page.wait_for_selector(".card.chosen")
    for title in ("a", "b", "c"):
        page.click("#step-report")
        page.fill("#fact-title", title)
        page.keyboard.press("Tab")
        page.wait_for_selector(f"h1:text-is('{title}')")
    after = (begun / "job.toml").read_bytes()
    page.focus("#step-report")
    page.keyboard.press("Control+z")
    page.wait_for_selector("h1:text-is('b')")
    for _ in range(3):
        page.click("#undo:not([disabled])")
        hand.settled()
    wait_until(lambda: (begun / "job.toml").read_bytes() == before)
    page.wait_for_selector("#undo:disabled")
    for _ in range(4):
        page.click("#redo:not([disabled])")
        hand.settled()
    wait_until(lambda: (begun / "job.toml").read_bytes() == after)
    page.wait_for_selector("#redo:disabled")
    assert page.inner_text("h1") == "c"


def test_a_reload_in_mid_work_goes_on_where_it_was(program, look, begun, clicks):
    """One edge found, one touch of the next: after a reload both are still there."""
    hand = look(program(begun).address)
    page = hand.page
    hand.begin("gap")
    page.select_option("#lies-on", "top")
    hand.come_closer(clicks["upper"][0], 0.4)
    for px in clicks["upper"]:
        hand.touch(px)
    page.wait_for_selector("#ask .what:has-text('second edge')")
    hand.touch(clicks["lower"][0])
    page.wait_for_selector("text=1 of 2 touches")
    page.reload()
    page.wait_for_selector("text=1 of 2 touches")
    assert "second edge" in page.inner_text("#ask .what")
    page.wait_for_function("() => window.photomeasureViewer?.scene?.photo.views.length")
    hand.touch(clicks["lower"][1])
    page.wait_for_selector("[id='m-gap 1']")
    assert set(features(begun)) >= {"edge 1", "edge 2"}


def test_pointing_works_in_the_picture_at_right_angles_too(program, look, begun, clicks):
    """A touch in the rectified picture lands on the same pixel of the photo."""
    hand = look(program(begun).address)
    page = hand.page
    hand.begin("diameter")
    page.select_option("#lies-on", "top")
    page.click("#flat")
    page.wait_for_function("() => window.photomeasureViewer.scene?.flat?.plane === 'top'")
    for px in clicks["bore"]:
        hand.touch(px)
    wait_until(lambda: "circle 1" in features(begun))
    for seen, meant in zip(features(begun)["circle 1"].clicks_px, clicks["bore"], strict=True):
        assert abs(seen[0] - meant[0]) < 2.5
        assert abs(seen[1] - meant[1]) < 2.5


def test_the_page_projects_as_the_program_does(program, look, begun):
    """Places on a plane and in the photo agree with the camera model to a thousandth of a px."""
    hand = look(program(begun).address, PHONE)
    hand.page.wait_for_function("() => window.photomeasureViewer?.scene?.photo.views.length")
    view = hand.page.evaluate("window.photomeasureViewer.scene.photo.views[0]")
    places = [[-70.0, -100.0], [0.0, 0.0], [62.5, 90.0]]
    shown = hand.page.evaluate(
        """places => {
            const scene = window.photomeasureViewer.scene;
            const projection = [...scene.projections.values()][0];
            const px = places.map((mm) => projection.toPhoto(mm, 4));
            return [px, px.map((p) => projection.toPlane(p, 4))];
        }""",
        places,
    )
    numbers = np.array(view["camera"] + view["pose"])
    px = image_from_plane(np.array(places), numbers, 4.0)
    assert np.abs(np.array(shown[0]) - px).max() < 1e-3
    assert np.abs(np.array(shown[1]) - plane_from_image(px, numbers, 4.0)).max() < 1e-3
