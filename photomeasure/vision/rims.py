"""Of several edges side by side, which one lies on the plane that was stated?

A thick part shows two: the edge of its face, and the foot of its wall on the sheet, told
apart by geometry (see `walls`), not by brightness. A chamfer shows two edges: the one on
the face is meant, the lower one is offered. Where only the lower one can be seen, its
height over the foot says how far below the face it lies.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from photomeasure.vision.band import Band
from photomeasure.vision.faces import FaceEnd, can_be_judged, face_end
from photomeasure.vision.ridges import Ridge
from photomeasure.vision.walls import (
    APART_PX,
    height_doubt,
    height_over_foot,
    is_lone_foot,
    stands_under,
    wall_px,
)

Array = NDArray[np.float64]

_REACH_PX = 8.0  # how far from the clicks an edge is still likely
_ON_CLICKS_PX, _OFF_CLICKS_PX = 3.0, 9.0  # clicks that can only mean the nearer edge
_WORTH_MENTIONING = 0.2
_CHAMFER_MM = 2.2
_CHAMFER_MISS_PX = 1.4
_CHAMFER_MISS_FEET = 0.06  # a circle moved far from its path is no longer quite linear in it
_FACE_SHARE = 0.5
_LINE_SHARE = 0.4  # of the places must show a line that tells which face was meant
_DEEPEST_CHAMFER = 0.65  # of the height; a foot higher than this belongs to something else
_TELLING = 0.3  # of the sharpest change: less may go either way
_CLICKS_PX, _PAPER_DOUBT, _FOOT_BONUS = 4.0, 2.0, 3.0
_UNSEEN_WALL = 1.5  # against a side whose wall ought to be seen, and shows no second edge
_NO_LINE = 1.0  # against a face that ends without a line of change, as before a shadow
_LINE_BONUS = 2.0  # for a line where the foot of a wall too narrow to be told must lie
_NEAR_PX = 3.0  # a face that ends without a line ends so near to the line that bounds it
_FAINTEST = 2.5  # log of a ratio of changes: fainter than that says no more
_SAME_PX = 1.3  # lines nearer than this on the mean are one
_PAPER = 0.72  # of the paper's light: brighter outside than this, and it is the paper


@dataclass(frozen=True, eq=False)
class Answer:
    """One edge that fits: its line (M,), what it probably is, how likely.

    depth : how far below the stated plane it lies, as a share of the plane's height: 0 on
    the plane, 1 on the sheet. material : +1 where the part lies outwards, -1 inwards.
    beside_wall : whether the wall begins at it; a chamfer or nothing may come between.
    confirmed : whether its foot stands where the stated height puts it. either_side : whether
    the part may as well lie on the other side.
    """

    line_px: Array
    words: str
    likelihood: float
    depth: float
    material: int
    beside_wall: bool
    confirmed: bool
    ridge: Ridge
    either_side: bool = False


def answers(band: Band, ridges: tuple[Ridge, ...], paper: float) -> tuple[Answer, ...]:
    """The edges found, the one meant first, the others that fit after it.

    paper : linear light of the white paper that the part lies on; infinite where it lies on
    something else.
    """
    ends = _ends_of_faces(band, ridges, paper)
    if not ends:
        found = _judged(band, ridges, paper)
        best = _on_the_face(max(found, key=lambda a: a.likelihood), found, band)
    else:
        end = ends[0]
        apart = tuple(r for r in ridges if not _same(r, end.edge))
        found = _judged(band, (end.edge, *apart), paper)
        likeliest = max(found, key=lambda a: a.likelihood)
        found[0] = best = replace(
            _face_answer(found[0], end, band, apart), either_side=_on_either_side(ends, paper)
        )
        if likeliest.ridge is not end.edge and (
            _clicked_elsewhere(best, likeliest) or (likeliest.confirmed and not end.is_line)
        ):
            best = likeliest
        if best is found[0] and not end.is_line:
            near = [a for a in found if a.material == end.material and _near(a.ridge, end)]
            sure = [a for a in near if a.confirmed]
            best = max(sure, key=lambda a: a.likelihood, default=best)
    if _has_chamfer(best, found, band):
        kept = replace(best, depth=0.0, beside_wall=False)
        found[found.index(best)] = best = kept
    others = [a for a in found if a is not best and _mentioned(a, best)]
    return (best, *sorted(others, key=lambda a: -a.likelihood))


def _judged(band: Band, ridges: tuple[Ridge, ...], paper: float) -> list[Answer]:
    """Each ridge as an answer: a foot where it stands under another, else an edge."""
    strongest = max(r.change for r in ridges)
    sides = [_side_and_height(band, r, ridges, paper) for r in ridges]
    found = []
    for ridge, (material, height) in zip(ridges, sides, strict=True):
        is_foot = any(
            h is not None and other is not ridge and stands_under(band, ridge, other, h, m)
            for other, (m, h) in zip(ridges, sides, strict=True)
        )
        found.append(
            Answer(
                line_px=ridge.offset_px,
                words="foot of the wall" if is_foot else "edge",
                likelihood=_likelihood(ridge, strongest) * (0.05 if is_foot else 1.0),
                depth=0.0 if is_foot else _depth(band, ridge, ridges, height, material),
                material=material,
                beside_wall=not is_foot,
                confirmed=height == 1.0,
                ridge=ridge,
            )
        )
    return found


def _ends_of_faces(band: Band, ridges: tuple[Ridge, ...], paper: float) -> list[FaceEnd]:
    """Where the part's face ends, the likelier of two first; none where no side is a face."""
    if not can_be_judged(band):
        return []
    if band.path.closed:
        return _end_of_round_face(band, ridges, paper)
    ends = [end for end in (face_end(band, m, ridges) for m in (1, -1)) if end.is_clear]
    lines = (*(r for r in ridges if r.share >= _LINE_SHARE), *(e.edge for e in ends))
    return sorted(ends, key=lambda end: -_plausible(end, band, lines, paper))


def _end_of_round_face(band: Band, ridges: tuple[Ridge, ...], paper: float) -> list[FaceEnd]:
    """On which side the part lies is known well enough; the other is looked at only where no
    face ends there, and believed only at the clicks."""
    side = _material_of_round(band, paper)
    end = face_end(band, side, ridges)
    if end.is_clear:
        return [end]
    other = face_end(band, -side, ridges)
    return [other] if other.is_clear and _off_clicks(other) < _ON_CLICKS_PX else []


def _on_either_side(ends: list[FaceEnd], paper: float) -> bool:
    """Whether two faces end at one line and neither is as light as the paper: one of them is
    paper in shadow, or another part."""
    if len(ends) < 2 or not _same(ends[0].edge, ends[1].edge):
        return False
    return max(end.light for end in ends) < _PAPER * paper


def _plausible(end: FaceEnd, band: Band, lines: tuple[Ridge, ...], paper: float) -> float:
    """Log of how likely this is the face that was meant: by the clicks, as paper is brighter
    than most parts, by the foot of its wall, which may be one of the lines, and as the fading
    of a shadow is fainter than most edges."""
    ends_px = end.edge.offset_px[[0, -1]]  # the path runs from the first click to the last
    score = -0.5 * float(np.sum((ends_px / _CLICKS_PX) ** 2)) - _PAPER_DOUBT * end.light / paper
    if height_over_foot(band, end.edge, end.material) == 1.0:
        score += _FOOT_BONUS
    elif not np.isfinite(paper):
        score += _UNSEEN_WALL * _wall_seen(end, band, lines)
    elif _stands_over_a_line(end, band, lines):
        score += _LINE_BONUS
    strongest = max(line.change for line in lines)
    fainter = min(_FAINTEST, float(np.log(strongest / max(end.edge.change, 1e-6))))
    return score - fainter - _NO_LINE * (not end.is_line)


def _stands_over_a_line(end: FaceEnd, band: Band, lines: tuple[Ridge, ...]) -> bool:
    """Whether a line lies where the foot of a face's wall must, and grows lighter away from it."""
    edges = [line for line in lines if _near(line, end)]
    return any(
        stands_under(band, foot, edge, 1.0, end.material)
        for foot in lines
        for edge in (end.edge, *edges)
        if not _same(foot, edge)
    )


def _near(line: Ridge, end: FaceEnd) -> bool:
    return float(np.mean(np.abs(line.offset_px - end.edge.offset_px))) < _NEAR_PX


def _wall_seen(end: FaceEnd, band: Band, lines: tuple[Ridge, ...]) -> int:
    """+1 where a line lies as far beside a face's edge as its wall is wide; -1 where a wall
    wide enough to see should lie there and none does; 0 where its wall is hidden.

    On paper a wall that shows no line is one that looks like its face; elsewhere the edge is
    more likely that of what lies on the other side, whose wall is hidden.
    """
    wall = wall_px(band, end.material)
    if float(np.mean(np.abs(wall))) < APART_PX:
        return 0
    apart = [line.offset_px - end.edge.offset_px for line in lines if not _same(line, end.edge)]
    miss = min((float(np.mean(np.abs(a - wall))) for a in apart), default=np.inf)
    return 1 if miss < APART_PX else -1


def _off_clicks(end: FaceEnd) -> float:
    return float(np.mean(np.abs(end.edge.offset_px)))


def _same(ridge: Ridge, other: Ridge) -> bool:
    return float(np.mean(np.abs(ridge.offset_px - other.offset_px))) < _SAME_PX


def _face_answer(answer: Answer, end: FaceEnd, band: Band, ridges: tuple[Ridge, ...]) -> Answer:
    """The edge at which the face ends; a straight one may be the foot of a wall like it."""
    lone = not band.path.closed and is_lone_foot(band, end.edge, ridges, end.material)
    return replace(
        answer,
        words="edge",
        depth=1.0 if lone else 0.0,
        material=end.material,
        beside_wall=True,
        likelihood=_likelihood(end.edge, end.edge.change),
    )


def _clicked_elsewhere(face: Answer, other: Answer) -> bool:
    return _distance(face) > max(_OFF_CLICKS_PX, 2 * _distance(other))


def _side_and_height(
    band: Band, ridge: Ridge, ridges: tuple[Ridge, ...], paper: float
) -> tuple[int, float | None]:
    """+1 when the part lies outwards of this edge, -1 inwards; and how high it stands over
    its foot, None where no foot is in sight."""
    if band.path.closed:
        material = _material_of_round(band, paper)
        return material, height_over_foot(band, ridge, material)
    wall_side = -1 if float(np.mean(band.path.foot_px)) > 0 else 1
    if height_over_foot(band, ridge, wall_side) == 1.0:
        return wall_side, 1.0  # its foot is in sight just where its wall would be
    # Beside a straight edge the darker side is the part, as paper is white; a faint edge,
    # such as between face and wall, goes with the sharpest one.
    sharpest = max(ridges, key=lambda r: abs(r.slope))
    telling = ridge if abs(ridge.slope) > _TELLING * abs(sharpest.slope) else sharpest
    return (-1 if telling.slope > 0 else 1), None


def _material_of_round(band: Band, paper: float) -> int:
    """Around a circle the part lies outwards unless white paper does: a hole may be darker
    than its part."""
    border = max(2, len(band.offsets_px) // 8)
    outside = float(np.median(band.light[band.inside][:, -border:]))
    inside = float(np.median(band.light[band.inside][:, :border]))
    return -1 if outside > _PAPER * paper and outside > inside else 1


def _likelihood(ridge: Ridge, strongest: float) -> float:
    distance = float(np.mean(np.abs(ridge.offset_px)))
    return (
        ridge.share
        * float(np.exp(-0.5 * (distance / _REACH_PX) ** 2))
        * float((ridge.change / strongest) ** 0.35)
    )


def _depth(
    band: Band, ridge: Ridge, ridges: tuple[Ridge, ...], height: float | None, material: int
) -> float:
    """How far below the stated plane an edge lies, as a share of the plane's height."""
    if height is None:
        return 1.0 if is_lone_foot(band, ridge, ridges, material) else 0.0
    depth = 1.0 - height
    # Along a straight edge any parallel line would do as the foot of some height.
    below = band.path.closed and height_doubt(band) < depth < _DEEPEST_CHAMFER
    return depth if below else 0.0


def _on_the_face(best: Answer, found: list[Answer], band: Band) -> Answer:
    """Where a parallel edge lies just further into the part, it is the one on the face.

    Where the best one's foot confirms the stated height the clicks decide, as a person may
    well mean the lower rim of a chamfer.
    """
    for answer in sorted(found, key=lambda a: float(a.line_px.mean()) * best.material):
        chamfered = _could_be_chamfer(answer, best, band, deepest=1.1)
        strong = answer.likelihood > _WORTH_MENTIONING * best.likelihood
        # Against paper a chamfer is sharper than against its own face; a shadow's edge is not.
        strong &= band.path.closed or answer.ridge.change < best.ridge.change
        on_clicks = best.confirmed or _distance(best) < _ON_CLICKS_PX
        meant = on_clicks and _distance(answer) > max(_OFF_CLICKS_PX, 2 * _distance(best))
        if chamfered and strong and not meant and answer.ridge.share > _FACE_SHARE:
            best = answer
    return best


def _distance(answer: Answer) -> float:
    """Mean distance from the clicks, px."""
    return float(np.mean(np.abs(answer.line_px)))


def _has_chamfer(face: Answer, found: list[Answer], band: Band) -> bool:
    """Whether a chamfer's lower edge shows beside it: then its foot is not its own."""
    return any(
        answer is not face
        and answer.words == "edge"
        and answer.ridge.change >= 0.5 * face.ridge.change
        and answer.ridge.share >= _FACE_SHARE
        and _could_be_chamfer(face, answer, band, deepest=np.inf)
        for answer in found
    )


def _could_be_chamfer(face: Answer, lower: Answer, band: Band, deepest: float) -> bool:
    """Whether a chamfer no deeper than this share of the height may lie between two edges."""
    width, slant, miss = _chamfer_between(face, lower, band)
    most_missed = _CHAMFER_MISS_PX + _CHAMFER_MISS_FEET * float(np.std(band.path.foot_px))
    near = 1.5 < width < _CHAMFER_MM / band.path.typical_mm_per_px
    return near and miss < most_missed and -0.15 < slant < deepest


def _chamfer_between(face: Answer, lower: Answer, band: Band) -> tuple[float, float, float]:
    """Width (px, into the part) and depth (share of the height) of the chamfer that would
    lie between two edges, and the rms that it leaves unexplained."""
    foot = band.path.foot_px
    apart = face.line_px - lower.line_px
    varied = float(np.std(foot)) > APART_PX
    design = np.column_stack([np.ones_like(foot), -foot]) if varied else np.ones((len(foot), 1))
    solved, *_ = np.linalg.lstsq(design, apart, rcond=None)
    miss = float(np.sqrt(np.mean((apart - design @ solved) ** 2)))
    return float(solved[0]) * lower.material, float(solved[1]) if varied else 0.0, miss


def _mentioned(answer: Answer, best: Answer) -> bool:
    return answer.words != "edge" or answer.likelihood > _WORTH_MENTIONING * best.likelihood
