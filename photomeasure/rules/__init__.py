"""Does a measured number obey a rule? Rules with their sources, decisions, cautions."""

from __future__ import annotations

from photomeasure.records.job import Rule
from photomeasure.registry import Registry
from photomeasure.rules.library import read_library

RULES: Registry[Rule] = Registry("rule", read_library())
"""The rules that come with the program; a job may bring its own beside them."""
