"""What is written comes back: no vertex merged, no edge opened, nothing moved by more than rounding."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import stl as numpy_stl
import trimesh
from outside import FILES, Source

from wingpath.build.mesh_check import inspect_mesh
from wingpath.core.errors import FileAccessError, MeshFileError
from wingpath.geometry.mesh import Mesh
from wingpath.geometry.single_precision import single_vertices
from wingpath.geometry.welding import welded_points
from wingpath.io.mesh_files import read_mesh
from wingpath.io.stl import write_stl
from wingpath.io.threemf import write_3mf

TRIMESH = Source("library", "trimesh", "trimesh, an open library of meshes (MIT)")

BOX = trimesh.creation.box((10.0, 20.0, 30.0))


def mesh_of(shape: trimesh.Trimesh, name: str = "part") -> Mesh:
    return Mesh(shape.vertices, shape.faces, name=name)


def crowded() -> Mesh:
    """Return a closed ball, 300 mm from the origin, with four corners that 32 bits cannot tell apart."""
    ball = trimesh.creation.icosphere(subdivisions=3, radius=10.0)
    vertices = np.add(ball.vertices, [300.0, 0.0, 0.0])
    ring = ball.faces[7]
    vertices[ring[1]] = vertices[ring[0]] + [1e-7, 2e-7, -1e-7]
    vertices[ring[2]] = vertices[ring[0]] - [2e-7, 1e-7, 1e-7]
    vertices[ball.vertex_neighbors[ring[0]][0]] = vertices[ring[0]]
    return Mesh(vertices, ball.faces)


def written(folder: Path, mesh: Mesh, ending: str) -> Path:
    path = folder / f"part.{ending}"
    if ending == "stl":
        write_stl(path, mesh, title="wingpath part")
    else:
        write_3mf(path, mesh, name="part")
    return path


@pytest.mark.parametrize("ending", ["stl", "3mf"])
def test_a_written_mesh_comes_back(tmp_path: Path, ending: str) -> None:
    ball = mesh_of(trimesh.creation.icosphere(subdivisions=4, radius=97.0)).moved((120.0, -3.0, 0.1))
    again = read_mesh(written(tmp_path, ball, ending))
    assert (len(again.vertices), len(again.faces)) == (len(ball.vertices), len(ball.faces))
    # Half a step of 32 bits between 128 and 256 is 7.6e-6; half the grid of 1e-6 comes on top.
    assert np.abs(again.corners - ball.corners).max() < 9e-6
    assert inspect_mesh(again).watertight


def test_both_files_hold_the_same_solid(tmp_path: Path) -> None:
    ball = mesh_of(trimesh.creation.icosphere(subdivisions=3, radius=33.3))
    one, other = (read_mesh(written(tmp_path, ball, ending)) for ending in ("stl", "3mf"))
    # The decimal digits name the 32-bit number, and are not its every digit.
    assert np.array_equal(one.corners.astype(np.float32), other.corners.astype(np.float32))


@pytest.mark.parametrize("ending", ["stl", "3mf"])
def test_corners_closer_than_32_bits_resolve_are_kept_apart(tmp_path: Path, ending: str) -> None:
    mesh = crowded()
    rounded = mesh.vertices.astype(np.float32)
    assert len(np.unique(rounded, axis=0)) < len(mesh.vertices)  # this is what would be written without care
    path = written(tmp_path, mesh, ending)
    again = read_mesh(path)
    assert (len(again.vertices), len(again.faces)) == (len(mesh.vertices), len(mesh.faces))
    assert inspect_mesh(again).watertight
    assert np.abs(again.corners - mesh.corners).max() < 3e-4
    with FILES.rule(
        "STL and 3MF with corners that 32 bits cannot tell apart, read by trimesh",
        source=TRIMESH,
        expected="closed",
    ):
        assert trimesh.load(path, force="mesh").is_watertight
    if ending == "stl":
        assert numpy_stl.mesh.Mesh.from_file(str(path)).is_closed(exact=True)


@pytest.mark.parametrize("ending", ["stl", "3mf"])
def test_bodies_that_touch_in_an_edge_stay_closed_in_the_file(tmp_path: Path, ending: str) -> None:
    other = BOX.copy().apply_translation([10.0, 20.0, 0.0])
    both = trimesh.util.concatenate([BOX, other])
    mesh = mesh_of(both)
    assert inspect_mesh(mesh).watertight  # each box has corners of its own
    path = written(tmp_path, mesh, ending)
    assert inspect_mesh(read_mesh(path)).watertight
    with FILES.rule(
        "STL and 3MF of two bodies that touch in an edge, read by trimesh", source=TRIMESH, expected="closed"
    ):
        assert trimesh.load(path, force="mesh").is_watertight


def test_an_open_mesh_is_written_as_it_is(tmp_path: Path) -> None:
    soup = Mesh(BOX.triangles[:-1].reshape(-1, 3), np.arange(33).reshape(-1, 3))
    again = read_mesh(written(tmp_path, soup, "stl"))
    assert len(again.faces) == 11
    assert len(again.vertices) == 8  # equal corners were one place, and are again


def test_places_that_no_step_can_tell_apart_are_refused() -> None:
    # All corners of the closed ball at one place, where a step of 32 bits is large.
    ball = trimesh.creation.icosphere(subdivisions=4, radius=1e-9)
    with pytest.raises(MeshFileError, match="too close together"):
        single_vertices(mesh_of(ball))


def test_single_vertices_do_not_move_what_fits() -> None:
    mesh = mesh_of(trimesh.creation.icosphere(subdivisions=3, radius=50.0))
    single = single_vertices(mesh)
    assert single.dtype == np.float32
    assert not single.flags.writeable
    assert np.abs(single - mesh.vertices).max() < 0.5e-6 + 2e-6


def test_welding_keeps_the_order_and_tells_no_signs_of_zero_apart() -> None:
    points = np.array([[1.0, 2, 3], [0.0, 0, 0], [1.0, 2, 3], [-0.0, 0, -0.0], [1.0, 3, 2]])
    for kind in (np.float32, np.float64):
        unique, inverse = welded_points(points.astype(kind))
        assert unique.tolist() == [[1.0, 2.0, 3.0], [0.0, 0.0, 0.0], [1.0, 3.0, 2.0]]
        assert inverse.tolist() == [0, 1, 0, 1, 2]
        assert unique.dtype == kind


def test_welding_is_the_same_as_sorting_rows() -> None:
    points = np.random.default_rng(5).integers(0, 12, (20_000, 3)).astype(np.float64)
    unique, inverse = welded_points(points)
    assert np.array_equal(unique[inverse], points)
    assert len(unique) == len(np.unique(points, axis=0)) == len(set(map(tuple, unique)))


def test_welding_survives_a_mark_that_two_points_share(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(
        "wingpath.geometry.welding._fingerprint", lambda points: np.zeros(len(points), np.uint64)
    )
    points = np.array([[1.0, 2, 3], [4.0, 5, 6], [1.0, 2, 3]])
    unique, inverse = welded_points(points)
    assert unique.tolist() == [[1.0, 2.0, 3.0], [4.0, 5.0, 6.0]]
    assert inverse.tolist() == [0, 1, 0]


@pytest.mark.parametrize("ending", ["stl", "3mf"])
def test_a_place_that_cannot_be_written(tmp_path: Path, ending: str) -> None:
    with pytest.raises(FileAccessError, match="cannot be written"):
        written(tmp_path / "missing", mesh_of(BOX), ending)
