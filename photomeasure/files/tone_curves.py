"""By which tone curve were the samples of a picture coded, if not by sRGB's?

The ICC profile or the coded-video code point (ITU-T H.273) of a file states it. Primaries do
not matter to a measurement, which looks at grey paper, so only the curve is changed: a table
from the file's samples to sRGB-coded bytes, applied channel by channel.
"""

from __future__ import annotations

import struct
from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Curve = Callable[[Array], Array]

_SAME = 0.008  # of full scale: two grey levels of 255 are no other curve
_HEADER, _ENTRY = 128, 12

# SMPTE ST 2084 and ITU-R BT.2100 as adopted by H.273; reference white 203 cd/m² for PQ and
# 75 % of the signal for HLG (ITU-R BT.2408). Constants from memory.
_PQ_WHITE, _PQ_PEAK, _HLG_WHITE = 203.0, 10_000.0, 0.75


def table(curve: Curve | None, white: int) -> NDArray[np.uint8] | None:
    """(white + 1,) bytes for the samples 0 … white; None where bytes stay as they are.

    curve : coded 0–1 to light 0–1, or None for sRGB's own.
    """
    coded = np.linspace(0.0, 1.0, white + 1)
    if curve is not None:
        coded = srgb_code(np.clip(curve(coded), 0.0, 1.0))
    elif white == 255:
        return None
    return np.round(255 * coded).astype(np.uint8)


def srgb_code(light: Array) -> Array:
    """Light 0–1 to coded 0–1 (IEC 61966-2-1)."""
    root = 1.055 * np.maximum(light, 1e-12) ** (1 / 2.4) - 0.055
    return np.where(light <= 0.0031308, 12.92 * light, root)


def stated_curve(icc: bytes | None, transfer: int | None = None) -> Curve | None:
    """The curve of a profile or code point, or None where it is sRGB's or not stated.

    A broken profile counts as none.
    """
    try:
        curve = _icc_curve(icc) if icc else _TRANSFERS.get(transfer or 0)
    except (struct.error, IndexError, ValueError):
        return None
    if curve is None:
        return None
    coded = np.linspace(0.0, 1.0, 256)
    away = np.abs(srgb_code(np.clip(curve(coded), 0.0, 1.0)) - coded)
    return curve if float(away.max()) > _SAME else None


def _icc_curve(icc: bytes) -> Curve | None:
    """The green or grey curve of a matrix profile (ICC.1:2022, 9.2); None without one."""
    (count,) = struct.unpack_from(">I", icc, _HEADER)
    for k in range(min(count, 200)):
        name, start, size = struct.unpack_from(">4sII", icc, _HEADER + 4 + _ENTRY * k)
        if name in (b"gTRC", b"kTRC"):
            return _curve_of_tag(icc[start : start + size])
    return None


def _curve_of_tag(tag: bytes) -> Curve | None:
    kind = tag[:4]
    if kind == b"curv":
        (count,) = struct.unpack_from(">I", tag, 8)
        values = np.array(struct.unpack_from(f">{count}H", tag, 12), float)
        return _sampled(values)
    if kind == b"para":
        (function,) = struct.unpack_from(">H", tag, 8)
        numbers = struct.unpack_from(f">{_PARAMETERS[function]}i", tag, 12)
        return _parametric([n / 65536 for n in numbers])
    return None


def _sampled(values: Array) -> Curve:
    """ICC.1 10.6: no value is a straight line, one an exponent in 256ths, more a table."""
    if len(values) == 0:
        return lambda x: x
    if len(values) == 1:
        return lambda x: x ** (values[0] / 256)
    places = np.linspace(0.0, 1.0, len(values))
    return lambda x: np.interp(x, places, values / 65535)


_PARAMETERS = (1, 3, 4, 5, 7)


def _parametric(numbers: list[float]) -> Curve:
    """ICC.1 10.18, functions 0 to 4, all as the last: (a·x + b)^g + e above d, c·x + f below."""
    g, a, b = numbers[0], 1.0, 0.0
    c = d = e = f = 0.0
    if len(numbers) >= 3:
        a, b = numbers[1:3]
        d = -b / a if a else 0.0
    if len(numbers) == 4:
        e = f = numbers[3]
    if len(numbers) >= 5:
        c, d = numbers[3:5]
    if len(numbers) == 7:
        e, f = numbers[5:7]
    return lambda x: np.where(x >= d, np.maximum(a * x + b, 0.0) ** g + e, c * x + f)


def _pq(coded: Array) -> Array:
    m1, m2 = 2610 / 16384, 2523 / 32
    c1, c2, c3 = 3424 / 4096, 2413 / 128, 2392 / 128
    root = coded ** (1 / m2)
    light = (np.maximum(root - c1, 0.0) / (c2 - c3 * root)) ** (1 / m1)
    return np.asarray(light * _PQ_PEAK / _PQ_WHITE)


def _hlg_scene(coded: Array) -> Array:
    a, b, c = 0.17883277, 0.28466892, 0.55991073
    return np.where(coded <= 0.5, coded**2 / 3, (np.exp((coded - c) / a) + b) / 12)


def _hlg(coded: Array) -> Array:
    return np.asarray(_hlg_scene(coded) / _hlg_scene(np.array(_HLG_WHITE)))


_TRANSFERS: dict[int, Curve] = {
    4: lambda x: x**2.2,
    5: lambda x: x**2.8,
    8: lambda x: x,
    16: _pq,
    18: _hlg,
}
"""H.273 transfer characteristics that are not close to sRGB's (13)."""
