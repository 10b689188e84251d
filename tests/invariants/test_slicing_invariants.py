"""Laws that hold for the slices of any mesh."""

from __future__ import annotations

import manifold3d
import numpy as np
import pytest
import shapely
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from wingpath.build.mesh_check import prepared_mesh
from wingpath.build.slicing import slice_mesh
from wingpath.core.tolerances import AREA_NOISE_MM2
from wingpath.geometry.mesh import Mesh

SEEDS = st.integers(0, 2**32 - 1)


def mesh_of(body: manifold3d.Manifold) -> Mesh:
    data = body.to_mesh64()
    return Mesh(np.asarray(data.vert_properties)[:, :3], np.asarray(data.tri_verts).astype(np.int64))


def hull(seed: int) -> manifold3d.Manifold:
    points = np.random.default_rng(seed).normal(size=(24, 3)) * (30.0, 20.0, 10.0)
    return manifold3d.Manifold.hull_points(points)


def boxes(seed: int, count: int) -> list[manifold3d.Manifold]:
    random = np.random.default_rng(seed)
    return [
        manifold3d.Manifold.cube(random.uniform(5.0, 30.0, 3), True)
        .rotate(random.uniform(0.0, 360.0, 3))
        .translate(random.uniform(-12.0, 12.0, 3))
        for _ in range(count)
    ]


def heights(mesh: Mesh, count: int, *, seed: int) -> np.ndarray:
    low, high = mesh.bounds[:, 2]
    return np.sort(np.random.default_rng(seed).uniform(low, high, count))


def oracle_areas(body: manifold3d.Manifold, z: np.ndarray) -> np.ndarray:
    return np.array([body.slice(height).area() for height in z])


@settings(max_examples=30, deadline=None)
@given(SEEDS)
def test_a_convex_body_has_one_convex_loop_with_the_area_of_another_slicer(seed: int) -> None:
    body = hull(seed)
    mesh = mesh_of(body)
    z = heights(mesh, 12, seed=seed)
    cut = slice_mesh(mesh, z, simplify_mm=0.0)
    assert cut.loops_per_plane.tolist() == [1] * 12
    # A section of less than AREA_NOISE_MM2 counts as none.
    assert cut.areas_mm2 == pytest.approx(oracle_areas(body, z), rel=1e-9, abs=AREA_NOISE_MM2)
    whole = shapely.area(shapely.convex_hull(cut.regions))
    assert cut.areas_mm2 == pytest.approx(whole, rel=1e-9, abs=1e-9)


@settings(max_examples=25, deadline=None)
@given(SEEDS, st.integers(2, 6))
def test_a_united_solid_and_its_bodies_laid_into_each_other_cut_the_same(seed: int, count: int) -> None:
    parts = boxes(seed, count)
    united = manifold3d.Manifold.batch_boolean(parts, manifold3d.OpType.Add)
    mesh = mesh_of(united)
    z = heights(mesh, 10, seed=seed)
    meshes = [mesh_of(part) for part in parts]
    starts = np.cumsum([0] + [len(part.vertices) for part in meshes])
    pile = Mesh(
        np.concatenate([part.vertices for part in meshes]),
        np.concatenate([part.faces + start for part, start in zip(meshes, starts, strict=False)]),
    )
    expected = oracle_areas(united, z)
    for given_mesh in (mesh, pile):
        cut = slice_mesh(given_mesh, z, simplify_mm=0.0)
        assert cut.open_chains_per_plane.sum() == 0
        assert cut.areas_mm2 == pytest.approx(expected, rel=1e-6, abs=AREA_NOISE_MM2)
        assert bool(shapely.is_valid(cut.regions).all())
    pieces = [united.slice(height).num_contour() for height in z]
    assert slice_mesh(mesh, z).loops_per_plane.tolist() == pieces


@settings(max_examples=25, deadline=None)
@given(SEEDS, st.floats(0.0, 360.0))
def test_turning_and_moving_the_part_turns_and_moves_its_layers(seed: int, turn_deg: float) -> None:
    mesh = mesh_of(manifold3d.Manifold.batch_boolean(boxes(seed, 3), manifold3d.OpType.Add))
    z = heights(mesh, 6, seed=seed)
    c, s = np.cos(np.radians(turn_deg)), np.sin(np.radians(turn_deg))
    turned = Mesh(
        mesh.vertices @ np.array([[c, s, 0], [-s, c, 0], [0, 0, 1]]) + [40.0, -70.0, 0.0], mesh.faces
    )
    one, other = slice_mesh(mesh, z, simplify_mm=0.0), slice_mesh(turned, z, simplify_mm=0.0)
    # Where a plane holds several loops, their union is made on a grid of 1e-8 mm.
    assert other.areas_mm2 == pytest.approx(one.areas_mm2, rel=1e-9, abs=1e-6)
    assert shapely.length(other.regions) == pytest.approx(shapely.length(one.regions), rel=1e-9, abs=1e-6)


@settings(max_examples=25, deadline=None)
@given(SEEDS, st.floats(0.01, 100.0))
def test_a_part_scaled_and_its_mirror_image_scale_and_mirror_their_layers(seed: int, factor: float) -> None:
    mesh = mesh_of(hull(seed))
    z = heights(mesh, 6, seed=seed)
    area = slice_mesh(mesh, z, simplify_mm=0.0).areas_mm2
    assume(area.min() * min(1.0, factor**2) > 1e-3)
    scaled = slice_mesh(mesh.scaled(factor), z * factor, simplify_mm=0.0).areas_mm2
    assert scaled == pytest.approx(area * factor**2, rel=1e-6)
    assert slice_mesh(mesh.mirrored_y(), z, simplify_mm=0.0).areas_mm2 == pytest.approx(area, rel=1e-9)


@settings(max_examples=15, deadline=None)
@given(SEEDS)
def test_layer_areas_add_up_to_the_volume(seed: int) -> None:
    mesh = mesh_of(manifold3d.Manifold.batch_boolean(boxes(seed, 3), manifold3d.OpType.Add))
    low, high = mesh.bounds[:, 2]
    errors = []
    for layers in (200, 800):
        height = (high - low) / layers
        z = low + (np.arange(layers) + 0.5) * height
        total = slice_mesh(mesh, z, simplify_mm=0.0).areas_mm2.sum() * height
        errors.append(abs(total - mesh.volume_mm3))
    # A step in the area costs at most half a layer of it; where there is none, far less.
    assert errors[0] < 0.01 * mesh.volume_mm3
    assert errors[1] < 0.0025 * mesh.volume_mm3


@settings(max_examples=20, deadline=None)
@given(SEEDS, st.integers(1, 40))
def test_order_of_triangles_and_corners_does_not_matter(seed: int, planes: int) -> None:
    mesh = mesh_of(manifold3d.Manifold.batch_boolean(boxes(seed, 3), manifold3d.OpType.Add))
    random = np.random.default_rng(seed)
    number = random.permutation(len(mesh.vertices))
    vertices = np.empty_like(mesh.vertices)
    vertices[number] = mesh.vertices
    faces = number[mesh.faces][random.permutation(len(mesh.faces))]
    start = random.integers(0, 3, (len(faces), 1))
    faces = np.take_along_axis(faces, (start + np.arange(3)) % 3, axis=1)
    z = heights(mesh, planes, seed=seed)
    one, other = slice_mesh(mesh, z), slice_mesh(Mesh(vertices, faces), z)
    assert other.loops_per_plane.tolist() == one.loops_per_plane.tolist()
    assert sorted(map(tuple, other.points)) == sorted(map(tuple, one.points))


@settings(max_examples=25, deadline=None)
@given(SEEDS, st.floats(0.02, 0.4))
def test_any_faces_taken_away_leave_chains_and_no_trouble(seed: int, share: float) -> None:
    mesh = mesh_of(manifold3d.Manifold.batch_boolean(boxes(seed, 3), manifold3d.OpType.Add))
    random = np.random.default_rng(seed)
    left = random.random(len(mesh.faces)) > share
    assume(left.any())
    torn = Mesh(mesh.vertices, mesh.faces[left])
    z = heights(mesh, 10, seed=seed)
    cut, bridged = slice_mesh(torn, z, join_mm=0.0), slice_mesh(torn, z, join_mm=np.inf)
    whole = slice_mesh(mesh, z, join_mm=0.0)
    # Every crossing point of what is left is there, and none besides.
    assert set(map(tuple, cut.points)) <= set(map(tuple, whole.points))
    assert set(map(tuple, bridged.points)) <= set(map(tuple, cut.points))
    assert cut.bridge_mm.sum() == 0.0
    assert bridged.open_chains_per_plane.sum() == 0
    for some in (cut, bridged):
        assert bool(shapely.is_valid(some.regions).all())
    whole_loops = cut.loops_per_plane == whole.loops_per_plane
    same = whole_loops & (cut.open_chains_per_plane == 0)
    assert cut.areas_mm2[same] == pytest.approx(whole.areas_mm2[same])


@settings(max_examples=20, deadline=None)
@given(SEEDS, st.floats(0.0, 1.0))
def test_any_faces_turned_over_are_put_right(seed: int, share: float) -> None:
    mesh = mesh_of(hull(seed))
    over = np.random.default_rng(seed).random(len(mesh.faces)) < share
    mixed = Mesh(mesh.vertices, np.where(over[:, None], mesh.faces[:, ::-1], mesh.faces))
    ready, state, findings = prepared_mesh(mixed)
    assert ready.volume_mm3 == pytest.approx(mesh.volume_mm3, rel=1e-12)
    assert ("inside-out" in {finding.code for finding in findings}) == bool(over.any())
    assert state.watertight == (over.all() or not over.any())
    z = heights(mesh, 5, seed=seed)
    assert slice_mesh(ready, z).areas_mm2 == pytest.approx(slice_mesh(mesh, z).areas_mm2)
