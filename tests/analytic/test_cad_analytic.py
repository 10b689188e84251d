"""Exact solids against closed forms: a box with a slot, a bored box, a cone, a prism between two ellipses."""

from __future__ import annotations

import numpy as np
import pytest
from cad_reading import box_mesh, box_of, face_kinds, valid

from wingpath.build.bores import BORE_SIDES, Bore, bore_mesh
from wingpath.build.kernel import from_solid, loft, subtract, to_solid
from wingpath.build.slots import Slot, slot_mesh
from wingpath.build.surfaces import RoundWall, RuledStrip, SurfaceNumbers
from wingpath.cad.round import round_surface
from wingpath.cad.ruled import SKIN_FIT_MM, ruled_surfaces
from wingpath.cad.solids import CadSolid, cad_solid, mirrored_shape
from wingpath.geometry.mesh import Mesh

EXACT = 1e-9
"""Planes and cylinders are integrated exactly but for rounding."""

ON_MM = 1e-9
"""A point computed on a surface lies on it but for rounding [mm]."""


def numbered_box(numbers: SurfaceNumbers) -> Mesh:
    for side in range(6):
        numbers.new(f"side {side}")
    return box_mesh(40.0, 20.0, 30.0)


def solid_of_mesh(mesh: Mesh, numbers: SurfaceNumbers) -> CadSolid:
    return cad_solid(mesh, numbers.shapes, numbers.names, name="block")


def test_a_box_with_one_slot_has_ten_planes_and_its_exact_volume() -> None:
    numbers = SurfaceNumbers()
    box = numbered_box(numbers)
    slot = Slot("rib", "aft", np.array([-1.0, 31.0]), np.array([10.0, 20.0]), np.array([15.0, 15.0]))
    cut = slot_mesh(slot, width_mm=0.1, below_mm=-5.0, above_mm=25.0, numbers=numbers)
    made = solid_of_mesh(from_solid(subtract(to_solid(box), to_solid(cut)), name="block"), numbers)
    assert made.exact
    assert valid(made.shape)
    # two sides fore and aft, the top, two halves of the bottom, two ends, two walls and the end of the slot
    assert face_kinds(made.shape) == {"Plane": 10}
    assert made.volume_mm3 == pytest.approx(40 * 20 * 30 - 0.1 * 15 * 30, rel=EXACT)


def tube(lean: float) -> Bore:
    return Bore(
        kind="tube",
        name="bore",
        radius_mm=4.0,
        neck_mm=0.8,
        from_mm=0.0,
        to_mm=30.0,
        start=np.array([15.0, 10.0]),
        end=np.array([15.0 + lean, 10.0]),
    )


@pytest.mark.parametrize("lean", [0.0, 6.0])
def test_a_bore_is_two_halves_of_a_cylinder_where_the_mesh_has_flats(lean: float) -> None:
    numbers = SurfaceNumbers()
    box = numbered_box(numbers)
    hole = bore_mesh(tube(lean), start_mm=0.0, end_mm=30.0, numbers=numbers)
    assert hole is not None
    mesh = from_solid(subtract(to_solid(box), to_solid(hole)), name="block")
    made = solid_of_mesh(mesh, numbers)
    assert made.exact
    assert face_kinds(made.shape) == {"Plane": 6, "Cylinder": 2}
    # inside a layer the hole is an ellipse, longer by 1 over the cosine of its lean
    ellipse = np.pi * 4.0**2 * np.hypot(1.0, lean / 30.0)
    assert made.volume_mm3 == pytest.approx(40 * 20 * 30 - 30.0 * ellipse, rel=1e-7)
    flats = BORE_SIDES * np.tan(np.pi / BORE_SIDES) / np.pi
    assert mesh.volume_mm3 == pytest.approx(40 * 20 * 30 - 30.0 * ellipse * flats, rel=EXACT)


def test_a_cone_between_two_circles_has_the_volume_of_a_frustum() -> None:
    numbers = SurfaceNumbers()
    wall = RoundWall(np.zeros(2), np.zeros(2), 0.0, 9.0, 2.0, 5.0)
    angle = np.linspace(0.0, 2.0 * np.pi, 96, endpoint=False)
    circle = np.column_stack([np.cos(angle), np.sin(angle)])
    number = numbers.new("cone", wall)
    bottom, top = numbers.new("bottom"), numbers.new("top")
    rings = np.stack([2.0 * circle, 5.0 * circle])
    sides = np.full((1, 96), number)
    mesh = loft(rings, np.array([0.0, 9.0]), sides=sides, bottom=bottom, top=top, name="cone")
    made = solid_of_mesh(mesh, numbers)
    assert made.exact
    frustum = np.pi * 9.0 / 3.0 * (2.0**2 + 2.0 * 5.0 + 5.0**2)
    # its circles are splines of degree 5
    assert made.volume_mm3 == pytest.approx(frustum, rel=1e-7)


def test_a_mirrored_solid_keeps_its_volume_and_turns_its_box_over() -> None:
    numbers = SurfaceNumbers()
    made = solid_of_mesh(numbered_box(numbers), numbers)
    other = mirrored_shape(made.shape)
    assert valid(other)
    low, high = box_of(other)
    assert low == pytest.approx([0.0, 0.0, -30.0], abs=1e-6)
    assert high == pytest.approx([40.0, 20.0, 0.0], abs=1e-6)


def parabola(chord: float, lean: float) -> np.ndarray:
    u = np.linspace(0.0, 1.0, 161)
    return np.column_stack([chord * u**2, lean * chord * u * (1.0 - u)])


def test_a_cubic_outline_is_met_exactly_and_its_rulings_are_straight() -> None:
    strip = RuledStrip(parabola(80.0, -0.2), parabola(50.0, -0.3), 10.0, 40.0)
    (surface,) = ruled_surfaces([strip])
    u = np.linspace(0.0, surface.length, 161)
    for points, z in ((strip.near, 10.0), (strip.far, 40.0), (0.5 * (strip.near + strip.far), 25.0)):
        on = surface.at(np.column_stack([u, np.full(161, z)]))
        assert np.abs(on[:, :2] - points).max() < ON_MM
        off, gradient = surface.offsets(on)
        assert np.abs(off).max() < ON_MM
        found = surface.parameters(on)
        assert found[:, 0] == pytest.approx(u, abs=1e-6)
        # the offset grows by one for each millimetre along the normal inside the layer
        step = np.column_stack([gradient[:, :2], np.zeros(161)])
        assert surface.offsets(on + 0.01 * step)[0] == pytest.approx(0.01, rel=1e-6)


def test_the_gradient_of_a_skin_is_what_small_steps_show() -> None:
    strip = RuledStrip(parabola(80.0, -0.2), parabola(50.0, -0.3), 10.0, 40.0)
    (surface,) = ruled_surfaces([strip])
    points = surface.at(np.array([[20.0, 15.0], [60.0, 33.0]]))
    _, gradient = surface.offsets(points)
    for axis in range(3):
        step = 1e-5 * np.eye(3)[axis]
        slope = (surface.offsets(points + step)[0] - surface.offsets(points - step)[0]) / 2e-5
        assert slope == pytest.approx(gradient[:, axis], abs=1e-6)


def test_a_skin_that_no_few_poles_fit_passes_its_points() -> None:
    u = np.linspace(0.0, 1.0, 161)
    wavy = np.column_stack([80.0 * u, 0.4 * np.sin(160.0 * u)])
    (surface,) = ruled_surfaces([RuledStrip(wavy, wavy, 0.0, 1.0)])
    at = np.column_stack([np.linspace(0.0, surface.length, 161), np.zeros(161)])
    assert np.abs(surface.at(at)[:, :2] - wavy).max() < SKIN_FIT_MM


@pytest.mark.parametrize(("near", "far"), [(3.0, 3.0), (0.5, 4.0)])
def test_round_walls_know_their_own_points_and_gradients(near: float, far: float) -> None:
    wall = round_surface(RoundWall(np.array([5.0, 1.0]), np.array([9.0, 3.0]), 2.0, 12.0, near, far))
    wall = wall.with_seam(0.7)
    angle = np.linspace(0.1, 6.0, 25)
    along = np.linspace(3.0, 9.0, 25)
    points = wall.at(np.column_stack([angle, along]))
    assert np.abs(wall.offsets(points)[0]).max() < ON_MM
    assert wall.parameters(points) == pytest.approx(np.column_stack([angle, along]), abs=1e-9)
    _, gradient = wall.offsets(points)
    for axis in range(3):
        step = 1e-5 * np.eye(3)[axis]
        slope = (wall.offsets(points + step)[0] - wall.offsets(points - step)[0]) / 2e-5
        assert slope == pytest.approx(gradient[:, axis], abs=1e-4)
