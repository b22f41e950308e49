"""Which standard sizes come with the program? Tables as data, each with its source."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from importlib.resources import files

from photomeasure.registry import Registry

Cell = str | float | tuple[float, ...]
Row = tuple[Cell, ...]

NAMES = (
    "iso-273",
    "asme-b18-2-8",
    "tap-drills",
    "iso-261",
    "asme-b1-1",
    "iso-2768-linear",
    "iso-2768-angular",
    "iso-9013",
)
"""The files in `tables/`."""


@dataclass(frozen=True)
class Table:
    """Rows of standard sizes in `unit` ("mm" or "in").

    A cell is a name, a number, several numbers, or "" where the standard has none. A size
    in inches may be written as a fraction.
    """

    name: str
    title: str
    source: str
    edition: str
    unit: str
    columns: tuple[str, ...]
    rows: tuple[Row, ...]
    note: str


def _read(name: str) -> Table:
    path = files("photomeasure.rules").joinpath("tables", f"{name}.toml")
    raw = tomllib.loads(path.read_text(encoding="utf-8"))
    columns, rows = tuple(raw.pop("columns")), raw.pop("rows")
    if any(len(row) != len(columns) for row in rows):
        raise ValueError(f"Table {name!r} has a row that is not as long as its columns.")
    plain = tuple(
        tuple(tuple(map(float, cell)) if isinstance(cell, list) else cell for cell in row)
        for row in rows
    )
    return Table(name=name, columns=columns, rows=plain, **raw)


TABLES: Registry[Table] = Registry("table", map(_read, NAMES))
