"""How does a part become a 3MF, the mesh format that states its unit (3MF core specification)?"""

from __future__ import annotations

from html import escape
from io import BytesIO
from zipfile import ZIP_DEFLATED, ZipFile, ZipInfo

from photomeasure.exporters.parts.mesh import mesh_of
from photomeasure.exporters.parts.words import facts
from photomeasure.records.part import Part

_TYPES = (
    '<?xml version="1.0" encoding="UTF-8"?>\n'
    '<Types xmlns="http://schemas.openxmlformats.org/package/2006/content-types">'
    '<Default Extension="rels" ContentType='
    '"application/vnd.openxmlformats-package.relationships+xml"/>'
    '<Default Extension="model" ContentType='
    '"application/vnd.ms-package.3dmanufacturing-3dmodel+xml"/>'
    "</Types>"
)
_RELATIONS = (
    '<?xml version="1.0" encoding="UTF-8"?>\n'
    '<Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships">'
    '<Relationship Target="/3D/3dmodel.model" Id="rel0" '
    'Type="http://schemas.microsoft.com/3dmanufacturing/2013/01/3dmodel"/>'
    "</Relationships>"
)
_ALWAYS = (1980, 1, 1, 0, 0, 0)  # so that the same part gives the same bytes


def render(part: Part) -> bytes:
    """A 3MF package with one object."""
    stream = BytesIO()
    with ZipFile(stream, "w", ZIP_DEFLATED) as package:
        _put(package, "[Content_Types].xml", _TYPES)
        _put(package, "_rels/.rels", _RELATIONS)
        _put(package, "3D/3dmodel.model", _model(part))
    return stream.getvalue()


def _put(package: ZipFile, name: str, text: str) -> None:
    info = ZipInfo(name, _ALWAYS)
    info.compress_type = ZIP_DEFLATED
    package.writestr(info, text)


def _model(part: Part) -> str:
    vertices, triangles = mesh_of(part)
    points = "".join(f'<vertex x="{x:.6f}" y="{y:.6f}" z="{z:.6f}"/>' for x, y, z in vertices)
    faces = "".join(f'<triangle v1="{a}" v2="{b}" v3="{c}"/>' for a, b, c in triangles)
    return (
        '<?xml version="1.0" encoding="UTF-8"?>\n'
        '<model unit="millimeter" xml:lang="en" '
        'xmlns="http://schemas.microsoft.com/3dmanufacturing/core/2015/02">'
        f'<metadata name="Title">{escape(part.name)}</metadata>'
        f'<metadata name="Description">{escape("; ".join(facts(part)))}</metadata>'
        '<resources><object id="1" type="model" '
        f'name="{escape(part.name, quote=True)}"><mesh><vertices>{points}</vertices>'
        f"<triangles>{faces}</triangles></mesh></object></resources>"
        '<build><item objectid="1"/></build></model>'
    )
