"""Which printed markers are in the picture, roughly where, and which sheet or card are they from?

Markers only name the squares; nothing is measured at their corners, which tone curve and
sharpening displace. Those of a sheet are found best in a reduced copy, those of a small card
only in the full picture, so both are looked at.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache

import cv2
import numpy as np
from numpy.typing import NDArray

from photomeasure.records.sheet import Sheet
from photomeasure.vision.sheets import COPIES, DESIGNS, cards, sheet
from photomeasure.vision.sheets.layout import DICTIONARY

Array = NDArray[np.float64]
Grey = NDArray[np.uint8]

LONG_SIDES_PX = (2048, 4096)  # copies in which markers are sought
LEAST_MARKERS = 4  # fewer name no sheet: its ids are shared by several
LEAST_OF_A_CARD = 3  # its ids are its own, but each of its markers needs two that vote for it
_INLIER_MARKER_SIDES = 0.35
_VOTERS, _VOTES = 6, 2  # another copy in the picture has markers of the same ids


@dataclass(frozen=True, eq=False)
class FoundMarkers:
    """ids : (N,); corners_px : (N, 4, 2) in the full picture."""

    ids: NDArray[np.intp]
    corners_px: Array

    def only(self, which: NDArray[np.bool_]) -> FoundMarkers:
        """Some of them; which : (N,)."""
        return FoundMarkers(self.ids[which], self.corners_px[which])


@dataclass(frozen=True, eq=False)
class IdentifiedSheet:
    """A sheet and those of its markers that fit it.

    corners_mm, corners_px : (N, 4, 2).
    """

    sheet: Sheet
    corners_mm: Array
    corners_px: Array


def detect_markers(grey: Grey) -> FoundMarkers:
    """All markers of our sheets and cards in a grey picture (H, W), each once."""
    scales = sorted({min(1.0, long_side / max(grey.shape)) for long_side in LONG_SIDES_PX})
    found = _detect_at(grey, scales[-1], np.unique(np.concatenate(_blocks())))
    for scale in scales[:-1]:
        found = _joined(found, _detect_at(grey, scale, _worth_seeking(found)))
    return found


def identify_sheets(found: FoundMarkers) -> tuple[IdentifiedSheet, ...]:
    """The sheets and cards whose arrangement the markers follow, best first.

    Two prints of one sheet or card come out as that one twice.
    """
    sheets: list[IdentifiedSheet] = []
    for first_id, count in sorted({(d.first_id, d.count) for d in DESIGNS}):
        mine = (found.ids >= first_id) & (found.ids < first_id + count)
        sheets += _sheets_of_block(first_id, found.only(mine))
    for card in _cards_glimpsed(found):
        sheets += _prints_of_card(card, _of_card(card, found))
    return tuple(sorted(sheets, key=lambda s: -len(s.corners_px)))


def glimpsed_cards(found: FoundMarkers) -> dict[str, float]:
    """Cards of which at least one marker was read, and the side of a square there in px.

    One marker names no card: it may be misread. This is only good for telling what to do.
    """
    sides = {}
    for card in _cards_glimpsed(found):
        corners = _of_card(card, found).corners_px
        marker_px = np.linalg.norm(corners - np.roll(corners, 1, axis=1), axis=2)
        marker_mm = float(np.ptp(card.markers[0].corners_mm[:, 0]))
        sides[card.identity] = float(np.median(marker_px)) / marker_mm * card.square_mm
    return sides


def _cards_glimpsed(found: FoundMarkers) -> list[Sheet]:
    seen = set(found.ids.tolist())
    return [card for card in cards() if seen & {m.id for m in card.markers}]


def _of_card(card: Sheet, found: FoundMarkers) -> FoundMarkers:
    return found.only(np.isin(found.ids, [m.id for m in card.markers]))


def _prints_of_card(card: Sheet, block: FoundMarkers) -> Iterator[IdentifiedSheet]:
    """The card, once for each print of it that is seen."""
    while len(block.ids) >= LEAST_OF_A_CARD:
        fits = _fitting(card, block)
        if fits.sum() < LEAST_OF_A_CARD:
            return
        own = block.only(fits)
        yield IdentifiedSheet(card, _corners_mm(card, own), own.corners_px)
        block = block.only(~fits)


def _sheets_of_block(first_id: int, block: FoundMarkers) -> Iterator[IdentifiedSheet]:
    """Copies of a design and its turned twin share ids: the best is taken out, then the next."""
    if len(block.ids) < LEAST_MARKERS:
        return  # before sheets are laid out
    candidates = [sheet(i) for i in _identities_of(first_id)]
    while len(block.ids) >= LEAST_MARKERS and candidates:
        fits = [_fitting(candidate, block) for candidate in candidates]
        best = max(range(len(candidates)), key=lambda k: int(fits[k].sum()))
        if fits[best].sum() < LEAST_MARKERS:
            return
        own = block.only(fits[best])
        yield IdentifiedSheet(candidates[best], _corners_mm(candidates[best], own), own.corners_px)
        block = block.only(~fits[best])
        if not set(own.ids) & set(block.ids):  # else it may be there twice
            del candidates[best]


def _joined(finer: FoundMarkers, coarser: FoundMarkers) -> FoundMarkers:
    """All markers of both; one that both have is taken from the finer copy."""
    centres = finer.corners_px.mean(axis=1)
    new = [
        not np.any(
            (finer.ids == identifier)
            & (np.linalg.norm(centres - corners.mean(axis=0), axis=1) < np.ptp(corners[:, 0]))
        )
        for identifier, corners in zip(coarser.ids, coarser.corners_px, strict=True)
    ]
    more = coarser.only(np.array(new, bool))
    return FoundMarkers(
        np.concatenate([finer.ids, more.ids]), np.concatenate([finer.corners_px, more.corners_px])
    )


@cache
def _blocks() -> tuple[NDArray[np.intp], ...]:
    """Ids that are printed together: of each design, and of each card."""
    sheets = [np.arange(d.first_id, d.first_id + d.count) for d in DESIGNS]
    return (*sheets, *(np.array([m.id for m in card.markers]) for card in cards()))


def _worth_seeking(found: FoundMarkers) -> NDArray[np.intp]:
    """Ids of what was glimpsed, or all while nothing is sure.

    Every shape that could be a marker is compared with every id, which takes most of the time.
    """
    glimpsed = [block for block in _blocks() if np.isin(block, found.ids).any()]
    sure = any(np.isin(block, found.ids).sum() >= LEAST_MARKERS for block in glimpsed)
    return np.unique(np.concatenate(glimpsed if sure else _blocks()))


def _detect_at(grey: Grey, scale: float, ids: NDArray[np.intp]) -> FoundMarkers:
    """Those of the given ids that are seen in a copy of the picture."""
    small = (
        grey
        if scale == 1.0
        else cv2.resize(grey, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA)
    )
    parameters = cv2.aruco.DetectorParameters()
    parameters.cornerRefinementMethod = cv2.aruco.CORNER_REFINE_NONE
    parameters.minMarkerPerimeterRate = 0.015
    # Two threshold windows, fine and coarse, find what the default's three do, faster.
    parameters.adaptiveThreshWinSizeMin = 5
    parameters.adaptiveThreshWinSizeMax = 21
    parameters.adaptiveThreshWinSizeStep = 16
    whole = cv2.aruco.getPredefinedDictionary(DICTIONARY)
    few = cv2.aruco.Dictionary(whole.bytesList[ids], whole.markerSize, whole.maxCorrectionBits)
    corners, which, _ = cv2.aruco.ArucoDetector(few, parameters).detectMarkers(small)
    if which is None or len(which) == 0:
        return FoundMarkers(np.empty(0, np.intp), np.empty((0, 4, 2)))
    stacked = np.asarray(corners, float).reshape(-1, 4, 2)
    # Reducing by area keeps pixel edges in place, not pixel centres.
    return FoundMarkers(ids[np.ravel(which)], (stacked + 0.5) / scale - 0.5)


def _identities_of(first_id: int) -> list[str]:
    return [f"{d.name}-{c}" for d in DESIGNS if d.first_id == first_id for c in COPIES]


def _corners_mm(candidate: Sheet, block: FoundMarkers) -> Array:
    """(N, 4, 2) where this candidate has the markers found."""
    place = {m.id: m.corners_mm for m in candidate.markers}
    return np.array([place[int(i)] for i in block.ids])


def _fitting(candidate: Sheet, block: FoundMarkers) -> NDArray[np.bool_]:
    """(N,) the markers of one print that lie where this candidate's arrangement puts them.

    Judged locally, because a lens bends the picture: a marker fits when two of the markers
    next to it in the arrangement, by their own outlines, predict its centre.
    """
    corners_mm = _corners_mm(candidate, block)
    centres_mm, centres_px = corners_mm.mean(axis=1), block.corners_px.mean(axis=1)
    offsets_mm = corners_mm - centres_mm[:, None]
    px_per_mm = np.linalg.pinv(offsets_mm) @ (block.corners_px - centres_px[:, None])
    side_mm = float(np.ptp(offsets_mm[0][:, 0]))
    apart = np.linalg.norm(centres_mm[:, None] - centres_mm[None], axis=2)
    np.fill_diagonal(apart, np.inf)
    near = np.argsort(apart, axis=1)[:, :_VOTERS]
    steps_mm = centres_mm[:, None] - centres_mm[near]
    guess_px = centres_px[near] + np.einsum("kni,knij->knj", steps_mm, px_per_mm[near])
    side_px = np.sqrt(np.abs(np.linalg.det(px_per_mm)))[near] * side_mm
    reach = np.maximum(1.0, np.linalg.norm(steps_mm, axis=2) / side_mm / 3)
    miss_px = np.linalg.norm(guess_px - centres_px[:, None], axis=2)
    votes = miss_px < _INLIER_MARKER_SIDES * side_px * reach
    fits = np.asarray(votes.sum(axis=1) >= _VOTES)
    if len(set(block.ids[fits])) == fits.sum():
        return fits
    return fits & _largest_group(near, votes)


def _largest_group(near: NDArray[np.intp], votes: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """(N,) the largest group held together by votes: of two prints of one sheet, each votes
    for its own markers only. near, votes : (N, K) which others predict a marker, and do."""
    from scipy.sparse import coo_array  # slow to import, and only two prints of one need it
    from scipy.sparse.csgraph import connected_components

    voter, voted = np.nonzero(votes)[0], near[votes]
    links = coo_array((np.ones(len(voter)), (voter, voted)), shape=(len(near),) * 2)
    _, group = connected_components(links, directed=False)
    return np.asarray(group == np.bincount(group).argmax())
