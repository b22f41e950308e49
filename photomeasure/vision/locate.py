"""From a click to a feature of the picture, to sub-pixel, in the original pixels.

A click within a few pixels is enough. Where two edges fit, the likelier is taken, both are
reported, and the job's `choice` decides.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from photomeasure.errors import GeometryError
from photomeasure.geometry.camera import image_from_plane, plane_from_image
from photomeasure.records.feature import SET_CHOICE, Alternative, ImageFeature
from photomeasure.records.job import FeatureEntry
from photomeasure.vision.band import Band, Path, sample_band
from photomeasure.vision.paths import CLICKS_NEEDED, path_of
from photomeasure.vision.points import locate_point
from photomeasure.vision.ridges import find_ridges
from photomeasure.vision.rims import Answer, answers
from photomeasure.vision.several import locate_row, sides_of, tube_of
from photomeasure.vision.sharpen import SPARSE, SharpEdge, sharpen
from photomeasure.vision.silhouettes import Judge, silhouettes
from photomeasure.vision.tone import Tone
from photomeasure.vision.walls import APART_PX, height_doubt, wall_px

Array = NDArray[np.float64]

_REACH_PX = 14.0  # how far beside the clicks an edge is looked for
_FAR_FROM_CLICKS_PX = 9.0  # clicks scatter by a few px
_MUCH_BURNT = 0.2  # share of an edge from which on it is said
_SCATTER_PX, _SCATTER_SHARE = 0.5, 0.04  # rms about a circle, in px and of its radius
_LEAST_RADIUS_PX = 3.0
_NO_EDGE = (
    f"no edge was found within {_REACH_PX:.0f} px of the clicks. Click nearer to the edge, or "
    "take a picture with more contrast there."
)
_WALL_U_PX = 0.5  # how far from upright a wall may lean where only its foot is seen
_OTHER_SIDE = 0.5  # of what it would move an edge if the part lay on its other side
_CHAMFER_DOUBT = 0.2  # of a chamfer's width that was only worked out


@dataclass(frozen=True, eq=False)
class Scenery:
    """What locating needs of one photo: its linear light, its tone curve, its view (14,).

    on_paper : whether walls end on the white paper of the sheet. foot_u_mm : how far the foot
    of a wall may lie beside its place, as the plane may lean.
    """

    light: NDArray[np.float32]
    tone: Tone
    view: Array
    on_paper: bool = True
    foot_u_mm: float = 0.0


def locate(entry: FeatureEntry, scenery: Scenery, height_mm: float) -> ImageFeature:
    """The feature that was pointed at. Raises GeometryError in words when there is none."""
    try:
        return _locate(entry, scenery, height_mm)
    except GeometryError as error:
        raise GeometryError(f"{entry.name} in {entry.photo}: {error}") from None


def _locate(
    entry: FeatureEntry, scenery: Scenery, height_mm: float, judge: Judge = answers
) -> ImageFeature:
    clicks = np.array(entry.clicks_px, float)
    _check_clicks(entry, clicks, scenery)
    if entry.kind == "point":
        return locate_point(entry, clicks, scenery.light)
    if entry.kind == "row":
        return locate_row(entry, scenery.light)
    if entry.kind == "tube":  # nothing of it stands upright, so no foot is looked for
        sides = [_locate(s, scenery, 0.0, silhouettes(way)) for s, way in sides_of(entry)]
        return tube_of(entry, sides)
    path = path_of(entry.kind, clicks, scenery.light, scenery.view, height_mm)
    band = sample_band(scenery.light, path, _reach(entry, path), scenery.tone.blur_px)
    ridges = find_ridges(band)
    if not ridges:
        raise GeometryError(_NO_EDGE)
    found = judge(band, ridges, scenery.tone.paper if scenery.on_paper else np.inf)
    numbered = sorted(found, key=lambda a: float(a.line_px.mean()))
    chosen = _choose(entry, found, numbered)
    _refuse_far(entry, chosen)
    edge = _sharpen(scenery, band, chosen, found)
    if entry.kind == "circle":
        _refuse_no_circle(edge)
    return _feature(entry, edge, band, chosen, numbered, scenery.view, height_mm)


def _reach(entry: FeatureEntry, path: Path) -> float:
    """How far to look: the clicks' scatter and the wall; not across a small hole's middle."""
    reach = _REACH_PX + float(np.abs(path.foot_px).max())
    if entry.kind != "circle":
        return reach
    centre = path.points_px.mean(axis=0)
    return min(reach, 0.95 * float(np.linalg.norm(path.points_px - centre, axis=1).min()))


def _check_clicks(entry: FeatureEntry, clicks: Array, scenery: Scenery) -> None:
    need = CLICKS_NEEDED[entry.kind]
    if len(clicks) < need:
        raise GeometryError(
            f"{len(clicks)} click(s) given; {entry.kind} needs at least {need}. Add clicks."
        )
    height, width = scenery.light.shape
    outside = (clicks < -0.5) | (clicks > np.array([width, height]) - 0.5)
    if outside.any():
        x, y = clicks[outside.any(axis=1)][0]
        raise GeometryError(
            f"the click ({x:g}, {y:g}) lies outside the picture of {width} x {height} px. Use "
            "pixels of the upright picture."
        )


def _choose(entry: FeatureEntry, found: tuple[Answer, ...], numbered: list[Answer]) -> Answer:
    if entry.choice is None:
        return found[0]
    if entry.choice > len(numbered):
        fit = f"{len(numbered)} edges fit" if len(numbered) > 1 else "only one edge fits"
        raise GeometryError(
            f"choice {entry.choice} was asked for, but {fit}. Leave `choice` out"
            f"{f', or choose from 1 to {len(numbered)}' if len(numbered) > 1 else ''}."
        )
    return numbered[entry.choice - 1]


def _refuse_far(entry: FeatureEntry, chosen: Answer) -> None:
    """The band reaches as far as feet may lie; an edge on the plane must lie at the clicks."""
    away = float(np.mean(np.abs(chosen.line_px)))
    if entry.kind == "edge" and chosen.depth < 1.0 and away > _REACH_PX:
        raise GeometryError(_NO_EDGE)


def _refuse_no_circle(edge: SharpEdge) -> None:
    """Places that scatter far about a circle follow a rim here and a wall or a stain there."""
    radius_px = float(
        np.mean(np.linalg.norm(edge.points_px - edge.points_px.mean(axis=0), axis=1))
    )
    if radius_px < _LEAST_RADIUS_PX:
        raise GeometryError(
            f"the circle found there is {2 * radius_px:.1f} px across; below "
            f"{2 * _LEAST_RADIUS_PX:.0f} px noise looks like one. Step closer, or click three "
            "places on the rim that is meant."
        )
    if edge.spread_px > max(_SCATTER_PX, _SCATTER_SHARE * radius_px):
        raise GeometryError(
            f"the places found scatter by {edge.spread_px:.1f} px about a circle of "
            f"{radius_px:.0f} px; at most {_SCATTER_SHARE:.0%} of that can be. Click three places "
            "on its rim, bring more light, or measure it as a curve if it is not round."
        )


def _sharpen(scenery: Scenery, band: Band, chosen: Answer, found: tuple[Answer, ...]) -> SharpEdge:
    """The chosen edge; where a wall beside it may be wider or narrower, or stand on its other
    side, in doubt by what that would move it."""
    edge = _sharpen_beside(scenery, band, chosen, found, 0.0)
    if not chosen.beside_wall or chosen.depth > 0.0:
        return edge
    doubt = [edge.u_shift_px]
    shift_px = scenery.foot_u_mm / band.path.typical_mm_per_px
    if shift_px > 0.0:
        moved = (_sharpen_beside(scenery, band, chosen, found, s) for s in (-shift_px, shift_px))
        doubt.append(max(_apart_px(edge, m) for m in moved))
    if chosen.either_side:
        turned = replace(chosen, material=-chosen.material)
        rest = tuple(a for a in found if a is not chosen)
        other = _sharpen_beside(scenery, band, turned, (turned, *rest), 0.0)
        doubt.append(_OTHER_SIDE * _apart_px(edge, other))
    return replace(edge, u_shift_px=float(np.linalg.norm(doubt)))


def _apart_px(edge: SharpEdge, other: SharpEdge) -> float:
    """How far two readings of one edge lie apart, on the mean over the places both used."""
    both = edge.rows & other.rows
    if not both.any():
        return 0.0
    between = other.points_px[both[other.rows]] - edge.points_px[both[edge.rows]]
    return float(abs(np.einsum("ij,ij->i", between, edge.normals_px[both[edge.rows]]).mean()))


def _sharpen_beside(
    scenery: Scenery, band: Band, chosen: Answer, found: tuple[Answer, ...], shift_px: float
) -> SharpEdge:
    """The same with the foot of its wall moved by some px."""
    rivals = np.array([a.line_px for a in found if a is not chosen]).reshape(-1, len(band.light))
    beside = chosen.beside_wall and chosen.depth == 0.0
    wall = wall_px(band, chosen.material, shift_px) if beside else np.zeros(len(band.light))
    at_foot = [float(np.mean(np.abs(r - chosen.line_px - wall))) < APART_PX for r in rivals]
    foot_found = any(a.words != "edge" for a in found) or (bool(wall.any()) and any(at_foot))
    return sharpen(
        scenery.light,
        band,
        scenery.tone,
        chosen.line_px,
        rivals,
        wall,
        foot_found=foot_found,
        material=chosen.material,
        walls_sure=scenery.on_paper,
    )


def _feature(
    entry: FeatureEntry,
    edge: SharpEdge,
    band: Band,
    chosen: Answer,
    numbered: list[Answer],
    view: Array,
    height_mm: float,
) -> ImageFeature:
    points, u_shift = _lifted(edge, chosen, band, view, height_mm)
    return ImageFeature(
        name=entry.name,
        kind=entry.kind,
        photo=entry.photo,
        plane=entry.plane,
        points_px=points,
        normals_px=edge.normals_px,
        u_noise_px=edge.u_noise_px,
        u_shift_px=u_shift,
        u_tone_px=edge.u_tone_px,
        spread_px=edge.spread_px,
        closed=band.path.closed,
        chosen=numbered.index(chosen) + 1,
        alternatives=_alternatives(chosen, numbered, band.path),
        warnings=(
            *_warnings(chosen, numbered if entry.choice is None else [], height_mm),
            *_burnt_words(edge),
            *_sparse_words(edge),
            *_far_words(entry, chosen),
        ),
        extent_px=_extent(entry),
    )


def _extent(entry: FeatureEntry) -> Array:
    if entry.kind != "edge":
        return np.empty((0, 2))
    return np.array([entry.clicks_px[0], entry.clicks_px[-1]], float)


def _lifted(
    edge: SharpEdge, chosen: Answer, band: Band, view: Array, height_mm: float
) -> tuple[Array, float]:
    """Points on the plane, though what was seen may lie below it, and their doubt in px.

    A foot stands under its edge. A chamfer's lower edge lies beside it, by as much as below
    it: chamfers of 45° are meant where nothing else is said ("common practice, no source").
    """
    if chosen.depth == 0.0:
        return edge.points_px, edge.u_shift_px
    points_mm = plane_from_image(edge.points_px, view, height_mm * (1 - chosen.depth))
    mm_per_px = band.path.typical_mm_per_px
    doubt_px = _WALL_U_PX
    if chosen.depth < 1.0:
        width_mm = chosen.depth * height_mm
        inwards_px = chosen.material * band.path.normals_px[edge.rows]
        further = plane_from_image(edge.points_px + inwards_px, view, height_mm)
        inwards = further - plane_from_image(edge.points_px, view, height_mm)
        points_mm = points_mm + width_mm * inwards / np.linalg.norm(inwards, axis=1)[:, None]
        doubt_px += _CHAMFER_DOUBT * width_mm / mm_per_px
        doubt_px += height_doubt(band) / 2 * height_mm / mm_per_px
    points = image_from_plane(points_mm, view, height_mm)
    return points, float(np.hypot(edge.u_shift_px, doubt_px))


def _alternatives(chosen: Answer, numbered: list[Answer], path: Path) -> tuple[Alternative, ...]:
    mm_per_px = path.typical_mm_per_px
    return tuple(
        Alternative(
            number=k + 1,
            words=answer.words,
            points_px=path.points_px + answer.line_px[:, None] * path.normals_px,
            offset_mm=float((answer.line_px - chosen.line_px).mean()) * mm_per_px,
        )
        for k, answer in enumerate(numbered)
        if answer is not chosen
    )


def _far_words(entry: FeatureEntry, chosen: Answer) -> tuple[str, ...]:
    away = float(np.mean(np.abs(chosen.line_px)))
    if entry.choice is not None or len(entry.clicks_px) < 2 or away < _FAR_FROM_CLICKS_PX:
        return ()
    return (
        f"The edge found lies {away:.0f} px from the clicks, as a foot or a shadow does where the "
        "edge itself is too faint, noisy or blurred. Look at the picture whether it is the one "
        "meant.",
    )


def _burnt_words(edge: SharpEdge) -> tuple[str, ...]:
    if edge.burnt < _MUCH_BURNT:
        return ()
    return (
        f"{edge.burnt:.0%} of its light side is burnt out, by glare or a long exposure, so that "
        "the edge looks shifted; its uncertainty was widened. Turn the lamp away, put matt tape "
        "or chalk on it, or expose for the bright side.",
    )


def _sparse_words(edge: SharpEdge) -> tuple[str, ...]:
    if edge.shown >= SPARSE:
        return ()
    return (
        f"Only {edge.shown:.0%} of the places along it show this edge clearly; noise, texture or "
        "too little contrast hide it elsewhere, so its uncertainty was widened. Bring more light, "
        "or lay something lighter or darker behind it.",
    )


def _warnings(chosen: Answer, numbered: list[Answer], height_mm: float) -> tuple[str, ...]:
    """numbered : empty where the choice between them was made by a person."""
    rivals = [a for a in numbered if a is not chosen and a.words == "edge"]
    messages: list[str] = []
    if rivals:
        messages.append(
            f"{len(numbered)} edges fit; number {numbered.index(chosen) + 1} was taken as the "
            f"one on the stated plane. {SET_CHOICE}"
        )
    if chosen.depth == 1.0:
        messages.append(
            "Only the foot of the wall can be seen; the edge was taken to stand upright over it."
        )
    elif chosen.depth > 0.0:
        messages.append(
            f"The edge seen lies about {chosen.depth * height_mm:.1f} mm below the stated plane, "
            "as a chamfer's lower edge does; the face's edge was worked out from it for a "
            "chamfer of 45°. Check the height, or measure this one with a caliper."
        )
    return tuple(messages)
