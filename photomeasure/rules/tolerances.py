"""How far may a size be off where the drawing says only "ISO 2768-m"?"""

from __future__ import annotations

from collections.abc import Iterator

from photomeasure.errors import JobError
from photomeasure.rules.tables import TABLES, Row

GENERAL = ("ISO 2768-f", "ISO 2768-m", "ISO 2768-c", "ISO 2768-v", "ISO 9013 class 1")
"""The general tolerances that can be named."""

SHORTER_LEG = "shorter leg"
THICKNESS = "thickness"


def needed_size(tolerance: str, unit: str) -> str:
    """The name of the size that this tolerance depends on besides the nominal; "" for none."""
    if tolerance.startswith("ISO 9013"):
        return THICKNESS
    return SHORTER_LEG if unit == "deg" else ""


def general_tolerance(tolerance: str, nominal: float, unit: str, size_mm: float = 0.0) -> float:
    """The ± of a nominal in mm or, with the unit "deg", in degrees; in that unit.

    size_mm : the shorter leg of an angle or the thickness of a laser-cut plate.
    Raises JobError where the standard gives none, with its range.
    """
    if tolerance not in GENERAL:
        raise JobError(f"There is no tolerance {tolerance!r}. Known: {', '.join(GENERAL)}.")
    if tolerance.startswith("ISO 9013"):
        return _laser(nominal, unit, size_mm)
    grade = tolerance[-1]
    if unit == "deg":
        return _of_range("iso-2768-angular", size_mm, grade, SHORTER_LEG) / 60
    return _of_range("iso-2768-linear", nominal, grade, "length")


def tolerance_lines(nominal: float, unit: str, size_mm: float = 0.0) -> Iterator[str]:
    """A line for each general tolerance that a nominal in mm or deg can have; see above."""
    sign = "°" if unit == "deg" else " mm"
    for tolerance in GENERAL:
        needed = needed_size(tolerance, unit)
        if bool(needed) == bool(size_mm) and (needed == SHORTER_LEG) == (unit == "deg"):
            try:
                half = general_tolerance(tolerance, nominal, unit, size_mm)
            except JobError as error:
                yield f"{tolerance}: {error}"
            else:
                low, high = nominal - half, nominal + half
                yield f"{tolerance}: {nominal:g} ± {half:.3g}{sign}: {low:.6g} to {high:.6g}{sign}"


def _laser(nominal_mm: float, unit: str, thickness_mm: float) -> float:
    if unit == "deg":
        raise JobError("ISO 9013 class 1 is for lengths. Use ISO 2768 for an angle.")
    for column in TABLES["iso-9013"].columns[2:]:
        low, high = map(float, column.split("–"))
        if low <= nominal_mm < high:
            return _of_range("iso-9013", thickness_mm, column, THICKNESS)
    raise JobError(
        f"ISO 9013 class 1 is built in for 10 to 1000 mm, not for {nominal_mm:g} mm. "
        "Give the limits instead."
    )


def _of_range(name: str, size_mm: float, column: str, what: str) -> float:
    """The cell of a column in the row whose range (over, up to) holds the size."""
    table = TABLES[name]
    k = table.columns.index(column)
    for row, low, high in _ranges(table.rows):
        if (low < size_mm or size_mm == low == table.rows[0][0] != 0) and size_mm <= high:
            if row[k] == "":
                break
            return float(str(row[k]))
    raise JobError(
        f"{table.source} gives no tolerance of class {column} for a {what} of {size_mm:g} mm. "
        "Give the limits instead."
    )


def _ranges(rows: tuple[Row, ...]) -> Iterator[tuple[Row, float, float]]:
    for row in rows:
        low, high = row[:2]
        yield row, float(str(low)), float("inf") if high == "" else float(str(high))
