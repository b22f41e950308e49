"""What does a DNG show? Needs the optional extra `raw`.

Developed as plainly as possible: the camera's white balance, no automatic brightening, sRGB's
tone curve. The phone's own lens correction is not in it, so its lens counts as another one
than that of the phone's JPEG.
"""

from __future__ import annotations

import io
import struct

import numpy as np
from numpy.typing import NDArray

from photomeasure.errors import PhotoError

_DNG_VERSION = 50706  # the tag that makes a TIFF a DNG (DNG 1.7, "DNGVersion")


def is_dng(data: bytes) -> bool:
    """Whether the first directory of a TIFF carries a DNG version."""
    order = {b"II*\0": "<", b"MM\0*": ">"}.get(data[:4])
    if order is None:
        return False
    try:
        (start,) = struct.unpack_from(f"{order}I", data, 4)
        (count,) = struct.unpack_from(f"{order}H", data, start)
        tags = (struct.unpack_from(f"{order}H", data, start + 2 + 12 * k) for k in range(count))
        return any(tag == _DNG_VERSION for (tag,) in tags)
    except struct.error:
        return False


def develop_dng(data: bytes, name: str, limit_px: int) -> NDArray[np.uint16]:
    """(H, W, 3) sRGB-coded, 16 bit, as stored.

    Raises PhotoError where it cannot be decoded, or has more than limit_px pixels.
    """
    try:
        import rawpy  # noqa: PLC0415 - an optional extra
    except ImportError:
        raise PhotoError(
            f'{name}: this is a DNG, which needs the extra "raw" that is not installed. Install '
            "it (pip install 'photomeasure[raw]'), or take the photo as JPEG or HEIC."
        ) from None
    try:
        with rawpy.imread(io.BytesIO(data)) as raw:
            if raw.sizes.raw_width * raw.sizes.raw_height > limit_px:
                raise PhotoError(
                    f"{name}: {raw.sizes.raw_width} × {raw.sizes.raw_height} px, more than the "
                    f"limit of {limit_px // 1_000_000} megapixels. Take it at 12 to 50 megapixels."
                )
            return np.asarray(
                raw.postprocess(
                    output_bps=16,
                    use_camera_wb=True,
                    no_auto_bright=True,
                    gamma=(2.4, 12.92),
                    output_color=rawpy.ColorSpace.sRGB,
                    user_flip=0,
                ),
                np.uint16,
            )
    except rawpy.LibRawError as error:
        reason = error.args[0] if error.args else error
        reason = reason.decode() if isinstance(reason, bytes) else str(reason)
        raise PhotoError(
            f"{name}: this DNG cannot be decoded ({reason}). It may be damaged, or compressed in "
            "a way that LibRaw does not know (JPEG XL). Take the photo as JPEG or HEIC."
        ) from None
