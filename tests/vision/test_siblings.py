"""One hole of a pattern taken by another rim than its siblings, without any picture."""

from dataclasses import replace

import numpy as np
import pytest

from photomeasure.geometry.camera import image_from_plane
from photomeasure.records.feature import Alternative, ImageFeature
from photomeasure.records.job import FeatureEntry, Job, MeasurementEntry
from photomeasure.vision.siblings import Ground, like_siblings

# Straight from above: f 1000 px, 500 mm away, so 2 px per mm.
VIEW = np.array([1000.0, 320, 240, 0, 0, 0, 0, 0, np.pi, 0, 0, 0, 0, 500])
GROUND = Ground(VIEW, 0.0)


def rim(diameter_mm):
    angle = np.linspace(0, 2 * np.pi, 40, endpoint=False)
    circle = diameter_mm / 2 * np.column_stack([np.cos(angle), np.sin(angle)])
    return image_from_plane(circle, VIEW, 0.0)


def hole(name, diameter_mm, chosen=1, **others):
    """others : `rim_2=9.0` is another rim of that size, number 2."""
    points = rim(diameter_mm)
    rivals = tuple(
        Alternative(int(key.removeprefix("rim_")), "edge", rim(size), 0.3)
        for key, size in others.items()
    )
    return ImageFeature(
        name, "circle", "photo", "top", points, 0 * points, 0.1, 0.1, 0.1, True, chosen, rivals
    )


def suited(holes, **choices):
    """Diameters by name after looking at the siblings, and the warnings."""
    by_name = {h.name: h for h in holes}
    entries = tuple(
        FeatureEntry(h.name, "circle", "photo", "top", ((0, 0),), choice=choices.get(h.name))
        for h in holes
    )
    of = (("holes", tuple(by_name)),)
    job = Job("", (), entries, (MeasurementEntry("bolts", "bolt_circle", of),))

    def again(entry):
        one = by_name[entry.name]
        other = next(a for a in one.alternatives if a.number == entry.choice)
        return replace(one, points_px=other.points_px, chosen=entry.choice, alternatives=())

    found = like_siblings(job, holes, GROUND, again)
    assert [f.name for f in found] == list(by_name)
    sizes = {f.name: GROUND.diameter_mm(f.points_px) for f in found}
    return sizes, {f.name: f.warnings for f in found}


def test_the_rim_of_the_usual_size_is_taken_and_told():
    """The fourth was taken by its chamfer's lower rim."""
    alike = [hole(n, d) for n, d in (("a", 8.8), ("b", 8.75), ("c", 8.85))]
    sizes, said = suited([*alike, hole("d", 7.8, 1, rim_2=8.82, rim_3=9.3)])
    assert sizes["d"] == pytest.approx(8.82, abs=1e-3)
    assert "choice = 1" in said["d"][0]
    assert not said["a"]


@pytest.mark.parametrize(
    "odd", [hole("d", 7.8), hole("d", 7.8, 1, rim_2=8.4), hole("d", 8.7, 1, rim_2=8.8)]
)
def test_a_hole_without_a_rim_of_the_usual_size_stays(odd):
    """It is of another size, or no rim is near, or it is alike already."""
    before = GROUND.diameter_mm(odd.points_px)
    sizes, said = suited([hole("a", 8.8), hole("b", 8.75), hole("c", 8.85), odd])
    assert sizes["d"] == pytest.approx(before)
    assert not said["d"]


def test_the_users_choice_stands():
    """Whoever chose a rim meant it."""
    alike = [hole(n, 8.8) for n in "abc"]
    sizes, _ = suited([*alike, hole("d", 7.8, 1, rim_2=8.8)], d=1)
    assert sizes["d"] == pytest.approx(7.8)


def test_where_half_are_of_each_size_nothing_is_changed():
    """Two pairs, as of screws and dowels."""
    holes = [hole("a", 8.8), hole("b", 8.8)]
    holes += [hole(n, 8.0, 1, rim_2=8.8) for n in "cd"]
    sizes, _ = suited(holes)
    assert sizes["c"] == pytest.approx(8.0)
