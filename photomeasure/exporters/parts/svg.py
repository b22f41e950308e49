"""How does a part become an SVG for cutters, in true millimetres?

Arcs are arcs; the groups carry the names of the DXF's layers. Cautions stand below the part as
words of REF, which is not cut; all else that is to be told is the picture's description.
"""

from __future__ import annotations

from html import escape

from photomeasure.exporters.parts.words import facts, in_lines, told_cautions
from photomeasure.parts.profiles import box_mm, disc_of, pieces_of, stadium
from photomeasure.records.part import Pair, Part, Profile

_MARGIN_MM = 5.0
_LINE_MM = 0.1
_TEXT_MM, _LETTER_MM, _LEAST_LETTERS = 2.5, 1.6, 40
_COLOURS = {"CUT": "#000000", "ETCH": "#0000ff", "BEND": "#008000", "REF": "#808080"}


def render(part: Part) -> bytes:
    """UTF-8 SVG whose user unit is the millimetre."""
    x0, y0, x1, y1 = box_mm(part.outline)
    letters = max(_LEAST_LETTERS, int((x1 - x0) / _LETTER_MM))
    told = in_lines(told_cautions(part), letters)
    width = max(x1 - x0, letters * _LETTER_MM if told else 0.0) + 2 * _MARGIN_MM
    height = y1 - y0 + 2 * _MARGIN_MM + 1.5 * _TEXT_MM * len(told)
    # The part's y runs up, SVG's down.
    frame = f"matrix(1 0 0 -1 {_MARGIN_MM - x0:.6f} {y1 + _MARGIN_MM:.6f})"
    slots = [stadium(s.centre_mm, s.length_mm, s.width.value, s.angle_rad) for s in part.slots]
    cut = [_path(p) for p in (part.outline, *slots, *part.openings)]
    cut += [_circle(h.centre_mm, h.diameter.value / 2) for h in part.holes]
    bends = [
        f'<path d="M {b.start_mm[0]:.6f} {b.start_mm[1]:.6f} '
        f'L {b.end_mm[0]:.6f} {b.end_mm[1]:.6f}"/>'
        for b in part.bends
    ]
    groups = [
        _group("CUT", cut),
        _group("ETCH", [_path(p) for p in part.etchings]),
        _group("BEND", bends),
        _group("REF", [_path(level.outline) for level in part.levels] + _words(told, (x0, y0))),
    ]
    lines = [
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width:.6f}mm" height="{height:.6f}mm" '
        f'viewBox="0 0 {width:.6f} {height:.6f}">',
        f"<title>{escape(part.name)}</title>",
        f"<desc>{escape('; '.join(facts(part)))}</desc>",
        f'<g transform="{frame}" fill="none" stroke-width="{_LINE_MM}">',
        *(g for g in groups if g),
        "</g>",
        "</svg>",
    ]
    return "\n".join(lines).encode()


def _words(lines: list[str], corner_mm: Pair) -> list[str]:
    """Lines below the lower left corner of the part."""
    x, y = corner_mm[0], corner_mm[1] - 2.0
    return [
        f'<text transform="matrix(1 0 0 -1 {x:.3f} {y - 1.5 * _TEXT_MM * k:.3f})" '
        f'font-size="{_TEXT_MM}" font-family="sans-serif" fill="{_COLOURS["REF"]}" '
        f'stroke="none" xml:space="preserve">{escape(line)}</text>'
        for k, line in enumerate(lines, 1)
    ]


def _group(layer: str, shapes: list[str]) -> str:
    if not shapes:
        return ""
    body = "\n".join(shapes)
    return f'<g id="{layer}" stroke="{_COLOURS[layer]}">\n{body}\n</g>'


def _circle(centre_mm: Pair, radius_mm: float) -> str:
    return f'<circle cx="{centre_mm[0]:.6f}" cy="{centre_mm[1]:.6f}" r="{radius_mm:.6f}"/>'


def _path(profile: Profile) -> str:
    disc = disc_of(profile)
    if disc is not None:
        return _circle(*disc)
    x, y = profile.points_mm[0]
    words = [f"M {x:.6f} {y:.6f}"]
    for piece in pieces_of(profile):
        ex, ey = piece.end
        if piece.is_arc:
            large, left = int(abs(piece.angle_rad) > 3.14159265), int(piece.bulge > 0)
            r = piece.radius
            words.append(f"A {r:.6f} {r:.6f} 0 {large} {left} {ex:.6f} {ey:.6f}")
        else:
            words.append(f"L {ex:.6f} {ey:.6f}")
    return f'<path d="{" ".join(words)} Z"/>'
