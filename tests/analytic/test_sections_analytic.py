"""Tubes and thin-walled sections against closed forms and exact working of the project's check values."""

from __future__ import annotations

import math

import numpy as np
import pytest

from wingpath.core.errors import InputError
from wingpath.model.spec_fittings import TubeSpec
from wingpath.structure.section import section_constants, shear_flow_n_mm, torque_flow_n_mm
from wingpath.structure.thin_section import Rods, ThinSection
from wingpath.structure.tube_section import rectangle_torsion_mm4, tube_section

CORNERS = 3e-5
"""Share: the check values count the corners of the box as they are, walls of thickness t do not."""

DIGITS = 2e-6
"""Share: the check values are given to six digits."""

TUBES = {(10.0, 8.0): 289.8119, (8.0, 6.0): 137.4447, (6.0, 4.0): 51.0509, (12.0, 10.0): 527.0022}
"""Second moment of round tubes by outside and inside diameter [mm4]."""


def tube(**given: object) -> TubeSpec:
    return TubeSpec.model_validate({"chord_fraction": 0.3, "to_mm": 100.0, **given})


def rods(point: int, *, ea: float, ei: float = 0.0, gj: float = 0.0) -> Rods:
    return Rods(np.array([point]), *(np.array([value]) for value in (ea, ei, ei, gj)))


def box(*edges: float, height: float, t: float, e: float = 1.0, g: float = 1.0) -> ThinSection:
    """Return a row of boxes whose walls are the bottoms, the tops, then the uprights."""
    count = len(edges)
    points = [(x, 0.0) for x in edges] + [(x, height) for x in edges]
    walls = [(k, k + 1) for k in range(count - 1)] + [(count + k, count + k + 1) for k in range(count - 1)]
    walls += [(k, count + k) for k in range(count)]
    full = np.ones(len(walls))
    return ThinSection(np.array(points), np.array(walls), t * full, e * full, g * full)


def slit_circle(count: int, radius: float, t: float, *, closed: bool = False) -> ThinSection:
    """Return a circle about the origin as a chain of chords, cut open at the front; the points lie on it."""
    angle = np.linspace(-np.pi, np.pi, count + 1)
    points = radius * np.column_stack([np.cos(angle), np.sin(angle)])
    walls = np.column_stack([np.arange(count), np.arange(1, count + 1)])
    if closed:
        points, walls = points[:-1], walls % count
    full = np.ones(count)
    return ThinSection(points, walls, t * full, full, full)


def slope(counts: list[int], errors: list[float]) -> float:
    return float(np.polyfit(np.log(counts), np.log(errors), 1)[0])


@pytest.mark.parametrize(("sizes", "second"), TUBES.items())
def test_round_tubes(sizes: tuple[float, float], second: float) -> None:
    found = tube_section(tube(outer_mm=sizes[0], inner_mm=sizes[1]))
    assert found.second_x_mm4 == pytest.approx(second, abs=6e-5)
    assert found.second_y_mm4 == found.second_x_mm4
    assert found.modulus_x_mm3 == pytest.approx(2.0 * second / sizes[0], rel=1e-6)
    assert found.torsion_mm4 == pytest.approx(2.0 * second, rel=1e-6)


def test_the_usual_tube() -> None:
    found = tube_section(tube(outer_mm=10, inner_mm=8))
    assert found.area_mm2 == pytest.approx(28.2743, abs=6e-5)
    assert found.modulus_x_mm3 == pytest.approx(57.9624, abs=6e-5)
    assert found.torsion_mm4 == pytest.approx(579.6238, abs=6e-5)
    # the worked case: 14.6083 N m make 252.031 MPa
    assert 252.031 * found.modulus_x_mm3 == pytest.approx(14608.3, rel=1e-5)


def test_strips_and_squares() -> None:
    strip = tube_section(tube(shape="strip", width_mm=3, height_mm=12))
    assert (strip.area_mm2, strip.second_x_mm4, strip.second_y_mm4) == (36.0, 432.0, 27.0)
    assert (strip.modulus_x_mm3, strip.modulus_y_mm3) == (72.0, 18.0)
    assert strip.torsion_mm4 == pytest.approx(0.281 * 12 * 27, rel=2e-3)
    square = tube_section(tube(shape="square", outer_mm=6, inner_mm=5))
    assert square.area_mm2 == 11.0
    assert square.second_x_mm4 == pytest.approx((6**4 - 5**4) / 12.0)
    # Bredt: 4 A^2 t / (4 s), s the side along the middle of the wall, with the corners cut short
    assert square.torsion_mm4 == pytest.approx(5.5**4 * 0.5 / (5.5 - 0.441 * 0.5))
    solid = tube_section(tube(shape="square", outer_mm=6))
    assert solid.torsion_mm4 == rectangle_torsion_mm4(width_mm=6, height_mm=6)
    assert tube_section(tube(shape="square", outer_mm=6, inner_mm=0.5)).torsion_mm4 <= solid.torsion_mm4


def test_thin_rectangles_are_strips() -> None:
    # J = b t^3 / 3 (1 - 0.630 t / b) of a thin strip; the constant is 192 / pi^5 times the sum of n^-5
    assert rectangle_torsion_mm4(width_mm=1000, height_mm=1) == pytest.approx(
        1000 / 3 * (1 - 0.630249e-3), rel=1e-8
    )


@pytest.mark.parametrize(
    "given",
    [{"outer_mm": 6, "inner_mm": 6}, {"outer_mm": 0}, {"shape": "strip", "width_mm": 3, "height_mm": 0}],
)
def test_tubes_without_material_are_refused(given: dict[str, object]) -> None:
    with pytest.raises(InputError, match=r"got .*allowed: .*Give"):
        tube_section(tube(**given))


def test_three_cells() -> None:
    cells = box(0.0, 40.0, 80.0, 120.0, height=30.0, t=0.4)
    found = section_constants(cells)
    assert found.gj_cells_n_mm2 == pytest.approx(69896.63, rel=1e-7)
    flow = np.abs(torque_flow_n_mm(cells, torque_n_mm=1.0))
    assert flow[1] / flow[0] == pytest.approx(10.78652 / 9.16854, rel=1e-6)
    assert flow[2] == pytest.approx(flow[0])
    assert section_constants(box(0.0, 120.0, height=30.0, t=0.4)).gj_cells_n_mm2 == pytest.approx(69120.0)


def test_slit_box() -> None:
    points = [[60.0, 0.0], [0.0, 0.0], [0.0, 30.0], [120.0, 30.0], [120.0, 0.0], [60.0, 0.0]]
    walls = np.column_stack([np.arange(5), np.arange(1, 6)])
    full = np.ones(5)
    found = section_constants(ThinSection(np.array(points), walls, 0.4 * full, full, full))
    assert found.gj_n_mm2 == pytest.approx(6.4, rel=1e-9)
    assert found.gj_cells_n_mm2 == pytest.approx(0.0, abs=1e-9)


def test_branches_of_a_closed_section_carry_no_flow_of_torsion() -> None:
    plain = box(0.0, 120.0, height=30.0, t=0.4)
    points = np.vstack([plain.points_mm, [[150.0, 5.0]]])
    walls = np.vstack([plain.walls, [[1, 4]]])
    full = np.ones(5)
    finned = ThinSection(points, walls, 0.4 * full, full, full)
    assert torque_flow_n_mm(finned, torque_n_mm=1e4)[-1] == pytest.approx(0.0, abs=1e-9)
    found, bare = section_constants(finned), section_constants(plain)
    assert found.gj_cells_n_mm2 == pytest.approx(bare.gj_cells_n_mm2, rel=1e-12)
    length = math.hypot(30.0, 5.0)
    assert found.gj_own_n_mm2 - bare.gj_own_n_mm2 == pytest.approx(length * 0.4**3 / 3.0)


def test_slit_tube() -> None:
    counts, errors = [16, 32, 64, 128], []
    for count in counts:
        found = section_constants(slit_circle(count, 20.0, 0.4), own_thickness=False)
        # slit at the front, x = -R: the shear centre lies two radii behind the middle
        errors.append(abs(found.shear_centre_mm[0] - 40.0))
        last = found
    assert errors[-1] < 0.02
    assert slope(counts, errors) == pytest.approx(-2.0, abs=0.1)
    assert last.ei_xx_n_mm2 == pytest.approx(math.pi * 20.0**3 * 0.4, rel=2e-3)


def test_closed_tube() -> None:
    counts = [16, 32, 64, 128]
    area = 2.0 * math.pi * 20.0 * 0.4
    shear, torsion = [], []
    for count in counts:
        found = section_constants(slit_circle(count, 20.0, 0.4, closed=True), own_thickness=False)
        # a thin ring has half its area in shear, and 2 pi R^3 t in torsion
        shear.append(abs(found.ga_y_n / area - 0.5))
        torsion.append(abs(found.gj_cells_n_mm2 / (2.0 * math.pi * 20.0**3 * 0.4) - 1.0))
    assert slope(counts, shear) == pytest.approx(-2.0, abs=0.1)
    assert slope(counts, torsion) == pytest.approx(-2.0, abs=0.1)
    assert max(shear[-1], torsion[-1]) < 2e-3
    flow = torque_flow_n_mm(slit_circle(64, 20.0, 0.4, closed=True), torque_n_mm=1000.0)
    # nose-up is from y to x, against the turn of the walls
    assert flow == pytest.approx(-1000.0 / (2.0 * math.pi * 400.0), rel=5e-3)


def test_flow_of_a_single_wall() -> None:
    # a parabola: 3/2 of the mean in the middle, nothing at the ends; the stiffness is 5/6 of the area's.
    # A stub in the middle only keeps the wall from falling over
    points = np.array([[3.0, 0.0], [3.0, 20.0], [3.0, 40.0], [13.0, 20.0]])
    full = np.ones(3)
    walls = np.array([[0, 1], [1, 2], [1, 3]])
    tee = ThinSection(points, walls, 0.5 * full, 7.0 * full, 3.0 * full)
    flow = shear_flow_n_mm(tee, force_n=80.0)
    assert flow[0] == pytest.approx([0.0, 2.25, 3.0], abs=1e-12)
    assert flow[1] == pytest.approx([3.0, 2.25, 0.0], abs=1e-12)
    assert flow[2] == pytest.approx(0.0, abs=1e-12)
    assert section_constants(tee).ga_y_n == pytest.approx(5.0 / 6.0 * 3.0 * 0.5 * 40.0)
    assert section_constants(tee).shear_centre_mm == pytest.approx([3.0, 20.0])


def test_flow_of_an_uneven_section() -> None:
    # any section: the flows together are the force, up and not aft, about the shear centre
    rng = np.random.default_rng(4)
    base = box(0.0, 35.0, 60.0, 120.0, height=30.0, t=0.4)
    points = base.points_mm + rng.uniform(-4.0, 4.0, base.points_mm.shape)
    full = np.ones(len(base.walls))
    uneven = ThinSection(
        points,
        base.walls,
        rng.uniform(0.3, 0.9, len(full)),
        rng.uniform(500, 900, len(full)),
        rng.uniform(200, 400, len(full)),
        rods=rods(2, ea=4e5),
    )
    flow = shear_flow_n_mm(uneven, force_n=50.0)
    mean = (flow[:, 0] + 4.0 * flow[:, 1] + flow[:, 2]) / 6.0
    assert mean @ uneven.delta_mm == pytest.approx([0.0, 50.0], abs=1e-9)
    centre = section_constants(uneven).shear_centre_mm
    assert mean @ uneven.sweep_mm2 == pytest.approx(50.0 * centre[0])
    # Betti: the flow of a torque does no work on a force through the shear centre
    turned = torque_flow_n_mm(uneven, torque_n_mm=1.0)
    work = turned * mean * uneven.length_mm / (uneven.g_mpa * uneven.thickness_mm)
    assert work.sum() == pytest.approx(0.0, abs=1e-9 * np.abs(work).sum())
    # and the energy of the flow is that of the stiffness, by Simpson over a parabola squared
    at = np.linspace(0.0, 1.0, 2001)
    bow = flow[:, [1]] - 0.5 * (flow[:, [0]] + flow[:, [2]])
    full_flow = flow[:, [0]] + (flow[:, [2]] - flow[:, [0]]) * at + 4.0 * bow * at * (1.0 - at)
    energy = np.trapezoid(full_flow**2, at, axis=1) * uneven.length_mm / (uneven.g_mpa * uneven.thickness_mm)
    assert section_constants(uneven).ga_y_n == pytest.approx(50.0**2 / energy.sum(), rel=1e-5)


def test_two_materials() -> None:
    # 120 x 30 x 0.4 shell of 2300 MPa with a 10/8 tube of 120000 MPa at x = 36, y = 15, in a web without
    # stiffness along the span
    bore = tube_section(tube(outer_mm=10, inner_mm=8))
    plain = box(0.0, 36.0, 120.0, height=30.0, t=0.4, e=2300.0, g=800.0)
    points = np.vstack([plain.points_mm, [[36.0, 15.0]]])
    walls = np.vstack([np.delete(plain.walls, 5, axis=0), [[1, 6], [6, 4]]])
    stiff = np.full(len(walls), 2300.0)
    stiff[-2:] = 0.0
    full = np.ones(len(walls))
    own = 120000.0 * bore.second_x_mm4
    shell = ThinSection(
        points,
        walls,
        0.4 * full,
        stiff,
        800.0 * full,
        rods=rods(6, ea=120000.0 * bore.area_mm2, ei=own, gj=1e6),
    )
    found = section_constants(shell)
    assert found.ei_xx_n_mm2 == pytest.approx(8.86026e7, rel=CORNERS)
    assert found.ei_yy_n_mm2 == pytest.approx(6.45484e8, rel=CORNERS)
    assert found.ea_n == pytest.approx(3.66892e6, rel=DIGITS)
    assert found.centroid_mm == pytest.approx([37.8054, 15.0], abs=6e-5)
    assert found.gj_own_n_mm2 > 1e6
    # the tube bears the share of the shear that it has of the bending stiffness, the flows the rest
    flow = shear_flow_n_mm(shell, force_n=1.0)
    mean = (flow[:, 0] + 4.0 * flow[:, 1] + flow[:, 2]) / 6.0
    thin = section_constants(shell, own_thickness=False).ei_xx_n_mm2
    assert mean @ shell.delta_mm == pytest.approx([0.0, 1.0 - own / thin], abs=1e-9)


def test_a_tube_that_does_all_bending_holds_the_shear_centre() -> None:
    plain = box(0.0, 100.0, height=20.0, t=0.4)
    full = np.ones(4)
    for point in (1, 2):
        held = rods(point, ea=0.0, ei=1e12)
        found = section_constants(
            ThinSection(plain.points_mm, plain.walls, 0.4 * full, full, full, rods=held)
        )
        assert found.shear_centre_mm == pytest.approx(plain.points_mm[point], abs=1e-3)


def test_free_bending_of_a_turned_box() -> None:
    # free to bend sideways, compliances turn with the section: 1 / EI = c^2 / EI1 + s^2 / EI2
    flat = box(0.0, 120.0, height=30.0, t=0.4)
    level = section_constants(flat)
    c, s = math.cos(0.5), math.sin(0.5)
    turned = flat.points_mm @ np.array([[c, s], [-s, c]])
    full = np.ones(4)
    found = section_constants(ThinSection(turned, flat.walls, 0.4 * full, full, full))
    free = 1.0 / (c**2 / level.ei_xx_n_mm2 + s**2 / level.ei_yy_n_mm2)
    assert found.ei_up_n_mm2 == pytest.approx(free, rel=1e-12)
    assert found.ei_xx_n_mm2 > 2.0 * free


@pytest.mark.parametrize(
    ("change", "says"),
    [
        ({"walls": np.array([[0, 9]])}, "points that are listed"),
        ({"walls": np.array([[0, 0]])}, "no length"),
        ({"thickness_mm": [0.0]}, "without thickness"),
        ({"points_mm": np.array([[0.0, 0.0], [1.0, 0.0], [5.0, 5.0]])}, "do not touch"),
    ],
)
def test_wrong_sections_are_refused(change: dict[str, object], says: str) -> None:
    good = {
        "points_mm": np.array([[0.0, 0.0], [1.0, 0.0]]),
        "walls": np.array([[0, 1]]),
        "thickness_mm": [1.0],
        "e_mpa": [1.0],
        "g_mpa": [1.0],
    }
    with pytest.raises(InputError, match=says):
        ThinSection(**{**good, **change})


def test_walls_on_one_line_are_refused() -> None:
    line = ThinSection(np.array([[0.0, 0.0], [3.0, 2.0]]), np.array([[0, 1]]), [1.0], [1.0], [1.0])
    with pytest.raises(InputError, match="on one line"):
        section_constants(line)


def test_a_section_without_stiffness_is_refused() -> None:
    soft = ThinSection(np.array([[0.0, 0.0], [1.0, 2.0]]), np.array([[0, 1]]), [1.0], [0.0], [1.0])
    with pytest.raises(InputError, match="no stiffness along the span"):
        section_constants(soft)
