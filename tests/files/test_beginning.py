"""A job begins with what was seen in its photos."""

import re

from photomeasure.files.beginning import job_text
from photomeasure.files.jobs import parse_job

SEEN = {"a.jpg": ("window-a4-A", "card-50-C", "card-25-A"), "b.jpg": ()}


def begun() -> str:
    return job_text("mill", {"a.jpg": b"one", "b.jpg": b"two"}, SEEN, None)


def test_every_photo_says_what_was_seen_in_it():
    """All sheets and cards by their names, or that there was none."""
    text = begun()
    assert "# seen in it: window-a4-A, card-50-C, card-25-A\n" in text
    assert "# seen in it: no sheet or card\n" in text


def test_bars_are_asked_for_once_a_print():
    """The sheet's own, and those of the page that both cards were cut from."""
    text = begun()
    assert "bars of card-25-A, card-50-C are on the page that they were cut from" in text
    assert re.findall(r"# sheet = (.*)", text) == ['"cards-a4-A"', '"window-a4-A"']


def test_uncommented_it_is_a_job_that_names_a_target():
    """What only needs its # removed is valid, with a plane on one of the targets."""
    text = re.sub(r"^# (?=[a-z_]+ = |\[\[)", "", begun(), flags=re.M)
    job = parse_job(re.sub(r"^camera = .*$", "", text, flags=re.M))
    assert job.planes[0].on == "card-25-A"
    assert job.planes[0].depth_mm is None
    assert [p.sheet for p in job.prints] == ["cards-a4-A", "window-a4-A"]
