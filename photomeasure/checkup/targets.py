"""What do the sheet and cards, as seen, allow? Limits in pixels, shares and degrees."""

from __future__ import annotations

from collections.abc import Iterator

from photomeasure.records.check import Finding, Fitness, TargetCheck
from photomeasure.vision.detection import WANTED_SQUARE_PX
from photomeasure.vision.quality_picture import BLUR_BORNE_PX

_TILT_DEG = (10.0, 45.0)
_BLUR_PX = (BLUR_BORNE_PX, 3.4)  # with care, not at all
_SMEAR_PX = (3.0, 8.0)
_BURNT = (0.5, 0.9)
_SEEN = (0.6, 0.3)
_EVENNESS = 0.25
_NOISE = (0.025, 0.1)  # of the paper's level, from pixel to pixel
_FEW_PX_PER_MM = 5.0
_LENGTH_U_MM = (0.5, 1.0)


def _graded(value: float, limits: tuple[float, float]) -> Fitness:
    """By two limits, either way round: the first asks for care, the second for another photo."""
    sign = 1.0 if limits[1] > limits[0] else -1.0
    if sign * value > sign * limits[1]:
        return Fitness.RETAKE
    return Fitness.WITH_CARE if sign * value > sign * limits[0] else Fitness.MEASURE


def target_findings(target: TargetCheck) -> Iterator[Finding]:
    """Everything that weakens one target, with the limit and the remedy."""
    yield from _coverage_findings(target)
    yield from _sharpness_findings(target)
    yield from _light_findings(target)
    yield from _stand_findings(target)


def _coverage_findings(target: TargetCheck) -> Iterator[Finding]:
    fitness = _graded(target.seen, _SEEN)
    if fitness is not Fitness.MEASURE or target.missing:
        where = f" Missing: {', '.join(target.missing)}." if target.missing else ""
        yield Finding(
            "coverage",
            f"{target.sheet}: {target.seen:.0%} of its corners were found; {_SEEN[0]:.0%} or "
            f"more are wanted.{where} {_coverage_remedy(target)}",
            fitness,
        )


def _coverage_remedy(target: TargetCheck) -> str:
    if target.square_px < WANTED_SQUARE_PX:
        return (
            f"Its squares span {target.square_px:.0f} px; {WANTED_SQUARE_PX:.0f} px are read "
            "well. Come closer, or use the full resolution."
        )
    if target.sharpness and target.sharpness.blur_px > BLUR_BORNE_PX:
        return "Take it again in focus."
    return "Show more of it, free and evenly lit."


def _sharpness_findings(target: TargetCheck) -> Iterator[Finding]:
    seen = target.sharpness
    if seen is None:
        return
    if seen.motion_px:
        yield Finding(
            "motion",
            f"{target.sheet}: smeared by {seen.motion_px:.0f} px {_direction(seen.motion_deg)}; "
            f"{_SMEAR_PX[0]:.0f} px can be borne. Prop the phone, or bring more light.",
            _graded(seen.motion_px, _SMEAR_PX),
        )
    if seen.worst_px > _BLUR_PX[0] and not seen.motion_px:
        yield Finding(
            "blur",
            f"{target.sheet}: blurred by {seen.worst_px:.1f} px at its {seen.worst_at} (as seen), "
            f"{seen.blur_px:.1f} px overall; {_BLUR_PX[0]:.0f} px can be borne. Tap on the sheet "
            "to focus, and wipe the lens.",
            _graded(seen.blur_px, _BLUR_PX),
        )


def _direction(angle_deg: float) -> str:
    """How a smear runs in the picture, in words."""
    if min(angle_deg, 180 - angle_deg) < 20:
        return "sideways"
    if abs(angle_deg - 90) < 20:
        return "up and down"
    return "slanting up to the right" if angle_deg < 90 else "slanting up to the left"


def _light_findings(target: TargetCheck) -> Iterator[Finding]:
    seen = target.exposure
    if seen is None:
        return
    burnt = _graded(seen.burnt, _BURNT)
    if burnt is not Fitness.MEASURE:
        yield Finding(
            "clipping",
            f"{target.sheet}: its paper is burnt out at {seen.burnt:.0%} of the edges; up to "
            f"{_BURNT[0]:.0%} can be borne. Tap on the paper to expose for it.",
            burnt,
        )
    noise = _graded(seen.noise, _NOISE)
    if noise is not Fitness.MEASURE:
        yield Finding(
            "noise",
            f"{target.sheet}: its white paper scatters by {seen.noise:.1%} from pixel to pixel; "
            f"{_NOISE[0]:.1%} can be borne. In such noise a faint edge is missed and a sharper "
            "one beside it is taken. Bring more light, and prop the phone.",
            noise,
        )
    if seen.evenness < _EVENNESS:
        yield Finding(
            "light",
            f"{target.sheet}: its darkest paper gets {seen.evenness:.0%} of the light of its "
            f"brightest; {_EVENNESS:.0%} or more is wanted. Shade the lamp, or turn the set-up.",
            Fitness.WITH_CARE,
        )


def _stand_findings(target: TargetCheck) -> Iterator[Finding]:
    if target.tilt_deg > _TILT_DEG[1]:
        yield Finding(
            "tilt",
            f"{target.sheet}: seen at {target.tilt_deg:.0f}° from square-on, where heights count "
            f"fully; below {_TILT_DEG[1]:.0f}° is wanted. Stand more above it.",
            Fitness.WITH_CARE,
        )
    if target.px_per_mm < _FEW_PX_PER_MM:
        yield Finding(
            "scale",
            f"{target.sheet}: {target.px_per_mm:.1f} px per mm; {_FEW_PX_PER_MM:.0f} or more are "
            "wanted. Step closer, or use the full resolution.",
            Fitness.WITH_CARE,
        )
    fitness = _graded(target.length_u_bars_mm, _LENGTH_U_MM)
    if fitness is not Fitness.MEASURE:
        yield Finding(
            "uncertainty",
            f"{target.sheet}: a 100 mm length would come out within ± "
            f"{target.length_u_bars_mm:.2f} mm; ± {_LENGTH_U_MM[0]:.1f} mm is wanted. "
            "See what would better it.",
            fitness,
        )
