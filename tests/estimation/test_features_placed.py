"""Located features become millimetres whose covariance says what moves with what."""

from dataclasses import replace

import numpy as np
import pytest
import worlds

from photomeasure.errors import GeometryError
from photomeasure.estimation.features import (
    CARD_LEAN_U_DEG,
    EDGE,
    HEIGHT,
    LEAN,
    NOISE,
    TONE,
    Height,
    place_features,
)
from photomeasure.estimation.views import estimate_views
from photomeasure.geometry.camera import camera_centre, image_from_plane, image_from_space
from photomeasure.records.feature import Features, ImageFeature
from photomeasure.uncertainty.propagation import total_covariance

VIEW = worlds.looking_down(25.0)
HEIGHTS = {"sheet": Height(0.0, 0.0), "top": Height(6.0, 0.05), "rail": Height(9.0, 0.1)}
CENTRE, RADIUS = np.array([20.0, -10.0]), 8.0


@pytest.fixture(scope="module")
def solution():
    """The view of one photo by an unknown phone, its bars measured."""
    s = worlds.sighting(VIEW, np.random.default_rng(3))
    lenses, scales = {"lens": worlds.phone_prior()}, {"window-a4-A": worlds.printer(3e-4)}
    return estimate_views([s], lenses, scales)[1]


def seen(name: str, kind: str, points_mm: np.ndarray, plane: str = "top", **doubt) -> ImageFeature:
    """A feature located exactly where the true view has it, with the doubt stated."""
    px = image_from_plane(points_mm, VIEW, HEIGHTS[plane].mm)
    centre = image_from_plane(points_mm.mean(axis=0)[None], VIEW, HEIGHTS[plane].mm)
    out = px - centre
    normals = out / np.maximum(np.linalg.norm(out, axis=1), 1e-9)[:, None]
    if kind == "edge":
        along = (px[-1] - px[0]) / np.linalg.norm(px[-1] - px[0])
        normals = np.tile([-along[1], along[0]], (len(px), 1))
    stated = {"u_noise_px": 0.05, "u_shift_px": 0.03, "u_tone_px": 0.02} | doubt
    extent = px[[0, -1]] if kind == "edge" else np.empty((0, 2))
    return ImageFeature(
        name, kind, "photo", plane, px, normals, spread_px=0.05, extent_px=extent, **stated
    )


def ring(centre: np.ndarray = CENTRE, radius: float = RADIUS) -> np.ndarray:
    turns = np.linspace(0, 2 * np.pi, 90, endpoint=False)
    return centre + radius * np.column_stack([np.cos(turns), np.sin(turns)])


def line(start, end, count: int = 60) -> np.ndarray:
    return np.linspace(np.array(start, float), np.array(end, float), count)


def u(features: Features, row: np.ndarray, source: str | None = None) -> float:
    """Standard uncertainty of a combination of the features' numbers."""
    parts = features.covariances
    covariance = total_covariance(parts) if source is None else parts[source]
    return float(np.sqrt(row @ covariance @ row))


@pytest.mark.parametrize("plane", list(HEIGHTS))
def test_each_kind_comes_out_where_it_is(solution, plane):
    """Point, edge, circle and curve on planes of any height within a few hundredths of a mm."""
    wave = line((-40, 40), (40, 40))
    wave[:, 1] += 3 * np.sin(wave[:, 0] / 12)
    located = [
        seen("p", "point", np.array([[5.0, 6.0]]), plane),
        seen("e", "edge", line((-30, 5), (30, 8)), plane),
        seen("c", "circle", ring(), plane),
        seen("w", "curve", wave, plane),
    ]
    placed = place_features(located, solution, HEIGHTS)
    truth = [[5, 6], [-30, 5, 30, 8], [*CENTRE, RADIUS]]
    for name, expected in zip("pec", truth, strict=True):
        np.testing.assert_allclose(placed[name].shape.numbers, expected, atol=0.05)
    np.testing.assert_allclose(placed["w"].shape.points[[0, -1]], wave[[0, -1]], atol=0.05)
    assert len(placed.values) == placed["w"].indices[-1] + 1


def test_features_of_one_plane_share_its_height(solution):
    """One height moves both: their difference keeps less of it than either; two planes do not."""
    a, b = line((-30, 0), (30, 0)), line((-30, 10), (30, 10))
    apart = np.zeros(8)
    apart[[1, 5]] = [-1.0, 1.0]
    same = place_features([seen("a", "edge", a), seen("b", "edge", b)], solution, HEIGHTS)
    other = place_features([seen("a", "edge", a), seen("b", "edge", b, "rail")], solution, HEIGHTS)
    assert u(same, apart, HEIGHT) < 0.1 * u(other, apart, HEIGHT)
    # One height's error enters by about the tangent of the slant of the sight line.
    alone = np.eye(8)[1]
    assert 0.01 < u(same, alone, HEIGHT) / 0.05 < 1.2


def test_the_tone_curve_is_common_and_an_edge_s_doubt_is_its_own(solution):
    """Two holes share the photo's tone: radii move together; their own doubt does not."""
    located = [seen("a", "circle", ring()), seen("b", "circle", ring(-CENTRE))]
    placed = place_features(located, solution, HEIGHTS)
    tone, edge = placed.covariances[TONE], placed.covariances[EDGE]
    assert tone[2, 5] == pytest.approx(np.sqrt(tone[2, 2] * tone[5, 5]))
    assert edge[2, 5] == 0
    px_per_mm = 3010 / 324
    assert np.sqrt(edge[2, 2]) == pytest.approx(0.03 / px_per_mm, rel=0.15)


def test_noise_averages_out_over_the_rim(solution):
    """The noise of a full circle's centre is that of 90 points, two of each correlated."""
    placed = place_features([seen("a", "circle", ring())], solution, HEIGHTS)
    mm = 0.05 / (3010 / 324)
    expected = mm * np.sqrt(2 / 90) * np.sqrt(2)
    assert np.sqrt(placed.covariances[NOISE][0, 0]) == pytest.approx(expected, rel=0.25)


def test_the_linear_covariance_is_what_redrawn_views_show(solution):
    """Monte Carlo judge: views and heights drawn anew scatter a far point as was said."""
    rng = np.random.default_rng(5)
    feature = [seen("e", "edge", line((-60, -80), (60, -80)), u_noise_px=0.0)]
    placed = place_features(feature, solution, HEIGHTS)
    parts = {k: v for k, v in placed.covariances.items() if k not in (EDGE, TONE, NOISE)}
    expected = np.sqrt(np.diag(total_covariance(parts)))[1]
    draws = rng.multivariate_normal(solution.values, solution.covariance, 120, method="eigh")
    found = []
    for values in draws:
        view = replace(solution.views[0], camera=values[:8], pose=values[8:])
        heights = HEIGHTS | {"top": Height(6.0 + 0.05 * rng.standard_normal(), 0.05)}
        again = place_features(feature, replace(solution, views=(view,)), heights)
        found.append(again.values[1])
    assert np.std(found) == pytest.approx(expected, rel=0.25)  # chi, 119 degrees: 4 sigma


def test_what_defines_no_shape_is_named(solution):
    """Points of a "circle" on a line: the feature and its photo stand in the message."""
    flat = seen("bore", "circle", line((0, 0), (20, 0), 12))
    with pytest.raises(GeometryError, match=r"^bore in photo: "):
        place_features([flat], solution, HEIGHTS)


def tube_seen(axis_mm: np.ndarray, radius: float, height: float, **doubt) -> ImageFeature:
    """A tube located exactly where sight lines graze it, by vectors and the camera model."""
    eye = camera_centre(VIEW)
    start, end = (np.append(p, height) for p in axis_mm)
    along = (end - start) / np.linalg.norm(end - start)
    to_eye = (eye - start) - ((eye - start) @ along) * along
    away = float(np.linalg.norm(to_eye))
    beside = np.cross(along, to_eye / away)
    lines, normals = [], []
    for side in (1.0, -1.0):
        cosine = radius / away
        outward = cosine * to_eye / away + side * np.sqrt(1 - cosine**2) * beside
        line = start + np.linspace(0, 1, 60)[:, None] * (end - start) + radius * outward
        here = image_from_space(line, VIEW)
        across = image_from_space(line + 0.05 * outward, VIEW) - here
        way = (here[-1] - here[0]) / np.linalg.norm(here[-1] - here[0])
        left = np.array([-way[1], way[0]])
        lines.append(here)
        normals.append(np.tile(left * np.sign(across[0] @ left), (60, 1)))
    ends = np.vstack([line[[0, -1]] for line in lines])
    stated = {"u_noise_px": 0.05, "u_shift_px": 0.03, "u_tone_px": 0.02} | doubt
    return ImageFeature(
        "hose", "tube", "photo", "axis", np.vstack(lines), np.vstack(normals), spread_px=0.05,
        extent_px=ends, **stated,
    )  # fmt: skip


AXIS = np.array([[-40.0, 20.0], [35.0, 45.0]])
AXIS_HEIGHTS = HEIGHTS | {"axis": Height(15.0, 0.25)}


def test_a_tube_comes_out_with_its_axis_and_radius(solution):
    """Both silhouettes of a 24 mm tube, seen at 25° of tilt, give the tube back."""
    placed = place_features([tube_seen(AXIS, 12.0, 15.0)], solution, AXIS_HEIGHTS)
    tube = placed["hose"].shape
    assert tube.radius == pytest.approx(12.0, abs=0.03)
    assert tube.taper_deg < 0.05
    way = (AXIS[1] - AXIS[0]) / np.linalg.norm(AXIS[1] - AXIS[0])
    np.testing.assert_allclose((tube.axis - AXIS) @ [-way[1], way[0]], 0, atol=0.05)


def test_a_tube_takes_its_doubt_from_height_and_edges(solution):
    """0.25 mm of axis height is about r·0.25/h of radius; an edge's doubt enters outwards."""
    placed = place_features([tube_seen(AXIS, 12.0, 15.0)], solution, AXIS_HEIGHTS)
    away = np.linalg.norm(camera_centre(VIEW) - [0.0, 30.0, 15.0])
    only_r = np.eye(5)[4]
    assert u(placed, only_r, HEIGHT) == pytest.approx(12.0 * 0.25 / away, rel=0.25)
    px_per_mm = 3010 / away
    assert u(placed, only_r, EDGE) == pytest.approx(0.03 / px_per_mm, rel=0.15)


def test_a_row_keeps_the_doubt_of_each_click(solution):
    """Points of a row err each on its own, by what is stated of one click."""
    crests = np.column_stack([np.arange(12) * 1.5, np.zeros(12)])
    image = seen("crests", "row", crests, u_noise_px=1.5)
    placed = place_features([image], solution, HEIGHTS)
    noise = placed.covariances[NOISE]
    assert np.sqrt(noise[0, 0]) == pytest.approx(1.5 / (3010 / 324), rel=0.15)
    np.testing.assert_array_equal(noise, np.diag(np.diag(noise)))


def test_points_of_a_curve_err_together_over_ten_rows(solution):
    """Of 96 rows 48 points are kept, two rows apart: neighbours share 8 of 10 rows."""
    wave = line((-40, 40), (40, 40), 96)
    placed = place_features([seen("w", "curve", wave)], solution, HEIGHTS)
    noise = placed.covariances[NOISE]
    assert noise[0, 2] / noise[0, 0] == pytest.approx(1 - 95 / 47 / 10, abs=1e-9)
    assert noise[0, 12] == 0
    assert noise[0, 1] == 0


def test_a_lean_moves_a_point_by_as_much_as_it_lifts_it_along_the_sight_line(solution):
    """Its budget is the apparent shift of a point that a leaning plane lifts out of the card's:
    lift × (eye - point) / eye's height, by similar triangles."""
    card = replace(solution, views=(replace(solution.views[0], is_card=True),))
    at = np.array([25.0, 60.0])
    placed = place_features([seen("p", "point", at[None], "sheet")], card, HEIGHTS)
    eye = camera_centre(card.views[0].parameters)
    shifts = [np.radians(CARD_LEAN_U_DEG) * lift * (at - eye[:2]) / eye[2] for lift in at[::-1]]
    expected = sum(np.outer(s, s) for s in shifts)
    np.testing.assert_allclose(placed.covariances[LEAN], expected, rtol=2e-3)
    flat = place_features([seen("p", "point", at[None], "sheet")], solution, HEIGHTS)
    assert LEAN not in flat.covariances
