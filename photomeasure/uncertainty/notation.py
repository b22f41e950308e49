"""How is a length read from what a person types, and how is a result written?

Reads millimetres and inches, decimals and fractions. Writes the uncertainty to one or two
digits and the value to the same place (GUM 7.2.6). It refuses to guess: what can be read in
two ways is a JobError.
"""

from __future__ import annotations

import re
import unicodedata
from fractions import Fraction
from math import floor, isfinite, log10

from photomeasure.errors import JobError

MM_PER_INCH = 25.4

_FINEST = 64
"""Inch fractions are written to the nearest 1/64."""

_UNITS = {"mm": 1.0, "cm": 10.0, "in": MM_PER_INCH}
_SPELLINGS = {"inch": "in", "inches": "in", '"': "in", "″": "in", "”": "in"}
_SHAPE = re.compile(
    r"""(?P<sign>[-+−]?)\s*
    (?: (?P<decimal>\d+(?:[.,]\d*)?|[.,]\d+)
      | (?: (?P<whole>\d+)(?:\s+|\s*-\s*) )? (?P<top>\d+)\s*[/⁄]\s*(?P<bottom>\d+) )
    \s*(?P<unit>[a-zA-Z]+|["″”])?\.?""",
    re.VERBOSE,
)


def parse_length_mm(value: str | float, unit: str = "mm") -> float:
    """A length in mm from a number or a text such as "6.5", "0.25 in", "7/16", "1 1/4 in".

    unit : of a plain number without a unit, "mm" or "in". A fraction is always in inches.
    A decimal comma is read ("6,5 mm") unless it could part thousands ("1,500").

    Raises JobError for anything else, saying what was read.
    """
    if isinstance(value, bool) or not isinstance(value, int | float | str):
        raise JobError(f"{value!r} is not a length. {_EXAMPLES}")
    if not isinstance(value, str):
        return _finite(float(value), value) * _factor(unit, value)
    found = _SHAPE.fullmatch(_plain(value))
    if found is None:
        raise JobError(f"{value!r} is not a length. {_EXAMPLES}")
    sign = -1.0 if found["sign"] in ("-", "−") else 1.0
    if found["decimal"]:
        number = _decimal(found["decimal"], value)
        return sign * number * _factor(found["unit"] or unit, value)
    if _factor(found["unit"] or "in", value) != MM_PER_INCH:
        raise JobError(f"{value!r} is a fraction but not in inches. Write it as a decimal.")
    return sign * _fraction_mm(found["whole"], found["top"], found["bottom"], value)


def format_length(value_mm: float, expanded_mm: float, unit: str = "mm") -> str:
    """Value ± U in "mm" or "in", such as "11.12 ± 0.08 mm"."""
    factor = _UNITS[unit]
    value, expanded = rounded_pair(value_mm / factor, expanded_mm / factor)
    return f"{value} ± {expanded} {unit}"


def format_fraction(value_mm: float, expanded_mm: float = 0.0) -> str:
    """The nearest 1/64 inch, reduced: "7/16 in", "1 1/4 in".

    "≈" stands before it when it differs from the value by more than U.
    """
    exact = value_mm / MM_PER_INCH
    nearest = Fraction(round(exact * _FINEST), _FINEST)
    about = "≈ " if abs(float(nearest) - exact) * MM_PER_INCH > expanded_mm + 1e-9 else ""
    whole, part = divmod(abs(nearest), 1)
    words = " ".join(str(piece) for piece in (whole, part) if piece) or "0"
    return f"{about}{'-' if nearest < 0 else ''}{words} in"


def format_angle(value_deg: float, expanded_deg: float) -> str:
    """Value ± U in degrees, such as "31.4° ± 0.3°"."""
    value, expanded = rounded_pair(value_deg, expanded_deg)
    return f"{value}° ± {expanded}°"


def format_result(value: float, expanded: float, unit: str) -> str:
    """Value ± U of a quantity in its own unit, "mm" or "deg"."""
    return format_angle(value, expanded) if unit == "deg" else format_length(value, expanded)


def rounded_pair(value: float, expanded: float) -> tuple[str, str]:
    """Value and U as texts with the same number of decimals.

    U keeps two digits when it begins with 1 or 2 and one otherwise. It is rounded up where
    rounding down would take more than 5 % off it (common practice, no source).
    """
    if not (isfinite(value) and isfinite(expanded)):
        raise ValueError(f"{value} ± {expanded} is not a result.")
    place = decimals(expanded)
    shown = round(expanded, place)
    if shown < 0.95 * expanded:
        shown += 10.0**-place
    digits = max(place, 0)
    return f"{round(value, place) + 0.0:.{digits}f}", f"{shown:.{digits}f}"


def decimals(expanded: float) -> int:
    """The decimal place to which a value with this U is written; 3 when U is 0.

    Negative for a U of 30 and more: -1 writes to tens.
    """
    if expanded == 0:
        return 3
    exponent = floor(log10(abs(expanded)))
    leading = abs(expanded) / 10.0**exponent
    if leading >= 9.5:
        return -exponent
    return -exponent + (1 if leading < 2.95 else 0)


_EXAMPLES = 'Write it like 6.5, "6.5 mm", "0.25 in", "7/16 in" or "1 1/4 in".'


def _plain(text: str) -> str:
    """The text with single-character fractions spelled out: 1½ becomes 1 1/2."""
    spelled = "".join(
        f" {unicodedata.normalize('NFKC', sign)}" if _is_fraction_sign(sign) else sign
        for sign in text
    )
    return spelled.strip()


def _is_fraction_sign(sign: str) -> bool:
    return unicodedata.category(sign) == "No" and "⁄" in unicodedata.normalize("NFKC", sign)


def _factor(unit: str, seen: object) -> float:
    """Millimetres per unit."""
    name = unit.lower()
    name = _SPELLINGS.get(name, name)
    if name not in _UNITS:
        raise JobError(f"{seen!r} has the unit {unit!r}; known are mm, cm and in. Change it.")
    return _UNITS[name]


def _decimal(text: str, seen: str) -> float:
    if re.fullmatch(r"[1-9]\d{0,2},\d{3}", text):
        raise JobError(
            f"{seen!r} can mean thousands or a decimal comma. Write it with a decimal point."
        )
    return float(text.replace(",", "."))


def _fraction_mm(whole: str | None, top: str, bottom: str, seen: str) -> float:
    if int(bottom) == 0:
        raise JobError(f"{seen!r} divides by zero. {_EXAMPLES}")
    inches = int(whole or 0) + Fraction(int(top), int(bottom))
    return float(inches * Fraction(254, 10))


def _finite(number: float, seen: object) -> float:
    if not isfinite(number):
        raise JobError(f"{seen!r} is not a length. {_EXAMPLES}")
    return number
