"""What is wrong in a job file, in the words of the person who wrote it?

Problems of single values come from the model; problems of references (a feature that names
no photo) are found here in the raw tables, so that both are told at once.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Collection, Iterator, Mapping
from itertools import pairwise
from types import UnionType
from typing import Any, Union, get_args, get_origin

from pydantic import BaseModel, ValidationError
from pydantic_core import ErrorDetails

from photomeasure.files.job_fields import LISTED_BY, did_you_mean
from photomeasure.records.job import SHEET_PLANE
from photomeasure.vision.sheets import identities

Location = tuple[int | str, ...]
Problem = tuple[Location, str]
Raw = Mapping[str, Any]

NAMED = {
    "photos": "name",
    "prints": "sheet",
    "planes": "name",
    "features": "name",
    "measurements": "name",
    "rules": "name",
    "readings": "name",
}
"""Tables that are called by a name, and the key that holds it."""


def value_problems(error: ValidationError, model: type[BaseModel]) -> Iterator[Problem]:
    """What the model of a file found, each with its place."""
    for detail in error.errors(include_url=False):
        unknown = detail["type"] == "extra_forbidden"
        yield detail["loc"], _unknown_key(detail, model) if unknown else _words(detail)


def reference_problems(raw: Raw, known_rules: Collection[str] | None) -> Iterator[Problem]:
    """Names given twice, and names that nothing carries.

    known_rules : rules besides those of the job itself; None leaves them unchecked.
    """
    for table in NAMED:
        yield from _repeated(raw, table)
    yield from _same_pictures(raw)
    photos, features = _names(raw, "photos"), _names(raw, "features")
    planes = [SHEET_PLANE, *_names(raw, "planes")]
    for at, feature in _tables(raw, "features"):
        yield from _unknown((*at, "photo"), feature.get("photo"), "photo", photos)
        if feature.get("plane") not in identities():
            yield from _unknown((*at, "plane"), feature.get("plane"), "plane", planes)
    for at, scale in _tables(raw, "scales"):
        yield from _unknown((*at, "photo"), scale.get("photo"), "photo", photos)
    for at, measurement in _tables(raw, "measurements"):
        for place, name in _roles(measurement):
            yield from _unknown((*at, *place), name, "feature", features)
        yield from _unknown_rules(raw, at, measurement, known_rules)
    measured = _names(raw, "measurements")
    for at, reading in _tables(raw, "readings"):
        if reading.get("name") in measured:
            yield (*at, "name"), "a measurement has this name already. Names must differ."
        yield from _unknown_rules(raw, at, reading, known_rules)
    for at, check in _tables(raw, "checks"):
        name = check.get("measurement")
        yield from _unknown((*at, "measurement"), name, "measurement", measured)


def place(location: Location, raw: Raw) -> str:
    """A location as a person reads it, counted from 1: 'feature "bore", clicks no. 3, no. 1'."""
    if not location:
        return "the file"
    entry = dict(_tables(raw, str(location[0]))).get(location[:2])
    rest = location[1:] if entry is None else location[2:]
    words = [str(location[0]) if entry is None else _called(location[:2], entry)]
    for before, key in pairwise((location[0], *rest)):
        if isinstance(key, str):
            words.append(f", {key}")
        else:
            words.append(f"{' ' if isinstance(before, str) else ', '}no. {key + 1}")
    return "".join(words)


def _called(location: Location, entry: Raw) -> str:
    """An entry of a table by its name, else by its number: 'feature "bore"', "scale no. 2"."""
    table, k = location
    noun, name = str(table).removesuffix("s"), entry.get(NAMED.get(str(table), "name"))
    if isinstance(name, str):
        return f'{noun} "{name}"'
    of = entry.get("measurement")
    return f'{noun} of "{of}"' if isinstance(of, str) else f"{noun} no. {int(k) + 1}"


def _tables(raw: Raw, key: str) -> list[tuple[Location, Raw]]:
    entries = enumerate(_list(raw.get(key)))
    return [((key, i), entry) for i, entry in entries if isinstance(entry, Mapping)]


def _list(value: object) -> list[Any]:
    return value if isinstance(value, list) else []


def _names(raw: Raw, table: str) -> list[str]:
    names = [entry.get(NAMED[table]) for _, entry in _tables(raw, table)]
    return [name for name in names if isinstance(name, str)]


def _repeated(raw: Raw, table: str) -> Iterator[Problem]:
    seen: set[str] = set()
    for at, entry in _tables(raw, table):
        name = entry.get(NAMED[table])
        if isinstance(name, str) and name in seen:
            yield (*at, NAMED[table]), f'"{name}" stands above already. Names must differ.'
        elif isinstance(name, str):
            seen.add(name)


def _same_pictures(raw: Raw) -> Iterator[Problem]:
    """A picture given twice would count as two that agree."""
    seen: dict[object, object] = {}
    for at, photo in _tables(raw, "photos"):
        for key in ("sha256", "file"):
            value = photo.get(key)
            if isinstance(value, str) and value in seen:
                yield (
                    (*at, key),
                    f'this is the picture of photo "{seen[value]}" again, which says nothing '
                    "more. Take another photo, or take this entry out.",
                )
                break
            if isinstance(value, str):
                seen[value] = photo.get("name")


def _roles(measurement: Raw) -> Iterator[tuple[Location, object]]:
    roles = measurement.get("of")
    for role, names in roles.items() if isinstance(roles, Mapping) else ():
        if isinstance(names, str):
            yield ("of", role), names
        for i, name in enumerate(_list(names)):
            yield ("of", role, i), name


def _unknown_rules(
    raw: Raw, at: Location, entry: Raw, known_rules: Collection[str] | None
) -> Iterator[Problem]:
    """Rules that neither the job nor the program has; None leaves them unchecked."""
    rules = [*_names(raw, "rules"), *(known_rules or ())]
    for i, name in enumerate(_list(entry.get("rules")) if known_rules is not None else ()):
        yield from _unknown((*at, "rules", i), name, "rule", rules)


def _unknown(at: Location, name: object, noun: str, known: list[str]) -> Iterator[Problem]:
    if isinstance(name, str) and name not in known:
        hint = did_you_mean(name, known, LISTED_BY if noun == "rule" else "")
        none = "" if known else f" The job has no {noun}s yet."
        yield at, f'there is no {noun} called "{name}".{hint}{none}'


def _words(detail: ErrorDetails) -> str:
    say = WORDS.get(detail["type"])
    if say is not None:
        return say(detail)
    message = detail["msg"].removeprefix("Value error, ")
    return message if message.endswith(".") else f"{message}; found {_seen(detail)}."


def _unknown_key(detail: ErrorDetails, model: type[BaseModel]) -> str:
    *parents, key = detail["loc"]
    keys = _known_keys(model, tuple(parents))
    return f"this key is not known.{did_you_mean(str(key), keys)}"


def _known_keys(model: type[BaseModel], location: Location) -> list[str]:
    """The keys of the table at a location."""
    for key in location:
        if isinstance(key, str):
            model = _table_type(model.model_fields[key].annotation)
    return list(model.model_fields)


def _table_type(annotation: Any) -> type[BaseModel]:
    """The table inside list[Table]; only tables can hold keys that are not known."""
    if get_origin(annotation) in (list, Union, UnionType):
        return _table_type(get_args(annotation)[0])
    table: type[BaseModel] = annotation
    return table


def _seen(detail: ErrorDetails) -> str:
    value = detail["input"]
    if isinstance(value, Mapping):
        return "a table"
    if isinstance(value, list):
        return f"a list of {len(value)}"
    words = repr(value)
    return words if len(words) <= 40 else f"{words[:40]}…"


def _not_finite(detail: ErrorDetails) -> str:
    name = "NaN" if math.isnan(detail["input"]) else "infinity"
    return f"{name} is not a number that can be measured with. Write a plain number."


def _expected(what: str) -> Callable[[ErrorDetails], str]:
    return lambda detail: f"{_seen(detail)} is not {what}. Write {what}."


def _missing(detail: ErrorDetails) -> str:
    return f'the key "{detail["loc"][-1]}" is missing. Add it.'


def _no_list(detail: ErrorDetails) -> str:
    seen, value, (*parents, key) = _seen(detail), detail["input"], detail["loc"]
    if not parents and key in (*NAMED, "checks", "scales", "levels", "bends", "holes"):
        return f"{seen} stands where entries are wanted. Begin each with [[{key}]]."
    if not isinstance(value, str | int | float):
        return f"{seen} stands where a list in [brackets] is wanted."
    written = f'"{value}"' if isinstance(value, str) else f"{value:g}, …"
    return f"{seen} stands alone where a list is wanted. Write [{written}]."


def _no_table(detail: ErrorDetails) -> str:
    """What a table looks like where the most common one is written otherwise."""
    of = detail["loc"][-1] == "of"
    how = 'as { a = "left side", b = "right side" }; `photomeasure kinds` names the roles'
    return f"{_seen(detail)} is not a table. Write {how if of else 'a table'}."


def _bound(word: str, key: str) -> Callable[[ErrorDetails], str]:
    return lambda d: f"{d['input']} is not allowed; {word} {d['ctx'][key]:g} is. Correct it."


def _format(detail: ErrorDetails) -> str:
    return (
        f"{_seen(detail)} is a layout that this version does not know; it reads format 1. "
        "Use a newer version of the program."
    )


def _pattern(detail: ErrorDetails) -> str:
    return f"{_seen(detail)} is not a SHA-256: 64 digits 0-9 and a-f. Copy it whole."


WORDS: dict[str, Callable[[ErrorDetails], str]] = {
    "missing": _missing,
    "finite_number": _not_finite,
    "float_type": _expected("a number"),
    "int_type": _expected("a whole number"),
    "string_type": _expected('a text in "quotes"'),
    "list_type": _no_list,
    "dict_type": _no_table,
    "model_type": _no_table,
    "literal_error": _format,
    "string_pattern_mismatch": _pattern,
    "greater_than_equal": _bound("at least", "ge"),
    "less_than_equal": _bound("at most", "le"),
    "string_too_short": lambda d: "the text is empty. Write something.",
    "string_too_long": lambda d: f"the text is longer than {d['ctx']['max_length']} characters.",
    "too_short": lambda d: f"{_seen(d)} is too short; at least {d['ctx']['min_length']} needed.",
    "too_long": lambda d: f"{_seen(d)} is too long; at most {d['ctx']['max_length']} allowed.",
}
"""The kind of error → what it means to the person who wrote the file."""
