"""How does a job begin? A folder with the photos and a job.toml that says what to fill in."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping, Sequence
from pathlib import Path

import tomlkit

from photomeasure.errors import JobError, PhotoError
from photomeasure.files.cameras import record_copy
from photomeasure.files.outputs import write_outputs
from photomeasure.files.schema import job_schema

_HEAD = """\
#:schema job.schema.json
# What you know goes in here; the rest is worked out. Remove the # of what you need.
# "plus_minus" is half of the interval that holds the value 19 times in 20.

title = {title}
position = ""      # how things stood: "lever down, guard fitted"
hazards = []       # what can hurt here: fuel heat brakes steering pressure lifting moving
unit = "mm"        # or "in"
"""

_PHOTO = """
[[photos]]
name = {name}
file = {file}
sha256 = "{sha256}"
{camera}
"""

_NO_CAMERA = '# camera = ""      # the SHA-256 of a camera record, kept as cameras/<sha256>.json'

_PRINT = """
# Read both check bars of the print with a caliper, then remove the # of these lines.
# [[prints]]
# sheet = {sheet}
# bar_x = 150.0
# bar_y = 150.0
# plus_minus = 0.1
"""

_REST = """
# How high above the paper a face lies; the plane "sheet" is the paper itself.
# [[planes]]
# name = "top face"
# height = 8.0
# plus_minus = 0.2

# What you point at: x right, y down, in pixels of the upright picture, within about 3 px.
# [[features]]
# name = "left side"
# kind = "edge"    # point (1 click), edge (2 or more along it), circle (3 or more), curve
# photo = {photo}
# plane = "top face"
# clicks = [[1200, 900], [1210, 1500]]

# [[features]]
# name = "right side"
# kind = "edge"
# photo = {photo}
# plane = "top face"
# clicks = [[1600, 900], [1610, 1500]]

# What to measure; "photomeasure kinds" lists the kinds, "photomeasure rules" the rules.
# [[measurements]]
# name = "width of the slot"
# kind = "gap"
# of = {{ a = "left side", b = "right side" }}
# rules = []

# A caliper reading of one of them keeps the photo honest.
# [[checks]]
# measurement = "width of the slot"
# value = 33.2
# plus_minus = 0.1
"""


def begin_job(
    folder: Path, seen: Mapping[Path, Sequence[str]], camera: Path | None = None
) -> Path:
    """Copy the photos into a folder and write job.toml and its schema; returns job.toml.

    seen : photo → identities of the sheets seen in it. camera : a record to use and keep.
    Raises JobError when the folder already holds a job or two photos share a name,
    PhotoError when one cannot be read, CalibrationError when the record cannot be used.
    """
    job = folder / "job.toml"
    if job.exists():
        raise JobError(f"{job} already exists and is not overwritten. Name another folder.")
    names = [path.stem for path in seen]
    twice = sorted({name for name in names if names.count(name) > 1})
    if twice:
        raise JobError(f"Two photos are called {', '.join(twice)}. Rename one of them.")
    photos = {path.name: _bytes(path) for path in seen}
    kept = record_copy(camera) if camera else {}
    sheets = sorted({sheet for found in seen.values() for sheet in found})
    text = job_text(folder.resolve().name, photos, sheets, Path(*kept).stem if kept else None)
    schema = json.dumps(job_schema(), indent=2) + "\n"
    made = {"job.schema.json": schema.encode(), job.name: text.encode()}
    write_outputs(folder, {**photos, **kept, **made})
    return job


def job_text(
    title: str, photos: Mapping[str, bytes], sheets: Sequence[str], camera: str | None
) -> str:
    """The job.toml of these photos (file name → bytes), with the rest to fill in."""
    line = f'camera = "{camera}"' if camera else _NO_CAMERA
    entries = [
        _PHOTO.format(
            name=_quoted(Path(name).stem),
            file=_quoted(name),
            sha256=hashlib.sha256(content).hexdigest(),
            camera=line,
        )
        for name, content in photos.items()
    ]
    prints = [_PRINT.format(sheet=_quoted(sheet)) for sheet in sheets]
    rest = _REST.format(photo=_quoted(Path(next(iter(photos))).stem))
    return "".join([_HEAD.format(title=_quoted(title)), *entries, *prints, rest])


def _quoted(text: str) -> str:
    return str(tomlkit.item(text).as_string())


def _bytes(path: Path) -> bytes:
    try:
        return path.read_bytes()
    except OSError as error:
        raise PhotoError(f"{path} cannot be read ({error.strerror}). Check its name.") from error
