"""Reads the real photographs that Debian's package opencv-doc installs.

They belong to nobody's repository but Debian's, so tests that need them skip where the
package is absent, unless PHOTOMEASURE_REQUIRE_OPENCV_DOC=1 makes its absence a failure.
"""

import gzip
import os
from pathlib import Path

import cv2
import numpy as np
import pytest

ROOT = Path("/usr/share/doc/opencv-doc")


def find(name: str) -> Path:
    """Where the package put a file, compressed or not; skips or fails when absent."""
    found = sorted([*ROOT.rglob(name), *ROOT.rglob(f"{name}.gz")])
    if found:
        return found[0]
    said = f"{name} of Debian's opencv-doc is not here: apt-get install opencv-doc"
    if os.environ.get("PHOTOMEASURE_REQUIRE_OPENCV_DOC") == "1":
        pytest.fail(said)
    pytest.skip(said)


def read_bytes(name: str) -> bytes:
    """The bytes of a file of the package."""
    path = find(name)
    data = path.read_bytes()
    return gzip.decompress(data) if path.suffix == ".gz" else data


def read_grey(name: str) -> np.ndarray:
    """(H, W) uint8 of a photograph of the package."""
    picture = cv2.imdecode(np.frombuffer(read_bytes(name), np.uint8), cv2.IMREAD_GRAYSCALE)
    assert picture is not None, f"{name} could not be decoded"
    return picture
