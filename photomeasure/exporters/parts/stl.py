"""How does a part become a binary STL? The format has no unit: the name and header say mm.

Its header has room for 80 letters, and a reader takes a file that begins with "solid" for text.
"""

from __future__ import annotations

import numpy as np

from photomeasure.exporters.parts.mesh import mesh_of
from photomeasure.records.part import Part


def render(part: Part) -> bytes:
    """Binary STL, little endian, normals of unit length."""
    vertices, triangles = mesh_of(part)
    corners = vertices[triangles]
    normals = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    normals /= np.linalg.norm(normals, axis=1)[:, None]
    record = np.dtype([("normal", "<f4", 3), ("corners", "<f4", (3, 3)), ("spare", "<u2")])
    rows = np.zeros(len(triangles), record)
    rows["normal"], rows["corners"] = normals, corners
    caution = "measured shape, not an approval; " if part.cautions else ""
    header = f"millimetres; {caution}{part.name}".encode("ascii", "replace")[:80].ljust(80)
    return header + np.uint32(len(rows)).tobytes() + rows.tobytes()
