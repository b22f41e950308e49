"""How does a report read on a terminal? A plain table that needs no colour."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence

from photomeasure.exporters.titles import quantity_titles
from photomeasure.exporters.words import (
    advised,
    advising,
    check_words,
    decisions_of,
    disagreeing,
    doubt_lines,
    figure,
    hand_words,
    judging,
    limit_in_both,
    limit_words,
    meeting_words,
    missing_words,
    offer_words,
    offered,
    percent,
    rest,
    shown,
    source_words,
    summary_words,
    verdict_words,
)
from photomeasure.records.report import Decision, Measurement, Quantity, Report

Titles = dict[tuple[str, str], str]

_GAP = "  "
_HEAD = ("Measured", "Value", "Rule", "Verdict (chance it holds)")
_NARROWEST = (9, 10, 8, 7)
_WORDY = (0, 2, 3)  # columns of words, which read well over several lines


def render_table(report: Report, width: int = 80) -> str:
    """The verdicts, one line per number and rule, in at most `width` columns (40 or more)."""
    width = max(40, width)
    position = f" ({report.job.position})" if report.job.position else ""
    titles = quantity_titles(report)
    rows = [row for m in report.measurements for row in _rows(m, report, titles)]
    blocks = [
        _wrapped(report.job.title + position, width),
        *(
            _wrapped(f"CHECK DISAGREES: {check_words(c, report)}", width)
            for c in disagreeing(report)
        ),
        _table([_HEAD, *rows], width),
        _wrapped(summary_words(report), width),
        _listed("Not measured", [missing_words(m) for m in report.missing], width),
        _listed("Also found", _found_besides(report, titles), width),
        *_settling(report, width),
        _listed("In doubt until it is mended", doubt_lines(report), width),
        _listed("Warnings", report.warnings, width),
        _listed("Caution", report.cautions, width),
        _listed(
            "Remarks", [f"{m.name}: {r}" for m in report.measurements for r in m.remarks], width
        ),
        *_offered(report, width),
        _listed("Advice in words", _advice(report), width),
        _listed("Not checked", report.not_checked, width),
    ]
    return "\n\n".join(block for block in blocks if block) + "\n"


def _rows(measurement: Measurement, report: Report, titles: Titles) -> list[tuple[str, ...]]:
    rows = [row for q in shown(measurement, report) for row in _quantity_rows(q, report, titles)]
    hand = hand_words(measurement)
    return [(f"{rows[0][0]} ({hand})", *rows[0][1:]), *rows[1:]] if hand else rows


def _found_besides(report: Report, titles: Titles) -> list[str]:
    """The numbers that are neither asked for nor judged, a line for each measurement."""
    told = {
        m.name: [f"{titles[m.name, q.name]} {figure(q, report.job.unit)}" for q in rest(m, report)]
        for m in report.measurements
    }
    return [f"{name}: {'; '.join(figures)}" for name, figures in told.items() if figures]


def _quantity_rows(quantity: Quantity, report: Report, titles: Titles) -> list[tuple[str, ...]]:
    name = quantity.measurement
    if not quantity.primary:
        name = f"{name}, {titles[name, quantity.name]}"
    first = (name, figure(quantity, report.job.unit))
    decisions = decisions_of(quantity, report)
    if not decisions:
        return [(*first, "", "not judged")]
    return [
        (
            *(first if k == 0 else ("", "")),
            f"{d.rule.name}: {limit_in_both(d.rule, report.job.unit)}",
            _verdict_cell(d),
        )
        for k, d in enumerate(decisions)
    ]


def _verdict_cell(decision: Decision) -> str:
    return f"{verdict_words(decision)} ({percent(decision.probability)})"


def _table(rows: Sequence[tuple[str, ...]], width: int) -> str:
    widths = _column_widths(rows, width)
    lines = [_row_lines(row, widths) for row in rows]
    rule = "-" * min(width, sum(widths) + len(_GAP) * (len(widths) - 1))
    return "\n".join([*lines[0], rule, *(line for row in lines[1:] for line in row)])


def _column_widths(rows: Sequence[tuple[str, ...]], width: int) -> list[int]:
    """Natural widths, the widest column narrowed until the table fits; values break last."""
    widths = [max(len(row[k]) for row in rows) for k in range(len(_HEAD))]
    room = width - len(_GAP) * (len(_HEAD) - 1)
    for columns in (_WORDY, range(len(_HEAD))):
        spare = {k: widths[k] - _NARROWEST[k] for k in columns}
        while sum(widths) > room and max(spare.values()) > 0:
            widest = max(spare, key=lambda k: spare[k])
            widths[widest] -= 1
            spare[widest] -= 1
    return widths


def _row_lines(row: tuple[str, ...], widths: list[int]) -> list[str]:
    cells = [textwrap.wrap(cell, w) or [""] for cell, w in zip(row, widths, strict=True)]
    depth = max(len(cell) for cell in cells)
    filled = [cell + [""] * (depth - len(cell)) for cell in cells]
    return [
        _GAP.join(c[k].ljust(w) for c, w in zip(filled, widths, strict=True)).rstrip()
        for k in range(depth)
    ]


def _settling(report: Report, width: int) -> list[str]:
    """What would settle each verdict that cannot be told."""
    return [
        _wrapped(f"{d.measurement}, {d.rule.name}: {d.settle}", width, hanging=True)
        for d in (*judging(report), *advising(report))
        if d.settle and d.verdict.value == "cannot tell"
    ]


def _offered(report: Report, width: int) -> list[str]:
    """A block for each measurement that rules are offered for."""
    blocks = []
    for measurement in report.measurements:
        name, meeting = measurement.name, meeting_words(report, measurement.name)
        lines = [
            f"{o.rule.name}, {limit_words(o.rule)} ({o.rule.status}): {offer_words(o)}"
            for o in offered(report, name)
        ]
        title = _wrapped(f"Offered for {meeting}, not judged ({name})", width)
        blocks.append(_listed(title, lines, width))
    return blocks


def _advice(report: Report) -> list[str]:
    """Each advice once, with the measurements it stands beside."""
    beside: dict[str, list[str]] = {}
    for measurement in report.measurements:
        for offer in advised(report, measurement.name):
            text = f"{offer.rule.advice} ({offer.rule.status}; {source_words(offer.rule)})"
            beside.setdefault(text, []).append(measurement.name)
    return [f"{', '.join(names)}: {text}" for text, names in beside.items()]


def _listed(title: str, lines: Sequence[str], width: int) -> str:
    if not lines:
        return ""
    return "\n".join([title, *(_wrapped(f"- {line}", width, hanging=True) for line in lines)])


def _wrapped(text: str, width: int, hanging: bool = False) -> str:
    return textwrap.fill(text, width, subsequent_indent="  " if hanging else "")
