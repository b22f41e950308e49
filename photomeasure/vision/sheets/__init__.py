"""Which printable sheets and cards exist, and how is each laid out?

`sheet(identity)` builds one, `page(identity)` a page of cards; `identities()` names all that
can be seen in a photo, `printed()` all that leaves a printer. A new sheet design is one entry
in DESIGNS.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache
from itertools import product
from string import ascii_uppercase

from photomeasure.errors import JobError
from photomeasure.records.sheet import CheckBar, Page, Sheet
from photomeasure.registry import mean_words
from photomeasure.vision.sheets.cards import CardDesign, PageDesign, lay_out_card, lay_out_page
from photomeasure.vision.sheets.known import known_sheet
from photomeasure.vision.sheets.layout import COPIES, Design, lay_out

# Ids of one block are shared by a design and its turned twin: they differ in arrangement.
DESIGNS: tuple[Design, ...] = (
    Design("window-a4", "A4", False, (23, 33), 8.0, 3, 0, 100),
    Design("window-a4-landscape", "A4", True, (33, 23), 8.0, 3, 0, 100),
    Design("window-letter", "Letter", False, (23, 31), 8.0, 3, 100, 96),
    Design("window-letter-landscape", "Letter", True, (31, 23), 8.0, 3, 100, 96),
    Design("board-a4", "A4", False, (11, 15), 17.0, 0, 200, 82),
    Design("board-a4-landscape", "A4", True, (15, 11), 17.0, 0, 200, 82),
    Design("board-letter", "Letter", False, (11, 15), 16.0, 0, 290, 82),
    Design("board-letter-landscape", "Letter", True, (15, 11), 16.0, 0, 290, 82),
    Design("window-a3", "A3", False, (27, 39), 10.0, 3, 372, 120),
    Design("window-a3-landscape", "A3", True, (39, 27), 10.0, 3, 372, 120),
)

CARDS: tuple[CardDesign, ...] = (
    CardDesign("card-25", 5, 4.4),
    CardDesign("card-50", 7, 6.7),
    CardDesign("card-80", 9, 8.5),
)
_SMALL, _MIDDLE, _LARGE = CARDS
_ROWS = ((_LARGE, 2), (_MIDDLE, 3), (_MIDDLE, 3), (_SMALL, 6))

PAGES: tuple[PageDesign, ...] = (
    PageDesign("cards-a4", "A4", _ROWS),
    PageDesign("cards-letter", "Letter", _ROWS),
)
"""The same cards on either paper: a card does not know which it was cut from."""

PAGE_COPIES = ("A", "B")

_FIRST_CARD_ID = 500  # to 883; each card has ids of its own


def identities() -> tuple[str, ...]:
    """Every sheet and card that can be read from a photo."""
    return (*_sheets(), *_cards())


def cards() -> tuple[Sheet, ...]:
    """Every card that can be read from a photo."""
    return tuple(_cards().values())


def printed() -> tuple[str, ...]:
    """Everything that is printed on one paper with its own check bars."""
    return (*_sheets(), *(f"{p.name}-{c}" for p, c in product(PAGES, PAGE_COPIES)))


@cache
def sheet(identity: str) -> Sheet:
    """The sheet or card with this identity, such as "window-a4-A" or "card-50-C".

    Raises JobError when there is none.
    """
    if identity in _cards():
        return _cards()[identity]
    known = known_sheet(identity)
    if known is not None:
        return known
    name, _, copy = identity.rpartition("-")
    for design in DESIGNS:
        if design.name == name and copy in COPIES:
            return lay_out(design, copy)
    raise JobError(_unknown("sheet or card", identity, identities()))


@cache
def page(identity: str) -> Page:
    """The page of cards with this identity, such as "cards-a4-A".

    Raises JobError when there is none.
    """
    name, _, copy = identity.rpartition("-")
    for design in PAGES:
        if design.name == name and copy in PAGE_COPIES:
            return lay_out_page(design, copy, _cards_on(copy))
    pages = [p for p in printed() if p not in _sheets()]
    raise JobError(_unknown("page of cards", identity, pages))


def bars_of(identity: str) -> tuple[CheckBar, ...]:
    """The check bars of something printed. Raises JobError when there is no such thing."""
    return sheet(identity).bars if identity in _sheets() else page(identity).bars


@cache
def prints_of(identity: str) -> tuple[str, ...]:
    """What a sheet or card may have been printed on: itself, or the pages that carry it."""
    if identity in _sheets():
        return (identity,)
    if identity not in _cards():
        return ()  # a thing of known size was not printed
    copy = next(c for c in PAGE_COPIES if sheet(identity) in _cards_on(c))
    return tuple(f"{design.name}-{copy}" for design in PAGES)


def _unknown(noun: str, identity: str, known: Sequence[str]) -> str:
    return (
        f'There is no {noun} "{identity}".{mean_words(identity, known, most=3)} '
        "`photomeasure sheet` lists the designs and their copies."
    )


@cache
def _sheets() -> tuple[str, ...]:
    return tuple(f"{d.name}-{c}" for d, c in product(DESIGNS, COPIES))


@cache
def _cards() -> dict[str, Sheet]:
    return {card.identity: card for copy in PAGE_COPIES for card in _cards_on(copy)}


@cache
def _cards_on(copy: str) -> tuple[Sheet, ...]:
    """The cards of one copy of the page, with letters and ids that go on from copy to copy."""
    on_page = PAGES[0].cards
    before = PAGE_COPIES.index(copy)
    first_id = _FIRST_CARD_ID + before * sum(len(d.marked) for d in on_page)
    cards = []
    for k, design in enumerate(on_page):
        letter = ascii_uppercase[before * on_page.count(design) + on_page[:k].count(design)]
        cards.append(lay_out_card(design, letter, first_id))
        first_id += len(design.marked)
    return tuple(cards)


__all__ = [
    "CARDS",
    "COPIES",
    "DESIGNS",
    "PAGES",
    "PAGE_COPIES",
    "Design",
    "bars_of",
    "cards",
    "identities",
    "page",
    "printed",
    "prints_of",
    "sheet",
]
