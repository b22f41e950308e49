"""The small parts that the server stands on."""

import re
import socket
import threading
import time
from pathlib import Path

import cv2
import numpy as np
import pytest

import photomeasure.web
from photomeasure.errors import JobError
from photomeasure.measurements import MEASUREMENTS
from photomeasure.web.kept import Kept
from photomeasure.web.kind_pictures import kind_picture
from photomeasure.web.lan import door_link, lan_address, qr_svg, qr_text
from photomeasure.web.serve import Wishes, serve


def test_what_many_ask_for_at_once_is_made_once():
    """Eight threads want the same: one makes it, the others wait for it."""
    kept, made = Kept(4), []

    def make():
        made.append(1)
        time.sleep(0.05)
        return object()

    got = []
    threads = [threading.Thread(target=lambda: got.append(kept.get("k", make))) for _ in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert len(made) == 1
    assert len(set(map(id, got))) == 1


def test_the_oldest_goes_and_a_failure_is_not_kept():
    """Two places: the third value takes the one that was not asked for longest."""
    kept = Kept(2)
    with pytest.raises(ZeroDivisionError):
        kept.get("a", lambda: 1 // 0)
    assert kept.get("a", lambda: 1) == 1
    kept.get("b", lambda: 2)
    kept.get("a", lambda: 0)
    kept.get("c", lambda: 3)
    assert kept.get("a", lambda: 9) == 1
    assert kept.get("b", lambda: 9) == 9


def test_the_code_on_the_screen_is_read_by_another_program():
    """OpenCV's reader gets the link out of the QR code, quiet zone and all."""
    link = door_link("192.0.2.7", 8474, "kEy-_0123456789abcdef")
    text = qr_svg(link)
    size = int(re.search(r'width="(\d+)"', text)[1])
    picture = np.full((size, size), 255, np.uint8)
    scale = 8
    for x, y, width in _runs(text):
        row, left = round((y - 0.5) * scale), round(x * scale)
        picture[row : row + scale, left : left + round(width * scale)] = 0
    found, *_ = cv2.QRCodeDetector().detectAndDecode(picture)
    assert found == link
    assert "█" in qr_text(link) or "▄" in qr_text(link)


def _runs(svg):
    """(x, y, width) of each dark run in segno's path: relative moves and horizontal lines."""
    path = re.search(r'stroke="#000"[^>]* d="([^"]+)"|d="([^"]+)"[^>]*stroke="#000"', svg)
    x = y = 0.0
    for command, numbers in re.findall(r"([Mmh])([-\d. ]+)", path[1] or path[2]):
        values = [float(v) for v in numbers.split()]
        if command == "M":
            x, y = values
        elif command == "m":
            x, y = x + values[0], y + values[1]
        else:
            yield x, y, values[0]
            x += values[0]


def test_the_address_in_the_network_is_one_that_others_can_reach():
    """Never loopback; none where there is no network."""
    address = lan_address()
    assert address is None or re.fullmatch(r"\d+(\.\d+){3}", address)
    assert not (address or "").startswith("127.")


def test_a_port_that_is_taken_is_told(tmp_path):
    """With the remedy, before anything is served."""
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        wishes = Wishes(port=taken.getsockname()[1], browser=False)
        with pytest.raises(JobError, match="taken by another program"):
            serve(tmp_path / "job.toml", None, wishes, print)


@pytest.mark.parametrize("kind", MEASUREMENTS, ids=lambda kind: kind.name)
def test_a_kind_s_picture_is_plain(kind):
    """Only paths with classes: no colours, styles or scripts of its own."""
    picture = kind_picture(kind)
    assert re.fullmatch(
        r'(<svg xmlns="[^"]+" viewBox="[-\d. ]+">(<path class="[\w-]+" d="[-ML\d. ]+"/>)+</svg>)?',
        picture,
    )


SCRIPTS = sorted((Path(photomeasure.web.__file__).parent / "static" / "js").glob("*.js"))
NEVER = {
    r"\binnerHTML\b|\bouterHTML\b|insertAdjacentHTML|document\.write": "text is never markup",
    r"\beval\(|new Function\(": "nothing is run that came as text",
    r"\bconsole\.|\bdebugger\b|\balert\(": "left over from looking for a mistake",
    r"[^=!<>]==[^=]|!=[^=]": "compare with === and !==",
    r"\bvar\b": "const or let",
    r"https?://(?!www\.w3\.org/)": "the page works without the internet",
}


@pytest.mark.parametrize("script", SCRIPTS, ids=lambda path: path.name)
def test_a_script_keeps_the_house_rules(script):
    """What a linter would look for, as Debian's is too old for the language used here."""
    code = "\n".join(
        line for line in script.read_text().splitlines() if not re.match(r"\s*(//|\*|/\*\*)", line)
    )
    code = code.replace("!= null", "").replace("== null", "")  # both null and undefined are meant
    assert {why for pattern, why in NEVER.items() if re.search(pattern, code)} == set()
    assert len(script.read_text().splitlines()) < 400


def test_no_script_exports_what_nobody_takes():
    """Every export is named in another script."""
    texts = {path.name: path.read_text() for path in SCRIPTS}
    dead = [
        f"{name}: {export}"
        for name, text in texts.items()
        for export in re.findall(r"^export (?:async )?(?:function|const|class) (\w+)", text, re.M)
        if not any(re.search(rf"\b{export}\b", t) for other, t in texts.items() if other != name)
    ]
    assert dead == []
