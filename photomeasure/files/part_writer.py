"""How does a part reach its file without losing what a person wrote there?

As with a job: values that did not change keep their spelling and their comments, and the text
is read back before it is written.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import tomlkit

from photomeasure.errors import JobError
from photomeasure.files.job_history import FOLDER, History
from photomeasure.files.job_writer import edited, is_tables, toml_item, toml_tables
from photomeasure.files.jobs import file_text
from photomeasure.files.part_file import PartFile, part_tables

Tables = dict[str, Any]


class PartHistory(History[PartFile]):
    """A part file with all its earlier states."""

    def __init__(self, path: Path) -> None:
        super().__init__(path, path.parent / FOLDER / path.stem, part_bytes)


def part_bytes(part: PartFile, path: Path) -> bytes:
    """The part as TOML, with the comments of the file that is there.

    Raises JobError when the part would not be read back as it is, or when the file that is
    there is no part.
    """
    text = _renewed(path, part) if path.exists() else None
    return (text or part_text(part)).encode()


def part_text(part: PartFile) -> str:
    """The part as TOML text. Raises JobError when a value cannot stand in a part file."""
    text = tomlkit.dumps(_merged(tomlkit.document(), {}, _tables(part)))
    if part_tables(text) != part:
        raise JobError("The part would not be read back as it is. Use plain numbers and texts.")
    return text


def _tables(part: PartFile) -> Tables:
    """What was said, in the order of the file; plain values before tables, as TOML wants."""
    said = part.model_dump(mode="json", exclude_defaults=True)
    return dict(sorted(said.items(), key=lambda item: is_tables(item[1]) or _is_table(item[1])))


def _is_table(value: object) -> bool:
    return isinstance(value, dict)


def _renewed(path: Path, part: PartFile) -> str | None:
    """The text of the file with this part in it; None where only a fresh text will do."""
    text = file_text(path)
    try:
        old = part_tables(text, path)
    except JobError as error:
        raise JobError(
            [f"{path} is not a part as it stands, so it was not replaced.", *error.problems]
        ) from None
    return edited(
        text,
        lambda document: _merged(document, _tables(old), _tables(part)),
        lambda new: part_tables(new) == part,
    )


def _merged(container: Any, have: Tables, want: Tables) -> Any:
    """Change only what differs between the tables the file has and those it should have."""
    for key in have.keys() - want.keys():
        container.remove(key)
    for key, value in want.items():
        if have.get(key) == value:
            continue
        if is_tables(value):
            container[key] = toml_tables(value)
        elif _is_table(value) and _is_table(have.get(key)):
            _merged(container[key], have[key], value)
        elif _is_table(value):
            container[key] = _merged(tomlkit.table(), {}, value)
        else:
            container[key] = toml_item(value)
    return container
