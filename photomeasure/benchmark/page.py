"""How quick is the page: a touch, a photo's verdict, panning, and how much is there to load?

The program is started as a user starts it and asked over HTTP; frames are counted in a real
Chromium where one is installed (with Playwright, one of the development tools).
"""

from __future__ import annotations

import gzip
import http.client
import json
import os
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any
from urllib.parse import urlencode

import numpy as np
from numpy.typing import NDArray

import photomeasure
from photomeasure.benchmark.tables import Result, Row, Settings, at_most
from photomeasure.files import write_job
from photomeasure.records.job import Job
from photomeasure.synthetic.random_scenes import random_scene
from photomeasure.synthetic.taking import job_of, take

Array = NDArray[np.float64]

SEED = 70_001
TOUCH_S, VERDICT_S, FRAMES = 0.1, 2.0, 60
_TOUCHES = 120
_PHOTOS = 3
_LATE_S = 1.5 / FRAMES
_JITTER_PX = 3.0  # how far a finger misses
_COMMAND = (sys.executable, "-c", "from photomeasure.cli import main; main()", "open")
_SCREENS = {"1280 × 800": (1280, 800, 1), "390 × 844 at 3": (390, 844, 3)}
_CHROMIUMS = ("chromium", "chromium-browser", "google-chrome")
_FLAGS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-dev-shm-usage",
    "--no-first-run",
    "--disable-background-networking",
]
# Begins once the page is at rest: decoding the photo takes from the frames before.
_PAN = """async () => {
    const frame = () => new Promise(requestAnimationFrame);
    const viewer = window.photomeasureViewer;
    for (let calm = 0, last = await frame(); calm < 30; ) {
        const now = await frame();
        calm = now - last < 25 ? calm + 1 : 0;
        last = now;
    }
    viewer.zoom(1 / viewer.scale, [viewer.width / 2, viewer.height / 2]);
    const times = [await frame()];
    const before = viewer.frames;
    while (times.at(-1) - times[0] < 5000) {
        viewer.pan(6 * Math.cos(times.length / 20), 5 * Math.sin(times.length / 20));
        times.push(await frame());
    }
    return [times, viewer.frames - before];
}"""


@dataclass(frozen=True, eq=False)
class _Panning:
    """apart_s : (N,) from one frame of the screen to the next. painted : frames with a picture."""

    apart_s: Array
    painted: int


def run(settings: Settings) -> Result:
    """A job of one photo of 12 megapixels, and the same again in the browser."""
    with tempfile.TemporaryDirectory(prefix="photomeasure-") as name:
        folder = Path(name)
        settings.progress("rendering photos")
        scene = random_scene(SEED)
        (folder / "photo.jpg").write_bytes(take(scene))
        job = job_of(scene)
        write_job(job, folder / "job.toml")
        photos = [take(random_scene(SEED + k)) for k in range(1, _PHOTOS + 1)]
        with _served(folder) as port:
            settings.progress("touching")
            touches = _touch_times(port, job)
            settings.progress("counting frames")
            frames = _panning(port)
            settings.progress("adding photos")
            verdicts = [_verdict_time(port, photo) for photo in photos]
    settings.progress("")
    rows = (*_touch_rows(touches), *_verdict_rows(verdicts), *_frame_rows(frames), *_weight_rows())
    return Result("The page, photos of 12 megapixels", rows)


@contextmanager
def _served(folder: Path) -> Iterator[int]:
    """The port of a program that serves a job folder."""
    words = [*_COMMAND, str(folder), "--no-browser", "--port", "0"]
    with subprocess.Popen(words, stdout=subprocess.PIPE, text=True) as process:
        try:
            assert process.stdout is not None
            yield int(process.stdout.readline().split("/ ")[0].rsplit(":", 1)[1])
        finally:
            process.terminate()


def _ask(port: int, method: str, path: str, body: bytes | None = None) -> dict[str, Any]:
    connection = http.client.HTTPConnection("127.0.0.1", port, timeout=120)
    try:
        connection.request(method, f"/api/{path}", body, {"content-type": "application/json"})
        answer: dict[str, Any] = json.loads(connection.getresponse().read())
        return answer
    finally:
        connection.close()


def _touch_times(port: int, job: Job) -> Array:
    """(N,) s, one touch after another, each a little beside the last on the same feature."""
    _ask(port, "GET", "results")
    random = np.random.default_rng(SEED)
    times = []
    for k in range(_TOUCHES):
        feature = asdict(job.features[k % len(job.features)])
        clicks = np.array(feature.pop("clicks_px"))
        feature["clicks"] = (clicks + random.normal(0, _JITTER_PX / 2, clicks.shape)).tolist()
        start = time.perf_counter()
        _ask(port, "POST", "touch", json.dumps(feature).encode())
        times.append(time.perf_counter() - start)
    return np.array(times)


def _verdict_time(port: int, photo: bytes) -> float:
    start = time.perf_counter()
    title = f"photo {hash(photo):x}.jpg"
    added = _ask(port, "POST", f"photos?{urlencode({'title': title})}", photo)
    _ask(port, "GET", f"verdict?{urlencode({'photo': added['photo']})}")
    return time.perf_counter() - start


def _panning(port: int) -> dict[str, _Panning]:
    """Screen → the frames while panning; empty without a Chromium."""
    path = os.environ.get("PHOTOMEASURE_CHROMIUM") or next(
        filter(None, map(shutil.which, _CHROMIUMS)), None
    )
    try:
        from playwright.sync_api import sync_playwright  # noqa: PLC0415 - a development tool
    except ImportError:
        return {}
    if path is None:
        return {}
    found = {}
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=path, args=_FLAGS)
        for screen, (width, height, ratio) in _SCREENS.items():
            page = browser.new_page(
                viewport={"width": width, "height": height}, device_scale_factor=ratio
            )
            page.goto(f"http://127.0.0.1:{port}/")
            page.wait_for_selector(".figure", timeout=60_000)
            times, painted = page.evaluate(_PAN)
            found[screen] = _Panning(np.diff(times) / 1000, painted)
            page.close()
        browser.close()
    return found


def _touch_rows(times: Array) -> tuple[Row, ...]:
    half, most = np.quantile(times, [0.5, 0.95])
    return (
        at_most("a touch, server and way there and back, median", half, TOUCH_S, "s", len(times)),
        at_most("the same, 95 %", most, TOUCH_S, "s", len(times)),
    )


def _verdict_rows(times: list[float]) -> tuple[Row, ...]:
    return (
        at_most(
            "adding a photo until its verdict, slowest", max(times), VERDICT_S, "s", len(times), 2
        ),
    )


def _frame_rows(screens: dict[str, _Panning]) -> tuple[Row, ...]:
    if not screens:
        return (Row("frames while panning", "not counted: no Chromium with Playwright"),)
    rows = []
    for screen, panning in screens.items():
        rate = panning.painted / float(panning.apart_s.sum())
        late = float(np.mean(panning.apart_s > _LATE_S))
        measured = f"{rate:.1f} a second, {late:.1%} late"
        met = bool(round(rate) >= FRAMES)
        rows.append(
            Row(f"panning at {screen}", measured, f"{FRAMES} a second", met, panning.painted)
        )
    return tuple(rows)


def _weight_rows() -> tuple[Row, ...]:
    static = Path(photomeasure.__file__).parent / "web" / "static"
    files = [p.read_bytes() for p in static.rglob("*") if p.suffix in (".js", ".css", ".html")]
    whole, packed = sum(map(len, files)) / 1e3, sum(len(gzip.compress(f)) for f in files) / 1e3
    return (Row("page without photos", f"{whole:.0f} kB ({packed:.0f} kB packed)", n=len(files)),)
