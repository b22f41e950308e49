"""What can be measured: one file a kind, one entry here each."""

from __future__ import annotations

from photomeasure.measurements.angle import Angle
from photomeasure.measurements.bolt_circle import BoltCircle
from photomeasure.measurements.diameter import Diameter
from photomeasure.measurements.distance import Distance
from photomeasure.measurements.gap import Gap
from photomeasure.measurements.kind import MeasurementKind
from photomeasure.registry import Registry

MEASUREMENTS: Registry[MeasurementKind] = Registry(
    "measurement kind", (Distance(), Gap(), Diameter(), BoltCircle(), Angle())
)
