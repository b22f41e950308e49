"""Which command makes the pictures in README? `python -m photomeasure.benchmark.readme_pictures`.

They are stills of the sample jobs' reports, made smaller.
"""

from __future__ import annotations

import io
import sys
from pathlib import Path

from PIL import Image

from photomeasure import files
from photomeasure.benchmark.samples import report_of
from photomeasure.exporters.png import render

_SIZE_PX = (1280, 720)
_QUALITY = 82
_CHOSEN = {
    "gap.jpg": ("guard", "photo"),
    "flange.jpg": ("mill", "plane"),
}
"""File → the job it comes from, and whether the still shows the photo or a rectified plane."""


def readme_pictures(root: Path) -> dict[str, bytes]:
    """File name → JPEG, from the jobs in a folder of job folders."""
    return {
        name: _smaller(_first(_stills(root, job), shows)) for name, (job, shows) in _CHOSEN.items()
    }


def _stills(root: Path, job: str) -> dict[str, bytes]:
    """The stills of one job's report."""
    return render(report_of(root / job / "job.toml"))


def _first(stills: dict[str, bytes], shows: str) -> bytes:
    """The first still whose name says that it shows this."""
    return next(content for name, content in stills.items() if f"-{shows}-" in name)


def _smaller(png: bytes) -> bytes:
    image = Image.open(io.BytesIO(png)).convert("RGB")
    out = io.BytesIO()
    image.resize(_SIZE_PX, Image.Resampling.LANCZOS).save(out, "JPEG", quality=_QUALITY)
    return out.getvalue()


if __name__ == "__main__":
    folder = Path(sys.argv[1] if sys.argv[1:] else "docs")
    files.write_outputs(folder, readme_pictures(Path("sample_images")))
