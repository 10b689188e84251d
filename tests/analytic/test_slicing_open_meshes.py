"""Meshes that are no solids: the slicer closes what closes, and says what does not."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
import trimesh

from wingpath.build.slicing import slice_mesh
from wingpath.geometry.mesh import Mesh

BOX = trimesh.creation.box((10.0, 20.0, 30.0))


def pipe(sections: int = 24) -> tuple[np.ndarray, np.ndarray]:
    """Return a round pipe wall without lids, 30 high, one strip of quads, facing outward."""
    turn = 2.0 * np.pi * np.arange(sections) / sections
    ring = np.column_stack([8.0 * np.cos(turn), 8.0 * np.sin(turn)])
    vertices = np.vstack([np.column_stack([ring, np.full(sections, z)]) for z in (0.0, 30.0)])
    a = np.arange(sections)
    b = (a + 1) % sections
    faces = np.vstack(
        [np.column_stack([a, b, b + sections]), np.column_stack([a, b + sections, a + sections])]
    )
    return vertices, faces


def test_open_ends_away_from_the_plane_do_not_matter() -> None:
    vertices, faces = pipe()
    cut = slice_mesh(Mesh(vertices, faces), np.array([1.0, 15.0, 29.0]), simplify_mm=0.0)
    assert cut.loops_per_plane.tolist() == [1, 1, 1]
    assert cut.areas_mm2 == pytest.approx([0.5 * 24 * 64 * math.sin(2 * math.pi / 24)] * 3)


def test_a_missing_strip_leaves_one_open_chain_that_is_not_solid() -> None:
    vertices, faces = pipe()
    mesh = Mesh(vertices, np.delete(faces, [3, 27], axis=0))
    cut = slice_mesh(mesh, np.array([1.0, 15.0, 29.0]))
    assert cut.loops_per_plane.tolist() == [0, 0, 0]
    assert cut.open_chains_per_plane.tolist() == [1, 1, 1]
    assert cut.areas_mm2.tolist() == [0.0, 0.0, 0.0]
    ends = cut.chains(1)[0][[0, -1]]
    gap = 2.0 * 8.0 * math.sin(math.pi / 24)
    assert np.linalg.norm(ends[0] - ends[1]) == pytest.approx(gap)


def test_how_much_of_an_outline_is_made_up_or_missing_is_told() -> None:
    vertices, faces = pipe()
    heights = np.array([1.0, 15.0, 29.0])
    assert slice_mesh(Mesh(vertices, faces), heights).torn_per_plane_mm.tolist() == [0.0, 0.0, 0.0]
    mesh = Mesh(vertices, np.delete(faces, [3, 27], axis=0))
    gap = 2.0 * 8.0 * math.sin(math.pi / 24)
    assert slice_mesh(mesh, heights, join_mm=math.inf).torn_per_plane_mm == pytest.approx([gap] * 3)
    # left open, the whole chain is missing: it goes from one side of the pipe to the other both ways
    assert slice_mesh(mesh, heights).torn_per_plane_mm == pytest.approx([16.0 * math.sqrt(2.0)] * 3)


def test_a_gap_within_reach_is_bridged_and_its_length_told() -> None:
    vertices, faces = pipe()
    mesh = Mesh(vertices, np.delete(faces, [3, 27], axis=0))
    gap = 2.0 * 8.0 * math.sin(math.pi / 24)
    for reach in (gap + 1e-6, math.inf):
        cut = slice_mesh(mesh, np.array([1.0, 15.0, 29.0]), join_mm=reach, simplify_mm=0.0)
        assert cut.loops_per_plane.tolist() == [1, 1, 1]
        assert cut.bridge_per_plane_mm == pytest.approx([gap] * 3)
        assert cut.areas_mm2 == pytest.approx([0.5 * 24 * 64 * math.sin(2 * math.pi / 24)] * 3)
    assert slice_mesh(mesh, np.array([15.0]), join_mm=gap - 1e-6).loops_per_plane.tolist() == [0]


def test_several_gaps_are_bridged_between_nearest_ends() -> None:
    vertices, faces = pipe()
    mesh = Mesh(vertices, np.delete(faces, [3, 27, 10, 34, 17, 41], axis=0))
    z = np.array([4.0, 11.0])
    assert slice_mesh(mesh, z).open_chains_per_plane.tolist() == [3, 3]
    cut = slice_mesh(mesh, z, join_mm=math.inf)
    assert cut.loops_per_plane.tolist() == [1, 1]
    assert bool(shapely.is_valid(cut.regions).all())
    assert cut.areas_mm2 == pytest.approx([0.5 * 24 * 64 * math.sin(2 * math.pi / 24)] * 2)


def test_a_seam_that_was_not_welded_closes_by_itself() -> None:
    # The last strip ends on vertices of its own, a micrometre beside the first ones.
    vertices, faces = pipe()
    own = np.vstack([vertices, vertices[[0, 24]] + [1e-6, -1e-6, 0.0]])
    loose = faces.copy()
    last = [23, 47]
    loose[last] = np.where(loose[last] == 0, 48, np.where(loose[last] == 24, 49, loose[last]))
    cut = slice_mesh(Mesh(own, loose), np.array([3.0, 20.0]), simplify_mm=0.0)
    assert cut.loops_per_plane.tolist() == [1, 1]
    assert np.all((cut.bridge_per_plane_mm > 0.0) & (cut.bridge_per_plane_mm < 2e-6))
    assert cut.areas_mm2 == pytest.approx([0.5 * 24 * 64 * math.sin(2 * math.pi / 24)] * 2, abs=1e-4)


def test_a_lone_triangle_gives_a_chain_of_two_points() -> None:
    mesh = Mesh(np.array([[0.0, 0, 0], [4, 0, 0], [0, 0, 4]]), np.array([[0, 1, 2]]))
    cut = slice_mesh(mesh, np.array([1.0, 2.0]))
    assert cut.closed.tolist() == [False, False]
    assert [len(chain) for chain in (cut.chains(0)[0], cut.chains(1)[0])] == [2, 2]
    # The triangle faces -y, so the solid lies on the side of +y: to the left of the way in +x.
    assert cut.chains(1)[0].tolist() == [[0.0, 0.0], [2.0, 0.0]]


def test_loops_beside_an_open_chain_are_kept() -> None:
    other = BOX.copy().apply_translation([50.0, 0.0, 0.0])
    both = trimesh.util.concatenate([BOX, other])
    sides = np.flatnonzero(np.abs(both.face_normals[:, 2]) < 0.5)
    mesh = Mesh(both.vertices, np.delete(both.faces, sides[0], axis=0))
    cut = slice_mesh(mesh, np.linspace(-14.0, 14.0, 15))
    assert cut.loops_per_plane.tolist() == [1] * 15
    assert cut.open_chains_per_plane.tolist() == [1] * 15
    assert cut.areas_mm2 == pytest.approx([200.0] * 15)


def test_a_fin_on_a_box_leaves_the_box() -> None:
    # A third triangle on an edge of the box: that edge has three triangles.
    edge = BOX.vertices[np.abs(BOX.vertices[:, :2] - [5.0, 10.0]).max(axis=1) < 1e-9]
    assert len(edge) == 2
    low, high = (int(np.flatnonzero(np.all(BOX.vertices == end, axis=1))[0]) for end in edge)
    vertices = np.vstack([BOX.vertices, [15.0, 20.0, 0.0]])
    mesh = Mesh(vertices, np.vstack([BOX.faces, [low, high, 8]]))
    cut = slice_mesh(mesh, np.linspace(-14.0, 14.0, 15))
    assert cut.loops_per_plane.tolist() == [1] * 15
    assert cut.open_chains_per_plane.tolist() == [1] * 15
    assert cut.areas_mm2 == pytest.approx([200.0] * 15)


def test_triangles_that_share_no_vertices_still_close() -> None:
    ball = trimesh.creation.icosphere(subdivisions=3, radius=10.0)
    soup = Mesh(ball.triangles.reshape(-1, 3), np.arange(3 * len(ball.faces)).reshape(-1, 3))
    z = np.linspace(-9.5, 9.5, 20)
    cut = slice_mesh(soup, z, simplify_mm=0.0)
    whole = slice_mesh(Mesh(ball.vertices, ball.faces), z, simplify_mm=0.0)
    assert cut.loops_per_plane.tolist() == [1] * 20
    assert cut.areas_mm2 == pytest.approx(whole.areas_mm2, rel=1e-12)


def bow_tie(top_left: float, top_right: float) -> Mesh:
    """Return a prism over a bow tie 6 high: the lower lobe runs counter-clockwise, the upper clockwise."""
    tie = np.array([[0.0, 0.0], [4.0, 0.0], [top_left, 6.0], [top_right, 6.0]])
    vertices = np.vstack([np.column_stack([tie, np.full(4, z)]) for z in (0.0, 5.0)])
    a = np.arange(4)
    b = (a + 1) % 4
    faces = np.vstack([np.column_stack([a, b, b + 4]), np.column_stack([a, b + 4, a + 4])])
    return Mesh(vertices, faces)


@pytest.mark.parametrize(
    ("top_left", "top_right", "sound"),
    [
        (1.0, 3.0, 8.0),  # lobes of 8 and 2: more is sound than not
        (0.0, 4.0, 6.0),  # both 6: the areas cancel
        (-4.0, 8.0, 3.0),  # 3 and 27: the whole has a negative area
    ],
)
def test_a_ring_that_crosses_itself_keeps_its_sound_part(
    top_left: float, top_right: float, sound: float
) -> None:
    cut = slice_mesh(bow_tie(top_left, top_right), np.array([1.0, 4.0]), simplify_mm=0.0)
    assert cut.loops_per_plane.tolist() == [1, 1]
    assert bool(shapely.is_valid(cut.regions).all())
    assert cut.areas_mm2 == pytest.approx([sound, sound])
