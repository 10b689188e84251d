"""What campaigns of mutated files found (tests/campaigns), each in its smallest form."""

from __future__ import annotations

import math
import re
import zipfile
from pathlib import Path

import numpy as np
import pytest
import shapely
from shapes import prism, stack

from wingpath import check_mesh, check_program, read_airfoil
from wingpath.build.layers import MOST_CONTOURS, layers_of_mesh, opened_by, shrunk, sound
from wingpath.build.losses import _length_within
from wingpath.core.errors import AirfoilFileError, FileAccessError, MeshFileError, SpecError
from wingpath.geometry.mesh import Mesh
from wingpath.io.profile_store import load_airfoil, load_filament
from wingpath.io.stl import write_stl
from wingpath.io.threemf import threemf_bytes
from wingpath.io.threemf_reader import read_3mf
from wingpath.model.measurements import measurements_from_dict
from wingpath.pipeline.checking_programs import bead_run

BOX = prism(shapely.box(0.0, 0.0, 20.0, 10.0), 5.0)
LAYERS = 20

CLOSE_MM = 1e-9
"""Lengths of straight lines: rounding only [mm]."""


def written(folder: Path, mesh: Mesh) -> Path:
    write_stl(folder / "part.stl", mesh, title="part")
    return folder / "part.stl"


def without(mesh: Mesh, *, upright: bool) -> Mesh:
    """Leave out the first triangle that stands upright, or the first that lies flat."""
    tall = np.ptp(mesh.vertices[mesh.faces][..., 2], axis=1) > 1.0
    return Mesh(mesh.vertices, np.delete(mesh.faces, np.flatnonzero(tall == upright)[0], axis=0))


def test_a_wall_torn_open_is_not_proven_and_an_error(tmp_path: Path) -> None:
    judged = check_mesh(written(tmp_path, without(BOX, upright=True)))
    assert not judged.continuity.proven
    (error,) = [f for f in judged.findings if f.severity == "error"]
    assert error.code == "torn-outline"
    assert error.layers == (1, LAYERS)
    # the hole is a triangle: its widest layer is the one next to its flat side
    assert error.found == pytest.approx((1.0 - 0.5 / LAYERS) * error_width(BOX), rel=1e-6)
    assert judged.continuity.verdicts[0].startswith("torn-outline")


def error_width(mesh: Mesh) -> float:
    """Width of the wall whose triangle was left out [mm]."""
    corners = mesh.vertices[mesh.faces]
    first = corners[np.flatnonzero(np.ptp(corners[..., 2], axis=1) > 1.0)[0]]
    return float(np.ptp(first[:, :2], axis=0).max())


def test_a_hole_that_no_layer_cuts_leaves_them_proven(tmp_path: Path) -> None:
    judged = check_mesh(written(tmp_path, without(BOX, upright=False)))
    assert judged.continuity.proven
    assert [(f.code, f.severity) for f in judged.findings] == [("open-mesh", "warning")]


def test_a_crack_of_rounding_is_no_tear(tmp_path: Path) -> None:
    # two halves of a box that miss each other by a micrometre, as single precision does far from the origin
    points = np.array(BOX.vertices)[BOX.faces].reshape(-1, 3)
    points[: len(points) // 2, 0] += 1e-3
    judged = check_mesh(written(tmp_path, Mesh(points, np.arange(len(points)).reshape(-1, 3))))
    assert judged.state.open_edges > 0
    assert judged.continuity.proven
    assert {f.severity for f in judged.findings} == {"warning"}


def test_regions_whose_mitred_borders_lie_inside_each_other_are_judged() -> None:
    torn = shapely.from_wkt(
        "POLYGON ((0.8912153840065002 -10.86072314530611, -9.906453661620617 -9.907147102057934, "
        "-18.539544641971588 -8.41089341044426, -4.787139102816582 -19.186986669898033, "
        "0.8912153840065002 -10.86072314530611), (-10.134321257472038 -11.981054611504078, "
        "-8.755690813064575 -13.125510662794113, -11.393130593001842 -13.26007805019617, "
        "-10.134321257472038 -11.981054611504078))"
    )
    regions = np.array([torn], dtype=object)
    for some in (opened_by(regions, 0.45), shrunk(regions, 0.225, limit=2.0)):
        assert shapely.is_valid(some).all()
    assert shapely.difference(regions, opened_by(regions, 0.45))[0].area >= 0.0


def test_parts_inside_each_other_become_one() -> None:
    nested = shapely.MultiPolygon([shapely.box(0, 0, 10, 10), shapely.box(2, 2, 4, 4)])
    kept = shapely.box(0, 0, 1, 1)
    whole = sound(np.array([nested, kept], dtype=object))
    assert shapely.is_valid(whole).all()
    assert shapely.area(whole).tolist() == [100.0, 1.0]
    assert whole[1] is kept


def test_a_layer_of_many_pieces_is_not_asked_for_slots() -> None:
    side = math.isqrt(MOST_CONTOURS) + 1
    posts = shapely.MultiPolygon(
        [shapely.box(3 * i, 3 * j, 3 * i + 2, 3 * j + 2) for i in range(side) for j in range(side)]
    )
    layers = layers_of_mesh(prism(posts, 2.0), layer_mm=0.25, bead_mm=0.45)
    assert layers.crowded.all()
    assert shapely.is_empty(layers.orderly).all()
    side -= 1
    posts = shapely.MultiPolygon([post for post in posts.geoms if max(post.bounds[:2]) < 3 * side])
    assert len(posts.geoms) == side**2 <= MOST_CONTOURS
    few = layers_of_mesh(prism(posts, 2.0), layer_mm=0.25, bead_mm=0.45)
    assert not few.crowded.any()
    assert shapely.area(few.orderly).tolist() == few.area_mm2.tolist()


def test_many_pieces_are_an_error_and_a_note(tmp_path: Path) -> None:
    side = math.isqrt(MOST_CONTOURS) + 1
    posts = [shapely.box(3 * i, 3 * j, 3 * i + 2, 3 * j + 2) for i in range(side) for j in range(side)]
    judged = check_mesh(written(tmp_path, stack([shapely.MultiPolygon(posts)] * 3)))
    assert [(f.code, f.severity) for f in judged.findings if f.severity != "warning"] == [
        ("second-contour", "error"),
        ("second-contour", "note"),
    ]


def test_lengths_within_pieces_add_up() -> None:
    lines = shapely.linestrings([[(0, 0.5), (10, 0.5)], [(0, 5), (10, 5)], [(1.5, 0), (1.5, 3)]])
    region = shapely.MultiPolygon([shapely.box(1, 0, 3, 1), shapely.box(6, 0, 9, 1)])
    assert _length_within(lines, region) == pytest.approx([5.0, 0.0, 1.0], abs=CLOSE_MM)
    assert _length_within(lines, shapely.Polygon()).tolist() == [0.0, 0.0, 0.0]


def package(folder: Path, old: str, new: str) -> bytes:
    """Return the box as a 3MF file with a change in its model."""
    path = folder / "box.3mf"
    path.write_bytes(threemf_bytes(BOX, name="box"))
    with zipfile.ZipFile(path) as archive:
        held = {name: archive.read(name) for name in archive.namelist()}
    with zipfile.ZipFile(path, "w") as archive:
        for name, data in held.items():
            text = data.decode()
            assert old in text or not name.endswith(".model")
            archive.writestr(name, text.replace(old, new) if name.endswith(".model") else text)
    return path.read_bytes()


def test_an_encoding_that_python_knows_and_xml_does_not(tmp_path: Path) -> None:
    data = package(
        tmp_path, '<?xml version="1.0" encoding="UTF-8"?>', '<?xml version="1.0" encoding="rot13"?>'
    )
    with pytest.raises(MeshFileError, match="box"):
        read_3mf(data, source="box.3mf")


def test_a_name_of_a_hundred_thousand_signs_is_cut_off(tmp_path: Path) -> None:
    data = package(tmp_path, 'objectid="1"', f'objectid="{"9" * 100_000}"')
    with pytest.raises(MeshFileError, match=r"refers to object '9{60}\.\.\.', which") as caught:
        read_3mf(data, source="box.3mf")
    assert len(str(caught.value)) < 300


POINTS = "\n".join(
    f"{x:.4f} {s * 0.3 * (math.sqrt(x) - x):.4f}"
    for s, xs in ((1, np.linspace(1, 0, 21)), (-1, np.linspace(0.05, 1, 20)))
    for x in xs
)


def test_a_line_of_digits_without_end_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "wing.dat"
    path.write_text("9" * 900_000)  # read as a number it would take minutes
    with pytest.raises(AirfoilFileError, match="found no points"):
        read_airfoil(path)


def test_a_remark_without_end_hides_nothing(tmp_path: Path) -> None:
    path = tmp_path / "wing.dat"
    path.write_text("# " * 300_000 + "\nmine\n" + POINTS)
    assert read_airfoil(path).name == "mine"
    lines = POINTS.split("\n")
    lines[10] += " # " + "x" * 5000
    path.write_text("\n".join(["mine", *lines]))
    assert len(read_airfoil(path).upper) == 21
    # but a third number behind a thousand blanks is no remark
    lines[10] = lines[10].partition(" #")[0] + " " * 5000 + "0.5"
    path.write_text("\n".join(["mine", *lines]))
    with pytest.raises(AirfoilFileError):
        read_airfoil(path)


def test_counts_that_do_not_agree_say_what_to_do(tmp_path: Path) -> None:
    path = tmp_path / "wing.dat"
    path.write_text("mine\n41. 41.\n" + POINTS)
    with pytest.raises(
        AirfoilFileError, match=r"line 2: .* expected as many as it announces, or no such line"
    ):
        read_airfoil(path)


def test_a_file_of_sixty_thousand_faults_lists_some() -> None:
    with pytest.raises(SpecError) as caught:
        measurements_from_dict(
            {"coupon": [{}] * 20_000, **{f"k{n}": 1 for n in range(3000)}}, source="m.toml"
        )
    assert len(caught.value.problems) > 3000
    lines = str(caught.value).split("\n")
    assert len(lines) == 122
    assert re.fullmatch(r"  and \d+ more; put these right first, or start over", lines[-1])


def test_a_missing_profile_is_told_with_its_key(tmp_path: Path) -> None:
    with pytest.raises(FileAccessError, match=r"none\.toml: there is no such file.*; base_profile names it"):
        load_filament("none.toml", base_dir=tmp_path, key="base_profile")
    with pytest.raises(FileAccessError, match=r"^station\[0\]\.airfoil: .*none\.dat: could not be read"):
        load_airfoil("none.dat", base_dir=tmp_path, key="station[0].airfoil")


def test_tiny_arcs_are_drawn_in_few_chords(tmp_path: Path) -> None:
    path = tmp_path / "arcs.gcode"
    path.write_text("M83\nG1 X5 E1\n" + "G3 X5 Y0 I-0.001 J0 E0.001\n" * 50 + "G3 X5 Y0 I-10 J0 E3\n")
    points, layer, dry, _ = bead_run(check_program(path))
    # the line, a point for each tiny ring, and a ring that turns by four degrees a chord
    assert len(layer) == len(dry) == len(points) - 1 == 1 + 50 + 90


def test_what_lies_on_a_crowded_layer_is_not_called_airborne(tmp_path: Path) -> None:
    side = math.isqrt(MOST_CONTOURS) + 1
    posts = [shapely.box(3 * i, 3 * j, 3 * i + 1, 3 * j + 1) for i in range(side) for j in range(side)]
    plate = shapely.box(0.0, 0.0, 3.0 * side, 3.0 * side)
    hangs = shapely.box(0.0, 0.0, 3.0 * side + 9.0, 3.0 * side)
    for top, expected in ((plate, False), (hangs, True)):
        # two plates, the second perhaps wider: it lies on the first, of which nothing is known
        judged = check_mesh(written(tmp_path, stack([shapely.MultiPolygon(posts), plate, top])))
        told = {f.code: f.severity for f in judged.findings}
        assert ("airborne" in told) is expected
    assert told["airborne"] == "error"
