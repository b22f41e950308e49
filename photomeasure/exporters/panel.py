"""What stands beside the picture of a still, and how is all of it made to fit?

Title, numbered measurements with every verdict, what ± means and what can hurt. Nothing of a
list is ever left out: the type shrinks, to two thirds at most, and what still does not fit
goes on to a further still. Only a title or name of more than some lines ends in "…".
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace

from photomeasure.exporters import words
from photomeasure.exporters.canvas import Canvas, Colour, text_width
from photomeasure.exporters.overlay import numbers, picture_title
from photomeasure.exporters.titles import quantity_titles
from photomeasure.records.report import Decision, Measurement, Picture, Report, Verdict

CALLOUT_PX = 40
TITLE_PX = 62
LEAST_PANEL_PX = 660
MOST_CALLOUTS = 3
_SCALES = (1.0, 0.9, 0.8, 0.7)  # the least is 28 px, still legible (common practice)
_LINE = 1.22  # of the letters' size
_MOST_TITLE, _MOST_PLACE, _MOST_NAME = 4, 3, 3  # lines

GROUND = (21, 23, 26)
PAPER = (255, 248, 236)
ACCENT = (255, 122, 61)
QUIET = (190, 184, 172)
_COLOURS: dict[Verdict, Colour] = {
    Verdict.DOES_NOT_CONFORM: (255, 128, 112),
    Verdict.CANNOT_TELL: (255, 206, 112),
    Verdict.CONFORMS: QUIET,
}

_UNIT = re.compile(r"(?<=\d) (?=mm\b|in\b|%)")
_PLUS_MINUS = "± spans a 95 % interval"


@dataclass(frozen=True, eq=False)
class Entry:
    """A measurement in the list with the verdicts that this still shows, worst first."""

    measurement: Measurement
    verdicts: tuple[tuple[str, Colour], ...]


@dataclass(frozen=True)
class Area:
    """Where a panel lies in its frame, in px: its text keeps to x … right and top … bottom."""

    x: float
    top: float
    right: float
    bottom: float


@dataclass(frozen=True)
class _Line:
    """One line of text; badge : the number that stands before it."""

    at: tuple[float, float]
    text: str
    size: int
    colour: Colour
    badge: str = ""


def entries(report: Report, measurements: Sequence[Measurement]) -> list[Entry]:
    """Each measurement with all its verdicts, worst first, or that nobody judged it."""
    return [Entry(m, _verdicts(m, report)) for m in measurements]


def share_out(
    listed: Sequence[Entry], report: Report, picture: Picture, area: Area
) -> list[list[Entry]]:
    """The entries of each still: as many as fit, three at most; an empty still for none."""

    def fits(page: Sequence[Entry]) -> bool:
        return _fits(page, report, picture, area, _SCALES[-1])

    return list(_pages(listed, fits)) or [[]]


def draw_panel(
    canvas: Canvas, page: Sequence[Entry], report: Report, picture: Picture, area: Area
) -> None:
    """Draw it in the largest type in which it fits."""
    scale = next((s for s in _SCALES if _fits(page, report, picture, area, s)), _SCALES[-1])
    size = _px(CALLOUT_PX, scale)
    for line in [*_list(page, report, picture, area, scale)[0], *_foot(report, area, scale)]:
        canvas.text(line.at, line.text, line.size, line.colour)
        if line.badge:
            draw_badge(canvas, line.badge, (area.x + size * 0.66, line.at[1] + size * 0.62), size)


def draw_badge(canvas: Canvas, text: str, at: tuple[float, float], size: int) -> None:
    """The number of a measurement on its disc."""
    canvas.disc(at, size * 0.66, ACCENT)
    canvas.text(at, text, size, GROUND, "mm")


def _verdicts(measurement: Measurement, report: Report) -> tuple[tuple[str, Colour], ...]:
    mine = [d for d in report.decisions if d.measurement == measurement.name]
    told = ((_outcome(d, report), _COLOURS[d.verdict]) for d in words.worst_first(mine))
    return tuple(told) or (("not judged", QUIET),)


def _outcome(decision: Decision, report: Report) -> str:
    """The verdict and its limit, after the number where that is not the one on the picture."""
    outcome = f"{words.verdict_words(decision)} ({words.limit_words(decision.rule)})"
    quantity = words.quantity_of(report, decision.measurement, decision.quantity)
    if quantity.primary:
        return outcome
    title = quantity_titles(report)[decision.measurement, decision.quantity]
    return f"{title} {words.figure(quantity, report.job.unit)}: {outcome}"


def _pages(
    listed: Sequence[Entry], fits: Callable[[Sequence[Entry]], bool]
) -> Iterator[list[Entry]]:
    page: list[Entry] = []
    for entry in (part for whole in listed for part in _parts(whole, fits)):
        if page and (len(page) == MOST_CALLOUTS or not fits([*page, entry])):
            yield page
            page = []
        page.append(entry)
    if page:
        yield page


def _parts(entry: Entry, fits: Callable[[Sequence[Entry]], bool]) -> Iterator[Entry]:
    """An entry whose verdicts are too many for one still, in parts that each fit."""
    rest = entry.verdicts
    while rest:
        count = len(rest)
        while count > 1 and not fits([replace(entry, verdicts=rest[:count])]):
            count -= 1
        yield replace(entry, verdicts=rest[:count])
        rest = rest[count:]


def _fits(
    page: Sequence[Entry], report: Report, picture: Picture, area: Area, scale: float
) -> bool:
    end = _list(page, report, picture, area, scale)[1]
    return end <= _foot(report, area, scale)[0].at[1]


def _list(
    page: Sequence[Entry], report: Report, picture: Picture, area: Area, scale: float
) -> tuple[list[_Line], float]:
    """Title, place and entries from the top, and the y where they end with room below."""
    size = _px(CALLOUT_PX, scale)
    start = _Line((area.x, area.top), report.job.title, _px(TITLE_PX, scale), PAPER)
    lines, y = _wrapped(start, area.right, _MOST_TITLE)
    place = report.job.position or picture_title(picture)
    start = _Line((area.x, y + 12 * scale), place, size, QUIET)
    rows, y = _wrapped(start, area.right, _MOST_PLACE)
    lines, y = lines + rows, y + 30 * scale
    for entry in page:
        rows, y = _entry_lines(entry, report, (area.x + 1.75 * size, y), area.right, size)
        lines, y = lines + rows, y + 22 * scale
    return lines, y


def _entry_lines(
    entry: Entry, report: Report, at: tuple[float, float], right: float, size: int
) -> tuple[list[_Line], float]:
    badge = str(numbers(report)[entry.measurement.name])
    lines, y = _wrapped(_Line(at, entry.measurement.name, size, PAPER), right, _MOST_NAME)
    lines[0] = replace(lines[0], badge=badge)
    for text, colour in entry.verdicts:
        rows, y = _wrapped(_Line((at[0], y), text, size, colour), right)
        lines += rows
    return lines, y


def _foot(report: Report, area: Area, scale: float) -> list[_Line]:
    """What ± means and below it what can hurt, standing on the lower margin."""
    size = _px(CALLOUT_PX, scale)
    lines = [_Line((area.x, area.top), _PLUS_MINUS, size, QUIET)]
    cautions = words.caution_words(report)
    if cautions:
        text = f"Can hurt: {cautions}. The local code and licensed practice decide."
        rows, _ = _wrapped(_Line((area.x, 0.0), text, size, PAPER), area.right)
        lines += rows
    top = area.bottom - len(lines) * size * _LINE
    return [replace(r, at=(area.x, top + k * size * _LINE)) for k, r in enumerate(lines)]


def _wrapped(line: _Line, right: float, most: int | None = None) -> tuple[list[_Line], float]:
    """A text in as many lines as it needs, `most` at most, and the y below them."""
    x, y = line.at
    rows = _rows(line.text, right - x, line.size)
    if most is not None and len(rows) > most:
        rows = [*rows[: most - 1], f"{rows[most - 1][:-2].rstrip()} …"]
    step = line.size * _LINE
    lines = [replace(line, at=(x, y + k * step), text=row) for k, row in enumerate(rows)]
    return lines, y + len(rows) * step


def _rows(text: str, room: float, size: int) -> list[str]:
    """Text parted between its words, or within one that is wider than the room.

    A number and its unit stay together.
    """
    rows = [""]
    for word in re.split(r"[ \t\n]+", _UNIT.sub("\u00a0", text)):
        longer = f"{rows[-1]} {word}".strip()
        if text_width(longer, size) <= room:
            rows[-1] = longer
            continue
        rows += _pieces(word, room, size)
    return [row for row in rows if row] or [""]


def _pieces(word: str, room: float, size: int) -> list[str]:
    pieces = [""]
    for letter in word:
        if pieces[-1] and text_width(pieces[-1] + letter, size) > room:
            pieces.append("")
        pieces[-1] += letter
    return pieces


def _px(size: float, scale: float) -> int:
    return round(size * scale)
