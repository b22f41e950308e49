"""How does a job begin? A folder with the photos and a job.toml that says what to fill in."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path

import tomlkit

from photomeasure.errors import JobError, PhotoError
from photomeasure.files.cameras import record_copy
from photomeasure.files.outputs import write_outputs
from photomeasure.files.schema import job_schema
from photomeasure.vision.sheets import prints_of

_HEAD = """\
#:schema job.schema.json
# What you know goes in here; the rest is worked out. Remove the # of what you need.
# Plain numbers are in mm, whatever the unit below; inches are text: "7/16 in", "0.25 in".
# "plus_minus" is half of the interval that holds the value 19 times in 20.

title = {title}
position = ""      # how things stood: "lever down, guard fitted"
hazards = []       # what can hurt here: fuel heat brakes steering pressure lifting moving
unit = "mm"        # or "in": what results are shown in
"""

_PHOTO = """
[[photos]]
name = {name}
file = {file}
sha256 = "{sha256}"
{camera}
# seen in it: {seen}
"""

_NO_CAMERA = '# camera = ""      # the SHA-256 of a camera record, kept as cameras/<sha256>.json'

_PRINT = """
# Read both check bars of the print with a caliper, then remove the # of these lines.{page}
# [[prints]]
# sheet = {sheet}
# bar_x = 150.0
# bar_y = 150.0
# plus_minus = 0.1
"""

_PAGES = """
# The bars of {cards} are on the page that they were cut from: {pages}."""

_REST = """
# How high above the paper a face lies; the plane "sheet" is the paper itself, and the name of a
# card is that card. "on" says which sheet or card is meant where a photo shows several.
# [[planes]]
# name = "top face"
# height = 8.0
# plus_minus = 0.2
# on = {target}
# Beside a card also: depth = 12 says how far down the walls of the part go from this plane.

# What you point at: x right, y down, in pixels of the upright picture, within about 3 px. The page
# that "photomeasure open" shows for this folder writes these lines as you point; else an image
# editor tells the pixel under its pointer.
# [[features]]
# name = "left side"
# kind = "edge"    # point (1 click), edge (2 or more along it), circle (3 or more), curve,
                   # tube (2 along one side, 2 along the other), row (1 click each)
# photo = {photo}
# plane = "top face"
# clicks = [[1200, 900], [1210, 1500]]
# choice = 2       # when the report says that several edges fit

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

# What no photo shows, read by hand; it is judged too, and marked in every output.
# [[readings]]
# name = "gap behind the guard"
# quantity = "gap"
# value = 13.4
# plus_minus = 0.3
# instrument = "feeler gauge"
# rules = []
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
    found = {path.name: tuple(sheets) for path, sheets in seen.items()}
    text = job_text(folder.resolve().name, photos, found, Path(*kept).stem if kept else None)
    schema = json.dumps(job_schema(), indent=2) + "\n"
    made = {"job.schema.json": schema.encode(), job.name: text.encode()}
    write_outputs(folder, {**photos, **kept, **made})
    return job


def job_text(
    title: str, photos: Mapping[str, bytes], seen: Mapping[str, Sequence[str]], camera: str | None
) -> str:
    """The job.toml of these photos (file name → bytes), with the rest to fill in.

    seen : file name → identities of the sheets and cards seen in it.
    """
    line = f'camera = "{camera}"' if camera else _NO_CAMERA
    entries = [
        _PHOTO.format(
            name=_quoted(Path(name).stem),
            file=_quoted(name),
            sha256=hashlib.sha256(content).hexdigest(),
            camera=line,
            seen=", ".join(seen.get(name, ())) or "no sheet or card",
        )
        for name, content in photos.items()
    ]
    targets = sorted({sheet for found in seen.values() for sheet in found})
    rest = _REST.format(
        photo=_quoted(Path(next(iter(photos))).stem),
        target=_quoted(targets[0] if targets else "window-a4-A"),
    )
    return "".join([_HEAD.format(title=_quoted(title)), *entries, *_prints(targets), rest])


def _prints(targets: Sequence[str]) -> Iterator[str]:
    """The bars to read: of each sheet, and of each page of which cards are seen."""
    cut_from: dict[tuple[str, ...], list[str]] = {}
    for target in targets:
        cut_from.setdefault(prints_of(target), []).append(target)
    for pages, cards in cut_from.items():
        words = _PAGES.format(cards=", ".join(cards), pages=" or ".join(pages))
        page = words if (cards[0],) != pages else ""
        yield _PRINT.format(sheet=_quoted(pages[0]), page=page)


def _quoted(text: str) -> str:
    return str(tomlkit.item(text).as_string())


def _bytes(path: Path) -> bytes:
    try:
        return path.read_bytes()
    except OSError as error:
        raise PhotoError(f"{path} cannot be read ({error.strerror}). Check its name.") from error
