"""What can be measured: one file a kind, one entry here each."""

from __future__ import annotations

from photomeasure.measurements.angle import Angle
from photomeasure.measurements.bend_radius import BendRadius
from photomeasure.measurements.bolt_circle import BoltCircle
from photomeasure.measurements.clock_position import ClockPosition
from photomeasure.measurements.diameter import Diameter
from photomeasure.measurements.distance import Distance
from photomeasure.measurements.edge_length import EdgeLength
from photomeasure.measurements.gap import Gap
from photomeasure.measurements.gravity_angle import LEVEL_ANGLE, PLUMB_ANGLE
from photomeasure.measurements.handedness import Handedness
from photomeasure.measurements.hole_pattern import HolePattern
from photomeasure.measurements.hole_to_edge import HoleToEdge
from photomeasure.measurements.kind import MeasurementKind
from photomeasure.measurements.outside_diameter import OutsideDiameter
from photomeasure.measurements.point_to_edge import PointToEdge
from photomeasure.measurements.radius import Radius
from photomeasure.measurements.slot import Slot
from photomeasure.measurements.symmetry_axis import SymmetryAxis
from photomeasure.measurements.thread_pitch import ThreadPitch
from photomeasure.measurements.web import Web
from photomeasure.measurements.width import Width
from photomeasure.registry import Registry

MEASUREMENTS: Registry[MeasurementKind] = Registry(
    "measurement kind",
    (
        Distance(),
        Gap(),
        PointToEdge(),
        EdgeLength(),
        Width(),
        Diameter(),
        HoleToEdge(),
        Web(),
        BoltCircle(),
        HolePattern(),
        Slot(),
        Radius(),
        BendRadius(),
        OutsideDiameter(),
        Angle(),
        ClockPosition(),
        PLUMB_ANGLE,
        LEVEL_ANGLE,
        SymmetryAxis(),
        Handedness(),
        ThreadPitch(),
    ),
)
