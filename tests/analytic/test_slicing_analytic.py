"""Slices of bodies whose sections are known in closed form."""

from __future__ import annotations

import math

import manifold3d
import numpy as np
import pytest
import shapely
import trimesh

from wingpath.build.slicing import Slices, slice_mesh
from wingpath.core.tolerances import LAYER_SIMPLIFY_MM
from wingpath.geometry.mesh import Mesh


def mesh_of(shape: trimesh.Trimesh) -> Mesh:
    return Mesh(shape.vertices, shape.faces)


def solid(body: manifold3d.Manifold) -> Mesh:
    data = body.to_mesh64()
    return Mesh(np.asarray(data.vert_properties)[:, :3], np.asarray(data.tri_verts).astype(np.int64))


def exact(mesh: Mesh, z_mm: list[float] | np.ndarray) -> Slices:
    return slice_mesh(mesh, np.asarray(z_mm, dtype=float), simplify_mm=0.0)


def signed_area(points: np.ndarray) -> float:
    x, y = points.T
    return 0.5 * float(np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y))


BOX = trimesh.creation.box((10.0, 20.0, 30.0))


def test_a_box_gives_its_rectangle_once_on_every_plane() -> None:
    z = np.linspace(-14.5, 14.5, 59)
    cut = exact(mesh_of(BOX), z)
    assert cut.loops_per_plane.tolist() == [1] * 59
    assert cut.open_chains_per_plane.tolist() == [0] * 59
    assert cut.areas_mm2 == pytest.approx(np.full(59, 200.0), abs=1e-9)
    assert shapely.length(cut.regions) == pytest.approx(np.full(59, 60.0), abs=1e-9)
    assert [region.bounds for region in cut.regions] == [(-5.0, -10.0, 5.0, 10.0)] * 59


def test_a_plane_at_the_flat_top_cuts_just_below_it_and_one_at_the_flat_bottom_nothing() -> None:
    cut = exact(mesh_of(BOX), [-15.0, 15.0])
    assert cut.areas_mm2.tolist() == [0.0, 200.0]
    assert exact(mesh_of(BOX), [-15.0 + 1e-9, 15.0 + 1e-9]).areas_mm2.tolist() == pytest.approx([200.0, 0.0])


def test_outlines_run_counter_clockwise_and_holes_clockwise() -> None:
    ring = trimesh.creation.annulus(r_min=3.0, r_max=8.0, height=4.0, sections=64)
    cut = exact(mesh_of(ring), [0.0])
    inner, outer = sorted(signed_area(chain) for chain in cut.chains(0))
    polygon = 0.5 * 64 * math.sin(2.0 * math.pi / 64)  # area of a 64-gon in the unit circle
    assert outer == pytest.approx(64.0 * polygon, rel=1e-12)
    assert inner == pytest.approx(-9.0 * polygon, rel=1e-12)


def test_a_ring_is_one_polygon_with_one_hole() -> None:
    ring = trimesh.creation.annulus(r_min=3.0, r_max=8.0, height=4.0, sections=64)
    cut = exact(mesh_of(ring), [-1.0, 0.0, 1.0])
    polygon = 0.5 * 64 * math.sin(2.0 * math.pi / 64)
    assert cut.areas_mm2 == pytest.approx(np.full(3, 55.0 * polygon), rel=1e-9)
    assert [len(region.interiors) for region in cut.regions] == [1, 1, 1]


def test_a_torus_standing_up_goes_from_one_contour_to_two_and_back() -> None:
    shape = trimesh.creation.torus(
        major_radius=20.0, minor_radius=5.0, major_sections=256, minor_sections=128
    )
    shape.apply_transform(trimesh.transformations.rotation_matrix(np.pi / 2, [1, 0, 0]))
    z = np.array([-20.0, -10.0, 0.0, 10.0, 20.0])
    cut = exact(mesh_of(shape), z)
    assert cut.loops_per_plane.tolist() == [1, 2, 2, 2, 1]
    assert [region.geom_type for region in cut.regions] == [
        "Polygon",
        "MultiPolygon",
        "MultiPolygon",
        "MultiPolygon",
        "Polygon",
    ]
    # At mid height the section is the two circles of the tube.
    assert cut.areas_mm2[2] == pytest.approx(2.0 * math.pi * 25.0, rel=1e-3)


def test_a_torus_lying_down_has_a_hole() -> None:
    shape = trimesh.creation.torus(
        major_radius=20.0, minor_radius=5.0, major_sections=256, minor_sections=128
    )
    z = np.array([-4.0, 0.0, 3.0])
    cut = exact(mesh_of(shape), z)
    half = np.sqrt(25.0 - z**2)
    assert cut.areas_mm2 == pytest.approx(math.pi * ((20.0 + half) ** 2 - (20.0 - half) ** 2), rel=1e-3)
    assert [len(region.interiors) for region in cut.regions] == [1, 1, 1]


def test_a_wedge_narrows_in_proportion() -> None:
    # Triangle (0, 0), (12, 0), (0, 24) in x and z, 7 deep in y: the section at z is 7 by 12 (1 - z / 24).
    vertices = np.array([[0, 0, 0], [12, 0, 0], [0, 0, 24], [0, 7, 0], [12, 7, 0], [0, 7, 24]], dtype=float)
    faces = [[0, 1, 2], [3, 5, 4], [0, 2, 5], [0, 5, 3], [1, 4, 5], [1, 5, 2], [0, 3, 4], [0, 4, 1]]
    mesh = Mesh(vertices, np.array(faces))
    assert mesh.volume_mm3 == pytest.approx(0.5 * 12 * 24 * 7)
    z = np.linspace(0.5, 23.5, 47)
    cut = exact(mesh, z)
    assert cut.areas_mm2 == pytest.approx(7.0 * 12.0 * (1.0 - z / 24.0), abs=1e-9)
    assert shapely.length(cut.regions) == pytest.approx(2.0 * (7.0 + 12.0 * (1.0 - z / 24.0)), abs=1e-9)


def test_a_cone_has_circles_and_its_tip_gives_nothing() -> None:
    shape = trimesh.creation.cone(radius=9.0, height=18.0, sections=90)
    z = np.array([1.0, 6.0, 12.0, 17.0, 18.0, 18.5])
    cut = exact(mesh_of(shape), z)
    radius = 9.0 * (1.0 - z[:4] / 18.0)
    polygon = 0.5 * 90 * math.sin(2.0 * math.pi / 90)
    assert cut.areas_mm2[:4] == pytest.approx(polygon * radius**2, rel=1e-9)
    assert cut.areas_mm2[4:].tolist() == [0.0, 0.0]
    assert cut.loops_per_plane.tolist() == [1, 1, 1, 1, 0, 0]


def test_a_sphere_meets_its_formula_as_the_facets_get_finer() -> None:
    z = np.linspace(-9.0, 9.0, 19)
    errors = []
    for level in (3, 4, 5):
        cut = exact(mesh_of(trimesh.creation.icosphere(subdivisions=level, radius=10.0)), z)
        errors.append(np.abs(cut.areas_mm2 - math.pi * (100.0 - z**2)).max())
    # Chord error: a quarter for every halving of the edges.
    assert errors[0] / errors[1] == pytest.approx(4.0, rel=0.1)
    assert errors[1] / errors[2] == pytest.approx(4.0, rel=0.1)


def test_a_box_with_a_slit_bore_stays_one_contour() -> None:
    bore = manifold3d.Manifold.cylinder(30.0, 4.0, 4.0, 128).translate([0.0, 0.0, -5.0])
    slit = manifold3d.Manifold.cube([0.06, 20.0, 30.0]).translate([-0.03, -20.0, -5.0])
    body = manifold3d.Manifold.cube([30.0, 20.0, 20.0]).translate([-15.0, -10.0, 0.0]) - (bore + slit)
    cut = exact(solid(body), np.linspace(0.25, 19.75, 40))
    assert cut.loops_per_plane.tolist() == [1] * 40
    circle = 0.5 * 128 * 16.0 * math.sin(2.0 * math.pi / 128)
    # The slit takes a strip 0.06 wide from the lower face to the circle, 6 mm and a sagitta of 1e-4 long.
    assert cut.areas_mm2 == pytest.approx(np.full(40, 600.0 - circle - 0.06 * 6.0), abs=1e-4)


def test_a_closed_cavity_is_a_hole() -> None:
    inner = trimesh.creation.box((4.0, 6.0, 8.0))
    inner.invert()
    mesh = mesh_of(BOX + inner)
    cut = exact(mesh, [-10.0, -3.0, 0.0, 3.0, 10.0])
    assert cut.areas_mm2 == pytest.approx([200.0, 176.0, 176.0, 176.0, 200.0])
    assert [len(region.interiors) for region in cut.regions] == [0, 1, 1, 1, 0]
    assert shapely.length(cut.regions) == pytest.approx([60.0, 80.0, 80.0, 80.0, 60.0])


def test_a_body_within_a_body_adds_nothing_and_overlapping_bodies_are_united() -> None:
    inner = trimesh.creation.box((4.0, 6.0, 8.0))
    assert exact(mesh_of(BOX + inner), [0.0]).areas_mm2 == pytest.approx([200.0])
    beside = BOX.copy().apply_translation([7.0, 5.0, 0.0])
    cut = exact(mesh_of(BOX + beside), [0.0])
    assert cut.loops_per_plane.tolist() == [2]
    assert cut.areas_mm2 == pytest.approx([400.0 - 3.0 * 15.0])
    assert cut.regions[0].geom_type == "Polygon"


def test_an_island_in_a_hole_is_solid_again() -> None:
    outer = trimesh.creation.annulus(r_min=6.0, r_max=9.0, height=5.0, sections=48)
    core = trimesh.creation.cylinder(radius=3.0, height=5.0, sections=48)
    cut = exact(mesh_of(outer + core), [0.0])
    polygon = 0.5 * 48 * math.sin(2.0 * math.pi / 48)
    assert cut.areas_mm2 == pytest.approx([polygon * (81.0 - 36.0 + 9.0)])
    assert len(cut.regions[0].geoms) == 2


def test_bodies_that_share_an_edge_stay_two_loops() -> None:
    low, high = BOX.copy(), BOX.copy().apply_translation([10.0, 20.0, 0.0])
    both = trimesh.util.concatenate([low, high])
    both.merge_vertices()
    assert len(both.vertices) == 14  # the common edge is one edge with four triangles
    cut = exact(mesh_of(both), [-7.0, 0.0, 7.0])
    assert cut.loops_per_plane.tolist() == [2, 2, 2]
    assert cut.areas_mm2 == pytest.approx([400.0] * 3)


def test_planes_through_vertices_give_what_planes_close_by_give() -> None:
    shape = trimesh.creation.icosphere(subdivisions=3, radius=10.0)
    heights = np.unique(shape.vertices[:, 2])
    heights = heights[np.append(True, np.diff(heights) > 1e-6)]
    at, below = exact(mesh_of(shape), heights), exact(mesh_of(shape), heights - 1e-9)
    assert len(heights) > 100
    assert at.areas_mm2 == pytest.approx(below.areas_mm2, abs=1e-6)
    assert at.open_chains_per_plane.sum() == 0
    assert bool(shapely.is_valid(at.regions).all())


def test_a_plane_through_a_vertex_passes_through_the_vertex_itself() -> None:
    shape = trimesh.creation.icosphere(subdivisions=2, radius=10.0 / 3.0)
    inner = np.abs(shape.vertices[:, 2]) < 3.3
    assert inner.sum() > 100
    for vertex in shape.vertices[inner]:
        found = exact(mesh_of(shape), [vertex[2]]).points
        close = found[np.abs(found - vertex[:2]).max(axis=1) < 1e-6]
        assert close.tolist() == [vertex[:2].tolist()]


def test_volume_is_the_sum_of_layer_areas_times_height() -> None:
    # Exact for a prismoid rule of order two, since the section area of a polyhedron is piecewise quadratic:
    # mid-plane layers of height h err with h squared, so the error goes down to a quarter when h is halved.
    shape = trimesh.creation.cone(radius=9.0, height=18.0, sections=90)
    errors = []
    for layers in (20, 40, 80):
        height = 18.0 / layers
        z = (np.arange(layers) + 0.5) * height
        errors.append(abs(exact(mesh_of(shape), z).areas_mm2.sum() * height - shape.volume))
    assert errors[0] / errors[1] == pytest.approx(4.0, rel=0.01)
    assert errors[1] / errors[2] == pytest.approx(4.0, rel=0.01)


def test_thinning_moves_the_outline_by_no_more_than_it_says_and_drops_most_points() -> None:
    shape = trimesh.creation.cylinder(radius=50.0, height=4.0, sections=2000)
    thin, full = slice_mesh(mesh_of(shape), np.array([0.0])), exact(mesh_of(shape), [0.0])
    assert shapely.hausdorff_distance(thin.regions[0], full.regions[0]) <= LAYER_SIMPLIFY_MM
    assert shapely.get_num_coordinates(thin.regions[0]) < 0.2 * shapely.get_num_coordinates(full.regions[0])
    assert len(thin.points) == len(full.points) >= 2000  # the chains stay as they were cut


def test_an_outline_that_crosses_itself_is_thinned_too() -> None:
    # the outer loop of the limacon r = 1 + 2 cos(a), whose area is 2 pi + 3 sqrt(3) / 2
    turn = np.linspace(0.0, 2.0 * np.pi, 4000, endpoint=False) + 1e-4
    flat = 10.0 * (1.0 + 2.0 * np.cos(turn))[:, None] * np.column_stack([np.cos(turn), np.sin(turn)])
    low, up = (np.column_stack([flat, np.full(len(flat), z)]) for z in (0.0, 2.0))
    one = np.arange(len(flat))
    two = np.roll(one, -1)
    sides = np.concatenate(
        [
            np.column_stack([one, two, one + len(flat)]),
            np.column_stack([two, two + len(flat), one + len(flat)]),
        ]
    )
    region = slice_mesh(Mesh(np.concatenate([low, up]), sides), np.array([1.0])).regions[0]
    error = LAYER_SIMPLIFY_MM * region.length
    assert region.area == pytest.approx(100.0 * (2.0 * np.pi + 1.5 * np.sqrt(3.0)), abs=error)
    assert len(region.interiors) == 0
    assert shapely.get_num_coordinates(region) < 400


def test_a_part_smaller_than_the_thinning_stays() -> None:
    # 0.02 by 0.02 mm is above the area that counts as rounding.
    tiny = trimesh.creation.box((0.02, 0.02, 10.0))
    cut = slice_mesh(mesh_of(tiny), np.array([0.0]), simplify_mm=0.05)
    assert cut.areas_mm2 == pytest.approx([0.0004])


def test_many_planes_at_once_give_the_same_as_one_by_one() -> None:
    shape = trimesh.creation.icosphere(subdivisions=5, radius=40.0)
    z = np.linspace(-39.9, 39.9, 701)
    cut = exact(mesh_of(shape), z)
    assert len(cut.points) > 120_000  # more than one group of planes
    assert np.all(np.diff(cut.plane) >= 0)
    for index in (0, 1, 233, 350, 467, 700):
        alone = exact(mesh_of(shape), [z[index]])
        assert sorted(map(tuple, cut.chains(index)[0])) == sorted(map(tuple, alone.points))
        assert cut.areas_mm2[index] == pytest.approx(alone.areas_mm2[0], rel=1e-12)


def test_no_planes_no_triangles_and_planes_beside_the_part_give_empty_slices() -> None:
    nothing = Mesh(np.zeros((0, 3)), np.zeros((0, 3), dtype=np.int64))
    for mesh, z in ((mesh_of(BOX), []), (nothing, [1.0]), (mesh_of(BOX), [-99.0, 99.0])):
        cut = exact(mesh, z)
        assert len(cut.points) == 0
        assert len(cut.regions) == len(z)
        assert all(region.is_empty for region in cut.regions)


@pytest.mark.parametrize("z", [[1.0, 0.0], [0.0, 0.0], [0.0, math.nan]])
def test_heights_that_do_not_increase_are_refused(z: list[float]) -> None:
    with pytest.raises(ValueError, match="z_mm"):
        exact(mesh_of(BOX), z)


@pytest.mark.parametrize("wrong", [{"simplify_mm": -0.1}, {"join_mm": -0.1}, {"join_mm": math.nan}])
def test_negative_distances_are_refused(wrong: dict[str, float]) -> None:
    with pytest.raises(ValueError, match="0 or more"):
        slice_mesh(mesh_of(BOX), np.array([0.0]), **wrong)


def test_results_cannot_be_written_to() -> None:
    cut = exact(mesh_of(BOX), [0.0])
    for array in (cut.points, cut.offsets, cut.plane, cut.closed, cut.regions, cut.bridge_mm, cut.z_mm):
        assert not array.flags.writeable
