"""How does a job reach its file without losing what a person wrote there?

Values that did not change keep their spelling ("1/4 in") and their comments. The text is
read back before it is written, so what stands on disk is always the job that was given.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import asdict
from pathlib import Path
from typing import Any

import tomlkit
from tomlkit import TOMLDocument
from tomlkit.exceptions import TOMLKitError
from tomlkit.items import AoT, Item, Table

from photomeasure.errors import JobError
from photomeasure.files.atomic import replace_file
from photomeasure.files.job_problems import NAMED
from photomeasure.files.jobs import file_text, parse_job, read_job
from photomeasure.records.job import Job
from photomeasure.vision.sheets.known import DISTANCE

Tables = dict[str, Any]

CLICKS_IN_LINE = 4


def write_job(job: Job, path: Path | str) -> None:
    """Write a job as TOML, all or nothing, keeping the comments of the file that is there.

    Raises JobError when the job would not be read back as it is, or when the file that is
    there is not a job (then it stays); ExportError when the disk refuses.
    """
    replace_file(Path(path), job_bytes(job, Path(path)))


def job_bytes(job: Job, path: Path) -> bytes:
    """What `write_job` would write there. Raises JobError."""
    text = _renewed(path, job) if path.exists() else None
    return (text or job_text(job)).encode()


def job_text(job: Job) -> str:
    """The job as TOML text. Raises JobError when a value cannot stand in a job file."""
    document = tomlkit.document()
    for key, value in job_tables(job).items():
        document[key] = toml_tables(value) if is_tables(value) else toml_item(value)
    text = tomlkit.dumps(document)
    if parse_job(text, "the job") != job:
        raise JobError("The job would not be read back as it is. Use plain numbers and texts.")
    return text


def job_tables(job: Job) -> Tables:
    """The job as plain tables in the order of the file; what is empty is left out."""
    tables: Tables = {
        "format": 1,
        "title": job.title,
        "unit": job.unit,
        "position": job.position,
        "hazards": list(job.hazards),
        "note": job.note,
        "photos": [asdict(p) for p in job.photos],
        "prints": [_without_units(asdict(p)) for p in job.prints],
        "scales": [_scale(asdict(s)) for s in job.scales],
        "planes": [_without_units(asdict(p)) for p in job.planes],
        "features": [_without_units(asdict(f)) for f in job.features],
        "measurements": [_measurement(asdict(m)) for m in job.measurements],
        "rules": [_rule(asdict(r)) for r in job.rules],
        "checks": [_without_units(asdict(c)) for c in job.checks],
        "readings": [_reading(asdict(r)) for r in job.readings],
    }
    return {key: _full(value) for key, value in tables.items() if not _is_empty(value)}


def _without_units(entry: Tables) -> Tables:
    """The keys of the file: a length there may name its own unit, so no key does."""
    plain = {
        key.removesuffix("_mm").removesuffix("_px").removesuffix("_deg"): v
        for key, v in entry.items()
    }
    if "clicks" in plain:
        plain["clicks"] = [[float(x), float(y)] for x, y in plain["clicks"]]
    return plain


def _scale(entry: Tables) -> Tables:
    plain = _without_units(entry)
    return plain if plain["kind"] == DISTANCE else {k: v for k, v in plain.items() if k != "ends"}


def _measurement(entry: Tables) -> Tables:
    roles = {role: names[0] if len(names) == 1 else list(names) for role, names in entry["of"]}
    return {**_reading(entry), "of": roles}


def _reading(entry: Tables) -> Tables:
    lists = {key: list(entry[key]) for key in ("rules", "between")}
    return {**_without_units(entry), **lists, "sizes": dict(entry["sizes_mm"])}


def _rule(entry: Tables) -> Tables:
    """A job's own rule; what only the built-in ones can have is left out."""
    built_in = ("advice", "also", "unverified")
    own = {key: value for key, value in entry.items() if key not in built_in}
    return {**own, "between": [list(things) for things in entry["between"]]}


def _full(value: Any) -> Any:
    if not is_tables(value):
        return value
    return [{k: v for k, v in entry.items() if not _is_empty(v)} for entry in value]


def _is_empty(value: object) -> bool:
    return value is None or value in ("", [], {})


def is_tables(value: object) -> bool:
    """Whether it is a list of tables."""
    return isinstance(value, list) and bool(value) and isinstance(value[0], dict)


def _renewed(path: Path, job: Job) -> str | None:
    """The text of the file with this job in it; None where only a fresh text will do."""
    try:
        old = read_job(path)
    except JobError as error:
        raise JobError(
            [f"{path} is not a job as it stands, so it was not replaced.", *error.problems]
        ) from None
    return edited(
        file_text(path),
        lambda document: _merge(document, job_tables(old), job_tables(job)),
        lambda text: parse_job(text) == job,
    )


def edited(
    text: str, edit: Callable[[TOMLDocument], object], says_it: Callable[[str], bool]
) -> str | None:
    """A TOML text after an edit in place; None where it would not say what it should."""
    try:
        document = tomlkit.parse(text)
        edit(document)
        new = tomlkit.dumps(document)
        return new if says_it(new) else None
    except (TOMLKitError, JobError, ValueError, TypeError, KeyError):
        return None  # a way of writing TOML that cannot be edited piece by piece


def _merge(container: Any, have: Tables, want: Tables) -> None:
    """Change only what differs between the tables the file has and those it should have."""
    for key in have.keys() - want.keys():
        container.remove(key)
    for key, value in want.items():
        if have.get(key) == value:
            continue
        if is_tables(value):
            _merge_tables(container, key, have.get(key, []), value)
        else:
            container[key] = toml_item(value)


def _merge_tables(container: Any, key: str, have: list[Tables], want: list[Tables]) -> None:
    """A list of tables, matched by name; a table that stays keeps its comments."""
    old = container.get(key)
    called = NAMED.get(key, "measurement")
    tables = zip(old, have, strict=True) if isinstance(old, AoT) else ()
    kept = {had[called]: (table, had) for table, had in tables}
    merged, first = tomlkit.aot(), old[0].trivia.indent if kept else "\n"
    for entry in want:
        table, had = kept.pop(entry[called], (None, {}))
        if table is None:
            _append(merged, _table(entry), _gap(merged) if merged else first)
        else:
            follows_new = bool(merged) and merged[-1][called] not in (h[called] for h in have)
            _merge(table, had, entry)
            _append(merged, table, _gap(merged) if follows_new else table.trivia.indent)
    if old is not None and not isinstance(old, AoT):
        container.remove(key)
    container[key] = merged


def _gap(above: AoT) -> str:
    """What parts a table from those above it: one empty line, if none is there."""
    return "" if above[-1].as_string().endswith("\n\n") else "\n"


def _append(tables: AoT, table: Table, indent: str) -> None:
    """Append with this in front of the table, and no empty line of the library's own."""
    tables.append(table)
    table.trivia.indent = indent


def toml_tables(entries: list[Tables]) -> AoT:
    """A list of tables as TOML writes them, one under the other."""
    tables = tomlkit.aot()
    for entry in entries:
        tables.append(_table(entry))
    return tables


def _table(entry: Mapping[str, Any]) -> Table:
    table = tomlkit.table()
    table.trivia.indent = "\n"  # an empty line before each
    for key, value in entry.items():
        table[key] = toml_item(value)
    return table


def toml_item(value: Any) -> Item:
    """A plain value, list or table within one line or list."""
    if isinstance(value, dict):
        inline = tomlkit.inline_table()
        inline.update(value)
        return inline
    if isinstance(value, list):
        lines = len(value) > CLICKS_IN_LINE
        array = tomlkit.array().multiline(lines)
        array.extend(value)
        return array
    item: Item = tomlkit.item(value)
    return item
