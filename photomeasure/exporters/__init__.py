"""Which formats can a report be turned into? One file each, one line in EXPORTERS.

An exporter turns a Report into bytes, or into several named files; it never touches the
disk. Heavy imports wait until an exporter is used, so that the command line starts fast.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from importlib import import_module

from photomeasure.records.report import Report
from photomeasure.registry import Registry

Rendered = bytes | dict[str, bytes]


@dataclass(frozen=True)
class Exporter:
    """One format. `filename` is the file it makes beside a job, or the folder for several.

    module : where its `render(report)` lives. by_default : made for every job; the
    others when asked for by name.
    """

    name: str
    filename: str
    summary: str
    module: str
    by_default: bool = True

    def render(self, report: Report) -> Rendered:
        """The report as bytes, or file name → bytes where there are several files."""
        function: Callable[[Report], Rendered] = import_module(self.module).render
        return function(report)


EXPORTERS: Registry[Exporter] = Registry(
    "format",
    (
        Exporter(
            "html",
            "report.html",
            "the whole report on one page: offline, no scripts, prints well",
            "photomeasure.exporters.html",
        ),
        Exporter(
            "json",
            "report.json",
            "every number with its uncertainty, for another program",
            "photomeasure.exporters.json",
        ),
        Exporter(
            "csv",
            "report.csv",
            "one line per number, for a spreadsheet",
            "photomeasure.exporters.csv",
        ),
        Exporter(
            "png",
            "stills",
            "annotated stills of 1920 × 1080 px for a video",
            "photomeasure.exporters.png",
            by_default=False,
        ),
    ),
)

__all__ = ["EXPORTERS", "Exporter", "Rendered"]
