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


def edge_band(light: np.ndarray, clicks):
    path = path_of("edge", np.asarray(clicks, float), light, flat.VIEW, 0.0)
    return sample_band(light, path, 20.0)


def test_a_shadow_that_crosses_beside_an_edge_is_not_taken_for_it():
    """An edge borders on shade here and on lit paper there; the shade's own rim is far sharper
    and runs askew of the clicks at the edge's ends."""
    x, y = flat.grid()
    shade = flat.step(x - 296.0 - 0.035 * (y - 250), 0.07, 0.55)
    light = np.where(x < 300, shade, 0.30).astype(float)
    band = edge_band(flat.noisy(light), [[301, 80], [299, 420]])
    best, *_ = answers(band, find_ridges(band), 0.85)
    x_found = band.path.points_px[:, 0] + best.line_px * band.path.normals_px[:, 0]
    assert np.abs(x_found - 299.5).max() < 1.0


def test_two_faces_that_end_at_one_line_in_the_shade_may_be_either():
    """Beside lit paper the part's side is clear; between two dark faces it is not."""
    x, _ = flat.grid()
    clicks = [[300, 80], [300, 420]]

    def either(bright: float) -> bool:
        band = edge_band(flat.noisy(flat.step(x - 300.0, 0.15, bright)), clicks)
        return answers(band, find_ridges(band), 0.8)[0].either_side

    assert either(0.35)
    assert not either(0.78)
