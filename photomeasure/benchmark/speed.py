"""How long does the whole command take, from a cold start, and how much memory?

Each run is a new process, as a user starts it; nothing is kept from one to the next but what
the system caches of files. Needs a system that tells what a process used (not Windows).
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
import tempfile
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from photomeasure.benchmark.tables import Result, Row, Settings, at_most
from photomeasure.errors import ExportError
from photomeasure.files import write_job
from photomeasure.synthetic.random_scenes import random_scene
from photomeasure.synthetic.taking import job_of, take

SEED = 60_001
MEASURE_S, HELP_S, MEMORY_MB = 2.5, 0.4, 500.0
_RUNS = 3
_COMMAND = ("-c", "from photomeasure.cli import main; main()")
_LEAST = ("-m", "photomeasure.benchmark.decode_and_detect")
_KIB = 1024.0 if sys.platform != "darwin" else 1.0

# A child starts with the peak memory of its parent, so a small process stands between.
_WATCH = """
import json, os, subprocess, sys, time
start = time.perf_counter()
process = subprocess.Popen(sys.argv[1:], stdout=subprocess.DEVNULL)
_, status, used = os.wait4(process.pid, 0)
wall = time.perf_counter() - start
print(json.dumps([os.waitstatus_to_exitcode(status), wall, used.ru_utime + used.ru_stime,
                  used.ru_maxrss]))
"""


@dataclass(frozen=True)
class Used:
    """What one process took: wall and processor time in s, peak memory in MB."""

    wall_s: float
    cpu_s: float
    peak_mb: float


def run(settings: Settings) -> Result:
    """One photo of 12 megapixels, the middle of three runs."""
    with tempfile.TemporaryDirectory(prefix="photomeasure-") as name:
        folder = Path(name)
        settings.progress("rendering a photo")
        scene = random_scene(SEED)
        (folder / "photo.jpg").write_bytes(take(scene))
        write_job(job_of(scene), folder / "job.toml")
        settings.progress("timing")
        whole = _middle([*_COMMAND, "measure", name, "--quiet"])
        least = _middle([*_LEAST, str(folder / "photo.jpg")])
        help_ = _middle([*_COMMAND, "--help"])
    settings.progress("")
    return Result("Time and memory, one 12-megapixel JPEG", _rows(whole, least, help_))


def _rows(whole: Used, least: Used, help_: Used) -> tuple[Row, ...]:
    ratio = f"{whole.wall_s / least.wall_s:.1f} (wall), {whole.cpu_s / least.cpu_s:.1f} (cpu)"
    return (
        at_most("photomeasure measure, wall", whole.wall_s, MEASURE_S, "s", _RUNS, 2),
        Row("photomeasure measure, processor", f"{whole.cpu_s:.2f} s", n=_RUNS),
        at_most("photomeasure measure, peak memory", whole.peak_mb, MEMORY_MB, "MB", _RUNS, 0),
        Row("decode and detect markers alone, wall", f"{least.wall_s:.2f} s", n=_RUNS),
        Row("decode and detect markers alone, processor", f"{least.cpu_s:.2f} s", n=_RUNS),
        Row("measure over decode and detect", ratio, n=_RUNS),
        at_most("photomeasure --help, wall", help_.wall_s, HELP_S, "s", _RUNS, 2),
    )


def _middle(words: list[str]) -> Used:
    """The median of each figure over the runs."""
    runs = [watch(words) for _ in range(_RUNS)]
    return Used(*(float(np.median([getattr(r, k) for r in runs])) for k in Used.__annotations__))


def watch(words: list[str]) -> Used:
    """Run the interpreter with these words and say what it used.

    Raises ExportError when it fails.
    """
    start = [sys.executable, "-I", "-S", "-c", _WATCH, sys.executable, *words]
    # As installed: whoever installs the program has its modules compiled, and keeps them so.
    usual = {k: v for k, v in os.environ.items() if k != "PYTHONDONTWRITEBYTECODE"}
    done = subprocess.run(start, capture_output=True, text=True, check=False, env=usual)
    code, wall, cpu, peak = json.loads(done.stdout or "[-1, 0, 0, 0]")
    if code not in (0, 1, 3):
        last = (done.stderr.strip() or "it said nothing").splitlines()[-1]
        raise ExportError(f"{' '.join(words)} ended with {code}: {last}. Run it by hand.")
    return Used(wall, cpu, peak * _KIB / 1e6)
