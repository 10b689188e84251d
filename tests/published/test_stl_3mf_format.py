"""The files we write, held against the documents that say what such files are, and against other readers.

Sources
-------
STL: P. Bourke, "STL format" (1999), and the Library of Congress format description fdd000505, "STL (STereo-
Lithography) File Format Family": a header of 80 bytes that must not begin with "solid", a 4-byte count, 50
bytes a facet (12 float32 and a 2-byte attribute), little-endian, corners by the right-hand rule.

3MF: 3MF Consortium, "3D Manufacturing Format Core Specification", version 1.4.0, and ISO/IEC 29500-2 (Open
Packaging Conventions). The names of parts, types and relations below are as its secondary descriptions give
them; lib3mf, the consortium's own reader, agrees with them. Rules of the mesh, from memory: corner numbers
from 0, object ids from 1, counter-clockwise seen from outside, closed for objects of type "model".
"""

from __future__ import annotations

import io
import struct
import zipfile
from pathlib import Path
from xml.etree import ElementTree

import lib3mf
import manifold3d
import numpy as np
import pytest
import stl as numpy_stl
import trimesh
from outside import FILES, Source

from wingpath.core.errors import InputError
from wingpath.geometry.mesh import Mesh
from wingpath.io.stl import stl_bytes, write_stl
from wingpath.io.threemf import threemf_bytes, write_3mf

STL = Source(
    "printed",
    "STL format",
    'P. Bourke, "STL format" (1999), and the Library of Congress format description fdd000505, "STL '
    '(STereoLithography) File Format Family"',
)
THREEMF = Source(
    "quoted",
    "3MF Core Specification 1.4.0",
    "3MF Consortium, 3D Manufacturing Format Core Specification, version 1.4.0, and ISO/IEC 29500-2 "
    "(Open Packaging "
    "Conventions), by their secondary descriptions",
)
TRIMESH = Source("library", "trimesh", "trimesh, an open library of meshes (MIT)")
NUMPY_STL = Source("library", "numpy-stl", "numpy-stl, an open reader of STL files (BSD)")
LIB3MF = Source(
    "library", "lib3mf", "lib3mf, the reader of the 3MF Consortium itself (BSD), in its strict mode"
)

CORE = "{http://schemas.microsoft.com/3dmanufacturing/core/2015/02}"


def box(name: str = "panel 1 left") -> Mesh:
    shape = trimesh.creation.box((10.0, 20.0, 30.0))
    return Mesh(shape.vertices, shape.faces, name=name)


def slotted() -> Mesh:
    """Return a drop-shaped bar with slots 0.06 wide, such as the tool writes."""
    turn = 2.0 * np.pi * np.arange(120) / 120
    ring = np.column_stack([40.0 + 40.0 * np.cos(turn), 7.0 * np.sin(turn) * (1.0 + 0.4 * np.cos(turn))])
    body = manifold3d.CrossSection([ring]).extrude(30.0, 0, 0.0, [0.8, 0.8])
    slot = manifold3d.Manifold.cube([0.06, 30.0, 80.0]).rotate([0.0, 45.0, 0.0])
    for x in np.linspace(-20.0, 60.0, 9):
        body -= slot.translate([x, -29.5, 0.0])
    data = body.to_mesh64()
    return Mesh(np.asarray(data.vert_properties)[:, :3], np.asarray(data.tri_verts).astype(np.int64))


MESHES = {"box": box(), "slotted solid": slotted()}


def test_binary_stl_layout() -> None:
    data = stl_bytes(box(), title="wingpath panel 1 left")
    with FILES.rule(
        "Layout of a binary STL",
        source=STL,
        expected='80 bytes of header that does not begin with "solid", a 4-byte count, 50 bytes a facet, '
        "little-endian",
    ):
        assert len(data) == 84 + 50 * 12 == 684
        assert struct.unpack("<I", data[80:84]) == (12,)
        assert data[:80].rstrip() == b"wingpath panel 1 left"
        assert not data.startswith(b"solid")
    facet = struct.unpack("<12fH", data[84:134])
    normal, a, b, c = np.array(facet[:12]).reshape(4, 3)
    right_hand = np.cross(b - a, c - a)
    with FILES.rule(
        "Facet of a binary STL",
        source=STL,
        expected="normal of length 1 by the right-hand rule of its corners, attribute 0",
    ):
        assert normal == pytest.approx(right_hand / np.linalg.norm(right_hand))
        assert facet[12] == 0


def test_the_header_holds_80_plain_characters_whatever_the_title() -> None:
    with FILES.rule(
        "Header of a binary STL, whatever the title",
        source=STL,
        expected='80 plain characters; a title that begins with "solid" is refused',
    ):
        for title in ("", "a" * 200, "Flügel\n\x00 links"):
            data = stl_bytes(box(), title=title)
            assert len(data) == 684
            assert all(32 <= byte < 127 for byte in data[:80])
        for title in ("solid wing", "  SOLID"):
            with pytest.raises(InputError, match="solid"):
                stl_bytes(box(), title=title)


def test_normals_are_those_of_the_faces() -> None:
    mesh = MESHES["slotted solid"]
    facets = np.frombuffer(stl_bytes(mesh, title="x")[84:], "<f4,<f4,<f4,(3,3)<f4,<u2")
    normals = np.column_stack([facets["f0"], facets["f1"], facets["f2"]])
    a, b, c = np.moveaxis(mesh.corners, 1, 0)
    normal = np.cross(b - a, c - a)
    length = np.linalg.norm(normal, axis=1)
    # Where the face is no sliver: rounding the corners turns a sliver.
    broad = length > 1e-3
    assert broad.sum() > 100
    with FILES.rule(
        "Normals of a slotted solid's STL",
        source=STL.at("right-hand rule"),
        expected="those of the faces, to 0.01, but for slivers",
    ):
        assert normals[broad] == pytest.approx(normal[broad] / length[broad, None], abs=1e-2)


@pytest.mark.parametrize("name", MESHES)
def test_other_readers_find_the_same_closed_solid_in_the_stl(tmp_path: Path, name: str) -> None:
    mesh, path = MESHES[name], tmp_path / "part.stl"
    write_stl(path, mesh, title="wingpath part")
    theirs = trimesh.load(path)
    with FILES.rule(
        "STL of a box and of a slotted solid, read by trimesh",
        source=TRIMESH,
        expected="closed, wound one way, as many triangles as written",
    ):
        assert theirs.is_watertight
        assert theirs.is_winding_consistent
        assert len(theirs.faces) == len(mesh.faces)
    check_volume(f"STL of a {name}: volume by trimesh over ours", TRIMESH, mesh, theirs.volume)
    again = numpy_stl.mesh.Mesh.from_file(str(path))
    with FILES.rule(
        "STL of a box and of a slotted solid, read by numpy-stl", source=NUMPY_STL, expected="closed"
    ):
        assert again.is_closed(exact=True)
    volume = again.get_mass_properties()[0]
    check_volume(f"STL of a {name}: volume by numpy-stl over ours", NUMPY_STL, mesh, volume)


def check_volume(what: str, source: Source, mesh: Mesh, volume_mm3: float) -> None:
    FILES.check(
        what,
        source=source,
        expected=mesh.volume_mm3,
        got=volume_mm3,
        rel=1e-5,
        because="numbers of 32 bits in the file",
        ratio=True,
    )


def test_3mf_package_parts_types_and_relations() -> None:
    with zipfile.ZipFile(io.BytesIO(threemf_bytes(box(), name="Osier 1240"))) as archive:
        assert archive.namelist() == ["[Content_Types].xml", "_rels/.rels", "3D/3dmodel.model"]
        assert archive.testzip() is None
        types = ElementTree.fromstring(archive.read("[Content_Types].xml"))
        relations = ElementTree.fromstring(archive.read("_rels/.rels"))
        model = ElementTree.fromstring(archive.read("3D/3dmodel.model"))
    package = "{http://schemas.openxmlformats.org/package/2006/"
    with FILES.rule(
        "Package of a 3MF",
        source=THREEMF,
        expected="parts, content types and one relation to the model, with their names",
    ):
        assert types.tag == package + "content-types}Types"
        assert {entry.get("Extension"): entry.get("ContentType") for entry in types} == {
            "rels": "application/vnd.openxmlformats-package.relationships+xml",
            "model": "application/vnd.ms-package.3dmanufacturing-3dmodel+xml",
        }
        (relation,) = relations
        assert relation.tag == package + "relationships}Relationship"
        assert relation.get("Target") == "/3D/3dmodel.model"
        assert relation.get("Type") == "http://schemas.microsoft.com/3dmanufacturing/2013/01/3dmodel"
    with FILES.rule(
        "Model of a 3MF",
        source=THREEMF.at("numbers of corners and ids from memory"),
        expected="its namespace, millimetres, title and application; one object with id 1, corners from 0",
    ):
        assert model.tag == CORE + "model"
        assert model.get("unit") == "millimeter"
        assert {entry.get("name"): entry.text for entry in model.iter(CORE + "metadata")} == {
            "Title": "Osier 1240",
            "Application": "wingpath",
        }
        (thing,) = model.iter(CORE + "object")
        assert (thing.get("id"), thing.get("type"), thing.get("name")) == ("1", "model", "panel 1 left")
        assert [item.get("objectid") for item in model.iter(CORE + "item")] == ["1"]
        assert len(list(model.iter(CORE + "vertex"))) == 8
        numbers = [
            int(face.get(key, "")) for face in model.iter(CORE + "triangle") for key in ("v1", "v2", "v3")
        ]
        assert (min(numbers), max(numbers), len(numbers)) == (0, 7, 36)


def _lib3mf(path: Path) -> lib3mf.Lib3MF.Model:
    model = lib3mf.get_wrapper().CreateModel()
    reader = model.QueryReader("3mf")
    reader.SetStrictModeActive(True)
    reader.ReadFromFile(str(path))
    assert reader.GetWarningCount() == 0
    return model


@pytest.mark.parametrize("name", MESHES)
def test_other_readers_find_the_same_closed_solid_in_the_3mf(tmp_path: Path, name: str) -> None:
    mesh, path = MESHES[name], tmp_path / "part.3mf"
    write_3mf(path, mesh, name="part")
    theirs = trimesh.load(path, force="mesh")
    with FILES.rule(
        "3MF of a box and of a slotted solid, read by trimesh",
        source=TRIMESH,
        expected="closed, as many triangles as written",
    ):
        assert theirs.is_watertight
        assert len(theirs.faces) == len(mesh.faces)
    check_volume(f"3MF of a {name}: volume by trimesh over ours", TRIMESH, mesh, theirs.volume)
    with FILES.rule(
        "3MF of a box and of a slotted solid, read by lib3mf",
        source=LIB3MF,
        expected="no warning; one valid, closed, oriented object with its name, corners and triangles",
    ):
        objects = _lib3mf(path).GetMeshObjects()
        assert objects.MoveNext()
        thing = objects.GetCurrentMeshObject()
        assert thing.IsManifoldAndOriented()
        assert thing.IsValid()
        assert thing.GetName() == mesh.name
        assert (thing.GetVertexCount(), thing.GetTriangleCount()) == (len(mesh.vertices), len(mesh.faces))
        assert not objects.MoveNext()


def test_several_objects_names_with_any_characters_and_one_item_each(tmp_path: Path) -> None:
    path = tmp_path / "both.3mf"
    name = "left <\"wing\"> & 'flap' ü\x07"
    write_3mf(path, [box(name), box("right").moved((50.0, 0.0, 0.0))], name=name)
    with FILES.rule(
        "3MF of two objects whose names hold any characters, read by lib3mf",
        source=LIB3MF,
        expected="no warning; both objects with their names, an item each",
    ):
        model = _lib3mf(path)
        objects, names = model.GetMeshObjects(), []
        while objects.MoveNext():
            names.append(objects.GetCurrentMeshObject().GetName())
        assert names == [name.replace("\x07", "?"), "right"]
        items, count = model.GetBuildItems(), 0
        while items.MoveNext():
            count += 1
        assert count == 2
    FILES.check(
        "3MF of two objects: volume by trimesh",
        source=TRIMESH,
        expected=12000.0,
        got=trimesh.load(path, force="mesh").volume,
        rel=1e-6,
        because="rounding",
        unit="mm³",
    )


def test_the_same_mesh_gives_the_same_bytes() -> None:
    assert threemf_bytes(box(), name="a") == threemf_bytes(box(), name="a")
    assert stl_bytes(box(), title="a") == stl_bytes(box(), title="a")
