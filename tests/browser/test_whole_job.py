"""From an empty folder to the report, as a person does it: at a desk, and with one finger."""

import json
import re
import subprocess
import sys

import pytest
import worlds
from hands import DESK, PHONE

from photomeasure.uncertainty.notation import format_length


def add_height(hand, name, mm, plus_minus):
    hand.page.select_option("#lies-on", "")
    hand.page.fill("#height-name", name)
    hand.page.fill("#height-mm", mm)
    hand.page.fill("#height-pm", plus_minus)
    hand.tap("dialog .main")
    hand.page.wait_for_selector("dialog", state="detached")


def point_at_gap(hand, clicks):
    hand.begin("gap")
    add_height(hand, "top", "4", "0.1")
    for name in ("upper", "lower"):
        for px in clicks[name]:
            hand.touch(px)
        hand.page.wait_for_function(
            "n => document.querySelectorAll('#features .pick').length === n",
            arg=1 if name == "upper" else 2,
        )
    hand.page.wait_for_selector(".card.chosen .figure")


def measured(folder):
    """The report that the command line writes for the folder, as JSON."""
    code = "from photomeasure.cli import main; main()"
    words = ["measure", str(folder), "--format", "json", "--quiet"]
    subprocess.run([sys.executable, "-c", code, *words], check=True, capture_output=True)
    return (folder / "report" / "report.json").read_bytes()


@pytest.mark.parametrize("how", [DESK, PHONE], ids=["desk", "phone"])
def test_from_an_empty_folder_to_the_report(program, look, tmp_path, jpeg, clicks, how):
    """Print, photograph, point, judge, check, take away; the numbers are those of `measure`."""
    folder = tmp_path / "new mill"
    hand = look(program(folder).address, how)
    page = hand.page
    assert page.locator(".begin .nth").count() == 3

    hand.tap("#step-print")
    page.select_option("#print-sheet", "window-a4-A")
    page.fill("#bar-x", "150.45")
    page.fill("#bar-y", "149,7")
    hand.tap("#keep-bars")
    page.wait_for_selector("text=window-a4-A: 150.45 and 149.7")

    hand.tap("#step-photograph")
    page.set_input_files("#choose", jpeg)
    page.wait_for_selector(".photo .verdict")
    assert (folder / "flange.jpg").read_bytes() == jpeg.read_bytes()

    point_at_gap(hand, clicks)
    hand.settled()
    hand.tap("[id='rule-gap 1']")
    page.fill("#own-least", "6.5")
    page.fill("#own-why", "it rocks when the crank jams")
    hand.tap("text=Judge by my limit")
    page.wait_for_selector(".card.chosen .verdict b:text-is('conforms')")

    hand.tap("[id='check-gap 1'] summary")
    page.fill("#check-value", "7.02")
    hand.tap("[id='check-gap 1'] button")
    page.wait_for_selector("text=they agree")
    hand.settled()

    report = measured(folder)
    gap = json.loads(report)["measurements"][0]["quantities"][0]
    shown = page.locator(".card.chosen .figure").first.inner_text()
    assert shown == format_length(gap["value"], gap["U"])
    assert abs(gap["value"] - worlds.GAP_MM) < 0.2

    hand.tap("#step-report")
    page.wait_for_selector("text=Every judged number conforms")
    with page.expect_download(timeout=60000) as saved:
        hand.tap("#save-json")
    assert saved.value.suggested_filename == "report.json"
    assert saved.value.path().read_bytes() == report  # to the last digit
    with page.context.expect_page() as opened:
        hand.tap("text=Look at the report")
    opened.value.wait_for_selector("h1")
    assert re.search(r"\d ± \d", opened.value.inner_text("body"))


def test_holding_a_finger_still_shows_the_magnifier(program, look, begun, clicks):
    """Hold, slide to the edge under the magnifier, let go: the touch is where the cross was."""
    hand = look(program(begun).address, PHONE)
    page = hand.page
    hand.begin("diameter")
    x, y = hand.place(clicks["bore"][0])
    send = page.context.new_cdp_session(page)

    def finger(kind, dx):
        points = [] if kind == "touchEnd" else [{"x": x + dx, "y": y}]
        send.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": points})

    finger("touchStart", 25)
    page.wait_for_selector("#magnifier:not([hidden])")
    finger("touchMove", 10)
    finger("touchMove", 0)
    finger("touchEnd", 0)
    page.wait_for_selector("text=1 of 3")
    landed = page.evaluate("JSON.parse(sessionStorage[Object.keys(sessionStorage)[0]]).clicks[0]")
    assert abs(landed[0] - clicks["bore"][0][0]) < 5
    assert abs(landed[1] - clicks["bore"][0][1]) < 5
    assert page.locator("#magnifier").is_hidden()
