"""Does a measured number obey a rule? Rules with their sources, decisions, cautions."""

from __future__ import annotations

from photomeasure.records.job import Rule
from photomeasure.registry import Registry
from photomeasure.rules.library import Subject, read_library

LIBRARY: tuple[Subject, ...] = read_library()
"""The rules that come with the program, by subject."""

RULES: Registry[Rule] = Registry(
    "rule", [rule for part in LIBRARY for rule in part.rules], "photomeasure rules"
)
"""The same rules by name; a job may bring its own beside them or in their place."""
