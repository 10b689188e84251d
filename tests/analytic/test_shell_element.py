"""The shell triangle and the beam: states that they must hold exactly, and those they only approach."""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Sequence

import numpy as np
import pytest
from outside import SHELL, Source
from shell_panels import Sheet, sheet

from wingpath.core.arrays import FloatArray
from wingpath.core.errors import InputError
from wingpath.structure.material import WallMaterial
from wingpath.structure.shell_frames import TriangleFrames
from wingpath.structure.shell_model import BeamRun, ShellModel

EXACT = 1e-9
"""Share: states of constant strain or curvature are held to rounding, which the solution multiplies."""

ZERO = 1e-10
"""Share of the largest eigenvalue that counts as none; rounding leaves 1e-15."""

THICK_MM, POISSON = 0.8, 0.3

ISOTROPIC = WallMaterial(1900.0, 1900.0, POISSON, 1.2)
PRINTED = WallMaterial(1900.0, 700.0, POISSON, 1.2)
"""Stiffer along the bead than across the layers."""

MATERIALS = pytest.mark.parametrize("material", [ISOTROPIC, PRINTED], ids=["isotropic", "printed"])

PLANES = {
    "in a layer": ([1.0, 0.0, 0.0], [0.0, 1.0, 0.0]),
    "upright": ([1.0, 0.0, 0.0], [0.0, 0.0, 1.0]),
    "upright, askew": ([0.6, 0.8, 0.0], [0.0, 0.0, 1.0]),
    "leaning": ([0.6, -0.8, 0.0], [0.48, 0.36, 0.8]),
}
"""Two directions that span a flat wall: the first lies in the layer, the second climbs."""


def distorted(seed: int = 4) -> tuple[Sheet, FloatArray]:
    """Return a patch of 5 by 4 squares whose inner corners are thrown about, and which of them are inside."""
    flat = sheet(5, 4, lambda s, t: (50.0 * s, 36.0 * t, 0.0 * s))
    inside = np.zeros(len(flat.points_mm), bool)
    inside[flat.number[1:-1, 1:-1]] = True
    shift = np.random.default_rng(seed).uniform(-3.0, 3.0, (len(inside), 2))
    points = flat.points_mm.copy()
    points[inside, :2] += shift[inside]
    return Sheet(points, flat.triangles, flat.number), inside


def in_space(plane: str) -> FloatArray:
    """Return the directions of a plane and its normal as rows."""
    one, two = (np.array(way) for way in PLANES[plane])
    return np.array([one, two, np.cross(one, two)])


def modelled(patch: Sheet, plane: str, material: WallMaterial) -> ShellModel:
    frames = TriangleFrames(patch.points_mm @ in_space(plane) + [7.0, -3.0, 11.0], patch.triangles)
    return ShellModel(frames, np.full(len(patch.triangles), THICK_MM), material)


def freedoms(plane: str, moved: Sequence[FloatArray], turned: Sequence[FloatArray]) -> FloatArray:
    """Return nodal displacements from those along the directions of a plane, shape (n, 6)."""
    axes = in_space(plane)
    return np.column_stack([np.column_stack(moved) @ axes, np.column_stack(turned) @ axes])


def stretched(patch: Sheet, plane: str, strain: Sequence[float]) -> FloatArray:
    """Return the displacements of an even strain (along, across, shear) with some rotation besides."""
    x, y, _ = patch.points_mm.T
    one, two, shear = strain
    spin, none = 2e-4, np.zeros(len(x))
    u, v = one * x + (0.5 * shear - spin) * y, two * y + (0.5 * shear + spin) * x
    return freedoms(plane, (u, v, none), (none, none, np.full(len(x), spin)))


def curved(patch: Sheet, plane: str, curvature: Sequence[float]) -> FloatArray:
    """Return the displacements of an even curvature: second derivatives xx, yy and twice xy."""
    x, y, _ = patch.points_mm.T
    one, two, twist = curvature
    w = 0.5 * (one * x**2 + two * y**2 + twist * x * y)
    none = np.zeros(len(x))
    return freedoms(plane, (none, none, w), (two * y + 0.5 * twist * x, -(one * x + 0.5 * twist * y), none))


def solved_inside(model: ShellModel, inside: FloatArray, border: FloatArray) -> FloatArray:
    """Return the displacements when all but the inner nodes are moved as told."""
    held = model.held(~np.repeat(inside[:, None], 6, axis=1))
    found = np.where(inside[:, None], 0.0, border)
    pushed = -(model.stiffness @ found.ravel()).reshape(-1, 6)
    return found + held.displacement(pushed)


@MATERIALS
@pytest.mark.parametrize("plane", PLANES)
@pytest.mark.parametrize(
    "strain", [(1e-3, 0.0, 0.0), (0.0, 1e-3, 0.0), (0.0, 0.0, 1e-3), (2e-3, -1e-3, 5e-4)]
)
def test_membrane_patch(plane: str, material: WallMaterial, strain: Sequence[float]) -> None:
    patch, inside = distorted()
    model = modelled(patch, plane, material)
    exact = stretched(patch, plane, strain)
    found = solved_inside(model, inside, exact)
    assert np.abs(found - exact).max() < EXACT * np.abs(exact).max()
    forces = THICK_MM * material.plane_stress_mpa @ np.asarray(strain)
    # the triangles' own first axis may point backwards, which leaves stresses as they are
    assert np.abs(model.forces_n_mm(found) - forces).max() < EXACT * np.abs(forces).max()
    energy = 0.5 * found.ravel() @ model.stiffness @ found.ravel()
    assert energy == pytest.approx(0.5 * forces @ np.asarray(strain) * 50.0 * 36.0, rel=EXACT)


@MATERIALS
@pytest.mark.parametrize("plane", PLANES)
@pytest.mark.parametrize(
    "curvature", [(1e-3, 0.0, 0.0), (0.0, 1e-3, 0.0), (0.0, 0.0, 1e-3), (2e-3, -1e-3, 5e-4)]
)
def test_bending_patch(plane: str, material: WallMaterial, curvature: Sequence[float]) -> None:
    patch, inside = distorted()
    model = modelled(patch, plane, material)
    exact = curved(patch, plane, curvature)
    found = solved_inside(model, inside, exact)
    assert np.abs(found - exact).max() < EXACT * np.abs(exact).max()
    bend = np.asarray(curvature)
    moments = THICK_MM**3 / 12.0 * material.plane_stress_mpa @ bend
    energy = 0.5 * found.ravel() @ model.stiffness @ found.ravel()
    assert energy == pytest.approx(0.5 * moments @ bend * 50.0 * 36.0, rel=EXACT)


@MATERIALS
def test_six_rigid_motions_and_no_other(material: WallMaterial) -> None:
    shapes = np.random.default_rng(8).uniform(-20.0, 20.0, (6, 3, 3))
    one_in_layer = np.array([[0.0, 0.0, 5.0], [9.0, 1.0, 5.0], [3.0, 8.0, 5.0]])
    for corners in [*shapes, one_in_layer]:
        frames = TriangleFrames(corners, np.array([[0, 1, 2]]))
        stiffness = ShellModel(frames, np.array([THICK_MM]), material).stiffness.toarray()
        assert np.abs(stiffness - stiffness.T).max() < ZERO * np.abs(stiffness).max()
        values = np.linalg.eigvalsh(stiffness)
        assert np.abs(values[:6]).max() < ZERO * values[-1]
        assert values[6] > 1e4 * ZERO * values[-1]
        for way, spin in itertools.product(np.eye(3), np.eye(3)):
            moved = np.column_stack([way + np.cross(spin, corners), np.tile(spin, (3, 1))]).ravel()
            assert np.abs(stiffness @ moved).max() < ZERO * values[-1] * np.abs(moved).max()


@MATERIALS
def test_stiffness_depends_on_no_order_of_corners(material: WallMaterial) -> None:
    points = np.random.default_rng(3).uniform(-20.0, 20.0, (3, 3))
    found = [
        ShellModel(TriangleFrames(points, np.array([order])), np.array([THICK_MM]), material)
        for order in itertools.permutations(range(3))
    ]
    first = found[0].stiffness.toarray()
    pressed = np.random.default_rng(5).normal(size=(3, 6))
    stress = found[0].geometric_stiffness(pressed).toarray()
    for other in found[1:]:
        assert np.abs(other.stiffness.toarray() - first).max() < EXACT * np.abs(first).max()
        again = other.geometric_stiffness(pressed).toarray()
        assert np.abs(again - stress).max() < EXACT * np.abs(stress).max()


def test_numbers_of_nodes_do_not_matter() -> None:
    patch, inside = distorted()
    order = np.random.default_rng(1).permutation(len(inside))
    other = Sheet(patch.points_mm[order], np.argsort(order)[patch.triangles], patch.number)
    force = np.random.default_rng(2).normal(size=(len(inside), 6))
    found = []
    for one, kept in ((patch, slice(None)), (other, order)):
        model = modelled(one, "leaning", PRINTED)
        held = model.held(~np.repeat(inside[kept][:, None], 6, axis=1))
        found.append(held.displacement(force[kept]))
    assert np.abs(found[1] - found[0][order]).max() < EXACT * np.abs(found[0]).max()


@pytest.mark.parametrize("plane", ["upright", "upright, askew", "leaning"])
@pytest.mark.parametrize("along", [True, False], ids=["along the layer", "up the wall"])
def test_pulled_walls_show_the_modulus_of_their_direction(plane: str, along: bool) -> None:
    patch, _ = distorted()
    model = modelled(patch, plane, PRINTED)
    pull = 1.0 / THICK_MM / (PRINTED.e_along_mpa if along else PRINTED.e_across_mpa)
    narrower = -POISSON / THICK_MM / PRINTED.e_along_mpa
    moved = stretched(patch, plane, (pull, narrower, 0.0) if along else (narrower, pull, 0.0))
    force = (model.stiffness @ moved.ravel()).reshape(-1, 6)[:, :3] @ in_space(plane).T
    # 1 N/mm on either end, nothing inside the wall and on its other edges
    ends = (patch.number[0], patch.number[-1]) if along else (patch.number[:, 0], patch.number[:, -1])
    width = 36.0 if along else 50.0
    for end, sign in zip(ends, (-1.0, 1.0), strict=True):
        assert force[end, 0 if along else 1].sum() == pytest.approx(sign * width, rel=EXACT)
    free = np.setdiff1d(np.arange(model.nodes), np.concatenate(ends))
    assert np.abs(force[free]).max() < EXACT * width


def test_shear_modulus_of_a_printed_wall() -> None:
    flat = sheet(4, 3, lambda s, t: (40.0 * s, 30.0 * t, 0.0 * s))
    model = modelled(flat, "upright", PRINTED)
    axes = in_space("upright")
    force = flat.edge_load(flat.number[-1], axes[1]) - flat.edge_load(flat.number[0], axes[1])
    force += flat.edge_load(flat.number[:, -1], axes[0]) - flat.edge_load(flat.number[:, 0], axes[0])
    fixed = np.zeros((model.nodes, 6), bool)
    fixed[flat.number[0, 0]] = True
    found = model.held(fixed).displacement(force)
    shear = math.sqrt(1900.0 * 700.0) / (2.0 * (1.0 + POISSON))
    assert model.forces_n_mm(found)[:, 2] == pytest.approx(1.0, rel=EXACT)
    energy = 0.5 * found.ravel() @ force.ravel()
    assert energy == pytest.approx(0.5 * 40.0 * 30.0 / (THICK_MM * shear), rel=EXACT)


def strip(lengthwise: int, wide: int, *, upright: bool = True) -> Sheet:
    """Return a strip of 120 by 20 mm, standing on a layer or lying along the chord."""

    def place(s: FloatArray, t: FloatArray) -> Sequence[FloatArray]:
        length, width = 120.0 * s, 20.0 * (t - 0.5)
        return (width, 0.0 * s, length) if upright else (length, 0.0 * s, width)

    return sheet(lengthwise, wide, place)


@pytest.mark.parametrize("upright", [True, False])
def test_strip_under_a_couple_bends_to_a_circle(upright: bool) -> None:
    flat = strip(6, 2, upright=upright)
    material = WallMaterial(1900.0, 700.0, 0.0, 1.2)
    frames = TriangleFrames(flat.points_mm, flat.triangles)
    model = ShellModel(frames, np.full(len(frames), THICK_MM), material)
    # a couple that lifts the end: about -x for a strip along z, about +z for one along x
    force = np.roll(flat.edge_load(flat.number[-1], (-1, 0, 0) if upright else (0, 0, 1)), 3, axis=1)
    found = model.held(flat.holding((flat.number[0], range(6)))).displacement(force)
    curvature = 12.0 / ((700.0 if upright else 1900.0) * THICK_MM**3)
    far = flat.points_mm[:, 2 if upright else 0]
    assert found[:, 1] == pytest.approx(0.5 * curvature * far**2, rel=EXACT, abs=EXACT)


def test_loaded_strip_is_approached_with_the_square_of_the_edge() -> None:
    errors = []
    for fine in (1, 2, 4):
        flat = strip(6 * fine, fine)
        model = flat.shell(THICK_MM, 900.0, 0.0)
        force = flat.surface_load((0.0, 1e-5, 0.0))
        found = model.held(flat.holding((flat.number[0], range(6)))).displacement(force)
        exact = 1e-5 * 120.0**4 / (8.0 * 900.0 * THICK_MM**3 / 12.0)
        errors.append(abs(found[flat.number[-1], 1].mean() / exact - 1.0))
    slopes = np.log2(np.array(errors[:-1]) / errors[1:])
    # second order: 1.99 as measured
    assert slopes.min() > 1.9
    assert errors[-1] < 0.001


FELIPPA = Source(
    "memory", "Felippa", "C. A. Felippa's studies of membrane triangles with rotations about the normal"
)


def test_bending_in_its_plane_does_not_lock() -> None:
    slender = [1, 2, 4, 8]
    SHELL.check(
        "Bending of long triangles in their plane: deflection over theory",
        source=FELIPPA.at("cantilever under an end moment"),
        expected=[1.0] * len(slender),
        got=[bent_in_its_plane(times) for times in slender],
        rel=0.02,
        because="what this triangle stays within, however long",
        labels=[f"{times} times as long as high" for times in slender],
    )


def bent_in_its_plane(slender: int) -> float:
    # 32 by 2, nu 0.25: a poorer higher-order part leaves a tenth of the deflection
    flat = sheet(32 // slender, 2, lambda s, t: (32.0 * s, 2.0 * t - 1.0, 0.0 * s))
    model = flat.shell(1.0, 768.0, 0.25)
    force = np.zeros((model.nodes, 6))
    for node, share in zip(flat.number[-1], (-0.5, 0.0, 0.5), strict=True):
        force[node, 0] = share
    fixed = flat.holding((flat.number[0], (0, 5)), (flat.number[0, 1:2], range(6)), (flat.number, (2, 3, 4)))
    found = model.held(fixed).displacement(force)
    exact = 1.0 * 32.0**2 / (2.0 * 768.0 * 2.0**3 / 12.0)
    return float(-found[flat.number[-1, 1], 1] / exact)


EA, EI_X, EI_Y, GJ = 5.0e5, 4.0e6, 9.0e6, 1.5e6


def cantilever(along: Sequence[float]) -> tuple[ShellModel, Callable[[FloatArray], FloatArray]]:
    """Return a beam of 200 mm in three uneven pieces, and its tip's motion under a load there."""
    way = np.asarray(along) / np.linalg.norm(along)
    beam = np.outer([0.0, 40.0, 130.0, 200.0], way)
    aside = np.array([[500.0, 0.0, 0.0], [510.0, 0.0, 0.0], [500.0, 0.0, 10.0]])
    frames = TriangleFrames(np.concatenate([beam, aside]), np.array([[4, 5, 6]]))
    run = BeamRun("tube[0]", np.arange(4), EA, EI_X, EI_Y, GJ)
    model = ShellModel(frames, np.array([1.0]), ISOTROPIC, (run,))
    fixed = np.zeros((7, 6), bool)
    fixed[[0, 4, 5, 6]] = True
    held = model.held(fixed)

    def tip(load: FloatArray) -> FloatArray:
        force = np.zeros((7, 6))
        force[3] = load
        return held.displacement(force)[3]

    return model, tip


@pytest.mark.parametrize("along", [(0.0, 0.0, 1.0), (0.0, 0.3, 1.0)], ids=["level", "climbing"])
def test_beam_is_the_slender_cantilever(along: Sequence[float]) -> None:
    _, tip = cantilever(along)
    way = np.asarray(along) / np.linalg.norm(along)
    chord = np.array([1.0, 0.0, 0.0])
    up = np.cross(way, chord)
    length, none = 200.0, np.zeros(3)
    expected = [
        # load, motion, turn: tip force up and aft, pull, torque, couples
        ((up, none), (length**3 / (3 * EI_X) * up, -(length**2) / (2 * EI_X) * chord)),
        ((chord, none), (length**3 / (3 * EI_Y) * chord, length**2 / (2 * EI_Y) * up)),
        ((way, none), (length / EA * way, none)),
        ((none, way), (none, length / GJ * way)),
        ((none, chord), (-(length**2) / (2 * EI_X) * up, length / EI_X * chord)),
        ((none, up), (length**2 / (2 * EI_Y) * chord, length / EI_Y * up)),
    ]
    for load, motion in expected:
        exact = np.concatenate(motion)
        assert np.abs(tip(np.concatenate(load)) - exact).max() < EXACT * np.abs(exact).max()


def test_what_cannot_be_solved_is_refused() -> None:
    with pytest.raises(InputError, match="number 1"):
        TriangleFrames(
            np.array([[0.0, 0, 0], [1, 0, 0], [0, 1, 0], [2, 0, 0]]), np.array([[0, 1, 2], [0, 1, 3]])
        )
