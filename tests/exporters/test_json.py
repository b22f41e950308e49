"""The JSON of a report."""

import json
import re
from dataclasses import replace

import pytest

from photomeasure.errors import ExportError
from photomeasure.exporters import EXPORTERS
from photomeasure.exporters.json import KEYS, render
from photomeasure.records.report import Doubt, Missing

DOUBTS = {"Drive pin hole": (Doubt("Flat?", "As on the paper.", "height", ("pin",)),)}
MISSING = (Missing("side: no scale sheet was found. Show it.", ("Rear bore", "Rear gap")),)


@pytest.fixture(scope="module")
def document(report):
    def refuse(word):
        raise AssertionError(f"{word} is not JSON")

    report = replace(report, doubts=DOUBTS, missing=MISSING)
    return json.loads(EXPORTERS["json"].render(report), parse_constant=refuse)


def _paths(value, path=""):
    if isinstance(value, dict):
        for key, item in value.items():
            yield from _paths(item, f"{path}.{key}" if path else key)
    elif isinstance(value, list):
        for item in value:
            yield from _paths(item, f"{path}[]")
    else:
        yield path


def test_numbers_come_back_bit_for_bit(document, report):
    """Value, u, U, interval and budget read from the file equal those of the report."""
    for measurement, written in zip(report.measurements, document["measurements"], strict=True):
        for quantity, read in zip(measurement.quantities, written["quantities"], strict=True):
            assert read["value"] == quantity.value
            assert read["u"] == quantity.u
            assert read["U"] == quantity.expanded
            assert tuple(read["interval"]) == quantity.interval
            assert read["budget"] == quantity.budget


def test_decisions_and_checks_are_those_of_the_report(document, report):
    """Verdicts, probabilities and E_n are carried over, and the worst verdict stands on top."""
    assert document["verdict"] == "does not conform"
    read = [(d["verdict"], d["probability"]) for d in document["decisions"]]
    assert read == [(d.verdict.value, d.probability) for d in report.decisions]
    assert document["decisions"][3]["words"] == "advice: not met"
    assert [c["e_n"] for c in document["checks"]] == [c.e_n for c in report.checks]


def test_doubts_and_what_could_not_be_measured_are_written(document):
    """Each doubt stands with its number, each reason with the measurements that it cost."""
    (told,) = [m["doubts"] for m in document["measurements"] if m["doubts"]]
    assert told == [
        {"short": "Flat?", "words": "As on the paper.", "mend": "height", "features": ["pin"]}
    ]
    (missing,) = document["missing"]
    assert missing["measurements"] == ["Rear bore", "Rear gap"]
    assert missing["words"].startswith("side: no scale sheet")


def test_every_key_is_documented_and_every_documented_key_is_used(document):
    """KEYS and the document name the same keys."""
    patterns = {re.escape(k).replace(r"\.\*", r"\.[^.\[]+"): k for k in KEYS}
    used = set()
    for path in set(_paths(document)):
        matches = [k for pattern, k in patterns.items() if re.fullmatch(pattern, path)]
        assert matches, f"{path} is not documented"
        used.update(matches)
    assert set(KEYS) - used == set()


def test_features_state_their_standard_uncertainty(document):
    """A feature's u is the root of the summed variances of all sources: √(0.01² + 0.01²/4)."""
    assert document["features"][0]["u_mm"] == pytest.approx([0.0111803] * 3, rel=1e-5)


def test_a_number_that_is_not_finite_is_refused(report):
    """NaN in a quantity raises an ExportError that names its key."""
    first = report.measurements[0]
    broken = replace(first, quantities=(replace(first.quantities[0], value=float("nan")),))
    bad = replace(report, measurements=(broken, *report.measurements[1:]))
    with pytest.raises(ExportError, match=r"measurements\[0\]\.quantities\[0\]\.value is nan"):
        render(bad)
