"""The beam preview: cantilevers in closed form, and the panel of the project's shell computations."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from wingpath.core.errors import InputError
from wingpath.geometry.naca import naca_ordinates
from wingpath.model.spec_fittings import TubeSpec
from wingpath.structure.beam import WingBeam, beam_of_wing, solve_beam, tip_twist_deg_per_n_m
from wingpath.structure.material import WallMaterial
from wingpath.structure.section import section_constants
from wingpath.structure.skins import SkinSurfaces
from wingpath.structure.tube_section import tube_section
from wingpath.structure.walls import CutOut, TubeLine, WallLine
from wingpath.structure.wing_section import ThinWing, rib_grid, wing_section

L, EI, GJ = 750.0, 3.0e7, 2.0e7
"""Length [mm] and stiffness [N mm2] of the plain cantilevers."""

STRIPS = [5, 10, 20, 40, 80]
"""Numbers of strips over which convergence is looked at."""

PRINTED = 1e-5
"""Share: the check values have five digits or more."""

REFERENCE = 0.08
"""Share by which the preview may depart from the reference beam and from the shell model."""

TWIST_REFERENCE = 0.10
"""The same for the twist of crossed ribs, which the grid overstates."""


def uniform(t: np.ndarray) -> np.ndarray:
    return np.ones_like(t)


def ellipse(t: np.ndarray) -> np.ndarray:
    return 4.0 / math.pi * np.sqrt(1.0 - t**2)


def taper(ratio: float) -> Callable[[np.ndarray], np.ndarray]:
    return lambda t: 2.0 / (1.0 + ratio) * (1.0 - (1.0 - ratio) * t)


def schrenk(ratio: float) -> Callable[[np.ndarray], np.ndarray]:
    return lambda t: 0.5 * (ellipse(t) + taper(ratio)(t))


LOADS = {
    "uniform": (uniform, 1 / 2, 1 / 8, 1 / 6),
    "most at root": (lambda t: 2.0 * (1.0 - t), 1 / 3, 1 / 15, 1 / 12),
    "most at tip": (lambda t: 2.0 * t, 2 / 3, 11 / 60, 1 / 4),
    "ellipse": (ellipse, 4 / (3 * math.pi), 1 / 8 - 4 / (45 * math.pi), 1 / 8),
    "trapezoid 0.6": (taper(0.6), 2.2 / 4.8, 1.25 * (1 / 8 - 4.4 / 120), 1.25 * (1 / 6 - 0.05)),
    "schrenk 0.6": (schrenk(0.6), 0.441373, 0.103561, 0.135417),
    "schrenk 1": (schrenk(1.0), 0.462207, 0.110853, 0.145833),
    "schrenk 0.5": (schrenk(0.5), 0.434429, 0.101131, 0.131944),
    "schrenk 0.4": (schrenk(0.4), 0.426492, 0.098353, 0.127976),
}
"""Load over its mean by share of the span; root moment, deflection and slope of the tip over W L, W L^3 / EI
and W L^2 / EI."""


def plain(*, pieces: int = 1, ga: float = math.inf, mix: float = 0.0, ei: float = EI) -> WingBeam:
    full = np.ones(pieces)
    return WingBeam(np.linspace(0.0, L, pieces + 1), ei * full, GJ * full, mix * full, ga * full, 0.0 * full)


def strips(load: Callable[[np.ndarray], np.ndarray], count: int) -> tuple[np.ndarray, np.ndarray]:
    """Return middles of equal strips [mm] and the load on each as a share of all, by fine quadrature."""
    fine = 400
    t = (np.arange(count * fine) + 0.5) / (count * fine)
    share = load(t).reshape(count, fine).mean(axis=1) / count
    return L * (np.arange(count) + 0.5) / count, share


@pytest.mark.parametrize("name", LOADS)
def test_cantilevers(name: str) -> None:
    load, moment, deflection, slope = LOADS[name]
    force = 44.1299
    errors = []
    for count in STRIPS:
        z, share = strips(load, count)
        shape = solve_beam(plain(), z_mm=z, x_mm=0.0, force_n=force * share, torque_n_mm=0.0)
        errors.append(
            [
                abs(shape.moment_n_mm[0] / (force * L) / moment - 1.0),
                abs(shape.deflection_mm[-1] / (force * L**3 / EI) / deflection - 1.0),
                abs(math.radians(shape.slope_deg[-1]) / (force * L**2 / EI) / slope - 1.0),
            ]
        )
        assert shape.shear_n[0] == pytest.approx(force, rel=1e-4)
    # loads in the middle of strips: second order at least, but for what cancels and the digits of the figures
    for column in np.array(errors).T:
        above = column > 2e-5
        if above.sum() > 2:
            fit = np.polyfit(np.log(np.array(STRIPS)[above]), np.log(column[above]), 1)[0]
            assert fit < -1.4
        assert column[-1] < 1e-3
    # the same again with the strips' loads at their own centroids: exact in moment but for the figures
    edges = np.linspace(0.0, 1.0, 401)
    t = 0.5 * (edges[1:] + edges[:-1])
    weight = load(t) / load(t).sum()
    fine = solve_beam(plain(), z_mm=L * t, x_mm=0.0, force_n=force * weight, torque_n_mm=0.0)
    assert fine.deflection_mm[-1] == pytest.approx(deflection * force * L**3 / EI, rel=4e-4)


def test_end_load_is_exact_on_any_pieces() -> None:
    for pieces in (1, 3, 7):
        shape = solve_beam(plain(pieces=pieces), z_mm=L, x_mm=0.0, force_n=3.0, torque_n_mm=0.0)
        assert shape.deflection_mm[-1] == pytest.approx(3.0 * L**3 / (3.0 * EI), rel=1e-12)
        t = shape.z_mm / L
        assert shape.deflection_mm == pytest.approx(3.0 * L**3 / EI * (t**2 / 2.0 - t**3 / 6.0), rel=1e-9)
        assert math.radians(shape.slope_deg[-1]) == pytest.approx(3.0 * L**2 / (2.0 * EI), rel=1e-12)


def test_stepped_beam() -> None:
    # stiff to half of the length, then half as stiff: end load, by superposition of the two halves
    beam = WingBeam([0.0, L / 2, L], [EI, EI / 2], [GJ, GJ / 4], [0.0, 0.0], [math.inf] * 2, [0.0, 0.0])
    shape = solve_beam(beam, z_mm=L, x_mm=0.0, force_n=1.0, torque_n_mm=500.0)
    expected = L**3 / EI * (1.0 / 3.0 - 1.0 / 24.0 + 2.0 / 24.0)
    assert shape.deflection_mm[-1] == pytest.approx(expected, rel=1e-12)
    assert math.radians(shape.twist_deg[-1]) == pytest.approx(500.0 * L / GJ * (0.5 + 2.0), rel=1e-12)


def test_shear_adds_its_own() -> None:
    ga = 2000.0
    stiff, soft = (
        solve_beam(plain(ga=value), z_mm=[300.0, L], x_mm=0.0, force_n=[2.0, 3.0], torque_n_mm=0.0)
        for value in (math.inf, ga)
    )
    assert soft.deflection_mm[-1] - stiff.deflection_mm[-1] == pytest.approx((2.0 * 300.0 + 3.0 * L) / ga)
    assert soft.slope_deg == pytest.approx(stiff.slope_deg)


@pytest.mark.parametrize(
    ("load", "share"),
    [
        (uniform, 0.5),
        (ellipse, 0.424413),
        (lambda t: (1.0 - 0.4 * t) ** 2 / 0.653333333, 0.418367),
        (lambda t: (1.0 - 0.5 * t) ** 2 / 0.583333333, 0.392857),
    ],
)
def test_twist(load: Callable[[np.ndarray], np.ndarray], share: float) -> None:
    z, part = strips(load, 400)
    shape = solve_beam(plain(), z_mm=z, x_mm=0.0, force_n=0.0, torque_n_mm=800.0 * part)
    assert math.radians(shape.twist_deg[-1]) == pytest.approx(share * 800.0 * L / GJ, rel=4 * PRINTED)
    assert tip_twist_deg_per_n_m(plain()) == pytest.approx(math.degrees(1000.0 * L / GJ))


def test_worked_case_of_a_tube_alone() -> None:
    tube = tube_section(
        TubeSpec.model_validate({"outer_mm": 10, "inner_mm": 8, "chord_fraction": 0.3, "to_mm": L})
    )
    z, share = strips(schrenk(0.6), 400)
    force = 1.5 * 6 * 9.80665 / 2.0
    beam = plain(ei=120000.0 * tube.second_x_mm4)
    shape = solve_beam(beam, z_mm=z, x_mm=0.0, force_n=force * share, torque_n_mm=0.0)
    assert shape.moment_n_mm[0] == pytest.approx(14608.3, rel=2 * PRINTED)
    assert shape.moment_n_mm[0] / tube.modulus_x_mm3 == pytest.approx(252.031, rel=2 * PRINTED)
    assert shape.deflection_mm[-1] == pytest.approx(55.439, rel=2 * PRINTED)
    assert shape.slope_deg[-1] == pytest.approx(5.538, rel=1e-4)


def test_lift_ahead_of_the_axis_turns_the_nose_up() -> None:
    beam = replace(plain(), axis_x_mm=[60.0])
    shape = solve_beam(beam, z_mm=L, x_mm=50.0, force_n=2.0, torque_n_mm=5.0)
    assert shape.torque_n_mm[0] == pytest.approx(25.0)
    assert math.radians(shape.twist_deg[-1]) == pytest.approx(25.0 * L / GJ)
    # the nose rises over the axis and the tail falls under it
    ahead, axis, behind = shape.deflection_at_mm([0.0, 60.0, 160.0], [L, L, L])
    assert axis == pytest.approx(shape.deflection_mm[-1])
    assert ahead - axis == pytest.approx(60.0 * 25.0 * L / GJ)
    assert behind - axis == pytest.approx(-100.0 * 25.0 * L / GJ)


def test_an_axis_that_leaps_does_not_break_the_sections() -> None:
    # torque alone: the leap of the axis moves the line that is named, not the wing
    leaping = WingBeam([0.0, L / 2, L], [EI] * 2, [GJ] * 2, [0.0] * 2, [math.inf] * 2, [40.0, 80.0])
    shape = solve_beam(leaping, z_mm=L, x_mm=0.0, force_n=0.0, torque_n_mm=1000.0)
    twist = 1000.0 * L / GJ
    # the outer half turns about x = 80, the inner about x = 40
    at_zero = 0.5 * twist * 40.0 + 0.5 * twist * 80.0
    assert shape.deflection_at_mm(0.0, L) == pytest.approx(at_zero, rel=1e-9)


def test_coupling() -> None:
    mix = 0.4 * math.sqrt(EI * GJ)
    pair = EI * GJ - mix**2
    bent = solve_beam(plain(mix=mix), z_mm=L, x_mm=0.0, force_n=1.0, torque_n_mm=0.0)
    turned = solve_beam(plain(mix=mix), z_mm=L, x_mm=0.0, force_n=0.0, torque_n_mm=1.0)
    assert math.radians(bent.twist_deg[-1]) == pytest.approx(-mix / pair * L**2 / 2.0)
    # Betti: the twist that a force makes is the deflection that a torque makes
    assert turned.deflection_mm[-1] == pytest.approx(math.radians(bent.twist_deg[-1]))


def test_wrong_beams_and_loads_are_refused() -> None:
    with pytest.raises(InputError, match="rising ends"):
        WingBeam([0.0, 0.0], [EI], [GJ], [0.0], [1.0], [0.0])
    with pytest.raises(InputError, match="elastic body"):
        plain(mix=1.1 * math.sqrt(EI * GJ))
    with pytest.raises(InputError, match="length of the beam"):
        solve_beam(plain(), z_mm=L + 1.0, x_mm=0.0, force_n=1.0, torque_n_mm=0.0)


# The panel on which the project's shell computations were made: semi-span 500 mm, chord 220 to 140 mm, the
# line at 30 per cent straight, NACA 2412, skin 0.45, webs 0.9, 800 MPa, Poisson 0.3, ribs 30 mm apart.
# Deflection is that of 4.905 N by Schrenk at 25 per cent chord.

SPAN, LIFT_N = 500.0, 4.905
PANEL_MATERIAL = WallMaterial(800.0, 800.0, 0.3, 0.75)

VARIANTS = {
    "none": (5.88, 2.99, 1.06, 1.00),
    "+45": (5.59, 2.72, 0.93, 0.96),
    "-45": (5.41, 2.70, 0.96, 0.97),
    "+-45": (4.93, 2.10, 1.02, 1.09),
    "+45 spar": (4.90, 2.67, 0.99, 0.98),
    "+-45 spar": (4.58, 2.10, 1.02, 1.10),
    "+-45 near": (4.78, 1.88, 1.02, 1.09),
}
"""Deflection [mm] and twist [deg/(N m)] of the shell model, and what the reference beam makes of them."""


def chord(z: float | np.ndarray) -> np.ndarray:
    return 220.0 - 80.0 * np.asarray(z, float) / SPAN


def panel_skins() -> SkinSurfaces:
    """Return the panel's skins; its sections are drawn with heights over the mean line, across the chord."""
    fraction = 0.5 * (1.0 - np.cos(np.linspace(0.0, np.pi, 161)))
    half, _ = (side[:, 1] for side in naca_ordinates("0012", fraction, closed=True))
    mean = np.where(
        fraction < 0.4,
        0.02 / 0.16 * (0.8 * fraction - fraction**2),
        0.02 / 0.36 * (0.2 + 0.8 * fraction - fraction**2),
    )
    z = np.array([0.0, SPAN])
    c = chord(z)
    return SkinSurfaces(
        z, fraction, -0.3 * c, 0.7 * c, np.outer(c, mean + np.abs(half)), np.outer(c, mean - np.abs(half))
    )


def ribs(angle_deg: float, pitch_mm: float = 30.0) -> tuple[WallLine, ...]:
    """Return a run of ribs over 2.5 to 94 per cent of the chord, the middle between two in the origin."""
    angle, found = math.radians(angle_deg), []
    z = np.linspace(0.0, SPAN, 5001)
    for k in range(-40, 40):
        x = (k + 0.5) * pitch_mm / math.cos(angle) + math.tan(angle) * z
        kept = np.flatnonzero((x / chord(z) > 0.025 - 0.3) & (x / chord(z) < 0.94 - 0.3))
        if len(kept) > 1:
            ends = kept[[0, -1]]
            found.append(WallLine("rib", "aft" if angle > 0 else "forward", z[ends], x[ends], 0.9))
    return tuple(found)


SPAR = (WallLine("spar", "web", np.array([0.0, SPAN]), np.array([0.0, 0.0]), 0.9),)


def panel(name: str) -> ThinWing:
    pitch = 20.0 if "near" in name else 30.0
    walls: tuple[WallLine, ...] = SPAR if "spar" in name else ()
    if "+" in name:
        walls += ribs(45.0, pitch)
    if "-45" in name:
        walls += ribs(-45.0, pitch)
    return ThinWing(panel_skins(), PANEL_MATERIAL, 0.45, walls)


def lifted(beam: WingBeam) -> float:
    t = (np.arange(200) + 0.5) / 200
    load = schrenk(140.0 / 220.0)(t)
    shape = solve_beam(
        beam,
        z_mm=SPAN * t,
        x_mm=-0.05 * chord(SPAN * t),
        force_n=LIFT_N * load / load.sum(),
        torque_n_mm=0.0,
    )
    return float(shape.deflection_at_mm(0.0, SPAN))


@pytest.mark.parametrize("name", VARIANTS)
def test_panel_against_the_shell_model(name: str) -> None:
    deflection, twist, beam_deflection, beam_twist = VARIANTS[name]
    beam = beam_of_wing(panel(name))
    found = lifted(beam)
    assert found == pytest.approx(beam_deflection * deflection, rel=REFERENCE)
    assert found == pytest.approx(deflection, rel=REFERENCE)
    assert tip_twist_deg_per_n_m(beam) == pytest.approx(beam_twist * twist, rel=REFERENCE)
    assert tip_twist_deg_per_n_m(beam) == pytest.approx(twist, rel=TWIST_REFERENCE)


def test_ribless_panel_without_shear() -> None:
    # the reference without shear: 0.89 of the shell model
    beam = beam_of_wing(panel("none"))
    stiff = replace(beam, ga_n=np.full(len(beam.ga_n), math.inf))
    assert lifted(stiff) == pytest.approx(0.89 * 5.88, rel=0.01)


def test_pieces_converge() -> None:
    shell = panel("none")
    counts = [4, 8, 16, 32]
    fine = beam_of_wing(shell, pieces=128)
    errors = np.array(
        [
            [
                abs(lifted(beam) / lifted(fine) - 1.0),
                abs(tip_twist_deg_per_n_m(beam) / tip_twist_deg_per_n_m(fine) - 1.0),
            ]
            for beam in (beam_of_wing(shell, pieces=count) for count in counts)
        ]
    )
    slopes = np.polyfit(np.log(counts), np.log(errors), 1)[0]
    assert slopes == pytest.approx(-2.0, abs=0.25)
    assert errors[-1].max() < 5e-4


def test_grid_of_ribs() -> None:
    # E t h^3 / (12 p) over the chord where ribs stand, for each run
    shell = panel("+-45")
    grid = rib_grid(shell, np.linspace(240.0, 260.0, 400))
    assert grid is not None
    x = np.linspace(0.025, 0.94, 2000)
    upper, lower = shell.skins.heights_mm(x, np.full(2000, 250.0))
    run = 800.0 * 0.9 / (12.0 * 30.0) * np.trapezoid((upper - lower) ** 3, x * 180.0)
    # the cuts cover not quite a whole spacing of the ribs
    assert grid.ei_n_mm2 == pytest.approx(2.0 * run * 0.35**2, rel=0.03)
    assert grid.gj_n_mm2 == pytest.approx(2.0 * run, rel=0.03)
    area = np.trapezoid(upper - lower, x * 180.0)
    assert grid.ga_n == pytest.approx(2.0 * 800.0 / 2.6 * 0.9 / 30.0 * 0.5 * area, rel=0.03)
    assert abs(grid.coupling_n_mm2) < 0.05 * run
    assert rib_grid(panel("+45"), [250.0]) is None


def test_ribs_that_run_aft_turn_the_nose_up_when_they_bend() -> None:
    # one thick run aft, one thin run forward: bending up lowers what lies aft
    aft, forward = ribs(45.0), ribs(-45.0)
    thin = tuple(replace(wall, thickness_mm=0.1) for wall in forward)
    for walls, sign in (
        (aft + thin, -1.0),
        (forward + tuple(replace(w, thickness_mm=0.1) for w in aft), 1.0),
    ):
        grid = rib_grid(ThinWing(panel_skins(), PANEL_MATERIAL, 0.45, walls), np.linspace(200, 260, 61))
        assert grid is not None
        assert sign * grid.coupling_n_mm2 > 0.5 * 0.35 * grid.gj_n_mm2


def carbon(end_mm: float, x_mm: float = 0.0) -> TubeLine:
    ei = 120000.0 * 289.8119
    y = 8.0
    return TubeLine(
        "tube[0]", np.array([x_mm, y, 0.0]), np.array([x_mm, y, end_mm]), 120000.0 * 28.2743, ei, ei, 5e6
    )


def test_tube_counts_where_it_is() -> None:
    bare = panel("none")
    for walls, x in (((), 0.0), (SPAR, 0.0), (SPAR, 2.0), (ribs(45.0), 0.0)):
        shell = ThinWing(bare.skins, PANEL_MATERIAL, 0.45, walls, (carbon(250.0, x),))
        plain_shell = replace(shell, tubes=())
        inside = section_constants(wing_section(shell, 200.0))
        without = section_constants(wing_section(plain_shell, 200.0))
        # what a rod adds to EA, and to EI about the common centroid
        assert inside.ea_n - without.ea_n == pytest.approx(120000.0 * 28.2743, rel=1e-9)
        steiner = 1.0 / (1.0 / without.ea_n + 1.0 / (120000.0 * 28.2743))
        away = 8.0 - without.centroid_mm[1]
        assert inside.ei_xx_n_mm2 - without.ei_xx_n_mm2 == pytest.approx(
            120000.0 * 289.8119 + steiner * away**2, rel=1e-9
        )
        # and the seam of glue, which twists by itself
        assert inside.gj_n_mm2 - without.gj_n_mm2 == pytest.approx(5e6, rel=3e-4)
        outside = section_constants(wing_section(shell, 260.0))
        assert outside.ea_n == pytest.approx(section_constants(wing_section(plain_shell, 260.0)).ea_n)
    assert 250.0 in beam_of_wing(shell).z_mm


def test_cut_out_opens_the_section() -> None:
    # an aileron from 150 to 350 mm behind 70 per cent of the chord, its hinge wall before it
    z = np.array([150.0, 350.0])
    front, rear = 0.4 * chord(z), 0.75 * chord(z)
    cut = CutOut("aileron", np.array([[front[0], z[0]], [front[1], z[1]], [rear[1], z[1]], [rear[0], z[0]]]))
    hinge = WallLine("hinge", "wall", z, front, 0.45)
    inner = WallLine("inside", "wall", z, 0.5 * chord(z), 0.45)
    shell = ThinWing(panel_skins(), PANEL_MATERIAL, 0.45, (hinge, inner), cut_outs=(cut,))
    section = wing_section(shell, 250.0)
    assert section.points_mm[:, 0].max() == pytest.approx(0.4 * 180.0, abs=0.01)
    full = section_constants(wing_section(shell, 100.0))
    part = section_constants(section)
    whole = section_constants(wing_section(replace(shell, cut_outs=()), 250.0))
    assert part.gj_cells_n_mm2 < 0.95 * whole.gj_cells_n_mm2
    assert part.gj_cells_n_mm2 > 0.5 * full.gj_cells_n_mm2 * (180.0 / 204.0) ** 3
    # without its hinge wall the section is open: nothing but the walls by themselves
    opened = section_constants(wing_section(replace(shell, walls=()), 250.0))
    assert opened.gj_cells_n_mm2 < 1e-6 * part.gj_cells_n_mm2
    assert {150.0, 350.0} <= set(beam_of_wing(shell).z_mm.tolist())


def test_ribs_in_a_cut_out_do_not_count() -> None:
    whole = panel("+-45")
    corners = np.array([[-100.0, -1.0], [40.0, -1.0], [40.0, 501.0], [-100.0, 501.0]])
    cut = replace(whole, cut_outs=(CutOut("cut", corners),))
    z = np.linspace(200.0, 300.0, 101)
    grid, left = rib_grid(whole, z), rib_grid(cut, z)
    assert grid is not None
    assert left is not None
    x = np.linspace(0.025, 0.94, 2000)
    upper, lower = whole.skins.heights_mm(x, np.full(2000, 250.0))
    cubes = (upper - lower) ** 3
    behind = cubes[x * 180.0 - 54.0 > 40.0].sum() / cubes.sum()
    assert left.gj_n_mm2 / grid.gj_n_mm2 == pytest.approx(behind, rel=0.03)


def test_low_wall_is_a_branch() -> None:
    # a slit under a bore stands on the lower skin alone: it bends but closes no cell
    low = WallLine(
        "slit", "slit", np.array([0.0, SPAN]), np.zeros(2), 0.9, np.array([0.0, SPAN]), np.array([4.0, 4.0])
    )
    bare, slit = panel("none"), replace(panel("none"), walls=(low,))
    one, two = (section_constants(wing_section(shell, 100.0)) for shell in (bare, slit))
    # the skins have one point more; a web of full height would add 20 times as much
    assert two.gj_cells_n_mm2 == pytest.approx(one.gj_cells_n_mm2, rel=2e-5)
    lower = float(bare.skins.heights_mm(0.3, 100.0)[1])
    # and the skins are longer by as little
    assert two.ea_n - one.ea_n == pytest.approx(800.0 * 0.9 * (4.0 - lower), rel=1e-4)


def test_leaning_wall_in_the_cut() -> None:
    shell = ThinWing(panel_skins(), WallMaterial(1600.0, 400.0, 0.3, 0.75), 0.45, ribs(45.0)[3:4])
    z = float(shell.walls[0].z_mm.mean())
    section = wing_section(shell, z)
    web = int(np.argmax(section.thickness_mm))
    assert section.thickness_mm[web] == pytest.approx(0.9 * math.sqrt(2.0))
    # contraction along the chord under stress along the span is nu E2 / E1
    assert section.e_mpa[web] == pytest.approx(400.0 * (0.5 - 0.5 * 0.3 / 4.0) ** 2)
    assert section.g_mpa[web] == pytest.approx(0.5 * 800.0 / 2.6)
    skin = int(np.argmin(section.thickness_mm))
    assert (section.e_mpa[skin], section.g_mpa[skin]) == (400.0, pytest.approx(800.0 / 2.6))


def test_places_off_the_wing_are_refused() -> None:
    with pytest.raises(InputError, match="place on the wing"):
        wing_section(panel("none"), 501.0)
    with pytest.raises(InputError, match="width of the bead"):
        ThinWing(panel_skins(), PANEL_MATERIAL, 0.0)
