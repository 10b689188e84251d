"""3MF packages as other programs write them, and as nobody should."""

from __future__ import annotations

import io
import zipfile
from pathlib import Path

import numpy as np
import pytest

from wingpath.core.errors import MeshFileError
from wingpath.geometry.mesh import Mesh
from wingpath.io.mesh_files import read_mesh

CORE = "http://schemas.microsoft.com/3dmanufacturing/core/2015/02"
PRODUCTION = "http://schemas.microsoft.com/3dmanufacturing/production/2015/06"
RELATION = "http://schemas.microsoft.com/3dmanufacturing/2013/01/3dmodel"

# A tetrahedron with right angles at the origin, 3, 4 and 5 long: its volume is 10.
VERTICES = (
    '<vertex x="0" y="0" z="0"/><vertex x="3" y="0" z="0"/>'
    '<vertex x="0" y="4" z="0"/><vertex x="0" y="0" z="5"/>'
)
TRIANGLES = (
    '<triangle v1="0" v2="2" v3="1"/><triangle v1="0" v2="1" v3="3"/>'
    '<triangle v1="0" v2="3" v3="2"/><triangle v1="1" v2="2" v3="3"/>'
)
MESH = f"<mesh><vertices>{VERTICES}</vertices><triangles>{TRIANGLES}</triangles></mesh>"
OBJECT = f'<object id="1" type="model">{MESH}</object>'


def model(
    resources: str = OBJECT, build: str = '<item objectid="1"/>', *, head: str = 'unit="millimeter"'
) -> str:
    return (
        f'<?xml version="1.0" encoding="UTF-8"?><model {head} xmlns="{CORE}" xmlns:p="{PRODUCTION}">'
        f"<resources>{resources}</resources><build>{build}</build></model>"
    )


def group(number: int, components: str) -> str:
    return f'<object id="{number}"><components>{components}</components></object>'


def package(parts: dict[str, str | bytes], target: str | None = "/3D/3dmodel.model") -> bytes:
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("[Content_Types].xml", "<Types/>")
        if target is not None:
            archive.writestr(
                "_rels/.rels",
                '<Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships">'
                '<Relationship Target="/thumb.png" Id="r1" Type="http://example.org/thumbnail"/>'
                f'<Relationship Target="{target}" Id="r0" Type="{RELATION}"/></Relationships>',
            )
        for name, text in parts.items():
            archive.writestr(name, text)
    return buffer.getvalue()


def read(folder: Path, data: bytes | str, **options: object) -> Mesh:
    path = folder / "part.3mf"
    path.write_bytes(package({"3D/3dmodel.model": data}) if isinstance(data, str) else data)
    return read_mesh(path, **options)  # type: ignore[arg-type]


def test_a_plain_package(tmp_path: Path) -> None:
    mesh = read(tmp_path, model())
    assert mesh.volume_mm3 == pytest.approx(10.0)
    assert (len(mesh.vertices), len(mesh.faces)) == (4, 4)


@pytest.mark.parametrize(
    ("unit", "mm"),
    [
        ("micron", 1e-3),
        ("millimeter", 1.0),
        ("centimeter", 10.0),
        ("inch", 25.4),
        ("foot", 304.8),
        ("meter", 1e3),
    ],
)
def test_units_are_honoured_and_scale_comes_on_top(tmp_path: Path, unit: str, mm: float) -> None:
    mesh = read(tmp_path, model(head=f'unit="{unit}"'))
    assert np.ptp(mesh.bounds, axis=0) == pytest.approx(np.array([3.0, 4.0, 5.0]) * mm)
    twice = read(tmp_path, model(head=f'unit="{unit}"'), scale=2.0)
    assert twice.volume_mm3 == pytest.approx(80.0 * mm**3)


def test_without_a_unit_it_is_the_millimetre(tmp_path: Path) -> None:
    assert read(tmp_path, model(head="")).volume_mm3 == pytest.approx(10.0)


def test_items_are_moved_turned_and_counted_once_each(tmp_path: Path) -> None:
    # Rows of the transform: where the unit vectors and the origin go.
    turn = "0 1 0 -1 0 0 0 0 1 100 0 0"
    mesh = read(tmp_path, model(build=f'<item objectid="1" transform="{turn}"/><item objectid="1"/>'))
    assert mesh.volume_mm3 == pytest.approx(20.0)
    assert mesh.bounds.tolist() == [[0.0, 0.0, 0.0], [100.0, 4.0, 5.0]]
    assert [100.0, 3.0, 0.0] in mesh.vertices.tolist()
    assert [96.0, 0.0, 0.0] in mesh.vertices.tolist()


def test_a_move_is_in_the_unit_of_the_model(tmp_path: Path) -> None:
    mesh = read(
        tmp_path,
        model(build='<item objectid="1" transform="1 0 0 0 1 0 0 0 1 1 2 3"/>', head='unit="inch"'),
    )
    assert mesh.bounds[0] == pytest.approx([25.4, 50.8, 76.2])


def test_a_mirroring_transform_leaves_the_surface_facing_outward(tmp_path: Path) -> None:
    mesh = read(tmp_path, model(build='<item objectid="1" transform="1 0 0 0 -1 0 0 0 1 0 0 0"/>'))
    assert mesh.volume_mm3 == pytest.approx(10.0)
    assert mesh.bounds[:, 1].tolist() == [-4.0, 0.0]


def test_components_apply_inner_transforms_first(tmp_path: Path) -> None:
    double = group(
        2,
        '<component objectid="1" transform="2 0 0 0 2 0 0 0 2 0 0 0"/>'
        '<component objectid="1" transform="1 0 0 0 1 0 0 0 1 50 0 0"/>',
    )
    item = '<item objectid="2" transform="1 0 0 0 1 0 0 0 1 0 0 7"/>'
    mesh = read(tmp_path, model(OBJECT + double, item))
    assert mesh.volume_mm3 == pytest.approx(90.0)
    assert mesh.bounds.tolist() == [[0.0, 0.0, 7.0], [53.0, 8.0, 17.0]]


def test_objects_in_other_parts_are_followed(tmp_path: Path) -> None:
    holder = group(9, '<component objectid="1" p:path="/3D/Objects/wing%201.model"/>')
    data = package(
        {
            "3D/3dmodel.model": model(holder, '<item objectid="9"/>'),
            "3D/Objects/wing 1.model": model(build="", head='unit="centimeter"'),
        }
    )
    assert read(tmp_path, data).volume_mm3 == pytest.approx(10.0 * 1000.0)


def test_supports_are_left_out(tmp_path: Path) -> None:
    support = OBJECT.replace('id="1" type="model"', 'id="2" type="support"')
    mesh = read(tmp_path, model(OBJECT + support, '<item objectid="1"/><item objectid="2"/>'))
    assert len(mesh.faces) == 4


def test_with_an_empty_build_the_outermost_objects_are_taken(tmp_path: Path) -> None:
    moved = group(2, '<component objectid="1" transform="1 0 0 0 1 0 0 0 1 50 0 0"/>')
    mesh = read(tmp_path, model(OBJECT + moved, ""))
    assert len(mesh.faces) == 4
    assert mesh.bounds[0, 0] == 50.0


def test_elements_of_other_namespaces_are_passed_over(tmp_path: Path) -> None:
    extra = f'<s:slicestack xmlns:s="urn:x"><s:vertex x="bad"/></s:slicestack>{OBJECT}'
    assert read(tmp_path, model(extra)).volume_mm3 == pytest.approx(10.0)


def test_the_model_part_is_found_by_its_relation_or_else_by_its_ending(tmp_path: Path) -> None:
    for target in ("/Other/Part.model", "Other/Part.model", "/other/part.MODEL"):
        assert len(read(tmp_path, package({"Other/Part.model": model()}, target)).faces) == 4
    assert len(read(tmp_path, package({"Other/Part.model": model()}, None)).faces) == 4


def _cyclic() -> str:
    return model(
        OBJECT + group(2, '<component objectid="3"/>') + group(3, '<component objectid="2"/>'),
        '<item objectid="2"/>',
    )


def _doubling(leaf: str, levels: int = 30) -> str:
    pair = "".join(group(n, f'<component objectid="{n - 1}"/>' * 2) for n in range(2, levels))
    return model(leaf + pair, f'<item objectid="{levels - 1}"/>')


BROKEN: dict[str, tuple[str | bytes, str]] = {
    "not-a-zip": (b"PK\x03\x04 and then nothing of the kind", "broken zip"),
    "cut-off": (package({"3D/3dmodel.model": model()})[:-60], "broken zip"),
    "no-model": (package({"readme.txt": "hello"}, None), "without a 3D model part"),
    "dangling-relation": (package({"a.model": model()}, "/b.model"), "'b.model', which it does not hold"),
    "outside": (package({"a.model": model()}, "/../../etc/passwd"), "does not hold"),
    "not-xml": ("<model", "not sound XML"),
    "other-xml": (f'<html xmlns="{CORE}"/>', "begins with 'html'"),
    "empty-model": (model("", ""), "no triangles"),
    "unit": (model(head='unit="furlong"'), "'furlong'.*micron, millimeter"),
    "no-such-object": (model(build='<item objectid="7"/>'), "object '7'"),
    "no-object-id": (model(build="<item/>"), "objectid"),
    "missing-number": (model(OBJECT.replace('x="3" ', "")), "missing or wrong"),
    "not-a-number": (model(OBJECT.replace('x="3"', 'x="3,0"')), "3,0"),
    "nan": (model(OBJECT.replace('x="3"', 'x="nan"')), "not finite"),
    "overflow": (model(OBJECT.replace('x="3"', 'x="1e999"')), "not finite"),
    "index-high": (model(OBJECT.replace('v1="1" v2="2" v3="3"', 'v1="1" v2="2" v3="4"')), "outside 0..3"),
    "index-low": (model(OBJECT.replace('v1="1" v2="2" v3="3"', 'v1="1" v2="2" v3="-1"')), "outside 0..3"),
    "index-word": (model(OBJECT.replace('v3="3"', 'v3="three"', 1)), "three"),
    "index-huge": (model(OBJECT.replace('v3="3"', f'v3="{10**30}"', 1)), "missing or wrong"),
    "short-transform": (model(build='<item objectid="1" transform="1 0 0"/>'), "3 numbers; it has twelve"),
    "wild-transform": (model(build=f'<item objectid="1" transform="{"1e200 " * 12}"/>'), "not finite|beyond"),
    "made-of-itself": (_cyclic(), "made of itself"),
    "doubling": (_doubling(OBJECT), "counting copies"),
    "doubling-nothing": (_doubling('<object id="1"><mesh/></object>'), "counting copies"),
    "dtd": ('<!DOCTYPE model [<!ENTITY a "aaaaaa"><!ENTITY b "&a;&a;">]>' + model()[38:], "DTD"),
    "outer-entity": ('<!DOCTYPE model [<!ENTITY a SYSTEM "file:///etc/passwd">]>' + model()[38:], "DTD"),
}  # fmt: skip


@pytest.mark.parametrize("case", BROKEN)
def test_broken_packages_are_refused_with_one_line(tmp_path: Path, case: str) -> None:
    data, words = BROKEN[case]
    with pytest.raises(MeshFileError, match=words) as caught:
        read(tmp_path, data)
    assert str(caught.value).startswith(str(tmp_path / "part.3mf"))
    assert "\n" not in str(caught.value)


def test_a_package_that_unpacks_far_beyond_its_size_is_refused_before_it_is(tmp_path: Path) -> None:
    bomb = model(f"<!--{' ' * 3_000_000}-->{OBJECT}")
    with pytest.raises(MeshFileError, match="would unpack"):
        read(tmp_path, bomb)
    # The same, but of a size that costs nothing.
    assert len(read(tmp_path, model(f"<!--{' ' * 300_000}-->{OBJECT}")).faces) == 4


def test_a_package_that_lies_about_its_size_is_refused(tmp_path: Path) -> None:
    data = bytearray(package({"3D/3dmodel.model": model()}))
    place = data.rfind(b"PK\x01\x02")
    assert data[place + 24 : place + 28] == len(model()).to_bytes(4, "little")
    data[place + 24 : place + 28] = (2_000_000_000).to_bytes(4, "little")
    with pytest.raises(MeshFileError, match="would unpack"):
        read(tmp_path, bytes(data))
    data[place + 24 : place + 28] = (100).to_bytes(4, "little")
    with pytest.raises(MeshFileError):
        read(tmp_path, bytes(data))


def test_an_encrypted_package_is_refused(tmp_path: Path) -> None:
    data = bytearray(package({"3D/3dmodel.model": model()}))
    for mark, offset in ((b"PK\x03\x04", 6), (b"PK\x01\x02", 8)):
        place = data.rfind(mark)
        data[place + offset] |= 1
    with pytest.raises(MeshFileError, match="password"):
        read(tmp_path, bytes(data))


def test_any_bytes_changed_give_a_mesh_or_a_refusal(tmp_path: Path) -> None:
    data = package({"3D/3dmodel.model": model()})
    random = np.random.default_rng(3)
    for _ in range(300):
        bad = bytearray(data)
        for place in random.integers(0, len(bad), 3):
            bad[place] = random.integers(0, 256)
        try:
            mesh = read(tmp_path, bytes(bad))
        except MeshFileError:
            continue
        assert np.isfinite(mesh.vertices).all()


def test_a_model_without_a_namespace_is_read_all_the_same(tmp_path: Path) -> None:
    bare = f"<model><resources>{OBJECT}</resources><build><item objectid='1'/></build></model>"
    assert read(tmp_path, package({"3D/3dmodel.model": bare})).volume_mm3 == pytest.approx(10.0)
