"""What was seen in photos before measuring, for a terminal and for another program."""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from dataclasses import asdict
from textwrap import wrap
from typing import Any

from photomeasure.records.check import Finding, Fitness, Improvement, PhotoCheck, TargetCheck

_MARKS = {Fitness.MEASURE: " ", Fitness.WITH_CARE: "!", Fitness.RETAKE: "✗"}
_NARROWEST = 50


def render_checks(checks: Sequence[PhotoCheck], columns: int = 80) -> str:
    """A block a photo: verdict, targets, findings worst first, what would be better."""
    width = max(columns, _NARROWEST)
    blocks = ["\n".join(_block(check, width)) for check in checks]
    return "\n\n".join(blocks)


def _block(check: PhotoCheck, width: int) -> Iterator[str]:
    yield f"{check.photo}: {check.verdict.value}"
    for target in check.targets:
        yield from _target(target, width)
    for finding in check.findings:
        yield from _hanging(f"  {_MARKS[finding.fitness]} ", finding.words, width)
    if check.improvements:
        yield "  A 100 mm length would be surer:"
        for better in check.improvements:
            yield from _hanging("    ", improvement_words(better), width)


def improvement_words(better: Improvement) -> str:
    """What to do, and U before and after: "step closer: ± 0.12 → ± 0.07 mm"."""
    return f"{better.words}: ± {better.before_mm:.2f} → ± {better.after_mm:.2f} mm"


def _target(target: TargetCheck, width: int) -> Iterator[str]:
    facts = [
        f"{target.found} of {target.expected} corners",
        f"{target.px_per_mm:.1f} px/mm",
        f"tilt {target.tilt_deg:.0f}°",
        f"{target.distance_mm:.0f} mm away",
    ]
    if target.sharpness:
        facts.append(f"blur {target.sharpness.blur_px:.1f} px")
    yield from _hanging(f"  {target.sheet}: ", ", ".join(facts), width)
    read = ""
    if target.length_u_bars_mm < 0.995 * target.length_u_mm:
        read = f", ± {target.length_u_bars_mm:.2f} mm once its bars are measured"
    words = f"a 100 mm length there: ± {target.length_u_mm:.2f} mm{read}"
    yield from _hanging("    ", words, width)


def _hanging(head: str, words: str, width: int) -> list[str]:
    return wrap(words, width, initial_indent=head, subsequent_indent=" " * min(len(head), 4))


def render_checks_json(checks: Sequence[PhotoCheck]) -> bytes:
    """The same as JSON; `verdict` and every finding's are "measure", "measure with care" or
    "take it again"."""
    document = {"format": 1, "photos": [_plain(check) for check in checks]}
    return (json.dumps(document, indent=1, ensure_ascii=False, allow_nan=False) + "\n").encode()


def _plain(check: PhotoCheck) -> dict[str, Any]:
    return {
        "photo": check.photo,
        "verdict": check.verdict.value,
        "size_px": check.size_px,
        "targets": [asdict(target) for target in check.targets],
        "findings": [_plain_finding(finding) for finding in check.findings],
        "improvements": [
            {**asdict(better), "text": improvement_words(better)} for better in check.improvements
        ],
    }


def _plain_finding(finding: Finding) -> dict[str, str]:
    return {"about": finding.about, "verdict": finding.fitness.value, "text": finding.words}
