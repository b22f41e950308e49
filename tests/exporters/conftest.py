"""The made-up report, built once: its pictures take most of a second."""

import pytest
from mill_report import build_report

from photomeasure.records.report import Report


@pytest.fixture(scope="session")
def report() -> Report:
    return build_report(0.15)
