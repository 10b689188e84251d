"""What mesh files look like in the wild, and what is refused with one clear line."""

from __future__ import annotations

import struct
from pathlib import Path

import numpy as np
import pytest
import trimesh

from wingpath.core.errors import FileAccessError, InputError, MeshFileError
from wingpath.geometry.mesh import Mesh
from wingpath.io.mesh_files import read_mesh
from wingpath.io.stl import stl_bytes

# A tetrahedron: right angles at the origin, 3, 4 and 5 long, so its volume is 10.
CORNERS = np.array([[0.0, 0, 0], [3, 0, 0], [0, 4, 0], [0, 0, 5]])
FACES = np.array([[0, 2, 1], [0, 1, 3], [0, 3, 2], [1, 2, 3]])
TETRA = Mesh(CORNERS, FACES)


def text_stl(
    *, indent: str = "  ", end: str = "\n", number: str = "{:.6e}", upper: bool = False, close: bool = True
) -> bytes:
    lines = ["solid part one"]
    for face in FACES:
        lines += [f"{indent}facet normal 0 0 0", f"{indent * 2}outer loop"]
        lines += [
            f"{indent * 3}vertex " + " ".join(number.format(value) for value in CORNERS[corner])
            for corner in face
        ]
        lines += [f"{indent * 2}endloop", f"{indent}endfacet"]
    lines += ["endsolid part one"] if close else []
    text = end.join(lines) + end
    return (text.upper() if upper else text).encode()


def read(folder: Path, data: bytes, name: str = "part.stl", **options: object) -> Mesh:
    path = folder / name
    path.write_bytes(data)
    return read_mesh(path, **options)  # type: ignore[arg-type]


def same_solid(mesh: Mesh) -> None:
    assert sorted(map(tuple, mesh.vertices.round(5).tolist())) == sorted(map(tuple, CORNERS.tolist()))
    assert len(mesh.faces) == 4
    assert mesh.volume_mm3 == pytest.approx(10.0, rel=1e-6)


@pytest.mark.parametrize(
    "data",
    [
        text_stl(),
        text_stl(indent="\t"),
        text_stl(indent=""),
        text_stl(end="\r\n"),
        text_stl(end="\r"),
        text_stl(number="{:.1f}"),
        text_stl(number="{:+.3E}"),
        text_stl(number=" {:g} "),
        text_stl(upper=True),
        text_stl(close=False),
        text_stl(end=" "),
        text_stl(end="  \n\n"),
        b"\xef\xbb\xbf" + text_stl(),
        b"\n \n" + text_stl(),
        text_stl().decode().encode("utf-16"),
        text_stl().replace(b"solid part one", b"solid"),
        text_stl().replace(b"solid part one", b"solid vertex 1 2 facet normal"),
        text_stl().replace(b"solid part one", "solid Flügel".encode("latin-1")),
        text_stl().replace(b"\n  facet", b"\n\n  facet"),
    ],
    ids=[
        "usual", "tabs", "no-indent", "crlf", "cr", "plain", "signed", "blanks", "upper", "no-end",
        "one-line", "blank-lines", "bom", "blank-head", "utf16", "no-name", "odd-name", "latin-name", "gaps",
    ],
)  # fmt: skip
def test_text_stl_quirks(tmp_path: Path, data: bytes) -> None:
    same_solid(read(tmp_path, data))


def test_several_solids_in_one_text_file_are_one_mesh(tmp_path: Path) -> None:
    other = text_stl().replace(b"part one", b"part two").replace(b"vertex ", b"vertex 1")
    mesh = read(tmp_path, text_stl() + other)
    assert len(mesh.faces) == 8


def test_a_binary_file_may_begin_with_solid_and_carry_any_attribute(tmp_path: Path) -> None:
    data = bytearray(stl_bytes(TETRA, title="a part"))
    data[:14] = b"solid by hand "
    for facet in range(4):
        data[84 + 50 * facet + 48 : 84 + 50 * facet + 50] = b"\xff\x7f"
    same_solid(read(tmp_path, bytes(data)))


@pytest.mark.parametrize("name", ["part.stl", "part.obj", "part.3mf", "part.STL", "part", "part.txt"])
def test_what_a_file_holds_goes_before_its_name(tmp_path: Path, name: str) -> None:
    for data in (stl_bytes(TETRA, title="a part"), text_stl(), OBJ):
        same_solid(read(tmp_path, data, name))


def test_padding_after_a_binary_file_is_passed_over(tmp_path: Path) -> None:
    same_solid(read(tmp_path, stl_bytes(TETRA, title="a part") + b"\0" * 17))


def test_equal_corners_become_one_vertex_and_minus_zero_is_zero(tmp_path: Path) -> None:
    data = stl_bytes(TETRA, title="a part")
    corners = np.frombuffer(data[84:], np.dtype([("n", "<f4", 3), ("v", "<f4", (3, 3)), ("a", "<u2")])).copy()
    corners["v"][0][corners["v"][0] == 0.0] = -0.0
    same_solid(read(tmp_path, data[:84] + corners.tobytes()))


OBJ = b"""# a tetrahedron
mtllib part.mtl
o part
v 0 0 0
v 3.0 0 0
v 0 4e0 0
v 0 0 5
vt 0 0
vn 0 0 1
g skin
usemtl white
s off
f 1 3 2
f 1/1 2/1 4/1
f 1//1 4//1 3//1
f 2/1/1 3/1/1 4/1/1
"""


@pytest.mark.parametrize(
    "data",
    [
        OBJ,
        OBJ.replace(b"\n", b"\r\n"),
        OBJ.replace(b"\n", b"\r"),
        OBJ.replace(b"v 3.0 0 0", b"v 3.0 0 0 1.0"),
        OBJ.replace(b"v 3.0 0 0", b"v 3.0 0 0 0.5 0.5 0.5"),
        OBJ.replace(b"v 3.0 0 0", b"\tv   3.0\t0   0  # root"),
        OBJ.replace(b"f 1 3 2", b"f -4 -2 -3"),
        OBJ.replace(b"f 1 3 2", b"f 1 \\\n 3 2"),
        OBJ.replace(b"f 2/1/1 3/1/1 4/1/1", b"v 9 9 9\nf 2 3 4"),
        OBJ.replace(b"v 0 0 5\n", b"").replace(b"f 1 3 2", b"f -3 -1 -2\nv 0 0 5"),
    ],
    ids=["usual", "crlf", "cr", "weight", "colour", "blanks", "negative", "continued", "unused", "later"],
)
def test_obj_quirks(tmp_path: Path, data: bytes) -> None:
    same_solid(read(tmp_path, data, "part.obj"))


def test_obj_polygons_become_fans(tmp_path: Path) -> None:
    box = trimesh.creation.box((2.0, 4.0, 6.0))
    quads = ["1 2 4 3", "5 7 8 6", "1 5 6 2", "3 4 8 7", "1 3 7 5", "2 6 8 4"]
    text = "".join("v {} {} {}\n".format(*v) for v in box.vertices) + "".join(f"f {quad}\n" for quad in quads)
    mesh = read(tmp_path, text.encode(), "box.obj")
    assert len(mesh.faces) == 12
    assert abs(mesh.volume_mm3) == pytest.approx(48.0)


def test_scale_and_build_direction(tmp_path: Path) -> None:
    data = stl_bytes(TETRA, title="a part")
    assert read(tmp_path, data, scale=25.4).volume_mm3 == pytest.approx(10.0 * 25.4**3)
    for up, extent in (("x", [4.0, 5.0, 3.0]), ("y", [5.0, 3.0, 4.0]), ("z", [3.0, 4.0, 5.0])):
        mesh = read(tmp_path, data, up=up)
        assert np.ptp(mesh.bounds, axis=0) == pytest.approx(extent)
        # Turned, not mirrored: the volume keeps its sign.
        assert mesh.volume_mm3 == pytest.approx(10.0)


@pytest.mark.parametrize("options", [{"scale": 0.0}, {"scale": -1.0}, {"scale": float("nan")}, {"up": "w"}])
def test_wrong_options_are_refused(tmp_path: Path, options: dict[str, object]) -> None:
    with pytest.raises(InputError, match="allowed"):
        read(tmp_path, stl_bytes(TETRA, title="a part"), **options)


def _header(count: int) -> bytes:
    return b"made by hand".ljust(80) + struct.pack("<I", count)


def _poisoned(value: float) -> bytes:
    data = bytearray(stl_bytes(TETRA, title="a part"))
    data[84 + 100 + 12 : 84 + 100 + 16] = struct.pack("<f", value)
    return bytes(data)


BINARY = stl_bytes(TETRA, title="a part")
BROKEN = {
    "empty": (b"", "empty"),
    "blanks": (b" \r\n\t\n", "empty"),
    "zeros": (bytes(5000), "empty"),
    "short": (b"\x01\x02\x00abc", "too short"),
    "cut-off": (BINARY[:-30], "cut off: 4 facets are announced and 3 whole ones"),
    "cut-off-solid": (b"solid x".ljust(80) + BINARY[80:-120], "4 facets are announced and 1 whole"),
    "too-long": (BINARY + BINARY[84:], "more than it says: 4 facets are announced and 8"),
    "no-facets": (_header(0), "no triangles"),
    "absurd-count": (_header(0xFFFFFFFF) + BINARY[84:], "4294967295 facets are announced and 4"),
    "nan": (_poisoned(float("nan")), "not finite numbers in 1 of 4 triangles, first in triangle 3"),
    "inf": (_poisoned(float("inf")), "not finite numbers"),
    "far": (_poisoned(3e38), "beyond 1e\\+07 mm in 1 of 4 triangles"),
    "rubbish": (np.random.default_rng(7).bytes(3000), "facets are announced"),
    "prose": (b"This is the wing for Sunday.\n" * 20, "text without corners"),
    "text-no-facets": (b"solid part\nendsolid part\n", "without facets"),
    "text-cut-line": (text_stl()[:-200], "cut off"),
    "text-cut-facet": (text_stl().partition(b"endfacet")[0], "begins 1 facets and ends 0"),
    "text-two-corners": (text_stl().replace(b"vertex", b"vertx", 1), "facet 1 of 4 has 2 whole corners"),
    "text-two-numbers": (text_stl(number="{:g}").replace(b"vertex 0 0 5", b"vertex 0 0"), "2 whole corners"),
    "text-comma": (text_stl(number="{:.1f}").replace(b"5.0", b"5,0"), "got '5,0'"),
    "text-nan": (text_stl(number="{:.1f}").replace(b"5.0", b"nan"), "not finite"),
    "text-stray": (text_stl().replace(b"facet normal 0 0 0\n", b"", 1), "cut off|before the first"),
    "obj-no-faces": (b"v 0 0 0\nv 1 0 0\nv 0 1 0\n", "without faces"),
    "obj-range": (OBJ.replace(b"f 1 3 2", b"f 1 3 9"), "'1 3 9'.*from 1 to 4"),
    "obj-zero": (OBJ.replace(b"f 1 3 2", b"f 0 3 2"), "'0 3 2'"),
    "obj-below": (OBJ.replace(b"f 1 3 2", b"f 1 3 -9"), "'1 3 -9'"),
    "obj-two": (OBJ.replace(b"f 1 3 2", b"f 1 3"), "'1 3'"),
    "obj-none": (OBJ.replace(b"f 1 3 2", b"f  "), "''"),
    "obj-word": (OBJ.replace(b"f 1 3 2", b"f 1 3 x"), "'1 3 x'"),
    "obj-slash": (OBJ.replace(b"f 1 3 2", b"f 1 3 /2"), "'1 3 /2'"),
    "obj-fraction": (OBJ.replace(b"f 1 3 2", b"f 1 3 2.5"), "'1 3 2.5'"),
    "obj-huge": (OBJ.replace(b"f 1 3 2", b"f 1 3 99999999999999999999"), "'1 3 9999"),
    "obj-corner": (OBJ.replace(b"v 3.0 0 0", b"v 3.0 zero 0"), "corner '3.0 zero 0'"),
    "obj-corner-short": (OBJ.replace(b"v 3.0 0 0", b"v 3.0 0"), "corner '3.0 0'"),
    "obj-nan": (OBJ.replace(b"v 3.0 0 0", b"v nan 0 0"), "not finite"),
    "obj-big": (OBJ.replace(b"v 3.0 0 0", b"v 1e300 0 0"), "beyond"),
    "step": (b"ISO-10303-21;\nHEADER;\n", "got a STEP file"),
    "ply": (b"ply\nformat ascii 1.0\n", "got a PLY file"),
    "xml": (b"<?xml version='1.0'?>\n<amf unit='inch'/>\n", "got an XML file"),
    "picture": (b"\x89PNG\r\n\x1a\n" + bytes(range(200)), "got a picture"),
}  # fmt: skip


@pytest.mark.parametrize("case", BROKEN)
def test_files_without_a_mesh_are_refused_with_one_line_that_names_the_file(
    tmp_path: Path, case: str
) -> None:
    data, words = BROKEN[case]
    with pytest.raises(MeshFileError, match=words) as caught:
        read(tmp_path, data)
    message = str(caught.value)
    assert message.startswith(str(tmp_path / "part.stl"))
    assert "\n" not in message


def test_the_ending_helps_where_the_contents_say_nothing(tmp_path: Path) -> None:
    data = np.random.default_rng(7).bytes(3000)
    for name, words in (
        ("a.3mf", "no zip package"),
        ("a.obj", "bytes of another kind"),
        ("a.x", "of another"),
    ):
        with pytest.raises(MeshFileError, match=words):
            read(tmp_path, data, name)


def test_files_that_cannot_be_read(tmp_path: Path) -> None:
    for path in (tmp_path / "missing.stl", tmp_path, tmp_path / "a\0b.stl"):
        with pytest.raises(FileAccessError, match="cannot be read"):
            read_mesh(path)


@pytest.mark.parametrize("size", [0, 1, 60, 79, 80, 83, 84, 85, 133, 134, 200, 283])
def test_a_binary_file_cut_anywhere_is_refused(tmp_path: Path, size: int) -> None:
    with pytest.raises(MeshFileError):
        read(tmp_path, BINARY[:size])


@pytest.mark.parametrize("data", [text_stl(), OBJ], ids=["stl", "obj"])
def test_a_text_file_cut_anywhere_is_refused_or_read_never_more(tmp_path: Path, data: bytes) -> None:
    for size in range(0, len(data), 3):
        try:
            mesh = read(tmp_path, data[:size])
        except MeshFileError:
            continue
        assert len(mesh.faces) <= 4


def test_the_name_of_the_mesh_is_that_of_the_file(tmp_path: Path) -> None:
    assert read(tmp_path, BINARY, "left wing.stl").name == "left wing.stl"


@pytest.mark.parametrize("words", ["endfacet", "end facet", "end  facet", "end\tfacet"])
def test_the_end_of_a_facet_may_be_written_in_two_words(tmp_path: Path, words: str) -> None:
    same_solid(read(tmp_path, text_stl().replace(b"endfacet", words.encode())))
    one_line = b" ".join(text_stl().split()).replace(b"endfacet", words.encode())
    same_solid(read(tmp_path, one_line))


def test_a_part_may_be_called_like_the_end_of_a_facet(tmp_path: Path) -> None:
    same_solid(read(tmp_path, text_stl().replace(b"part one", b"endfacet end facet")))
