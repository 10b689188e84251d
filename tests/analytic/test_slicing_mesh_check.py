"""What a mesh is like, and what is put right before it is judged."""

from __future__ import annotations

import numpy as np
import pytest
import trimesh

from wingpath.build.mesh_check import inspect_mesh, prepared_mesh
from wingpath.build.slicing import slice_mesh
from wingpath.core.errors import MeshFileError
from wingpath.core.tolerances import WELD_MM
from wingpath.geometry.mesh import Mesh

BOX = trimesh.creation.box((10.0, 20.0, 30.0))
SMALL = trimesh.creation.box((4.0, 6.0, 8.0))


def mesh_of(shape: trimesh.Trimesh) -> Mesh:
    return Mesh(shape.vertices, shape.faces)


def moved(shape: trimesh.Trimesh, x: float, y: float = 0.0, z: float = 0.0) -> trimesh.Trimesh:
    return shape.copy().apply_translation([x, y, z])


def turned_over(shape: trimesh.Trimesh) -> trimesh.Trimesh:
    other = shape.copy()
    other.invert()
    return other


def codes(mesh: Mesh) -> list[str]:
    return [finding.code for finding in prepared_mesh(mesh)[2]]


def test_a_sound_box_has_nothing_to_say_and_is_handed_back_as_it_is() -> None:
    mesh = mesh_of(BOX)
    ready, state, findings = prepared_mesh(mesh)
    assert ready is mesh
    assert findings == ()
    assert state == inspect_mesh(mesh)
    assert state.watertight
    assert (state.bodies, state.cavities, state.overlapping_pairs) == (1, 0, 0)
    assert (state.degenerate_faces, state.duplicate_faces) == (0, 0)
    assert state.volume_mm3 == pytest.approx(6000.0)
    assert not state.inside_out
    assert state.first_open_mm is None


def test_a_missing_triangle_is_an_open_mesh_with_its_place() -> None:
    # Without one triangle of the lid at z = 15 whose corners we pick by hand.
    lid = int(np.flatnonzero(BOX.face_normals[:, 2] > 0.5)[0])
    mesh = Mesh(BOX.vertices, np.delete(BOX.faces, lid, axis=0))
    ready, state, findings = prepared_mesh(mesh)
    assert (state.open_edges, state.nonmanifold_edges, state.watertight) == (3, 0, False)
    corners = BOX.vertices[BOX.faces[lid]]
    middles = 0.5 * (corners + np.roll(corners, -1, axis=0))
    assert any(state.first_open_mm == pytest.approx(tuple(middle)) for middle in middles)
    (finding,) = findings
    assert (finding.code, finding.severity, finding.found) == ("open-mesh", "warning", 3.0)
    assert (finding.x_mm, finding.y_mm, finding.z_mm) == state.first_open_mm
    assert "3 edges" in finding.message
    assert "z 15.00 mm" in finding.message
    assert len(ready.faces) == 11


def test_the_lowest_open_edge_is_named() -> None:
    sides = [int(np.flatnonzero(BOX.face_normals[:, 2] * sign > 0.5)[0]) for sign in (1.0, -1.0)]
    faces = np.delete(BOX.faces, sides, axis=0)
    for mesh in (Mesh(BOX.vertices, faces), Mesh(BOX.vertices[::-1], 7 - faces)):
        state = inspect_mesh(mesh)
        assert state.open_edges == 6
        assert state.first_open_mm is not None
        assert state.first_open_mm[2] == pytest.approx(-15.0)


def test_an_inside_out_box_is_turned() -> None:
    mesh = mesh_of(turned_over(BOX))
    ready, state, findings = prepared_mesh(mesh)
    assert state.inside_out
    assert state.volume_mm3 == pytest.approx(-6000.0)
    assert ready.volume_mm3 == pytest.approx(6000.0)
    assert slice_mesh(ready, np.array([0.0])).areas_mm2 == pytest.approx([200.0])
    (finding,) = findings
    assert (finding.code, finding.found) == ("inside-out", 12.0)
    assert "whole surface" in finding.message


def test_single_triangles_that_face_the_wrong_way_are_turned() -> None:
    faces = BOX.faces.copy()
    faces[[2, 5, 7]] = faces[[2, 5, 7]][:, ::-1]
    ready, state, findings = prepared_mesh(Mesh(BOX.vertices, faces))
    assert state.flipped_edges > 0
    assert ready.volume_mm3 == pytest.approx(6000.0)
    assert inspect_mesh(ready).watertight
    assert [(finding.code, finding.found) for finding in findings] == [("inside-out", 3.0)]
    assert "3 triangles of 12" in findings[0].message


def test_a_cavity_stays_a_cavity_whichever_way_the_whole_faces() -> None:
    hollow = BOX + turned_over(SMALL)
    for shape in (hollow, turned_over(hollow)):
        ready, state, findings = prepared_mesh(mesh_of(shape))
        assert (state.bodies, state.cavities, state.overlapping_pairs) == (2, 1, 0)
        assert ready.volume_mm3 == pytest.approx(6000.0 - 192.0)
        assert [finding.code for finding in findings] == (["inside-out"] if state.inside_out else [])


def test_one_of_two_bodies_inside_out_is_turned_alone() -> None:
    for other in (moved(turned_over(SMALL), 30.0), moved(turned_over(SMALL), 6.0)):
        ready, state, _ = prepared_mesh(mesh_of(BOX + other))
        assert state.cavities == 0
        assert ready.volume_mm3 == pytest.approx(6000.0 + 192.0)


def test_an_inward_body_in_the_hole_of_a_ring_is_no_cavity() -> None:
    # Its box lies within the ring's box, but it is not within the ring's solid.
    ring = trimesh.creation.annulus(r_min=12.0, r_max=15.0, height=12.0, sections=40)
    ready, state, findings = prepared_mesh(mesh_of(ring + turned_over(SMALL)))
    assert state.cavities == 0
    assert ready.volume_mm3 == pytest.approx(ring.volume + 192.0)
    assert "inside-out" in [finding.code for finding in findings]


def test_bodies_whose_boxes_overlap_are_reported_and_such_as_only_touch_are_not() -> None:
    ready, state, findings = prepared_mesh(mesh_of(BOX + moved(SMALL, 6.0)))
    assert (state.bodies, state.overlapping_pairs) == (2, 1)
    assert [finding.code for finding in findings] == ["overlapping-solids"]
    assert "2 separate bodies" in findings[0].message
    assert "1 pair " in findings[0].message
    assert slice_mesh(ready, np.array([0.0])).areas_mm2 == pytest.approx([200.0 + 3.0 * 6.0])
    assert codes(mesh_of(BOX + moved(SMALL, 7.0))) == []
    assert codes(mesh_of(BOX + moved(SMALL, -7.0))) == []
    assert codes(mesh_of(BOX + moved(BOX, 50.0) + moved(SMALL, 0.0, 40.0))) == []


def test_bodies_that_share_an_edge_are_reported() -> None:
    both = BOX + moved(BOX, 10.0, 20.0)
    _, state, findings = prepared_mesh(mesh_of(both))
    assert state.nonmanifold_edges == 1
    assert [finding.code for finding in findings] == ["overlapping-solids"]
    assert "1 edge with more than two triangles" in findings[0].message


def test_faces_that_two_touching_bodies_share_cancel() -> None:
    both = BOX + moved(BOX, 10.0)
    ready, state, _ = prepared_mesh(mesh_of(both))
    assert ready.volume_mm3 == pytest.approx(12000.0)
    z = np.array([-10.0, 0.0, 10.0])
    assert slice_mesh(ready, z).areas_mm2 == pytest.approx([400.0] * 3)
    # The same box twice is the box, and a third time over too.
    thrice = trimesh.util.concatenate([BOX, BOX, BOX])
    ready, state, _ = prepared_mesh(mesh_of(thrice))
    assert state.duplicate_faces == 24
    assert len(ready.faces) == 12
    assert ready.volume_mm3 == pytest.approx(6000.0)


def test_bodies_that_touch_in_a_face_cut_the_other_way_are_still_one_area() -> None:
    # Mirrored, the second box splits the common face along the other diagonal, so nothing cancels, and the
    # edges around it have four triangles each.
    other = BOX.copy().apply_transform(np.diag([-1.0, 1.0, 1.0, 1.0])).apply_translation([10.0, 0.0, 0.0])
    flat = other.copy().apply_transform(np.diag([1.0, 1.0, -1.0, 1.0]))
    for second in (other, flat):
        ready, _, _ = prepared_mesh(mesh_of(BOX + second))
        assert ready.volume_mm3 == pytest.approx(12000.0)
        cut = slice_mesh(ready, np.linspace(-14.0, 14.0, 9))
        assert cut.open_chains_per_plane.tolist() == [0] * 9
        assert cut.areas_mm2 == pytest.approx([400.0] * 9)


def test_faces_with_a_corner_twice_go_and_slivers_stay() -> None:
    # The edge from corner 0 to corner 1 is split on one side only, and a sliver fills the crack.
    vertices = np.vstack([BOX.vertices, 0.5 * (BOX.vertices[0] + BOX.vertices[1])])
    faces = BOX.faces.copy()
    turns = [np.roll(face, -k) for face in faces for k in range(3)]
    start = next(i for i, face in enumerate(turns) if tuple(face[:2]) in ((0, 1), (1, 0)))
    a, b, c = turns[start]
    split = [[a, 8, c], [8, b, c], [a, b, 8], [a, a, b]]
    mesh = Mesh(vertices, np.vstack([np.delete(faces, start // 3, axis=0), split]))
    ready, state, _ = prepared_mesh(mesh)
    assert state.degenerate_faces == 2
    assert len(ready.faces) == 14
    assert inspect_mesh(ready).watertight
    assert slice_mesh(ready, np.linspace(-14.0, 14.0, 9)).areas_mm2 == pytest.approx([200.0] * 9)


def test_cracks_narrower_than_the_weld_are_closed_and_wider_ones_reported() -> None:
    for gap, open_edges in ((0.3 * WELD_MM, 0), (30.0 * WELD_MM, 8)):
        lid = np.flatnonzero(BOX.face_normals[:, 2] > 0.5)
        above = np.add(BOX.vertices, [0.0, 0.0, gap])
        faces = BOX.faces.copy()
        faces[lid] += 8
        mesh = Mesh(np.vstack([BOX.vertices, above]), faces)
        ready, state, findings = prepared_mesh(mesh)
        assert state.open_edges == open_edges
        assert [finding.code for finding in findings] == (["open-mesh"] if open_edges else [])
        assert len(ready.faces) == 12


def test_close_vertices_of_a_closed_mesh_are_not_welded() -> None:
    thin = trimesh.creation.box((10.0, 20.0, 0.3 * WELD_MM))
    ready, state, _ = prepared_mesh(mesh_of(thin))
    assert state.watertight
    assert len(ready.vertices) == 8


def test_triangles_with_corners_of_their_own_are_welded() -> None:
    ball = trimesh.creation.icosphere(subdivisions=2, radius=10.0)
    soup = Mesh(ball.triangles.reshape(-1, 3), np.arange(3 * len(ball.faces)).reshape(-1, 3))
    ready, state, findings = prepared_mesh(soup)
    assert state.watertight
    assert findings == ()
    assert len(ready.vertices) == len(ball.vertices)


@pytest.mark.parametrize(
    ("factor", "code", "words"),
    [
        (0.1, "odd-scale", "--scale 25.4"),
        (0.001, "odd-scale", "--scale 1000"),
        (0.17, None, ""),
        (99.0, None, ""),
        (101.0, "odd-scale", "leave out --scale"),
    ],
)
def test_sizes_that_suggest_another_unit(factor: float, code: str | None, words: str) -> None:
    findings = prepared_mesh(mesh_of(BOX).scaled(factor))[2]
    assert [finding.code for finding in findings] == ([code] if code else [])
    if code:
        assert words in findings[0].remedy
        assert findings[0].unit == "mm"


def test_a_sheet_with_two_sides_encloses_nothing() -> None:
    sheet = np.array([[0.0, 0, 0], [10, 0, 0], [0, 0, 10]])
    with pytest.raises(MeshFileError, match="enclose nothing"):
        prepared_mesh(Mesh(sheet, np.array([[0, 1, 2], [2, 1, 0]])))
    with pytest.raises(MeshFileError, match="enclose nothing"):
        prepared_mesh(Mesh(sheet, np.array([[0, 0, 1], [2, 2, 2]])))


def test_no_triangles_are_refused() -> None:
    nothing = Mesh(np.zeros((3, 3)), np.zeros((0, 3), dtype=np.int64))
    for check in (inspect_mesh, prepared_mesh):
        with pytest.raises(MeshFileError, match="no triangles"):
            check(nothing)


def test_a_strip_with_one_side_only_is_left_as_it_is() -> None:
    # A Moebius strip: no way of facing agrees everywhere.
    turn = 2.0 * np.pi * np.arange(30) / 30
    half = np.column_stack(
        [np.cos(turn / 2) * np.cos(turn), np.cos(turn / 2) * np.sin(turn), np.sin(turn / 2)]
    )
    ring = 20.0 * np.column_stack([np.cos(turn), np.sin(turn), 0.0 * turn])
    a = np.arange(29)
    faces = np.vstack(
        [
            np.column_stack([a, a + 1, a + 31]),
            np.column_stack([a, a + 31, a + 30]),
            [[29, 30, 0], [29, 0, 59]],
        ]
    )
    mesh = Mesh(np.vstack([ring + 4.0 * half, ring - 4.0 * half]), faces)
    ready, state, findings = prepared_mesh(mesh)
    assert state.flipped_edges == 1
    assert len(ready.faces) == 60
    assert "open-mesh" in [finding.code for finding in findings]
