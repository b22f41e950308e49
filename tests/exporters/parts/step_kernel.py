"""An independent kernel (Open CASCADE) that reads STEP; a development tool only.

Tests that need it skip where it is absent, unless PHOTOMEASURE_REQUIRE_STEP_KERNEL=1 makes
its absence a failure.
"""

from __future__ import annotations

import importlib
import os
from pathlib import Path

import pytest


def module(name: str):
    """A module of the kernel; skips or fails when absent."""
    try:
        return importlib.import_module(f"OCP.{name}")
    except ImportError:
        said = "cadquery-ocp-novtk is not here: pip install cadquery-ocp-novtk"
        if os.environ.get("PHOTOMEASURE_REQUIRE_STEP_KERNEL") == "1":
            pytest.fail(said)
        pytest.skip(said)


def read(path: Path):
    """The one shape in a STEP file."""
    reader = module("STEPControl").STEPControl_Reader()
    done = module("IFSelect").IFSelect_ReturnStatus.IFSelect_RetDone
    assert reader.ReadFile(str(path)) == done
    reader.TransferRoots()
    return reader.OneShape()


def volume_mm3(shape) -> float:
    """As the kernel integrates it."""
    properties = module("GProp").GProp_GProps()
    module("BRepGProp").BRepGProp.VolumeProperties_s(shape, properties)
    return float(properties.Mass())


def is_valid(shape) -> bool:
    """Whether the kernel finds no fault in it."""
    return bool(module("BRepCheck").BRepCheck_Analyzer(shape).IsValid())


def cylinders_mm(shape) -> list[float]:
    """Radii of all cylindrical faces."""
    surfaces = importlib.import_module("OCP.BRepAdaptor").BRepAdaptor_Surface
    explorer = importlib.import_module("OCP.TopExp").TopExp_Explorer
    kinds = importlib.import_module("OCP.TopAbs").TopAbs_ShapeEnum
    cylinder = importlib.import_module("OCP.GeomAbs").GeomAbs_SurfaceType.GeomAbs_Cylinder
    topods = importlib.import_module("OCP.TopoDS").TopoDS
    to_face = getattr(topods, "Face_s", None) or topods.Face
    found = []
    faces = explorer(shape, kinds.TopAbs_FACE)
    while faces.More():
        surface = surfaces(to_face(faces.Current()))
        if surface.GetType() == cylinder:
            found.append(round(surface.Cylinder().Radius(), 6))
        faces.Next()
    return found
