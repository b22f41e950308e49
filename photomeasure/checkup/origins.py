"""Is the picture as the camera made it? What the file says and what its samples show."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from math import isclose

from photomeasure.estimation.priors import was_cropped
from photomeasure.records.check import Finding, Fitness
from photomeasure.records.photo import ExifFacts, Photo
from photomeasure.vision.quality_jpeg import compressed_twice, quality_of
from photomeasure.vision.quality_picture import WANTED_PX

_PANORAMA_ASPECT = 2.4  # no phone's still camera makes a longer picture
_ASPECTS = (1.0, 4 / 3, 3 / 2, 16 / 9, 20 / 9)
_SAME_ASPECT = 0.01
_ZOOM = 1.05
_ULTRA_WIDE_35MM = 20.0
_QUALITY = (70, 30)  # with care, not at all
_SAVED_LATER_S = 60.0

CARE, RETAKE = Fitness.WITH_CARE, Fitness.RETAKE


def origin_findings(photo: Photo) -> Iterator[Finding]:
    """What speaks against the picture being one plain still photo of a known lens."""
    yield from _kind_findings(photo)
    yield from _size_findings(photo)
    yield from _saving_findings(photo)
    for note in photo.file.notes:
        yield Finding("file", note, Fitness.MEASURE)


def _kind_findings(photo: Photo) -> Iterator[Finding]:
    exif, file = photo.exif, photo.file
    if file.panorama or max(photo.size_px) > _PANORAMA_ASPECT * min(photo.size_px):
        yield Finding(
            "panorama",
            "A panorama, or a strip of a picture: it has no single lens. Take one plain photo.",
            RETAKE,
        )
    if file.portrait:
        yield Finding(
            "portrait",
            "Taken in portrait mode, which blurs and moves edges. Take it in plain photo mode.",
            CARE,
        )
    elif file.depth_map:
        yield Finding(
            "depth",
            "Holds a depth map: if the background was blurred by the phone, take it plainly.",
            Fitness.MEASURE,
        )
    if exif.digital_zoom and exif.digital_zoom > _ZOOM:
        yield Finding(
            "zoom",
            f"Digital zoom {exif.digital_zoom:.1f}×: its pixels are interpolated, and shake "
            f"counts {exif.digital_zoom:.1f} times. Zoom back and step closer.",
            CARE,
        )
    if exif.focal_length_35mm and exif.focal_length_35mm < _ULTRA_WIDE_35MM:
        yield Finding(
            "lens",
            f"Taken with an ultra-wide lens ({exif.focal_length_35mm:.0f} mm equivalent), which "
            "bends most at its rim. Use the main lens, and switch off automatic macro.",
            CARE,
        )


def _size_findings(photo: Photo) -> Iterator[Finding]:
    exif, size = photo.exif, photo.size_px
    stated = exif.stated_px
    if stated and sorted(stated) != sorted(size):
        same = not was_cropped(exif, size)
        yield Finding(
            "resized" if same else "cropped",
            f"The camera wrote {stated[0]} × {stated[1]} px, the picture has {size[0]} × "
            f"{size[1]}: it was {'resized' if same else 'cropped'}. Use the original.",
            CARE if same else RETAKE,
        )
    elif not exif.model:
        odd = not any(isclose(_aspect(size), a, rel_tol=_SAME_ASPECT) for a in _ASPECTS)
        doubt = ", and its odd shape that it was cropped" if odd else ""
        yield Finding(
            "no camera",
            f"Says nothing of its camera (no EXIF), as copies from a chat or editor do: its lens "
            f"must be guessed{doubt}. Send the original as a file.",
            CARE,
        )
    if size[0] * size[1] < WANTED_PX:
        yield Finding(
            "small",
            f"Only {size[0]} × {size[1]} px, as chats send them; {WANTED_PX / 1e6:.0f} megapixels "
            "or more are wanted. Send the original as a file.",
            CARE,
        )


def _aspect(size: tuple[int, int]) -> float:
    return max(size) / min(size)


def _saving_findings(photo: Photo) -> Iterator[Finding]:
    file, exif = photo.file, photo.exif
    if len(file.luma_steps) == 64:
        quality = quality_of(file.luma_steps)
        if quality < _QUALITY[0]:
            yield Finding(
                "compression",
                f"Compressed to JPEG quality {quality}; {_QUALITY[0]} or more is wanted. Send the "
                "original as a file.",
                RETAKE if quality < _QUALITY[1] else CARE,
            )
        if compressed_twice(photo):
            yield Finding(
                "compressed twice",
                "Was compressed harder before it was saved as it is: a chat or an editor wrote it "
                "again. Send the original as a file.",
                CARE,
            )
    later = _seconds_between(exif.taken, exif.changed)
    if file.edited or (later is not None and later > _SAVED_LATER_S):
        by = file.edited or exif.software or "a program"
        yield Finding(
            "edited",
            f"Was written again after it was taken (by {by}); straightened, cropped or retouched "
            "pictures measure wrong. Use the original.",
            CARE,
        )


def _seconds_between(first: str, second: str) -> float | None:
    """Between two EXIF times, which know no zone; None where one cannot be read."""
    try:
        times = [datetime.strptime(t, "%Y:%m:%d %H:%M:%S") for t in (first, second)]
    except ValueError:
        return None
    return (times[1] - times[0]).total_seconds()


@dataclass(frozen=True)
class Taken:
    """What one photo says of how it was taken, kept when its pixels are gone."""

    photo: str
    exif: ExifFacts
    size_px: tuple[int, int]


def switched_findings(photos: Sequence[Taken]) -> dict[str, list[Finding]]:
    """Photo → what sets its lens or zoom apart from most of the others."""
    by_lens: dict[tuple[str, ...], list[str]] = {}
    for taken in photos:
        by_lens.setdefault(_lens_words(taken), []).append(taken.photo)
    usual = max(by_lens, key=lambda words: len(by_lens[words]), default=())
    return {
        photo: [Finding("switched", _switched(usual, words), CARE)]
        for words, names in by_lens.items()
        if words != usual
        for photo in names
    }


def _switched(usual: Sequence[str], here: Sequence[str]) -> str:
    told = ", ".join(f"{b} instead of {a}" for a, b in zip(usual, here, strict=True) if a != b)
    return (
        f"Another lens, zoom or size than most of these photos ({told}): photos of two lenses do "
        "not help each other. Take all with the main lens at one zoom."
    )


def _lens_words(taken: Taken) -> tuple[str, ...]:
    exif = taken.exif
    focal = (
        f"{exif.focal_length_35mm:.0f} mm" if exif.focal_length_35mm else "unknown focal length"
    )
    zoom = exif.digital_zoom if exif.digital_zoom and exif.digital_zoom > _ZOOM else 1.0
    low, high = sorted(taken.size_px)
    return (
        f"{exif.make} {exif.model}".strip() or "no camera named",
        exif.lens or "no lens named",
        focal,
        f"zoom {zoom:.1f}×",
        f"{high} × {low} px",
    )
