"""Everybody can use it: by keyboard alone, on a dark screen, with a reader of screens.

The scan is axe-core's, whose rules follow WCAG 2; "serious" and "critical" are its own grades.
"""

import pytest
from axe_playwright_python.sync_playwright import Axe
from hands import DESK, PHONE, wait_until

from photomeasure import files

STEPS = ("print", "photograph", "point", "report")


def serious(page):
    found = Axe().run(page).response["violations"]
    return [
        (v["id"], [n["html"][:120] for n in v["nodes"]])
        for v in found
        if v["impact"] in ("serious", "critical")
    ]


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("how", [DESK, PHONE], ids=["desk", "phone"])
def test_no_serious_findings_on_any_panel(program, look, begun, how, scheme):
    """All four steps, a dialog, and the bar that asks for touches."""
    hand = look(program(begun).address, how, color_scheme=scheme)
    page = hand.page
    page.wait_for_selector(".figure")
    found = {}
    for step in STEPS:
        hand.tap(f"#step-{step}")
        if step == "photograph":
            page.wait_for_selector(".photo .verdict")
        if step == "point":
            hand.tap("#m-slot")
        page.wait_for_timeout(150)
        found[step] = serious(page)
    hand.tap("#step-point")
    hand.tap("#measure")
    page.wait_for_selector("dialog")
    found["kinds"] = serious(page)
    hand.tap("dialog .kind:has(b:text-is('gap'))")
    page.wait_for_selector("#ask .what")
    found["ask"] = serious(page)
    assert {k: v for k, v in found.items() if v} == {}


def test_the_empty_page_has_no_serious_findings(program, look, tmp_path):
    """The first thing that anybody sees."""
    assert serious(look(program(tmp_path / "new").address).page) == []


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_touch_targets_are_large_and_nothing_is_cut_off(program, look, begun, scheme):
    """On a phone of 390 px every button is at least 44 px high, and no panel scrolls sideways."""
    hand = look(program(begun).address, PHONE, color_scheme=scheme)
    page = hand.page
    page.wait_for_selector(".figure")
    for step in STEPS:
        hand.tap(f"#step-{step}")
        small = page.evaluate(
            """() => [...document.querySelectorAll('button, a.button, select, summary')]
                .filter((e) => e.offsetParent && !e.matches('.pick'))
                .filter((e) => e.getBoundingClientRect().height < 44)
                .map((e) => e.outerHTML.slice(0, 80))"""
        )
        assert small == []
        assert page.evaluate("document.documentElement.scrollWidth") <= 390
        assert page.evaluate("document.getElementById('panel').scrollWidth") <= 390


def test_everything_goes_by_keyboard_alone(program, look, begun, clicks):
    """From the list of kinds to a number without a pointer: tab, arrows, Enter."""
    hand = look(program(begun).address)
    page = hand.page
    page.wait_for_selector(".figure")
    page.focus("#measure")
    page.keyboard.press("Enter")
    page.wait_for_selector("dialog")
    for _ in range(60):
        focused = page.evaluate("document.activeElement.querySelector?.('b')?.textContent")
        if focused == "diameter":
            break
        page.keyboard.press("Tab")
    page.keyboard.press("Enter")
    page.wait_for_selector("#ask .what")
    assert page.evaluate("document.activeElement.id") == "drawing"
    page.focus("#lies-on")
    page.keyboard.press("ArrowUp")
    page.keyboard.press("ArrowDown")
    assert page.input_value("#lies-on") == "top"
    page.focus("#drawing")
    for px in clicks["bore"]:
        go_to(hand, px)
        page.keyboard.press("Enter")
        page.wait_for_timeout(100)
    wait_until(
        lambda: any(f.name == "circle 1" for f in files.read_job(begun / "job.toml").features)
    )
    page.wait_for_selector(".card.chosen .figure")
    page.keyboard.press("Escape")
    page.keyboard.press("Control+z")
    page.wait_for_selector("[id='m-diameter 1']", state="detached")
    assert "diameter 1" not in {m.name for m in files.read_job(begun / "job.toml").measurements}


def go_to(hand, px):
    """Move the cross with the arrow keys until it stands on a pixel of the photo."""
    box = hand.page.evaluate(
        "(() => { const b = document.getElementById('drawing').getBoundingClientRect();"
        " return [b.left, b.top, b.width, b.height]; })()"
    )
    cross = hand.page.evaluate("window.photomeasureHands?.cross")
    at = cross or [box[2] / 2, box[3] / 2]
    x, y = hand.place(px)
    for by, key_less, key_more in (
        (x - box[0] - at[0], "ArrowLeft", "ArrowRight"),
        (y - box[1] - at[1], "ArrowUp", "ArrowDown"),
    ):
        key = key_more if by > 0 else key_less
        fast, plain = divmod(round(abs(by)), 24)
        for _ in range(fast):
            hand.page.keyboard.press(f"Shift+{key}")
        for _ in range(round(plain / 2)):
            hand.page.keyboard.press(key)
