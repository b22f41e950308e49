"""Which thread has this pitch? Where two systems come close, both are said."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cache
from itertools import groupby, pairwise

from photomeasure.rules.tables import TABLES
from photomeasure.uncertainty.notation import MM_PER_INCH, format_length

_SMALLEST_OUTSIDE = 0.94
"""A bolt's crests stand at least at this share of its nominal diameter (a judgement that
covers the 6g limits of ISO 965-1 and the 2A limits of ASME B1.1 from M2 up, from memory)."""

_MOST_NAMED = 4


@dataclass(frozen=True)
class Thread:
    """One thread: its name, outside diameter and pitch; `pitch_words` as its system says it."""

    name: str
    diameter_mm: float
    pitch_mm: float
    pitch_words: str


@cache
def threads() -> tuple[Thread, ...]:
    """All threads that are built in, by pitch."""
    return tuple(sorted((*_metric(), *_unified()), key=lambda t: (t.pitch_mm, t.pitch_words)))


def fitting_threads(
    pitch_mm: float,
    expanded_mm: float,
    outside_mm: float | None = None,
    outside_expanded_mm: float = 0.0,
) -> tuple[Thread, ...]:
    """The threads whose pitch, and outside diameter where one is known, can be this.

    Both expanded uncertainties widen what fits.
    """
    return tuple(
        t
        for t in threads()
        if abs(t.pitch_mm - pitch_mm) <= expanded_mm + 1e-9
        and (outside_mm is None or _can_measure(t, outside_mm, outside_expanded_mm))
    )


def thread_remark(
    pitch_mm: float,
    expanded_mm: float,
    outside_mm: float | None = None,
    outside_expanded_mm: float = 0.0,
) -> str:
    """What thread a measured pitch could be, and what would decide between two."""
    figure = f"A pitch of {format_length(pitch_mm, expanded_mm)}"
    if outside_mm is not None:
        figure += f" and an outside diameter of {_outside_words(outside_mm, outside_expanded_mm)}"
    found = fitting_threads(pitch_mm, expanded_mm, outside_mm, outside_expanded_mm)
    if not found:
        return f"{figure}: no thread of the tables fits; the nearest are {_nearest(pitch_mm)}."
    pitches = _by_pitch(found)
    listed = "; ".join(f"{words} ({_names(group)})" for words, group in pitches)
    if len(pitches) == 1:
        return f"{figure}: {listed}."
    return f"{figure}: undecided between {listed}. {_deciding(pitches, outside_mm)}"


def _deciding(pitches: Sequence[tuple[str, list[Thread]]], outside_mm: float | None) -> str:
    steps = sorted({group[0].pitch_mm for _, group in pitches})
    closest = min(b - a for a, b in pairwise(steps))
    share = 100 * closest / steps[0]
    more = "Measure over more crests" if outside_mm is not None else "State the outside diameter"
    return f"They differ by {closest:.3f} mm, {share:.1f} %. {more}."


def _by_pitch(found: Sequence[Thread]) -> list[tuple[str, list[Thread]]]:
    groups = groupby(found, key=lambda thread: thread.pitch_words)
    return [(words, list(group)) for words, group in groups]


def _names(group: Sequence[Thread]) -> str:
    names = [thread.name for thread in sorted(group, key=lambda t: t.diameter_mm)]
    more = f" and {len(names) - _MOST_NAMED} more" if len(names) > _MOST_NAMED else ""
    return ", ".join(names[:_MOST_NAMED]) + more


def _nearest(pitch_mm: float) -> str:
    below = [t for t in threads() if t.pitch_mm < pitch_mm][-1:]
    above = [t for t in threads() if t.pitch_mm > pitch_mm][:1]
    return " and ".join(t.pitch_words for t in (*below, *above))


def _outside_words(outside_mm: float, expanded_mm: float) -> str:
    return format_length(outside_mm, expanded_mm) if expanded_mm else f"{outside_mm:g} mm"


def _can_measure(thread: Thread, outside_mm: float, expanded_mm: float) -> bool:
    least, most = _SMALLEST_OUTSIDE * thread.diameter_mm, thread.diameter_mm
    return least - expanded_mm <= outside_mm <= most + expanded_mm


def _metric() -> Iterator[Thread]:
    for name, diameter, coarse, fine in TABLES["iso-261"].rows:
        assert isinstance(fine, tuple)
        for pitch in (float(str(coarse)), *fine):
            full = f"{name}×{pitch:g}"
            yield Thread(full, float(str(diameter)), pitch, f"{pitch:g} mm")


def _unified() -> Iterator[Thread]:
    for name, diameter, coarse, fine in TABLES["asme-b1-1"].rows:
        for series, per_inch in (("UNC", coarse), ("UNF", fine)):
            pitch_mm = MM_PER_INCH / float(str(per_inch))
            words = f"{per_inch} threads per inch, {pitch_mm:.3f} mm"
            size = float(str(diameter)) * MM_PER_INCH
            yield Thread(f"{name}-{per_inch} {series}", size, pitch_mm, words)
