"""How do the built-in rules and tables read, on a terminal and as a page?"""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Sequence

from photomeasure.exporters.words import limit_words, source_words, standing_words
from photomeasure.records.job import Rule
from photomeasure.rules import LIBRARY
from photomeasure.rules.tables import TABLES, Cell, Table

_NAME, _LIMIT, _STATUS = 35, 31, 10
_FACT = 11

CAN_FAIL = "* can fail a job; every other rule advises."

_PAGE_HEAD = """# Rules and tables that come with the program

This page is written by `photomeasure rules --to docs/rules.md`. A rule is text: a limit, when it
holds, why, where it comes from. Only a law, a standard or your own rule can fail a job, and only
where its figure was checked; the others advise. A rule in words judges nothing: it is shown
beside the numbers it belongs to. What was not read in full says so. Local codes and licensed
practice come first.
"""


def render_rule_list(rules: Iterable[Rule]) -> str:
    """The rules under the titles of their subjects, in 80 columns; "" for none."""
    wanted = {rule.name: rule for rule in rules}
    blocks = []
    for subject in LIBRARY:
        mine = [wanted[rule.name] for rule in subject.rules if rule.name in wanted]
        if mine:
            blocks.append("\n".join([subject.title, *(_rule_lines(rule) for rule in mine)]))
    return "\n\n".join(blocks)


def render_rule(rule: Rule) -> str:
    """One rule in full, in 80 columns."""
    between = "; ".join(" and ".join(things) for things in rule.between)
    facts = {
        "Limit": f"{_quantity(rule)} {limit_words(rule)}" if rule.judges else "",
        "Advice": rule.advice,
        "Holds for": rule.condition,
        "Why": rule.why,
        "Source": source_words(rule),
        "Standing": standing_words(rule),
        "Between": between,
        "Needs": _needs_words(rule),
    }
    lines = [_fact(key, value) for key, value in facts.items() if value]
    return "\n".join([rule.name, *lines])


def render_table_list() -> str:
    """The tables, one line each and its source below, in 80 columns."""
    lines = (f"{t.name:18}{t.title}\n{'':18}{t.source}; {t.edition}" for t in TABLES)
    return "\n".join(_wrapped(line, 18) for pair in lines for line in pair.split("\n"))


def render_table_text(table: Table) -> str:
    """One table with its source, in 80 columns."""
    rows = [table.columns, *(tuple(map(_cell, row)) for row in table.rows)]
    widths = [max(len(row[k]) for row in rows) for k in range(len(table.columns))]
    lines = [
        "  ".join(c.ljust(w) for c, w in zip(row, widths, strict=True)).rstrip() for row in rows
    ]
    head = [f"{table.title}, {table.unit}", f"{table.source}, {table.edition}", ""]
    rule = "-" * (sum(widths) + 2 * (len(widths) - 1))
    return "\n".join(
        [*(_wrapped(h, 2) for h in head), lines[0], rule, *lines[1:], "", _wrapped(table.note, 2)]
    )


def render_rules_page() -> bytes:
    """The whole library and all tables as one Markdown page, UTF-8."""
    parts = [_PAGE_HEAD]
    for subject in LIBRARY:
        head = ("rule", "limit or advice", "holds for", "why", "source", "standing")
        rows = [_page_row(rule) for rule in subject.rules]
        parts.append(f"## {subject.title}\n\n{_markdown(head, rows)}")
    for table in TABLES:
        body = _markdown(table.columns, [tuple(map(_cell, row)) for row in table.rows])
        source = f"`{table.name}`, in {table.unit}. Source: {table.source}, {table.edition}."
        parts.append(f"## {table.title}\n\n{source} {table.note}\n\n{body}")
    return "\n".join(parts).encode("utf-8")


def _page_row(rule: Rule) -> tuple[str, ...]:
    limit = f"{_quantity(rule)} {limit_words(rule)}" if rule.judges else rule.advice
    facts = (rule.condition, rule.why, source_words(rule), standing_words(rule))
    return (f"`{rule.name}`", limit, *facts)


def _markdown(head: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    lines = [head, ["---"] * len(head), *rows]
    return "".join(f"| {' | '.join(line)} |\n" for line in lines)


def _rule_lines(rule: Rule) -> str:
    limit = f"{_quantity(rule)} {limit_words(rule)}" if rule.judges else "in words"
    status = f"{rule.status}{' *' if rule.can_fail else ''}"
    first, *more = textwrap.wrap(limit, _LIMIT)
    lines = [f"  {rule.name:{_NAME}} {first:{_LIMIT}} {status}".rstrip()]
    return "\n".join([*lines, *(f"  {'':{_NAME}} {line}" for line in more)])


def _quantity(rule: Rule) -> str:
    return rule.quantity.replace("_", " ")


def _needs_words(rule: Rule) -> str:
    sizes = [name for name in (rule.of, rule.beyond) if name]
    if not sizes:
        return ""
    stated = ", ".join(f'"{name}" = …' for name in sizes)
    return f"sizes = {{ {stated} }} in the measurement, unless it measures them itself"


def _fact(key: str, value: str) -> str:
    return textwrap.fill(f"  {key:{_FACT}}{value}", 79, subsequent_indent=" " * (_FACT + 2))


def _wrapped(line: str, indent: int) -> str:
    return textwrap.fill(line, 79, subsequent_indent=" " * indent)


def _cell(cell: Cell) -> str:
    if isinstance(cell, tuple):
        return ", ".join(f"{number:g}" for number in cell)
    return cell if isinstance(cell, str) else f"{cell:g}"
