"""How do a picture's overlay, a budget bar and an interval look as inline SVG?

Hand-written SVG: it stays sharp, follows the page's colours through CSS classes, and
costs no import of a plotting library. All text goes through `escape`.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from markupsafe import Markup, escape
from numpy.typing import NDArray

from photomeasure.exporters.overlay import Overlay, Stroke
from photomeasure.exporters.tags import Tag
from photomeasure.records.job import Rule
from photomeasure.records.report import Quantity, Verdict

Array = NDArray[np.float64]

_SHAPES = {
    Verdict.CONFORMS: '<circle cx="12" cy="12" r="10"/><path d="M7 12.5l3.5 3.5L17 8.5"/>',
    Verdict.DOES_NOT_CONFORM: (
        '<path class="body" d="M7.5 1.5h9l6 6v9l-6 6h-9l-6-6v-9z"/>'
        '<path class="mark" d="M8 8l8 8M16 8l-8 8"/>'
    ),
    Verdict.CANNOT_TELL: (
        '<path class="body" d="M12 1.5L22.5 12 12 22.5 1.5 12z"/>'
        '<path d="M9.3 9.6a2.8 2.8 0 1 1 4 2.6c-.9.5-1.3 1-1.3 2"/>'
        '<circle class="dot" cx="12" cy="17" r=".6"/>'
    ),
}
_CLASSES = {
    Verdict.CONFORMS: "conforms",
    Verdict.DOES_NOT_CONFORM: "fails",
    Verdict.CANNOT_TELL: "untold",
}


def verdict_sign(verdict: Verdict, can_fail: bool) -> Markup:
    """A shape that tells the verdict without colour: ring, octagon or diamond.

    Advice has the same shapes, hollow.
    """
    weight = "" if can_fail else " advice"
    return Markup(
        f'<svg class="sign {_CLASSES[verdict]}{weight}" viewBox="0 0 24 24" aria-hidden="true">'
        f"{_SHAPES[verdict]}</svg>"
    )


def overlay_svg(overlay: Overlay, text_px: float) -> Markup:
    """The drawing on a picture, without the picture: strokes, dots, then tags."""
    unit = text_px / 24
    parts = [
        *(_stroke(s, "halo") for s in overlay.strokes if s.role in ("feature", "dimension")),
        *(_stroke(s, s.role) for s in overlay.strokes),
        _dots(overlay.dots_px),
        *(_arrow_heads(s, 13 * unit) for s in overlay.strokes if s.arrows),
        *(_tag(t, text_px) for t in overlay.tags),
    ]
    return Markup("").join(parts)


def grid_svg(
    strokes: Sequence[Stroke],
    texts: Sequence[tuple[float, float, str]],
    box: tuple[int, int, int, int],
    text_px: float,
) -> Markup:
    """The mm grid with figures along the lower and the left rim of the part that is shown.

    box : left, top, right, bottom of that part in px.
    """
    left, top, right, bottom = box
    parts = [_stroke(s, s.role) for s in strokes]
    for x, y, text in texts:
        if not (left < x < right - 2 * text_px or top + text_px < y < bottom - 2 * text_px):
            continue
        at_x, at_y = (left + text_px * 0.3, y - 5) if x < 0 else (x + 5, bottom - text_px * 0.4)
        parts.append(
            Markup('<text class="grid-text" x="{:.1f}" y="{:.1f}" font-size="{:.1f}">{}</text>')
            .format(at_x, at_y, text_px * 0.8, text)
        )  # fmt: skip
    return Markup("").join(parts)


def budget_bar(share: float) -> Markup:
    """A horizontal bar, `share` of the full width (0–1)."""
    return Markup(
        '<svg class="bar" viewBox="0 0 100 10" preserveAspectRatio="none" aria-hidden="true">'
        f'<rect class="ground" width="100" height="10"/>'
        f'<rect class="length" width="{100 * share:.2f}" height="10"/></svg>'
    )


def interval_ruler(quantity: Quantity, rule: Rule, factor: float) -> Markup:
    """The 95 % interval against the limits of a rule on one line.

    factor : the rule's unit in the quantity's, such as 25.4 for in and mm.
    """
    limits = [v for v in (rule.at_least, rule.at_most) if v is not None]
    low, high = (end / factor for end in quantity.interval)
    ends = [*limits, low, high]
    margin = 0.28 * (max(ends) - min(ends)) or 1.0
    start, stop = min(ends) - margin, max(ends) + margin

    def at(value: float) -> float:
        return 100 * (value - start) / (stop - start)

    left = at(rule.at_least) if rule.at_least is not None else 0.0
    right = at(rule.at_most) if rule.at_most is not None else 100.0
    parts = [
        f'<rect class="allowed" x="{left:.2f}%" y="16" width="{right - left:.2f}%" height="22"/>',
        '<line class="axis" x1="0" x2="100%" y1="38" y2="38"/>',
        *(_limit(at(v), f"{v:g}") for v in limits),
        f'<line class="interval" x1="{at(low):.2f}%" x2="{at(high):.2f}%" y1="27" y2="27"/>',
        *(_whisker(at(end)) for end in (low, high)),
        f'<circle class="value" cx="{at(quantity.value / factor):.2f}%" cy="27" r="5"/>',
    ]
    return Markup(
        f'<svg class="ruler" height="58" role="img" aria-label="{escape(rule.name)}: '
        f'interval against the limit">{"".join(parts)}</svg>'
    )


def _limit(x: float, text: str) -> str:
    return (
        f'<line class="limit" x1="{x:.2f}%" x2="{x:.2f}%" y1="10" y2="42"/>'
        f'<text x="{x:.2f}%" y="56" text-anchor="middle">{escape(text)}</text>'
    )


def _whisker(x: float) -> str:
    return f'<line class="interval end" x1="{x:.2f}%" x2="{x:.2f}%" y1="21" y2="33"/>'


def _stroke(stroke: Stroke, role: str) -> Markup:
    return Markup('<path class="{}" d="{}"/>').format(role, _path(stroke.points_px))


def _path(points_px: Array) -> str:
    return "M" + "L".join(f"{x:.1f} {y:.1f}" for x, y in points_px)


def _dots(points_px: Array) -> Markup:
    if not len(points_px):
        return Markup("")
    path = "".join(f"M{x:.1f} {y:.1f}h0" for x, y in points_px)
    return Markup('<path class="dots" d="{}"/>').format(path)


def _arrow_heads(stroke: Stroke, length_px: float) -> Markup:
    heads = "".join(_path(head) + "z" for head in arrow_heads(stroke.points_px, length_px))
    return Markup('<path class="head" d="{}"/>').format(heads)


def arrow_heads(points_px: Array, length_px: float) -> list[Array]:
    """A (3, 2) triangle at each end of a chain, not longer than a third of the chain."""
    ends = [(points_px[0], points_px[-1]), (points_px[-1], points_px[0])]
    span = float(np.linalg.norm(points_px[-1] - points_px[0]))
    if span == 0:
        return []
    length = min(length_px, span / 3)
    heads = []
    for tip, other in ends:
        along = (other - tip) / span
        across = np.array([-along[1], along[0]])
        foot = tip + length * along
        heads.append(np.array([tip, foot + 0.36 * length * across, foot - 0.36 * length * across]))
    return heads


def _tag(tag: Tag, text_px: float) -> Markup:
    x0, y0, x1, y1 = tag.box
    (ax, ay), cy = tag.anchor_px, (y0 + y1) / 2
    near = min(max(ax, x0), x1), min(max(ay, y0), y1)
    leader = Markup('<path class="leader" d="M{:.1f} {:.1f}L{:.1f} {:.1f}"/>').format(
        ax, ay, *near
    )
    radius = text_px * 0.35
    box = Markup(
        '<rect x="{:.1f}" y="{:.1f}" width="{:.1f}" height="{:.1f}" rx="{:.1f}"/>'
    ).format(x0, y0, x1 - x0, y1 - y0, radius)
    badge_x = (x0 + x1) / 2 if not tag.text else x0 + text_px * 0.95
    badge = Markup(
        '<text class="badge" x="{:.1f}" y="{:.1f}" font-size="{:.1f}"'
        ' text-anchor="middle">{}</text>'
    ).format(badge_x, cy + text_px * 0.35, text_px, tag.badge)
    if not tag.text:
        return Markup('<g class="tag tag-{}">{}{}{}</g>').format(tag.role, leader, box, badge)
    disc = Markup('<circle class="disc" cx="{:.1f}" cy="{:.1f}" r="{:.1f}"/>').format(
        badge_x, cy, text_px * 0.66
    )
    words = Markup('<text x="{:.1f}" y="{:.1f}" font-size="{:.1f}">{}</text>').format(
        x0 + text_px * 1.9, cy + text_px * 0.35, text_px, tag.text
    )
    return Markup('<g class="tag tag-{}">{}{}{}{}{}</g>').format(
        tag.role, leader, box, disc, badge, words
    )
