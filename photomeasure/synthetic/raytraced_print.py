"""What does a printed sheet, the bench below it and the room around it look like?

Reflectances are linear. The print carries what a printer does: its own scale in x and y
and ink that spreads; every edge is drawn by exact area coverage, so its position is true
to far below a texel. Wood, paper and room are invented from noise.
"""

from __future__ import annotations

from functools import lru_cache

import cv2
import numpy as np
import shapely
from numpy.typing import NDArray
from PIL import Image, ImageDraw, ImageFont

from photomeasure.synthetic.coverage import Canvas
from photomeasure.synthetic.ink import patches, solid_ink
from photomeasure.synthetic.scene import Print
from photomeasure.vision.sheets import sheet

Array = NDArray[np.float64]
Picture = NDArray[np.float32]

TEXELS_PER_MM = 20.0


@lru_cache(maxsize=1)
def print_texture(printed: Print, seed: int) -> Picture:
    """(H, W) reflectance of the page in true mm, row 0 at the top of the page."""
    design, paper = sheet(printed.sheet), printed.paper_reflectance
    x0, y0, x1, y1 = design.page

    def texels(nominal_mm: Array) -> Array:
        x, y = (nominal_mm * np.array([printed.scale_x, printed.scale_y])).T
        return np.column_stack([x - x0, y1 - y]) * TEXELS_PER_MM - 0.5

    size = round((x1 - x0) * TEXELS_PER_MM), round((y1 - y0) * TEXELS_PER_MM)
    canvas = Canvas((0, 0, *size))
    canvas.add(
        shapely.transform(solid_ink(design, printed), texels), printed.ink_reflectance - paper
    )
    boxes, shades = patches(design, printed)
    if len(boxes):
        canvas.add(shapely.transform(boxes, texels), shades - paper)
    light = canvas.picture() + np.float32(paper)
    _letter(light, printed)
    return _grained(light, seed)


def _letter(light: Picture, printed: Print) -> None:
    """The few words on the page: what it is, and how to print it."""
    design = sheet(printed.sheet)
    picture = Image.new("L", (light.shape[1], light.shape[0]))
    draw = ImageDraw.Draw(picture)
    left, top = design.squares[:, 0].min(), design.squares[:, 3].max()
    bottom = design.squares[:, 1].min()
    if design.is_card:
        size_mm, words, at_mm = 2.6, design.identity, (left, bottom - 0.6)
    else:
        size_mm, at_mm = 3.2, (left, top + 4.6)
        words = f"{design.title}   {design.identity}   This side up. Print at actual size."
    font = ImageFont.load_default(size=size_mm * TEXELS_PER_MM)
    at = np.array([at_mm[0] - design.page[0], design.page[3] - at_mm[1]]) * TEXELS_PER_MM
    draw.text((float(at[0]), float(at[1])), words, fill=235, font=font)
    paper, ink = printed.paper_reflectance, printed.ink_reflectance
    lettered = paper + (ink - paper) * np.asarray(picture, np.float32) / 255
    np.minimum(light, lettered, out=light)


def _grained(reflectance: Picture, seed: int) -> Picture:
    """Add the faint cloudiness of paper and toner."""
    cloud = noise(reflectance.shape, (40.0, 40.0), seed) * 0.006
    cloud += noise(reflectance.shape, (6.0, 6.0), seed + 1) * 0.004
    return np.asarray(reflectance * (1 + cloud), np.float32)


def noise(shape: tuple[int, ...], grain_px: tuple[float, float], seed: int) -> Picture:
    """Smooth noise of zero mean and unit spread; grain across rows and columns, px."""
    small = tuple(max(2, int(n / g) + 2) for n, g in zip(shape, grain_px, strict=True))
    coarse = np.random.default_rng(seed).standard_normal(small).astype(np.float32)
    fine = cv2.resize(coarse, (shape[1], shape[0]), interpolation=cv2.INTER_CUBIC)
    return np.asarray((fine - fine.mean()) / fine.std(), np.float32)


def wood_texture(seed: int, size: int = 4096) -> Picture:
    """(size, size, 3) reflectance of a used workbench: planks, grain, pores and stains."""
    shape = (size, size)
    grain = 0.6 * noise(shape, (4, 260), seed) + 0.5 * noise(shape, (14, 700), seed + 1)
    bands = np.sin(7 * noise(shape, (150, 1500), seed + 2) + 0.6 * grain)
    pores = np.clip(noise(shape, (2.5, 60), seed + 4) - 1.4, 0, 1)
    stains = np.clip(noise(shape, (300, 380), seed + 3) - 1.2, 0, 1)
    planks = np.arange(size) * 7 / size
    tone = 1 + 0.10 * np.random.default_rng(seed).standard_normal(7)[planks.astype(int)]
    value = tone[:, None] * np.exp(0.07 * bands + 0.11 * grain - 0.5 * pores - 0.35 * stains)
    value[np.abs(planks % 1.0 - 0.5) > 0.4965] *= 0.25
    return np.asarray(value[..., None] * np.array([0.30, 0.19, 0.11]), np.float32)


def room_texture(seed: int) -> Picture:
    """(128, 256, 3) light from the room: ceiling, walls, a window, a dark floor."""
    height, width = 128, 256
    up = np.cos(np.pi * (np.arange(height) + 0.5) / height)[:, None]
    level = np.where(up > 0.35, 0.55, np.where(up > -0.1, 0.32, 0.10)) * np.ones((1, width))
    level = cv2.GaussianBlur(level, (0, 0), 6) * (
        1 + 0.10 * noise((height, width), (20, 30), seed)
    )
    light = level[..., None] * np.array([1.0, 0.96, 0.90])
    start = 30 + 37 * seed % 150
    light[34:58, start : start + 34] = np.array([3.2, 3.5, 3.9])
    return np.asarray(np.clip(light, 0.0, None), np.float32)
