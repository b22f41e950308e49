"""A face ends where its even light does, not where the light changes most."""

import flat_pictures as flat
import numpy as np

from photomeasure.vision.band import sample_band
from photomeasure.vision.faces import can_be_judged, face_end
from photomeasure.vision.paths import path_of
from photomeasure.vision.ridges import find_ridges
from photomeasure.vision.rims import answers

CENTRE = np.array([350.0, 250.0])


def ring_band(light: np.ndarray, radius: float, half_px: float):
    """A band round three clicks on a circle about the middle of the picture."""
    turns = np.array([0.1, 2.2, 4.3])
    clicks = CENTRE + radius * np.column_stack([np.cos(turns), np.sin(turns)])
    path = path_of("circle", clicks, light, flat.VIEW, 0.0)
    return sample_band(light, path, half_px)


def chamfered_hole() -> np.ndarray:
    """A hole of radius 80 whose face ends at 90, all but as bright as the chamfer between."""
    x, y = flat.grid()
    away = np.hypot(x - CENTRE[0], y - CENTRE[1])
    return flat.noisy(flat.step(away - 80.0, 0.8, 0.30) + flat.step(away - 90.0, 0.0, 0.03))


def test_a_faint_end_of_the_face_outranks_a_sharp_edge_inside_it():
    """Clicked on the sharp lower edge, the face is found to end 10 px further out."""
    end = face_end(ring_band(chamfered_hole(), 80.0, 22.0), 1)
    assert end.is_clear
    assert abs(end.edge.offset_px.mean() - 10.0) < 1.0


def test_a_face_that_is_nowhere_uneven_has_no_clear_end():
    """On a bare face nothing looks like something else."""
    light = flat.noisy(np.full(flat.SIZE, 0.4))
    assert not face_end(ring_band(light, 80.0, 20.0), 1).is_clear


def test_a_band_too_narrow_for_a_face_is_judged_by_its_lines_alone():
    """Round a hole of a few pixels there is no room to learn the face: its rim is found still."""
    band = ring_band(flat.noisy(flat.disc(CENTRE, 80.0)), 80.0, 3.0)
    assert not can_be_judged(band)
    best, *_ = answers(band, find_ridges(band), 0.75)
    assert abs(best.line_px.mean()) < 0.5
