"""What photo and what job does a rendered scene give to the program?

The photo goes through real JPEG bytes; the job holds only what the scene's user states.
"""

from __future__ import annotations

import hashlib
import io
from dataclasses import replace

import numpy as np
from PIL import Image, ImageOps

from photomeasure.records.job import Job, PhotoEntry
from photomeasure.records.photo import ExifFacts, FileFacts, Photo
from photomeasure.synthetic.flat import Progress, render
from photomeasure.synthetic.phone import develop, jpeg, resample
from photomeasure.synthetic.pointing import PHOTO
from photomeasure.synthetic.scene import Scene


def take(scene: Scene, progress: Progress | None = None) -> bytes:
    """The photo of a scene as a JPEG file, with EXIF unless it was lost on the way."""
    before = on_sensor(scene)
    pixels = develop(render(before, progress=progress), scene.phone, scene.seed)
    if before is not scene:
        pixels = resample(pixels, scene.lens.size_px)
    return jpeg(pixels, scene.phone)


def on_sensor(scene: Scene) -> Scene:
    """The scene before its picture was brought to another size."""
    times = scene.phone.resampled
    if times == 1.0:
        return scene
    lens = scene.lens
    return replace(
        scene,
        lens=replace(
            lens,
            f_px=lens.f_px / times,
            cx=(lens.cx + 0.5) / times - 0.5,
            cy=(lens.cy + 0.5) / times - 0.5,
            size_px=(round(lens.size_px[0] / times), round(lens.size_px[1] / times)),
        ),
    )


def photo_of(scene: Scene, data: bytes | None = None) -> Photo:
    """The photo as the program reads it, from its JPEG bytes (rendered when not given)."""
    data = take(scene) if data is None else data
    stored = Image.open(io.BytesIO(data))
    steps = tuple(getattr(stored, "quantization", {}).get(0, ()))
    upright = ImageOps.exif_transpose(stored)
    phone = scene.phone
    facts = ExifFacts(
        make=phone.make,
        model=phone.model,
        focal_length_mm=phone.focal_length_mm,
        focal_length_35mm=phone.focal_length_35mm,
        orientation=phone.orientation,
        digital_zoom=phone.resampled if phone.resampled > 1 else None,
    )
    file = FileFacts("JPEG", stored_px=stored.size, luma_steps=steps)
    return Photo(PHOTO, np.asarray(upright), hashlib.sha256(data).hexdigest(), facts, file)


def job_of(scene: Scene, file: str = "photo.jpg", camera: str | None = None) -> Job:
    """The job that the scene's user writes; `camera` is a record's SHA-256."""
    return Job(
        title=scene.name,
        photos=(PhotoEntry(PHOTO, file, camera=camera),),
        features=tuple(feature.entry for feature in scene.features),
        measurements=tuple(asked.entry for asked in scene.measurements),
        planes=scene.stated_planes,
        prints=(scene.stated_print,) if scene.stated_print else (),
    )
