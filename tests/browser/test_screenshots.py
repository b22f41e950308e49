"""The pictures of the page in README are what the page looks like.

With PHOTOMEASURE_WRITE_SCREENSHOTS=1 they are written into docs/; otherwise the same pictures
are taken and only looked at roughly.
"""

import io
import itertools
import os
import shutil
from pathlib import Path

import numpy as np
import pytest
from hands import DESK, PHONE
from PIL import Image

ROOT = Path(__file__).resolve().parents[2]
DOCS = ROOT / "docs"


@pytest.fixture
def sample(tmp_path):
    return copied("guard", tmp_path)


def copied(name, tmp_path):
    folder = tmp_path / name
    shutil.copytree(ROOT / "sample_images" / name, folder)
    return folder


def shot(hand) -> Image.Image:
    hand.page.wait_for_timeout(400)  # pictures are painted a frame later
    return Image.open(io.BytesIO(hand.page.screenshot())).convert("RGB")


def keep(name, image, tmp_path):
    write = os.environ.get("PHOTOMEASURE_WRITE_SCREENSHOTS")
    path = (DOCS if write else tmp_path) / name
    image.save(path, "JPEG", quality=84)
    assert (DOCS / name).exists()
    assert np.asarray(image).std() > 20  # not one blank colour


BRIGHT = (255, 179, 127)  # as drawn over a photo


def share_of(image, colour):
    """How much of a picture has nearly this colour."""
    off = np.abs(np.asarray(image, int) - colour).max(axis=2)
    return float(np.mean(off < 12))


def side_by_side(images):
    gap = 24
    width = sum(i.width for i in images) + gap * (len(images) + 1)
    sheet = Image.new("RGB", (width, images[0].height + 2 * gap), "#d8d2c3")
    x = gap
    for image in images:
        sheet.paste(image, (x, gap))
        x += image.width + gap
    return sheet


def open_gap(hand):
    hand.page.wait_for_selector("#m-gap", timeout=60000)
    hand.tap("#m-gap")
    hand.page.wait_for_selector(".card.chosen .figure", timeout=60000)
    hand.settled()


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_at_a_desk(program, look, sample, tmp_path, scheme):
    """The photo with its dimensions, the list with values and verdicts beside it."""
    hand = look(program(sample).address, DESK, color_scheme=scheme)
    open_gap(hand)
    hand.page.evaluate("document.activeElement.blur()")
    taken = shot(hand)
    keep(f"page-{scheme}.jpg", taken, tmp_path)
    panel = np.asarray(taken)[:, -300:].mean()
    assert panel > 200 if scheme == "light" else panel < 80
    assert share_of(taken, BRIGHT) > 2e-4  # the measurement that is looked at is drawn


def test_in_the_hand(program, look, sample, tmp_path):
    """Pointing with the magnifier, a value with its verdict, what can be measured, the report."""
    hand = look(program(sample).address, PHONE)
    page = hand.page
    open_gap(hand)
    taken = [shot(hand)]
    hand.tap("#measure")
    page.wait_for_selector("dialog .kind")
    page.evaluate("document.activeElement.blur()")
    taken.insert(0, shot(hand))
    hand.tap("dialog .kind:has(b:text-is('diameter'))")
    page.wait_for_selector("#ask .what")
    hole = [1103.0, 2644.0]  # on the rim of a hole
    hand.come_closer(hole, 0.4)
    x, y = hand.place(hole)
    send = page.context.new_cdp_session(page)
    send.send(
        "Input.dispatchTouchEvent", {"type": "touchStart", "touchPoints": [{"x": x, "y": y}]}
    )
    page.wait_for_selector("#magnifier:not([hidden])")
    taken.insert(1, shot(hand))
    send.send("Input.dispatchTouchEvent", {"type": "touchCancel", "touchPoints": []})
    hand.tap("#stop")
    hand.tap("#step-report")
    page.wait_for_selector("text=Look at the report")
    taken.append(shot(hand))
    keep("page-phone.jpg", side_by_side(taken), tmp_path)
    assert [image.size for image in taken] == [(780, 1688)] * 4
    differ = [np.abs(np.asarray(a, int) - b).mean() for a, b in itertools.pairwise(taken)]
    assert min(differ) > 10  # four states, not one four times


def test_an_outline(program, look, tmp_path):
    """The part's boundary over the photo; beside it its size, holes and what is on offer."""
    folder = copied("cover", tmp_path)
    hand = look(program(folder).address, DESK)
    page = hand.page
    page.click("#outline-part:not([disabled])")
    page.fill("#part-name", "Bearing cover")
    page.fill("#part-thickness", "3.0")
    page.click("#part-begin")
    page.wait_for_selector("#part-file-all", timeout=60000)
    hand.come_closer([2040, 1480], 0.33)
    page.evaluate("document.querySelector('.caution').scrollIntoView({ block: 'end' })")
    page.evaluate("document.getElementById('panel').scrollTop += 560")
    page.evaluate("document.activeElement.blur()")
    taken = shot(hand)
    keep("page-outline.jpg", taken, tmp_path)
    assert share_of(taken, BRIGHT) > 2e-4  # what will be cut is drawn over the photo
    assert page.locator(".offer").count() >= 1
