"""A photo comes in upright with its facts, or is refused in one clear sentence."""

import hashlib
import io
import struct
import zlib

import numpy as np
import pillow_heif
import pytest
from PIL import ExifTags, Image, ImageOps

from photomeasure.errors import PhotoError
from photomeasure.files.photos import read_photo

Tag = ExifTags.Base
COLOURS = {
    (0, 0): (250, 20, 20),
    (0, 1): (20, 250, 20),
    (1, 0): (20, 20, 250),
    (1, 1): (250, 250, 20),
}
"""(row, column) of a quarter of the upright picture → its colour."""

# How the file's pixels lie when a viewer must apply EXIF orientation 1 … 8 to see them
# upright: Exif 2.3 (CIPA DC-008), tag 0x0112, "the 0th row is the visual … side".
STORED = {
    1: None,
    2: Image.Transpose.FLIP_LEFT_RIGHT,
    3: Image.Transpose.ROTATE_180,
    4: Image.Transpose.FLIP_TOP_BOTTOM,
    5: Image.Transpose.TRANSPOSE,
    6: Image.Transpose.ROTATE_90,
    7: Image.Transpose.TRANSVERSE,
    8: Image.Transpose.ROTATE_270,
}


def upright_picture():
    """96 × 64 px in four colours, none of its turns or mirrors alike."""
    pixels = np.zeros((64, 96, 3), np.uint8)
    for (row, column), colour in COLOURS.items():
        pixels[row * 32 : row * 32 + 32, column * 48 : column * 48 + 48] = colour
    return Image.fromarray(pixels)


def exif(orientation=None, **detail):
    """An EXIF block with the tags named."""
    block = Image.Exif()
    if orientation is not None:
        block[Tag.Orientation] = orientation
    main = {Tag.Make, Tag.Model, Tag.Software}
    for name, value in detail.items():
        tag = Tag[name]
        (block if tag in main else block.get_ifd(ExifTags.IFD.Exif))[tag] = value
    return block


def stored_picture(orientation):
    turn = STORED[orientation]
    return upright_picture() if turn is None else upright_picture().transpose(turn)


def assert_upright(photo):
    assert photo.pixels.shape == (64, 96, 3)
    assert photo.pixels.dtype == np.uint8
    for (row, column), colour in COLOURS.items():
        quarter = photo.pixels[row * 32 + 8 : row * 32 + 24, column * 48 + 8 : column * 48 + 40]
        assert np.abs(quarter.reshape(-1, 3).mean(axis=0) - colour).max() < 12


@pytest.mark.parametrize("suffix", ["jpg", "png"])
@pytest.mark.parametrize("orientation", range(1, 9))
def test_orientation_is_applied_once(tmp_path, orientation, suffix):
    """All eight EXIF orientations of JPEG and PNG end upright, and are reported."""
    path = tmp_path / f"photo.{suffix}"
    stored_picture(orientation).save(path, exif=exif(orientation).tobytes())
    photo = read_photo(path)
    assert_upright(photo)
    assert photo.exif.orientation == orientation
    with Image.open(path) as image:
        np.testing.assert_array_equal(photo.pixels, np.asarray(ImageOps.exif_transpose(image)))


@pytest.mark.parametrize("orientation", range(1, 9))
def test_heic_is_turned_once(tmp_path, orientation):
    """A HEIC file is turned by its decoder and not again; what it said is reported."""
    path = tmp_path / "photo.heic"
    heif = pillow_heif.from_pillow(stored_picture(orientation))
    heif.save(path, exif=exif(orientation, FocalLength=5.7).tobytes(), quality=90)
    photo = read_photo(path)
    assert_upright(photo)
    assert photo.exif.orientation == orientation
    assert photo.exif.focal_length_mm == pytest.approx(5.7)


def test_exif_facts_are_read_from_both_directories(tmp_path):
    """Maker, lens, focal lengths, zoom, software and time come from where they stand."""
    path = tmp_path / "photo.jpg"
    block = exif(
        6,
        Make="Maker\0",
        Model=" Model 1 ",
        Software="1.0",
        LensModel="main lens",
        FocalLength=5.7,
        FocalLengthIn35mmFilm=26,
        DigitalZoomRatio=1.5,
        DateTimeOriginal="2026:01:02 03:04:05",
    )
    upright_picture().save(path, exif=block.tobytes())
    facts = read_photo(path).exif
    assert (facts.make, facts.model, facts.software) == ("Maker", "Model 1", "1.0")
    assert (facts.lens, facts.taken) == ("main lens", "2026:01:02 03:04:05")
    assert facts.focal_length_mm == pytest.approx(5.7)
    assert (facts.focal_length_35mm, facts.digital_zoom) == (26.0, 1.5)


def test_zero_and_absurd_exif_numbers_count_as_unknown(tmp_path):
    """0 means "unknown" in EXIF, n/0 means nothing, and orientation 9 does not exist."""
    path = tmp_path / "photo.jpg"
    block = exif(9, FocalLengthIn35mmFilm=0, DigitalZoomRatio=0.0, FocalLength=(5, 0))
    upright_picture().save(path, exif=block.tobytes())
    facts = read_photo(path).exif
    assert facts.focal_length_mm is facts.focal_length_35mm is facts.digital_zoom is None
    assert facts.orientation == 1


def test_malformed_exif_does_not_stop_a_photo(tmp_path):
    """A photo whose EXIF block is rubbish is read without facts."""
    path = tmp_path / "photo.jpg"
    upright_picture().save(path, exif=b"Exif\0\0II*\0\xff\xff\xff\xffrubbish")
    photo = read_photo(path)
    assert_upright(photo)
    assert photo.exif.make == ""


def test_hash_is_of_the_bytes_and_name_is_given(tmp_path):
    """The SHA-256 is that of the file; the name is the file's unless given."""
    path = tmp_path / "photo.png"
    upright_picture().save(path)
    photo = read_photo(path, "left")
    assert photo.sha256 == hashlib.sha256(path.read_bytes()).hexdigest()
    assert (photo.name, read_photo(path).name) == ("left", "photo.png")


def test_grey_palette_and_alpha_become_rgb(tmp_path):
    """Every PNG mode becomes 8-bit RGB; what is transparent lies on white."""
    path = tmp_path / "photo.png"
    sixteen = Image.fromarray(np.full((4, 5), 0x8040, np.uint16))
    clear = Image.new("RGBA", (5, 4), (200, 0, 0, 0))
    half = Image.new("LA", (5, 4), (0, 128))
    for image, colour in (
        (sixteen, (128, 128, 128)),
        (clear, (255, 255, 255)),
        (half, (127, 127, 127)),
        (Image.new("L", (5, 4), 77), (77, 77, 77)),
        (Image.new("1", (5, 4), 1), (255, 255, 255)),
        (upright_picture().resize((5, 4), Image.Resampling.NEAREST).quantize(4), None),
    ):
        image.save(path)
        pixels = read_photo(path).pixels
        assert pixels.shape == (4, 5, 3)
        if colour is not None:
            np.testing.assert_allclose(pixels.reshape(-1, 3), [colour] * 20, atol=1)


def test_pictures_taller_than_a_strip_are_whole(tmp_path):
    """Copying in strips loses nothing at their borders, turned or not."""
    pixels = np.random.default_rng(1).integers(0, 255, (600, 37, 3), np.uint8)
    path = tmp_path / "photo.png"
    for orientation in (1, 6):
        Image.fromarray(pixels).save(path, exif=exif(orientation).tobytes())
        upright = pixels if orientation == 1 else np.rot90(pixels, -1)
        np.testing.assert_array_equal(read_photo(path).pixels, upright)


def png_claiming(width, height):
    """A PNG of a few dozen bytes that claims to be enormous."""

    def chunk(kind, body):
        return (
            struct.pack(">I", len(body)) + kind + body + struct.pack(">I", zlib.crc32(kind + body))
        )

    header = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    body = (
        chunk(b"IHDR", header) + chunk(b"IDAT", zlib.compress(b"\0" * 1000)) + chunk(b"IEND", b"")
    )
    return b"\x89PNG\r\n\x1a\n" + body


def jpeg_bytes(size=(96, 64)):
    buffer = io.BytesIO()
    upright_picture().resize(size).save(buffer, "JPEG")
    return buffer.getvalue()


def animated_png():
    buffer = io.BytesIO()
    frames = [Image.new("RGB", (8, 8), colour) for colour in ("red", "blue")]
    frames[0].save(buffer, "PNG", save_all=True, append_images=frames[1:])
    return buffer.getvalue()


def gif_bytes():
    buffer = io.BytesIO()
    Image.new("L", (8, 8)).save(buffer, "GIF")
    return buffer.getvalue()


def heic_bytes():
    buffer = io.BytesIO()
    noise = np.random.default_rng(2).integers(0, 255, (64, 96, 3), np.uint8)
    pillow_heif.from_pillow(Image.fromarray(noise)).save(buffer, quality=80)
    return buffer.getvalue()


@pytest.mark.parametrize(
    ("data", "said"),
    [
        (b"", "empty"),
        (b"this is a letter, not a photo", "not a JPEG, PNG, HEIC"),
        (b"\x00" * 1000, "not a JPEG, PNG, HEIC"),
        (jpeg_bytes((400, 300))[:-2000], "damaged or cut short"),
        (jpeg_bytes()[:100], "not a JPEG, PNG, HEIC|damaged or cut short"),
        (heic_bytes()[:-3000], "not a JPEG, PNG, HEIC|damaged or cut short"),
        (png_claiming(60_000, 60_000), "limit of 100 megapixels"),
        (png_claiming(12_000, 9_000), "12000 × 9000 px, more than the limit"),
        (png_claiming(4_000, 3_000), "damaged or cut short"),
        (animated_png(), "animation"),
        (gif_bytes(), "not a JPEG, PNG, HEIC"),
    ],
)
def test_what_is_not_one_still_picture_is_refused(tmp_path, data, said):
    """Each kind of bad file gets one sentence with its name and no traceback of a decoder."""
    path = tmp_path / "photo.jpg"
    path.write_bytes(data)
    with pytest.raises(PhotoError, match=said) as caught:
        read_photo(path)
    message = str(caught.value)
    assert message.startswith("photo.jpg: ")
    assert "\n" not in message


def test_missing_and_folder_are_refused(tmp_path):
    """A path that is not there and one that is a folder are told apart."""
    with pytest.raises(PhotoError, match="no such photo"):
        read_photo(tmp_path / "nowhere.jpg")
    with pytest.raises(PhotoError, match="folder"):
        read_photo(tmp_path)
    with pytest.raises(PhotoError, match="cannot be read"):
        read_photo(tmp_path / "a\0b.jpg")
