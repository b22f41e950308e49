"""The sample photos' truth files agree with themselves, with OpenCV and with the scenes; so do
their jobs."""

import hashlib
import json
from dataclasses import replace
from pathlib import Path

import cv2
import numpy as np
import pytest
from PIL import Image

from photomeasure import files
from photomeasure.benchmark.make_samples import chosen
from photomeasure.errors import JobError
from photomeasure.rules import RULES
from photomeasure.synthetic.sample_jobs import sample_jobs
from photomeasure.synthetic.sample_truth import truth
from photomeasure.synthetic.samples import samples

FOLDER = Path(__file__).parents[2] / "sample_images"
FOLDERS = {sample.scene.name: FOLDER / sample.folder for sample in samples()}
NAMES = list(FOLDERS)
JOBS = {sample_job.folder: sample_job for sample_job in sample_jobs()}


def _read(name):
    return json.loads((FOLDERS[name] / f"{name}.truth.json").read_text(encoding="utf-8"))


def _features(told):
    return {feature["name"]: feature for feature in told["features"]}


def _measured(told, kind):
    return [m for m in told["measurements"] if m["kind"] == kind]


@pytest.mark.parametrize("name", NAMES)
def test_truth_file_is_what_the_scene_gives_today(name):
    """No truth is typed by hand or stale: the scene gives the file again, to rounding."""
    scene = next(s.scene for s in samples() if s.scene.name == name)
    again = json.loads(json.dumps(truth(scene)))
    assert _flat(again) == pytest.approx(_flat(_read(name)), abs=1e-3, rel=1e-9)


def _flat(value):
    """Every number of a JSON value in order."""
    if isinstance(value, dict):
        return [n for key in sorted(value) for n in _flat(value[key])]
    if isinstance(value, list):
        return [n for item in value for n in _flat(item)]
    return [value] if isinstance(value, int | float) else []


@pytest.mark.parametrize("name", NAMES)
def test_photo_is_twelve_megapixels_upright_as_its_truth_says(name):
    """Each JPEG has 12 MP, and turned by its EXIF orientation the size of its lens."""
    told = _read(name)
    with Image.open(FOLDERS[name] / told["photo"]) as image:
        orientation = image.getexif().get(0x0112, 1)
        size = image.size if orientation < 5 else image.size[::-1]
    assert orientation == told["phone"]["orientation"]
    assert list(size) == told["camera"]["size_px"]
    assert size[0] * size[1] == 4032 * 3024


def test_all_samples_together_stay_under_40_mb():
    """The folder can be cloned in a minute."""
    assert sum(f.stat().st_size for f in FOLDER.rglob("*") if f.is_file()) < 40e6


@pytest.mark.parametrize("name", NAMES)
def test_points_in_px_are_what_opencv_projects(name):
    """OpenCV's own projection with twelve coefficients gives the points in px to 0.001."""
    told = _read(name)
    lens, pose = told["camera"], told["pose"]
    matrix = np.array([[lens["f_px"], 0, lens["cx"]], [0, lens["f_px"], lens["cy"]], [0, 0, 1]])
    order = ("k1", "k2", "p1", "p2", "k3", "k4", "k5", "k6", "s1", "s2", "s3", "s4")
    bend = np.array([lens[key] for key in order])
    turn, shift = (
        np.array([pose[k] for k in ("rx", "ry", "rz")]),
        np.array([pose[k] for k in ("tx", "ty", "tz")]),
    )
    for feature in told["features"]:
        flat = np.array(feature["points_mm"])
        space = np.column_stack([flat, np.full(len(flat), feature["height_mm"])])
        seen = cv2.projectPoints(space, turn, shift, matrix, bend)[0].reshape(-1, 2)
        assert seen == pytest.approx(np.array(feature["points_px"]), abs=1e-3)


@pytest.mark.parametrize("name", NAMES)
def test_clicks_lie_within_ten_pixels_of_their_rim(name):
    """Clicks scatter by 2.5 px as a finger's do: all lie within 10 px of the true rim."""
    scene = next(s.scene for s in samples() if s.scene.name == name)
    told = _read(name)
    for feature in told["features"]:
        clicks = np.array(feature["clicks_px"])
        on_plane = scene.plane_from_image(clicks, feature["height_mm"])
        px_per_mm = told["camera"]["f_px"] / told["pose"]["tz"]
        assert np.max(_away(on_plane, feature)) * px_per_mm < 10.0


def _away(points, feature):
    if "radius_mm" in feature:
        centre = np.array(feature["centre_mm"])
        return np.abs(np.linalg.norm(points - centre, axis=1) - feature["radius_mm"])
    chain = np.array(feature["chain_mm"])
    return np.array([_to_chain(p, chain) for p in points])


def _to_chain(point, chain):
    a, b = chain[:-1], chain[1:]
    along = b - a
    share = np.clip(np.sum((point - a) * along, 1) / np.sum(along**2, 1), 0, 1)
    return float(np.min(np.linalg.norm(a + share[:, None] * along - point, axis=1)))


def test_bolt_circles_are_what_their_holes_give():
    """Holes lie on the stated bolt circle but for their errors, which average to nothing."""
    seen = 0
    for told in map(_read, NAMES):
        features = _features(told)
        for measured in _measured(told, "bolt_circle"):
            holes = np.array([features[h]["centre_mm"] for h in measured["of"]["holes"]])
            said = measured["quantities"]
            away = np.linalg.norm(holes - [said["centre_x"], said["centre_y"]], axis=1)
            assert away.mean() == pytest.approx(said["diameter"] / 2, abs=1e-6)
            assert np.abs(away - away.mean()).max() < 0.15
            seen += 1
    assert seen == 3


def test_gaps_are_the_least_distance_of_their_rims():
    """Each gap equals the least distance from the one rim's points to the other chain; from a
    circle it is that from its centre, less the radius."""
    seen = 0
    for told in map(_read, NAMES):
        features = _features(told)
        for measured in _measured(told, "gap"):
            a, b = (features[measured["of"][role][0]] for role in ("a", "b"))
            ends = np.array(b["chain_mm"])
            fine = np.linspace(ends[0], ends[-1], 20001) if len(ends) == 2 else ends
            if "radius_mm" in a:
                away = np.linalg.norm(fine - a["centre_mm"], axis=1)
                least = float(away.min()) - a["radius_mm"]
            else:
                least = min(_to_chain(p, np.array(a["chain_mm"])) for p in fine)
            assert least == pytest.approx(measured["quantities"]["gap"], abs=1e-3)
            seen += 1
    assert seen == 4


def test_diameters_angles_and_bars_follow_from_features_and_print():
    """Diameter is twice the radius, an angle the chains' turn, a bar 150 mm times scale."""
    for told in map(_read, NAMES):
        features = _features(told)
        for measured in _measured(told, "diameter"):
            circle = features[measured["of"]["circle"][0]]
            assert measured["quantities"]["diameter"] == pytest.approx(2 * circle["radius_mm"])
        for measured in _measured(told, "angle"):
            ways = [
                np.diff(features[n[0]]["chain_mm"], axis=0)[0] for n in measured["of"].values()
            ]
            turns = [np.degrees(np.arctan2(w[1], w[0])) for w in ways]
            between = abs((turns[0] - turns[1] + 90) % 180 - 90)
            assert measured["quantities"]["angle"] == pytest.approx(between)
        assert told["print"]["bar_x_mm"] == pytest.approx(150 * told["print"]["scale_x"])
        assert told["print"]["bar_y_mm"] == pytest.approx(150 * told["print"]["scale_y"])


@pytest.mark.parametrize("folder", JOBS)
def test_each_job_is_what_its_scenes_give_and_names_its_photos(folder):
    """job.toml is never edited by hand: samples give it again; hashes and record are there."""
    path, said = FOLDER / folder / "job.toml", JOBS[folder]
    read = files.read_job(path, RULES.names)
    bare = [replace(photo, sha256=None, camera=None) for photo in read.photos]
    assert replace(read, photos=tuple(bare)) == said.job
    assert all(hash_of(path.parent / photo.file) == photo.sha256 for photo in read.photos)
    assert len(files.read_cameras(path.parent, read)) == int(said.with_record)


def hash_of(path):
    return hashlib.sha256(path.read_bytes()).hexdigest()


def test_jobs_show_a_record_none_and_unread_bars():
    """Of the jobs some use a camera record and some none, and one print's bars were not read."""
    assert {job.with_record for job in JOBS.values()} == {True, False}
    assert [folder for folder, job in JOBS.items() if not job.job.prints] == ["stand"]


def test_every_measurement_of_a_job_has_its_truth():
    """What the jobs measure stands by the same name in the truth of their photos."""
    for folder, sample_job in JOBS.items():
        names = [n for n, where in FOLDERS.items() if where.name == folder]
        known = [m["name"] for name in names for m in _read(name)["measurements"]]
        assert known == [m.name for m in sample_job.job.measurements]


def test_an_unknown_sample_is_refused_with_the_known_names():
    """A slip in a name lists what there is."""
    with pytest.raises(JobError, match="flange-front"):
        chosen(["flange-frnt"])
