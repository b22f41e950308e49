"""A real Chromium, and the program as a person starts it: `photomeasure open`.

Without Chromium these tests skip and say so; with PHOTOMEASURE_REQUIRE_CHROMIUM=1 its absence is
a failure. PHOTOMEASURE_CHROMIUM names another browser of that family.
"""

import os
from pathlib import Path

import pytest
import worlds
from hands import DESK, FLAGS, Hand, Program, chromium
from playwright.sync_api import sync_playwright

from photomeasure import files


@pytest.fixture(scope="session")
def browser():
    path = chromium()
    if path is None:
        words = "There is no Chromium on this machine, so the page was not tried in a browser."
        if os.environ.get("PHOTOMEASURE_REQUIRE_CHROMIUM"):
            pytest.fail(words)
        pytest.skip(words)
    with sync_playwright() as playwright:
        opened = playwright.chromium.launch(executable_path=path, args=FLAGS)
        yield opened
        opened.close()


@pytest.fixture
def program(tmp_path):
    """A function that starts the program for a folder; all are stopped at the end."""
    started = []

    def start(folder: Path) -> Program:
        started.append(Program(folder))
        return started[-1]

    yield start
    for one in started:
        one.stop()


@pytest.fixture
def look(browser):
    """A function that opens a page; mistakes of its scripts fail the test."""
    contexts, mistakes = [], []

    def opened(address: str, how=DESK, **more) -> Hand:
        context = browser.new_context(**{**how, **more})
        contexts.append(context)
        page = context.new_page()
        page.set_default_timeout(20000)
        page.on("pageerror", lambda error: mistakes.append(str(error)))
        page.goto(address)
        page.wait_for_selector("#top h1")
        return Hand(page, finger=bool(how.get("has_touch")))

    yield opened
    for context in contexts:
        context.close()
    assert mistakes == []


@pytest.fixture(scope="session")
def clicks():
    """Feature → where somebody clicks for it in the rendered photo of the flange."""
    return {f.name: f.clicks_px for f in worlds.pointed(worlds.flange_scene(0.5))}


@pytest.fixture
def jpeg(tmp_path):
    """The photo of the flange, beside the job's folder."""
    path = tmp_path / "flange.jpg"
    path.write_bytes(worlds.jpeg_of(0.5))
    return path


@pytest.fixture
def begun(tmp_path):
    """A folder with the flange's photo and its job."""
    folder = tmp_path / "mill"
    folder.mkdir()
    (folder / "photo.jpg").write_bytes(worlds.jpeg_of(0.5))
    files.write_job(worlds.flange_job(worlds.flange_scene(0.5)), folder / "job.toml")
    return folder
