"""What exactly stands in front of the rendered camera?

One `Scene` describes one photograph completely; both renderers read it and nothing else.
Frame: the sheet frame in true millimetres, x right, y up, z out of the paper. "Nominal"
means as designed; the print makes nominal into true millimetres.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from math import ceil, cos, pi, sin, sqrt

import numpy as np
from numpy.typing import NDArray
from scipy.spatial.transform import Rotation

from photomeasure.errors import GeometryError
from photomeasure.records.job import FeatureEntry, MeasurementEntry, PlaneEntry, PrintEntry
from photomeasure.records.shapes import Shape
from photomeasure.synthetic.lens import Lens
from photomeasure.synthetic.wear import Screen, Waves, Wear

Array = NDArray[np.float64]
Pair = tuple[float, float]

SAG_MM = 1e-4
"""How far a polygon may leave the arc that it stands for."""


@dataclass(frozen=True)
class Curl:
    """The paper rises as a parabolic cylinder beyond a flat strip; 0 elsewhere.

    With s the nominal distance from the centre along `direction_rad` (from +x), the
    height is peak·((s − flat)/(reach − flat))² where s > flat. `both_sides` bends the
    opposite side too; a diagonal direction with one side is a lifted corner.
    """

    peak_mm: float = 0.0
    direction_rad: float = 0.0
    flat_mm: float = 110.0
    reach_mm: float = 150.0
    both_sides: bool = False

    def height_mm(self, points_mm: Array) -> Array:
        """(N,) height of the paper at (N, 2) nominal points."""
        s = points_mm @ np.array([cos(self.direction_rad), sin(self.direction_rad)])
        s = np.abs(s) if self.both_sides else s
        beyond = np.clip((s - self.flat_mm) / (self.reach_mm - self.flat_mm), 0.0, None)
        return np.asarray(self.peak_mm * beyond**2)


@dataclass(frozen=True)
class Print:
    """How a sheet came out of the printer and lies on the table.

    sheet : identity of the design; empty where no sheet lies on the table.
    scale_x, scale_y : true mm per nominal mm.
    growth_mm : how far every edge of ink lies outside its design, true mm.
    dot_gain : by how much a half-tone patch prints darker: ink + 4·gain·ink·(1 − ink).
    wear : what it went through since.
    """

    sheet: str = "window-a4-A"
    scale_x: float = 1.0
    scale_y: float = 1.0
    growth_mm: float = 0.0
    curl: Curl | Waves = field(default_factory=Curl)
    paper_reflectance: float = 0.85
    ink_reflectance: float = 0.04
    dot_gain: float = 0.1
    wear: Wear = field(default_factory=Wear)

    def space_from_sheet(self, points_mm: Array) -> Array:
        """(N, 2) nominal points of the sheet to (N, 3) true mm in space."""
        taped = self.wear.taped
        lying = points_mm if taped is None else taped.moved(points_mm)
        scaled = lying * np.array([self.scale_x, self.scale_y])
        return np.column_stack([scaled, self.curl.height_mm(points_mm)])

    def patch_reflectance(self, ink: float) -> float:
        """The reflectance of a patch designed with this share of ink (0 to 1)."""
        printed = ink + 4 * self.dot_gain * ink * (1 - ink)
        return self.paper_reflectance + printed * (self.ink_reflectance - self.paper_reflectance)


@dataclass(frozen=True)
class Profile:
    """A closed outline of lines and arcs, anticlockwise seen from above, true mm.

    bulges[i] belongs to the piece from points_mm[i] to the next: 0 is a line, else the
    tangent of a quarter of the arc's angle, positive where the outline turns left.
    """

    points_mm: tuple[Pair, ...]
    bulges: tuple[float, ...] = ()

    def pieces(self) -> Iterator[Array]:
        """Each line or arc as a chain (N, 2), its end not included."""
        bulges = self.bulges or (0.0,) * len(self.points_mm)
        ends = (*self.points_mm[1:], self.points_mm[0])
        for start, end, bulge in zip(self.points_mm, ends, bulges, strict=True):
            yield arc_points(np.array(start), np.array(end), bulge)

    def polygon(self) -> Array:
        """(N, 2) closed chain (last point joins the first), within SAG_MM of the outline."""
        return np.concatenate(list(self.pieces()))

    def edge(self, index: int) -> Array:
        """(2, 2) the ends of the straight piece that starts at point `index`."""
        following = (index + 1) % len(self.points_mm)
        return np.array([self.points_mm[index], self.points_mm[following]])


def arc_points(start: Array, end: Array, bulge: float) -> Array:
    """(N, 2) chain from start towards end, end not included, on the arc of this bulge."""
    if bulge == 0.0:
        return start[None, :]
    angle = 4 * np.arctan(bulge)
    chord = end - start
    centre = (start + end) / 2 + np.array([-chord[1], chord[0]]) * (1 - bulge**2) / (4 * bulge)
    radius = float(np.hypot(*(start - centre)))
    count = max(2, ceil(abs(angle) / sqrt(8 * SAG_MM / radius)))
    turns = np.arange(count) * (angle / count)
    arm = start - centre
    swept = np.column_stack(
        [
            arm[0] * np.cos(turns) - arm[1] * np.sin(turns),
            arm[0] * np.sin(turns) + arm[1] * np.cos(turns),
        ]
    )
    return np.asarray(centre + swept)


@dataclass(frozen=True)
class Hole:
    """A round hole through the part; `chamfer_mm` × 45° at its upper rim (0 for none).

    radius_mm is the bore's; the rim on the upper face is radius + chamfer.
    """

    name: str
    centre_mm: Pair
    radius_mm: float
    chamfer_mm: float = 0.0

    @property
    def rim_radius_mm(self) -> float:
        """Radius of the rim on the upper face."""
        return self.radius_mm + self.chamfer_mm

    def ring(self, radius_mm: float) -> Array:
        """(N, 2) the concentric circle of this radius, anticlockwise, of equal area."""
        count = max(32, ceil(pi / sqrt(2 * SAG_MM / radius_mm)))
        turns = 2 * pi * np.arange(count) / count
        equal_area = radius_mm * sqrt(2 * pi / count / sin(2 * pi / count))
        circle = np.column_stack([np.cos(turns), np.sin(turns)])
        return np.asarray(self.centre_mm) + equal_area * circle


@dataclass(frozen=True)
class Part:
    """A flat part lying on the sheet: a vertical prism from z = 0 to its thickness.

    outline : in true mm where it lies. edge_chamfer_mm : × 45° round the upper outline,
    so the upper face's outline lies this much inside. texture : relative roughness (1 σ)
    of the face's reflectance, brushed along `grain_rad` (in the picture, from x to y).
    gloss : radiance that the lamp's blurred reflection adds at its brightest on the face;
    gloss_rad : half the angle by which the face blurs it.
    """

    name: str
    outline: Profile
    thickness_mm: float
    holes: tuple[Hole, ...] = ()
    edge_chamfer_mm: float = 0.0
    face_reflectance: float = 0.35
    wall_reflectance: float = 0.3
    chamfer_reflectance: float = 0.5
    texture: float = 0.0
    grain_rad: float = 0.0
    gloss: float = 0.0
    gloss_rad: float = 0.12

    def hole(self, name: str) -> Hole:
        """The hole of this name."""
        return next(h for h in self.holes if h.name == name)


@dataclass(frozen=True)
class Pose:
    """T_camera_sheet: rotation vector in rad and translation in mm, as POSE_PARAMETERS."""

    rx: float
    ry: float
    rz: float
    tx: float
    ty: float
    tz: float

    @property
    def numbers(self) -> Array:
        """(6,) in the order of POSE_PARAMETERS."""
        return np.array([self.rx, self.ry, self.rz, self.tx, self.ty, self.tz])

    @property
    def rotation(self) -> Array:
        """(3, 3) from the sheet to the camera frame."""
        return np.asarray(Rotation.from_rotvec(self.numbers[:3]).as_matrix())

    @property
    def camera_mm(self) -> Array:
        """(3,) where the camera stands, sheet frame."""
        return -self.rotation.T @ self.numbers[3:]

    @property
    def tilt_rad(self) -> float:
        """Angle between the optical axis and the normal of the sheet."""
        return float(np.arccos(np.clip(-self.rotation[2, 2], -1.0, 1.0)))


@dataclass(frozen=True)
class PlacedCard:
    """A card somewhere in the scene, with nothing in front of it.

    print : of the card, in its own frame. middle_mm : where the middle of its chessboard is.
    turn_rad : rotation vector (3,) from the card to the sheet frame.
    """

    print: Print
    middle_mm: tuple[float, float, float]
    turn_rad: tuple[float, float, float] = (0.0, 0.0, 0.0)

    @property
    def rotation(self) -> Array:
        """(3, 3) from the card to the sheet frame."""
        return np.asarray(Rotation.from_rotvec(self.turn_rad).as_matrix())

    def space_from_card(self, points_mm: Array) -> Array:
        """(N, 2) nominal points of the card to (N, 3) true mm, sheet frame."""
        bent = self.print.space_from_sheet(points_mm)
        return np.asarray(bent @ self.rotation.T + np.array(self.middle_mm))


@dataclass(frozen=True)
class Light:
    """One lamp and a bright surrounding; an open, level surface receives 1 at the centre.

    towards : direction from the sheet to the lamp, any length, z > 0.
    radius_rad : half the angle under which the lamp is seen; it makes the penumbra.
    shadow_darkness : share of the light that the lamp gives (0 no shadow, 1 black ones).
    gradient_per_mm : relative change of the light along x and y of the sheet.
    screens : what keeps the lamp from the scene here and there.
    """

    towards: tuple[float, float, float] = (-0.5, 0.6, 1.0)
    radius_rad: float = 0.12
    shadow_darkness: float = 0.5
    gradient_per_mm: Pair = (0.0, 0.0)
    screens: tuple[Screen, ...] = ()


TONE_CURVES = ("srgb", "gamma22", "film-soft", "film-strong", "lifted")


@dataclass(frozen=True)
class Phone:
    """What the phone does with the light that reaches its sensor.

    exposure : coded white is reached at radiance 1/exposure (radiance 1 is a white, lit,
    level surface). blur_px : Gaussian, before the noise. noise : 1 σ at white, as a share
    of white; shot_share of its variance grows with the light, the rest is constant.
    sharpening : amount of the unsharp mask of sharpening_radius_px, on coded values.
    jpeg_quality : 1–100. orientation : EXIF value 1–8 that the file is stored with.
    defocus_px : radius of the disc that a point out of focus becomes. shake_px : the path
    of the picture during the exposure. smoothing : how far noise is smeared away (px).
    resampled : px of the file for each px of the sensor: above 1 a digital zoom, below 1
    a copy made small. no exif is written where make and model are empty.
    """

    blur_px: float = 0.8
    noise: float = 0.01
    shot_share: float = 0.7
    exposure: float = 0.95
    tone_curve: str = "srgb"
    sharpening: float = 0.4
    sharpening_radius_px: float = 1.2
    jpeg_quality: int = 92
    focal_length_mm: float | None = 5.6
    focal_length_35mm: int | None = 26
    orientation: int = 1
    make: str = "Orchard"
    model: str = "Pippin 3"
    defocus_px: float = 0.0
    shake_px: tuple[Pair, ...] = ()
    smoothing: float = 0.0
    resampled: float = 1.0


@dataclass(frozen=True)
class PointedFeature:
    """What a user points at, and what is true of it.

    entry : with the clicks as they scatter. shape : the truth on the true plane, sheet
    frame, true mm. wrong_rim : whether the clicks lie nearer another rim than the one meant.
    """

    entry: FeatureEntry
    shape: Shape
    wrong_rim: bool = False


@dataclass(frozen=True)
class TrueMeasurement:
    """A measurement a user asks for and the true value of its main output in mm or deg."""

    entry: MeasurementEntry
    quantity: str
    value: float


@dataclass(frozen=True)
class Scene:
    """Everything in one photograph; `stated_*` is what the user says, not what is true."""

    name: str
    print: Print
    parts: tuple[Part, ...]
    lens: Lens
    pose: Pose
    light: Light = field(default_factory=Light)
    phone: Phone = field(default_factory=Phone)
    table_reflectance: float = 0.22
    seed: int = 0
    features: tuple[PointedFeature, ...] = ()
    measurements: tuple[TrueMeasurement, ...] = ()
    stated_planes: tuple[PlaneEntry, ...] = ()
    stated_print: PrintEntry | None = None
    cards: tuple[PlacedCard, ...] = ()

    def image_from_space(self, points_mm: Array) -> Array:
        """(N, 3) true mm, sheet frame, to (N, 2) px through the whole lens.

        Raises GeometryError behind the camera.
        """
        in_camera = points_mm @ self.pose.rotation.T + self.pose.numbers[3:]
        if np.any(in_camera[:, 2] <= 0):
            raise GeometryError("A point lies behind the rendered camera. Move the camera back.")
        return self.lens.pixels_from_normal(in_camera[:, :2] / in_camera[:, 2:])

    def image_from_sheet(self, points_mm: Array) -> Array:
        """(N, 2) nominal points of the printed sheet to (N, 2) px, where they truly appear."""
        return self.image_from_space(self.print.space_from_sheet(points_mm))

    def image_from_plane(self, points_mm: Array, height_mm: float) -> Array:
        """(N, 2) true mm at a height above the flat sheet to (N, 2) px."""
        lifted = np.column_stack([points_mm, np.full(len(points_mm), float(height_mm))])
        return self.image_from_space(lifted)

    def plane_from_image(self, points_px: Array, height_mm: float) -> Array:
        """(N, 2) px to (N, 2) true mm at a height above the flat sheet.

        Sight lines at or above the horizon end far away, not behind the camera.
        """
        normal = self.lens.normal_from_pixels(points_px)
        eye = self.pose.camera_mm
        rays = np.column_stack([normal, np.ones(len(normal))]) @ self.pose.rotation
        fall = np.minimum(rays[:, 2], -1e-3)
        return np.asarray(eye[:2] + rays[:, :2] * ((height_mm - eye[2]) / fall)[:, None])

    def part(self, name: str) -> Part:
        """The part of this name."""
        return next(p for p in self.parts if p.name == name)
