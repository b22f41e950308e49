"""Every number of a report as one line of a comma-separated table."""

from __future__ import annotations

import csv
import io

from photomeasure.exporters.words import (
    caution_words,
    check_words,
    coverage_words,
    decisions_of,
    hand_words,
    limit_words,
    offer_words,
    offered,
    verdict_words,
)
from photomeasure.records.report import Measurement, Quantity, Report

COLUMNS = (
    "measurement",
    "kind",
    "source",
    "quantity",
    "primary",
    "value",
    "unit",
    "U",
    "u",
    "interval_low",
    "interval_high",
    "coverage",
    "rules",
    "limits",
    "verdicts",
    "probabilities",
    "offered",
    "remarks",
    "doubts",
    "checks",
    "cautions",
    "position",
    "job",
)


def render(report: Report) -> bytes:
    """UTF-8, a header line, then one line per quantity; lengths in mm, angles in deg.

    Where several rules judge one number they stand in one cell, parted by "; ". Remarks stand
    on the line of the number asked for, a caliper check on that of the number checked. A check
    that disagrees throws doubt on all numbers and stands on every line. Numbers have six digits,
    far more than their U deserves; the JSON has all of them. What could not be measured has a line
    with the reason and no number.
    """
    out = io.StringIO(newline="")
    writer = csv.DictWriter(out, COLUMNS)
    writer.writeheader()
    for measurement in report.measurements:
        for quantity in measurement.quantities:
            writer.writerow(_row(measurement, quantity, report))
    for name in report.lost:
        writer.writerow(_lost(name, report))
    return out.getvalue().encode("utf-8")


def _row(measurement: Measurement, quantity: Quantity, report: Report) -> dict[str, object]:
    decisions = decisions_of(quantity, report)
    return {
        "measurement": _text(measurement.name),
        "kind": measurement.kind,
        "source": _text(hand_words(measurement) or "photo"),
        "quantity": quantity.name,
        "primary": "yes" if quantity.primary else "no",
        "value": _number(quantity.value),
        "unit": quantity.unit,
        "U": _number(quantity.expanded),
        "u": _number(quantity.u),
        "interval_low": _number(quantity.interval[0]),
        "interval_high": _number(quantity.interval[1]),
        "coverage": coverage_words(quantity),
        "rules": _text("; ".join(d.rule.name for d in decisions)),
        "limits": "; ".join(limit_words(d.rule) for d in decisions),
        "verdicts": "; ".join(verdict_words(d) for d in decisions),
        "probabilities": "; ".join(f"{d.probability:.4f}" for d in decisions),
        "offered": _text("; ".join(_offers(quantity, report))),
        "remarks": _text(" ".join(measurement.remarks)) if quantity.primary else "",
        "doubts": " ".join(d.short for d in report.doubts.get(measurement.name, ())),
        "checks": _text(" ".join(_checks(quantity, report))),
        "cautions": caution_words(report),
        "position": _text(report.job.position),
        "job": _text(report.job.title),
    }


def _lost(name: str, report: Report) -> dict[str, object]:
    """A line without a number, so that a spreadsheet misses nothing either."""
    why = " ".join(m.words for m in report.missing if name in m.measurements)
    return {
        "measurement": _text(name),
        "source": "not measured",
        "remarks": _text(" ".join(why.split())),
        "cautions": caution_words(report),
        "position": _text(report.job.position),
        "job": _text(report.job.title),
    }


def _offers(quantity: Quantity, report: Report) -> list[str]:
    """The rules offered for a number and how each would come out."""
    return [
        f"{o.rule.name}: {offer_words(o)}"
        for o in offered(report, quantity.measurement)
        if quantity.name in (o.rule.quantity, *o.rule.also)
    ]


def _checks(quantity: Quantity, report: Report) -> list[str]:
    """Each check that disagrees, whatever it checks, and those on this number that agree."""
    checked = (quantity.measurement, quantity.name)
    return [
        check_words(c, report)
        for c in report.checks
        if not c.agrees or (c.entry.measurement, c.quantity) == checked
    ]


def _number(value: float) -> str:
    """Six digits, and none below a nanometre, where a difference leaves only noise."""
    return f"{round(value, 6) + 0.0:.6g}"


def _text(words: str) -> str:
    """Words that a spreadsheet does not take for a formula."""
    return f"'{words}" if words[:1] in ("=", "+", "-", "@", "\t", "\r") else words
