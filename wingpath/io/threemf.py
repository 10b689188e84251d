"""3MF: meshes with units and names, as XML in a zip package.

Written after the 3MF Core Specification of the 3MF Consortium (version 1.4.0) and the Open Packaging
Conventions (ISO/IEC 29500-2). The writer is our own because the package has three small parts only: the
standard library's zip does, and the same mesh gives the same bytes. Reading is in :mod:`.threemf_reader`.
"""

from __future__ import annotations

import io
import zipfile
from collections.abc import Sequence
from pathlib import Path
from xml.sax.saxutils import quoteattr

from wingpath.core.errors import FileAccessError
from wingpath.geometry.mesh import Mesh
from wingpath.geometry.single_precision import single_vertices

__all__ = ["CORE", "MODEL_RELATION", "PRODUCTION", "threemf_bytes", "write_3mf"]

CORE = "http://schemas.microsoft.com/3dmanufacturing/core/2015/02"
PRODUCTION = "http://schemas.microsoft.com/3dmanufacturing/production/2015/06"
MODEL_RELATION = "http://schemas.microsoft.com/3dmanufacturing/2013/01/3dmodel"
MODEL_PART = "3D/3dmodel.model"
XML_HEAD = '<?xml version="1.0" encoding="UTF-8"?>\n'


def threemf_bytes(meshes: Mesh | Sequence[Mesh], *, name: str) -> bytes:
    """Return a 3MF package in millimetres.

    Parameters
    ----------
    meshes : Mesh or sequence of Mesh
        Closed meshes that face outward [mm]; each becomes an object under its own name.
    name : str
        Title of the package.

    Notes
    -----
    Coordinates are the ones that an STL file of the same mesh holds, with as many digits as tell every 32-bit
    number apart: both files hold the same solid.
    """
    objects = [meshes] if isinstance(meshes, Mesh) else list(meshes)
    parts = [
        f'{XML_HEAD}<model unit="millimeter" xml:lang="en-US" xmlns="{CORE}">\n'
        f'<metadata name="Title">{_escaped(name)}</metadata>\n'
        '<metadata name="Application">wingpath</metadata>\n<resources>\n'
    ]
    for number, mesh in enumerate(objects, start=1):
        parts.append(
            f'<object id="{number}" type="model" name={quoteattr(_printable(mesh.name))}>\n'
            "<mesh>\n<vertices>\n"
        )
        corners = single_vertices(mesh)
        parts.append(
            '<vertex x="%.9g" y="%.9g" z="%.9g"/>\n' * len(corners) % tuple(corners.ravel().tolist())
        )
        parts.append("</vertices>\n<triangles>\n")
        parts.append(
            '<triangle v1="%d" v2="%d" v3="%d"/>\n' * len(mesh.faces) % tuple(mesh.faces.ravel().tolist())
        )
        parts.append("</triangles>\n</mesh>\n</object>\n")
    parts.append("</resources>\n<build>\n")
    parts += [f'<item objectid="{number}"/>\n' for number in range(1, len(objects) + 1)]
    parts.append("</build>\n</model>\n")
    types = (
        f'{XML_HEAD}<Types xmlns="http://schemas.openxmlformats.org/package/2006/content-types">\n'
        '<Default Extension="rels" ContentType="application/vnd.openxmlformats-package.relationships+xml"/>\n'
        '<Default Extension="model" ContentType="application/vnd.ms-package.3dmanufacturing-3dmodel+xml"/>\n'
        "</Types>\n"
    )
    relations = (
        f'{XML_HEAD}<Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships">\n'
        f'<Relationship Target="/{MODEL_PART}" Id="rel0" Type="{MODEL_RELATION}"/>\n</Relationships>\n'
    )
    package = io.BytesIO()
    with zipfile.ZipFile(package, "w", zipfile.ZIP_DEFLATED, compresslevel=4) as archive:
        for part, text in (
            ("[Content_Types].xml", types),
            ("_rels/.rels", relations),
            (MODEL_PART, "".join(parts)),
        ):
            # A fixed date, the earliest that zip knows: the same mesh gives the same bytes.
            entry = zipfile.ZipInfo(part, date_time=(1980, 1, 1, 0, 0, 0))
            entry.compress_type = zipfile.ZIP_DEFLATED
            archive.writestr(entry, text.encode("utf-8"), compresslevel=4)
    return package.getvalue()


def write_3mf(path: Path, meshes: Mesh | Sequence[Mesh], *, name: str) -> None:
    """Write a 3MF package; see :func:`threemf_bytes`.

    Raises
    ------
    FileAccessError
        When the file cannot be written.
    """
    data = threemf_bytes(meshes, name=name)
    try:
        Path(path).write_bytes(data)
    except OSError as error:
        raise FileAccessError(
            f"{path}: cannot be written: {error.strerror or error}. Check the folder."
        ) from error


def _printable(text: str) -> str:
    """Replace what XML cannot hold."""
    return "".join(
        c if c >= " " and c not in "\ufffe\uffff" and not "\ud800" <= c <= "\udfff" else "?" for c in text
    )


def _escaped(text: str) -> str:
    return quoteattr(_printable(text))[1:-1].replace("'", "&apos;")
