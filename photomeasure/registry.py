"""Look a thing up by its name: measurement kinds, exporters, rules, sheets.

A registry is made once from an explicit tuple; nothing registers itself on import.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from difflib import get_close_matches
from typing import Generic, Protocol, TypeVar

from photomeasure.errors import JobError


class Named(Protocol):
    """Anything with a name."""

    @property
    def name(self) -> str:
        """What it is looked up by."""


T = TypeVar("T", bound=Named)


class Registry(Generic[T]):
    """An ordered, read-only collection of named things.

    Raises ValueError on a duplicate name (a programming error) and JobError on an
    unknown one (a user's), with the known names and the nearest one.
    """

    def __init__(self, noun: str, items: Iterable[T], listed_by: str = "") -> None:
        """listed_by : the command that lists them, where a message could not name them all."""
        self.noun = noun
        self.listed_by = listed_by
        self._items: dict[str, T] = {}
        for item in items:
            if item.name in self._items:
                raise ValueError(f"Two {noun}s are called {item.name!r}.")
            self._items[item.name] = item

    def __getitem__(self, name: str) -> T:
        if name in self._items:
            return self._items[name]
        raise JobError(
            f'There is no {self.noun} called "{name}".{mean_words(name, self._items)} '
            f"{self._known()}"
        )

    def __contains__(self, name: object) -> bool:
        return name in self._items

    def __iter__(self) -> Iterator[T]:
        return iter(self._items.values())

    def __len__(self) -> int:
        return len(self._items)

    def _known(self) -> str:
        if self.listed_by:
            return f"`{self.listed_by}` lists all {len(self)}."
        return f"Known: {', '.join(self._items)}."

    @property
    def names(self) -> tuple[str, ...]:
        """The known names, in order of registration."""
        return tuple(self._items)


def mean_words(name: str, known: Iterable[str], most: int = 1) -> str:
    """A question after up to `most` of the known names that are nearest; else empty."""
    by_plain = {each.lower(): each for each in known}
    typed = name.lower()
    near = get_close_matches(typed, by_plain, n=most)
    if not near and len(typed) > 1:
        near = [plain for plain in by_plain if typed in plain][:most]
    found = [f'"{by_plain[plain]}"' for plain in near]
    return f" Did you mean {' or '.join(found)}?" if found else ""
