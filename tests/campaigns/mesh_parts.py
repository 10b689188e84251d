"""Small good parts for the campaign of meshes, and writers of its own for every format.

A part is an array of triangles, shape (m, 3, 3), of numbers that single precision holds, so that every format
says the same.
"""

from __future__ import annotations

import io
import zipfile
from collections.abc import Callable, Sequence
from functools import lru_cache
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray
from shapes import lofted, prism, sheared_box, slotted_box

Soup = NDArray[Any]

CORE = "http://schemas.microsoft.com/3dmanufacturing/core/2015/02"
TYPES = (
    '<?xml version="1.0"?><Types xmlns="http://schemas.openxmlformats.org/package/2006/content-types">'
    '<Default Extension="rels" ContentType="application/vnd.openxmlformats-package.relationships+xml"/>'
    '<Default Extension="model" ContentType="application/vnd.ms-package.3dmanufacturing-3dmodel+xml"/>'
    "</Types>"
)
RELATIONS = (
    '<?xml version="1.0"?><Relationships '
    'xmlns="http://schemas.openxmlformats.org/package/2006/relationships"><Relationship '
    'Target="/3D/3dmodel.model" Id="rel0" '
    'Type="http://schemas.microsoft.com/3dmanufacturing/2013/01/3dmodel"/></Relationships>'
)


def _tiny_wing() -> Any:
    from tiny_wing import TINY

    from wingpath import build_wing, spec_from_dict

    return build_wing(spec_from_dict(TINY)).panels[0].mesh("left")


def _ring(radius: float, count: int = 24) -> list[tuple[float, float]]:
    turn = np.linspace(0.0, 2.0 * np.pi, count, endpoint=False)
    return [(float(radius * np.cos(t)), float(radius * np.sin(t))) for t in turn]


PARTS: dict[str, Callable[[], Any]] = {
    "box": lambda: prism(shapely.box(0.0, 0.0, 24.0, 9.0), 4.0),
    "slotted": lambda: prism(slotted_box([(12.0, 0.06, 7.25), (24.0, 0.06, 7.25)], long=36.0), 4.0),
    "cone": lambda: lofted(_ring(9.0), _ring(7.0), 5.0),
    "leaning": lambda: sheared_box(20.0, long=30.0, wide=8.0, high=5.0),
    "tube": lambda: prism(shapely.Point(0, 0).buffer(8.0) - shapely.Point(0, 0).buffer(5.0), 3.0),
    "wing": _tiny_wing,
}
"""All but the tube print as one bead."""

SOUND = tuple(name for name in PARTS if name != "tube")


@lru_cache(maxsize=16)
def part(name: str) -> Soup:
    """Return the triangles of a part."""
    mesh = PARTS[name]()
    return np.asarray(mesh.vertices[mesh.faces].astype(np.float32).astype(np.float64))


def numbered(soup: Soup) -> tuple[Soup, Soup]:
    """Return points and corner numbers; equal corners are one."""
    points, inverse = np.unique(soup.reshape(-1, 3), axis=0, return_inverse=True)
    return points, inverse.reshape(-1, 3)


def binary_stl(
    soup: Soup, *, header: bytes = b"made by a test", count: int | None = None, tail: bytes = b""
) -> bytes:
    """Write a binary STL file whose header may lie."""
    facets = np.zeros(len(soup), np.dtype([("n", "<f4", 3), ("c", "<f4", (3, 3)), ("a", "<u2")]))
    with np.errstate(all="ignore"):
        facets["c"] = soup
    announced = (len(soup) if count is None else count) & 0xFFFFFFFF
    return header[:80].ljust(80, b"\0") + announced.to_bytes(4, "little") + facets.tobytes() + tail


def text_stl(
    soup: Soup, *, form: Callable[[float], str] = "{:.9g}".format, name: str = "part", end: str = "\n"
) -> bytes:
    """Write a text STL file."""
    lines = [f"solid {name}"]
    for corners in soup:
        lines += ["facet normal 0 0 0", " outer loop"]
        lines += [f"  vertex {' '.join(form(float(v)) for v in corner)}" for corner in corners]
        lines += [" endloop", "endfacet"]
    return end.join([*lines, f"endsolid {name}", ""]).encode()


def obj(
    soup: Soup, *, form: Callable[[float], str] = "{:.9g}".format, shared: bool = True, end: str = "\n"
) -> bytes:
    """Write an OBJ file."""
    points, faces = (
        numbered(soup) if shared else (soup.reshape(-1, 3), np.arange(3 * len(soup)).reshape(-1, 3))
    )
    lines = [f"v {' '.join(form(float(v)) for v in point)}" for point in points]
    lines += [f"f {a + 1} {b + 1} {c + 1}" for a, b, c in faces.tolist()]
    return end.join(["# made by a test", *lines, ""]).encode()


def mesh_xml(soup: Soup, *, form: Callable[[float], str] = "{:.9g}".format, shared: bool = True) -> str:
    """Return the mesh element of a 3MF object."""
    points, faces = (
        numbered(soup) if shared else (soup.reshape(-1, 3), np.arange(3 * len(soup)).reshape(-1, 3))
    )
    vertices = "".join(
        f'<vertex x="{form(float(x))}" y="{form(float(y))}" z="{form(float(z))}"/>' for x, y, z in points
    )
    triangles = "".join(f'<triangle v1="{a}" v2="{b}" v3="{c}"/>' for a, b, c in faces.tolist())
    return f"<mesh><vertices>{vertices}</vertices><triangles>{triangles}</triangles></mesh>"


def model_xml(resources: str, build: str, *, unit: str = "millimeter", before: str = "") -> str:
    """Return a 3D model part."""
    return (
        f'<?xml version="1.0" encoding="UTF-8"?>{before}<model unit="{unit}" xml:lang="en-US" xmlns="{CORE}">'
        f"<resources>{resources}</resources><build>{build}</build></model>"
    )


def one_object(soup: Soup, *, unit: str = "millimeter", shared: bool = True) -> str:
    """Return a model of one object."""
    return model_xml(
        f'<object id="1" type="model">{mesh_xml(soup, shared=shared)}</object>',
        '<item objectid="1"/>',
        unit=unit,
    )


def package(
    entries: Sequence[tuple[str, bytes | str]] = (),
    *,
    model: str | bytes | None = None,
    types: bool = True,
    relations: str | None = RELATIONS,
    level: int = zipfile.ZIP_DEFLATED,
) -> bytes:
    """Return a zip package; the model goes where the relations say."""
    held: list[tuple[str, bytes | str]] = []
    held += [("[Content_Types].xml", TYPES)] if types else []
    held += [("_rels/.rels", relations)] if relations is not None else []
    held += [("3D/3dmodel.model", model)] if model is not None else []
    stream = io.BytesIO()
    import warnings

    with warnings.catch_warnings(), zipfile.ZipFile(stream, "w", level) as archive:
        warnings.simplefilter("ignore")  # names that stand twice are wanted
        for name, data in [*held, *entries]:
            archive.writestr(zipfile.ZipInfo(name, (2024, 1, 1, 0, 0, 0)), data, level)
    return stream.getvalue()


def threemf(soup: Soup, **how: Any) -> bytes:
    """Write a 3MF file of one object."""
    return package(model=one_object(soup, **how))


WRITERS: dict[str, Callable[[Soup], bytes]] = {
    "part.stl": binary_stl,
    "text.stl": text_stl,
    "part.obj": obj,
    "part.3mf": threemf,
}
