"""Somebody at the page: the browser, the program as a person starts it, and a hand that points."""

import os
import re
import shutil
import signal
import subprocess
import sys
import time
from pathlib import Path

FLAGS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-dev-shm-usage",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--force-color-profile=srgb",
]
DESK = {"viewport": {"width": 1280, "height": 800}}
PHONE = {
    "viewport": {"width": 390, "height": 844},
    "has_touch": True,
    "is_mobile": True,
    "device_scale_factor": 2,
}
STILL_FRAMES = 8  # for which the picture has stayed where it is
CHROMIUMS = ("chromium", "chromium-browser", "google-chrome", "chrome")


def chromium() -> str | None:
    named = os.environ.get("PHOTOMEASURE_CHROMIUM")
    return named or next(filter(None, map(shutil.which, CHROMIUMS)), None)


class Program:
    """`photomeasure open` for one folder; it can be killed and started again on its port."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.port = 0
        self.start()

    def start(self) -> None:
        words = ["open", str(self.folder), "--no-browser", "--port", str(self.port)]
        code = "from photomeasure.cli import main; main()"
        self.process = subprocess.Popen(
            [sys.executable, "-c", code, *words], stdout=subprocess.PIPE, text=True
        )
        line = self.process.stdout.readline()
        self.address = re.search(r"http://\S+", line)[0]
        self.port = int(self.address.rsplit(":", 1)[1].strip("/"))

    def kill(self) -> None:
        self.process.send_signal(signal.SIGKILL)
        self.process.wait()

    def stop(self) -> None:
        self.process.terminate()
        self.process.wait(timeout=20)


class Hand:
    """Somebody at the page, with a mouse or a finger."""

    def __init__(self, page, finger: bool) -> None:
        self.page = page
        self.finger = finger

    def place(self, px) -> tuple[float, float]:
        """Where a pixel of the photo is on the screen, once it has stayed there for a while: a
        panel that has just opened may still move the picture."""
        return tuple(
            self.page.evaluate(
                """([x, y, frames]) => new Promise((resolve) => {
                    const viewer = window.photomeasureViewer;
                    const place = () => {
                        const [a, b] = viewer.toScreen(viewer.scene.fromPhoto([x, y]));
                        const box = document.getElementById("drawing").getBoundingClientRect();
                        return [a + box.left, b + box.top];
                    };
                    const wait = (before, still) => requestAnimationFrame(() => {
                        const now = place();
                        const stays = now[0] === before[0] && now[1] === before[1];
                        if (stays && still === frames) resolve(now);
                        else wait(now, stays ? still + 1 : 0);
                    });
                    wait(place(), 0);
                })""",
                [*map(float, px), STILL_FRAMES],
            )
        )

    def touch(self, px) -> None:
        x, y = self.place(px)
        if self.finger:
            self.page.touchscreen.tap(x, y)
        else:
            self.page.mouse.click(x, y)

    def tap(self, selector: str) -> None:
        target = self.page.locator(selector).first
        if self.finger:
            target.tap()
        else:
            target.click()

    def come_closer(self, px, scale: float) -> None:
        """Zoom until a pixel of the photo is so large on the screen, and in its middle."""
        self.page.evaluate(
            """([x, y, scale]) => {
                const viewer = window.photomeasureViewer;
                const world = viewer.scene.fromPhoto([x, y]);
                viewer.zoom(scale / viewer.scale, viewer.toScreen(world));
                const [a, b] = viewer.toScreen(world);
                viewer.pan(viewer.width / 2 - a, viewer.height / 2 - b);
            }""",
            [*map(float, px), scale],
        )

    def begin(self, kind: str) -> None:
        self.tap("#step-point")
        self.page.wait_for_selector("#measure:not([disabled])", timeout=30000)
        self.tap("#measure")
        self.tap(f"dialog .kind:has(b:text-is('{kind}'))")
        self.page.wait_for_selector("#ask .what")

    def settled(self) -> None:
        """Wait until all is saved and worked out."""
        self.page.wait_for_function(
            "() => document.getElementById('saved')?.textContent === 'All saved'", timeout=30000
        )


def wait_until(true, seconds: float = 15) -> None:
    """Wait for something outside the browser; what the test has to answer itself waits, too."""
    end = time.monotonic() + seconds
    while not true():
        assert time.monotonic() < end, "it did not happen in time"
        time.sleep(0.05)
