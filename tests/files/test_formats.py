"""Every format comes in upright with its precision; what cannot be trusted is refused."""

import builtins
import io
import struct

import cv2
import numpy as np
import pillow_heif
import pytest
import tifffile
from PIL import ExifTags, Image, ImageCms

from photomeasure.errors import PhotoError
from photomeasure.files.photos import read_photo
from photomeasure.files.tone_curves import srgb_code, stated_curve

ROWS, COLUMNS = 48, 64
TURNED = {1: 0, 3: 2, 6: 3, 8: 1}
"""EXIF orientation → quarter turns anticlockwise that make the stored picture upright."""


def ramp(white: int) -> np.ndarray:
    """(48, 64, 3) samples 0 … white, no two of its turns alike."""
    y, x = np.mgrid[:ROWS, :COLUMNS]
    deep = np.stack([x / COLUMNS, y / ROWS, (x + y) / (COLUMNS + ROWS)], axis=2)
    return np.round(deep * white).astype(np.uint16)


def rounded(samples: np.ndarray, white: int) -> np.ndarray:
    return np.round(samples / white * 255)


def exif_bytes(orientation: int, **main: object) -> bytes:
    exif = Image.Exif()
    exif[ExifTags.Base.Orientation] = orientation
    for name, value in main.items():
        exif[ExifTags.Base[name]] = value
    return exif.tobytes()


@pytest.mark.parametrize("orientation", TURNED)
def test_tiff_of_8_and_16_bits_is_turned_once(tmp_path, orientation):
    """TIFF comes upright from Pillow and OpenCV alike, 16 bits rounded and not cut."""
    deep = ramp(65535)
    tag = [(274, "H", 1, orientation, True)]
    for samples in (deep, (deep >> 8).astype(np.uint8)):
        path = tmp_path / "photo.tif"
        tifffile.imwrite(path, samples, photometric="rgb", compression="zlib", extratags=tag)
        photo = read_photo(path)
        white = np.iinfo(samples.dtype).max
        upright = np.rot90(rounded(samples, white), TURNED[orientation])
        np.testing.assert_array_equal(photo.pixels, upright)
        assert (photo.file.format, photo.file.bits) == ("TIFF", samples.dtype.itemsize * 8)
        assert photo.exif.orientation == orientation


@pytest.mark.parametrize("orientation", TURNED)
def test_webp_and_avif_are_turned_once(tmp_path, orientation):
    """WebP and AVIF keep their EXIF, and their orientation is applied here."""
    picture = Image.fromarray((ramp(65535) >> 8).astype(np.uint8))
    upright = np.rot90(np.asarray(picture), TURNED[orientation]).astype(int)
    for name, options in (("WebP", {"lossless": True}), ("AVIF", {"quality": 100})):
        path = tmp_path / f"photo.{name.lower()}"
        picture.save(path, exif=exif_bytes(orientation, Model="Pippin 3"), **options)
        photo = read_photo(path)
        assert photo.pixels.shape == upright.shape
        assert np.abs(photo.pixels - upright).mean() < 2
        assert (photo.file.format, photo.exif.model) == (name, "Pippin 3")
        assert photo.exif.orientation == orientation


def test_png_of_16_bits_is_rounded_not_cut(tmp_path):
    """The lower byte decides the rounding; grey and alpha of 16 bits become RGB on white."""
    deep = ramp(65535)
    path = tmp_path / "photo.png"
    cv2.imwrite(str(path), deep[:, :, ::-1])
    photo = read_photo(path)
    np.testing.assert_array_equal(photo.pixels, rounded(deep, 65535))
    assert "16 bits a channel were rounded" in photo.file.notes[0]
    clear = np.zeros((4, 5, 4), np.uint16)
    clear[:, :2, 3] = 65535
    cv2.imwrite(str(path), clear)
    assert read_photo(path).pixels[0, :, 0].tolist() == [0, 0, 255, 255, 255]


@pytest.mark.parametrize("orientation", [1, 6])
def test_heic_and_avif_of_10_bits(tmp_path, orientation):
    """Ten bits are decoded as such and rounded; the note says so."""
    deep = ramp(1023)
    upright = np.rot90(rounded(deep, 1023), TURNED[orientation])
    heic = tmp_path / "photo.heic"
    file = pillow_heif.from_bytes("RGB;16", (COLUMNS, ROWS), (deep << 6).tobytes())
    file.save(heic, quality=-1, chroma="444", exif=exif_bytes(orientation))
    photo = read_photo(heic)
    assert photo.pixels.shape == upright.shape
    assert np.abs(photo.pixels - upright).mean() < 1
    assert (photo.file.bits, photo.exif.orientation) == (10, orientation)

    avif = tmp_path / "photo.avif"
    options = [cv2.IMWRITE_AVIF_DEPTH, 10, cv2.IMWRITE_AVIF_QUALITY, 100]
    avif.write_bytes(cv2.imencode(".avif", deep[:, :, ::-1], options)[1].tobytes())
    photo = read_photo(avif)
    assert np.abs(photo.pixels - rounded(deep, 1023)).max() <= 1
    assert photo.file.bits == 10


def fixed(*values: float) -> bytes:
    return struct.pack(f">{len(values)}i", *(round(v * 65536) for v in values))


D50 = (0.9642, 1.0, 0.8249)
COLOURS = {b"rXYZ": (0.4360, 0.2225, 0.0139), b"gXYZ": (0.3851, 0.7169, 0.0971)}
COLOURS |= {b"bXYZ": (0.1431, 0.0606, 0.7141), b"wtpt": D50}


def profile(curve: bytes) -> bytes:
    """An RGB matrix profile (ICC.1:2022) with sRGB's primaries and one curve for all channels."""
    tags = {name: b"XYZ " + bytes(4) + fixed(*xyz) for name, xyz in COLOURS.items()}
    tags |= dict.fromkeys((b"rTRC", b"gTRC", b"bTRC"), curve + bytes(-len(curve) % 4))
    start, entries, body = 128 + 4 + 12 * len(tags), b"", b""
    for name, content in tags.items():
        entries += struct.pack(">4sII", name, start + len(body), len(content))
        body += content
    whole = struct.pack(">I", len(tags)) + entries + body
    size = struct.pack(">I", 128 + len(whole))
    kinds = bytes.fromhex("02400000") + b"mntrRGB XYZ "
    head = size + bytes(4) + kinds + bytes(12) + b"acsp" + bytes(28) + fixed(*D50)
    return head + bytes(128 - len(head)) + whole


def gamma_tag(gamma: float) -> bytes:
    return b"curv" + bytes(4) + struct.pack(">IH", 1, round(gamma * 256))


P3_TAG = (
    b"para"
    + bytes(4)
    + struct.pack(
        ">HH5i",
        3,
        0,
        *(round(v * 65536) for v in (2.4, 1 / 1.055, 0.055 / 1.055, 1 / 12.92, 0.04045)),
    )
)
"""The curve of the Display P3 profiles of phones: sRGB's, in the parametric form."""


def test_a_profile_with_srgbs_curve_changes_nothing(tmp_path):
    """Display P3 has other primaries and the same curve: the samples stay."""
    path = tmp_path / "photo.png"
    picture = Image.fromarray((ramp(65535) >> 8).astype(np.uint8))
    srgb = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
    for icc in (profile(P3_TAG), srgb, b"no profile at all"):
        picture.save(path, icc_profile=icc)
        photo = read_photo(path)
        np.testing.assert_array_equal(photo.pixels, np.asarray(picture))
        assert photo.file.notes == ()


@pytest.mark.parametrize("gamma", [1.0, 1.8, 2.2])
def test_another_tone_curve_is_recoded_to_srgbs(tmp_path, gamma):
    """Light is the same before and after; a 16-bit file keeps its shadows."""
    deep = ramp(65535)
    picture = Image.fromarray((deep >> 8).astype(np.uint8))
    path = tmp_path / "photo.tif"
    picture.save(path, icc_profile=profile(gamma_tag(gamma)))
    photo = read_photo(path)
    expected = 255 * srgb_code((np.asarray(picture) / 255) ** (round(gamma * 256) / 256))
    np.testing.assert_allclose(photo.pixels, expected, atol=0.51)
    assert "another tone curve" in photo.file.notes[0]

    tag = [(34675, "B", len(icc := profile(gamma_tag(gamma))), icc, True)]
    tifffile.imwrite(path, deep, photometric="rgb", extratags=tag)
    expected = 255 * srgb_code((deep / 65535) ** (round(gamma * 256) / 256))
    np.testing.assert_allclose(read_photo(path).pixels, expected, atol=0.51)


@pytest.mark.parametrize(
    "curve",
    [
        gamma_tag(1.8),
        b"curv" + bytes(4) + struct.pack(">I", 0),
        b"curv"
        + bytes(4)
        + struct.pack(">I9H", 9, *(round(65535 * (k / 8) ** 1.5) for k in range(9))),
        b"para" + bytes(4) + struct.pack(">HH", 0, 0) + fixed(2.6),
        b"para" + bytes(4) + struct.pack(">HH", 4, 0) + fixed(2.0, 0.9, 0.1, 0.3, 0.05, 0.0, 0.0),
    ],
)
def test_curves_agree_with_little_cms(tmp_path, curve):
    """Outside check: Little CMS turns the same greys into sRGB within two levels of 255."""
    coded = np.arange(256, dtype=np.uint8)
    greys = Image.fromarray(np.repeat(np.tile(coded, (4, 1))[:, :, None], 3, axis=2))
    source = ImageCms.ImageCmsProfile(io.BytesIO(profile(curve)))
    theirs = ImageCms.profileToProfile(greys, source, ImageCms.createProfile("sRGB"))
    path = tmp_path / "photo.png"
    greys.save(path, icc_profile=profile(curve))
    ours = read_photo(path).pixels.astype(int)
    assert np.abs(ours - np.asarray(theirs)).max() <= 2


def test_hdr_code_points_have_their_published_whites():
    """PQ: 203 cd/m² is code 0.58 of full; HLG: reference white 75 % (ITU-R BT.2408, table 1)."""
    pq, hlg = stated_curve(None, 16), stated_curve(None, 18)
    assert pq is not None
    assert hlg is not None
    assert pq(np.array([0.5807]))[0] == pytest.approx(1.0, abs=0.005)
    assert hlg(np.array([0.75]))[0] == pytest.approx(1.0)
    assert stated_curve(None, 13) is stated_curve(None, 1) is stated_curve(None, None) is None


def test_printing_inks_and_grey_profiles(tmp_path):
    """CMYK becomes RGB and says so; black ink is black, no ink is white."""
    path = tmp_path / "photo.jpg"
    inks = Image.new("CMYK", (32, 32), (0, 0, 0, 0))
    inks.paste((0, 0, 0, 255), (0, 0, 16, 32))
    inks.save(path, quality=95)
    photo = read_photo(path)
    assert photo.pixels[16, 4].max() < 8
    assert photo.pixels[16, 28].min() > 247
    assert "CMYK" in photo.file.notes[0]


def tiff_pages(sizes: list[tuple[int, int]]) -> bytes:
    buffer = io.BytesIO()
    first, *rest = [Image.new("RGB", size, "white") for size in sizes]
    first.save(buffer, "TIFF", save_all=True, append_images=rest)
    return buffer.getvalue()


def animated(form: str) -> bytes:
    buffer = io.BytesIO()
    frames = [Image.new("RGB", (16, 16), colour) for colour in ("red", "blue")]
    frames[0].save(buffer, form, save_all=True, append_images=frames[1:])
    return buffer.getvalue()


def floating_tiff() -> bytes:
    buffer = io.BytesIO()
    Image.fromarray(np.ones((8, 8), np.float32)).save(buffer, "TIFF")
    return buffer.getvalue()


def encoded(form: str, **options: object) -> bytes:
    noise = np.random.default_rng(2).integers(0, 255, (96, 128, 3), np.uint8)
    buffer = io.BytesIO()
    Image.fromarray(noise).save(buffer, form, **options)
    return buffer.getvalue()


def deep_png() -> bytes:
    noise = np.random.default_rng(2).integers(0, 65535, (96, 128, 3), np.uint16)
    return cv2.imencode(".png", noise)[1].tobytes()


@pytest.mark.parametrize(
    ("data", "said"),
    [
        (tiff_pages([(64, 48)] * 3), "holds 3 pictures"),
        (animated("WEBP"), "animation"),
        (animated("AVIF"), "animation"),
        (floating_tiff(), "floating-point"),
        (encoded("TIFF", compression="tiff_lzw")[:-9000], "damaged or cut short|that can be read"),
        (encoded("WEBP")[:-3000], "damaged or cut short|that can be read"),
        (encoded("AVIF")[:-3000], "damaged or cut short|that can be read"),
        (deep_png()[:-9000], "damaged or cut short"),
    ],
)
def test_what_is_no_single_whole_picture_is_refused(tmp_path, data, said):
    """Pages, animations, numbers that are no light and cut files get one sentence each."""
    path = tmp_path / "photo"
    path.write_bytes(data)
    with pytest.raises(PhotoError, match=said) as caught:
        read_photo(path)
    assert str(caught.value).startswith("photo: ")


def test_a_tiff_with_a_preview_is_one_picture(tmp_path):
    """A small second page is a preview."""
    path = tmp_path / "photo.tif"
    path.write_bytes(tiff_pages([(64, 48), (16, 12)]))
    assert read_photo(path).size_px == (64, 48)


# DNG ------------------------------------------------------------------------------------

PATCHES = (0.02, 0.1, 0.3, 0.6)


def dng(path, orientation: int = 1) -> None:
    """A mosaic of four grey patches, as DNG 1.4 wants it: uncompressed, RGGB, D65-like."""
    black, white = 64, 1023
    mosaic = np.zeros((128, 256), np.uint16)
    for k, light in enumerate(PATCHES):
        mosaic[:, 64 * k : 64 * k + 64] = round(black + light * (white - black))
    matrix = [(3240454, 10**6), (-1537138, 10**6), (-498531, 10**6), (-969266, 10**6),
              (1876010, 10**6), (41556, 10**6), (55643, 10**6), (-204025, 10**6),
              (1057225, 10**6)]  # fmt: skip
    flat = [v for pair in matrix for v in pair]
    tifffile.imwrite(
        path,
        mosaic,
        photometric=32803,
        extratags=[
            (271, "s", 0, "Orchard", True),
            (272, "s", 0, "Pippin 3", True),
            (274, "H", 1, orientation, True),
            (33421, "H", 2, (2, 2), True),
            (33422, "B", 4, (0, 1, 1, 2), True),
            (50706, "B", 4, (1, 4, 0, 0), True),
            (50708, "s", 0, "Pippin 3", True),
            (50714, "H", 1, black, True),
            (50717, "H", 1, white, True),
            (50721, "2i", 9, flat, True),
            (50728, "2I", 3, (1, 1, 1, 1, 1, 1), True),
            (50778, "H", 1, 21, True),
        ],
    )


@pytest.mark.parametrize("orientation", TURNED)
def test_dng_is_developed_with_srgbs_curve(tmp_path, orientation):
    """Grey patches of known light come out at sRGB's codes, upright; the lens is its own."""
    pytest.importorskip("rawpy")
    path = tmp_path / "photo.dng"
    dng(path, orientation)
    photo = read_photo(path)
    stored = np.rot90(photo.pixels, -TURNED[orientation])
    seen = [float(stored[40:80, 64 * k + 20 : 64 * k + 40].mean()) for k in range(4)]
    np.testing.assert_allclose(seen, 255 * srgb_code(np.array(PATCHES)), atol=2.5)
    assert (photo.file.format, photo.file.bits) == ("DNG", 16)
    assert (photo.exif.model, photo.exif.lens) == ("Pippin 3", "(raw)")
    assert "lens correction" in photo.file.notes[0]


def test_a_dng_without_the_extra_says_what_to_install(tmp_path, monkeypatch):
    """The message names the extra and the other way."""
    path = tmp_path / "photo.dng"
    dng(path)
    real = builtins.__import__

    def without(name, *args, **kwargs):
        if name == "rawpy":
            raise ImportError(name)
        return real(name, *args, **kwargs)

    monkeypatch.setattr(builtins, "__import__", without)
    with pytest.raises(PhotoError, match=r"photomeasure\[raw\].*JPEG or HEIC"):
        read_photo(path)


def test_a_dng_that_cannot_be_decoded_is_refused(tmp_path):
    """A DNG cut short, or one whose compression is not known, is told in a sentence."""
    pytest.importorskip("rawpy")
    path = tmp_path / "photo.dng"
    dng(path)
    path.write_bytes(path.read_bytes()[:400])
    with pytest.raises(PhotoError, match=r"cannot be decoded|that can be read"):
        read_photo(path)
