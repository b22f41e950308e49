"""What a photo is good for where a thing of known size, and no sheet, gives its scale."""

import pytest
import worlds
from benches import corners, rectangle, scene
from served import client_of

CARD_MM = (85.60, 53.98)  # ISO/IEC 7810, ID-1 (from memory)


@pytest.fixture
def bench(tmp_path):
    """A job with a photo of a bank card and a shim, and where the card's corners are."""
    taken = scene(rectangle(*CARD_MM, 3.18))
    browser = client_of(tmp_path / "job.toml")
    jpeg = worlds.take(taken)
    browser.post("/api/photos?title=bench.jpg", content=jpeg)
    return browser, [list(map(float, c)) for c in corners(taken, *CARD_MM)]


def say(browser, clicks):
    stored = browser.get("/api/job").json()
    scale = {"photo": "bench", "kind": "bank card", "clicks": clicks}
    job = {**stored["job"], "scales": [scale]}
    saved = browser.put("/api/job", json={"revision": stored["revision"], "job": job})
    assert saved.status_code == 200, saved.text


def words(verdict):
    return " ".join(finding["words"] for finding in verdict["findings"])


def test_a_known_thing_gives_the_scale(bench):
    """Without it the sheet is missed; once its corners are touched, it is named with what a
    length beside it would come out with, and no sheet is asked for."""
    browser, clicks = bench
    before = browser.get("/api/verdict?photo=bench").json()
    assert (before["rank"], before["scale"]) == (2, "")
    assert "no scale sheet or card was found" in words(before)
    say(browser, clicks)
    after = browser.get("/api/verdict?photo=bench").json()
    assert after["rank"] == 1
    assert after["scale"] == "bank card 85.60 x 53.98 mm"
    assert "its scale comes from the bank card" in words(after)
    assert "no scale sheet" not in words(after)


def test_a_known_thing_that_is_not_found_is_told(bench):
    """Corners touched on the bare bench: what to do, in the words of the measurement."""
    browser, clicks = bench
    say(browser, [[x / 20, y / 20] for x, y in clicks])
    verdict = browser.get("/api/verdict?photo=bench").json()
    assert verdict["rank"] == 2
    assert "bank card" in words(verdict)
    assert "no scale sheet" not in words(verdict)
