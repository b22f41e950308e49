"""Photos that come from elsewhere: kept whole under a plain name, or not at all."""

import io

import pytest
from PIL import Image

from photomeasure.errors import PhotoError
from photomeasure.files import arriving as module
from photomeasure.files.arriving import arriving, plain_name


def jpeg(colour="red"):
    out = io.BytesIO()
    Image.new("RGB", (40, 30), colour).save(out, "JPEG")
    return out.getvalue()


def bring(folder, title, data):
    with arriving(folder, title) as arrival:
        for k in range(0, len(data), 100):
            arrival.add(data[k : k + 100])
        photo = arrival.look()
        return arrival.keep(), photo


def test_a_photo_is_kept_as_it_came(tmp_path):
    """Byte for byte, and decoded once."""
    name, photo = bring(tmp_path / "new", "mill 1.jpg", jpeg())
    assert (name, photo.size_px) == ("mill 1.jpg", (40, 30))
    assert (tmp_path / "new" / name).read_bytes() == jpeg()


def test_a_name_that_is_taken_gets_a_number_and_the_same_photo_its_own_name(tmp_path):
    """Another photo never replaces one that is there; the same one is not kept twice."""
    assert bring(tmp_path, "a.jpg", jpeg("red"))[0] == "a.jpg"
    assert bring(tmp_path, "a.jpg", jpeg("blue"))[0] == "a 2.jpg"
    assert bring(tmp_path, "a.jpg", jpeg("red"))[0] == "a.jpg"
    assert sorted(p.name for p in tmp_path.iterdir()) == ["a 2.jpg", "a.jpg"]


@pytest.mark.parametrize(
    ("title", "plain"),
    [
        ("../../etc/passwd", "passwd.jpg"),
        ("..\\..\\boot.png", "boot.png"),
        ("C:\\x\\mill.JPG", "mill.jpg"),
        (".hidden.heic", "hidden.heic"),
        ("job.toml", "job toml.jpg"),
        ("\x00\n.jpg", "photo.jpg"),
        ("ein Flansch (2).jpeg", "ein Flansch (2).jpeg"),
        ("x" * 300 + ".jpg", "x" * 60 + ".jpg"),
    ],
)
def test_names_are_made_plain(title, plain):
    """No name leads out of the folder, hides, or trips a disk."""
    assert "".join(plain_name(title)) == plain


def test_what_is_no_photo_leaves_nothing_behind(tmp_path):
    """A text called .jpg is refused, and the folder is as empty as before."""
    with pytest.raises(PhotoError):
        bring(tmp_path, "text.jpg", b"not a photo")
    assert list(tmp_path.iterdir()) == []


def test_too_much_is_refused_while_it_arrives(tmp_path, monkeypatch):
    """The limit counts what came, not what was announced."""
    monkeypatch.setattr(module, "LIMIT_BYTES", 250)
    with pytest.raises(PhotoError, match="more than the limit"):
        bring(tmp_path, "a.jpg", bytes(1000))
    assert list(tmp_path.iterdir()) == []


def test_a_link_of_that_name_is_not_followed(tmp_path):
    """A link in the folder is a taken name, wherever it leads."""
    outside = tmp_path / "outside.jpg"
    outside.write_bytes(jpeg("red"))
    folder = tmp_path / "job"
    folder.mkdir()
    (folder / "a.jpg").symlink_to(outside)
    assert bring(folder, "a.jpg", jpeg("red"))[0] == "a 2.jpg"
