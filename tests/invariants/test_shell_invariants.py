"""What holds for every wing's shell under load: balance, proportion, symmetry, reciprocity."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.spatial import cKDTree
from shell_panels import sheet
from small_shell import (
    EDGE_MM,
    END_MM,
    PRINTED,
    RIBS,
    built,
    lift,
    moments,
    skins,
    strips,
    wing,
)

from wingpath.structure.buckling import buckling_both_ways, buckling_modes
from wingpath.structure.columns import Fusion
from wingpath.structure.shell_loads import section_motion, skin_loads, tip_torque
from wingpath.structure.skins import SkinSurfaces
from wingpath.structure.strip_loads import StripLoads
from wingpath.structure.walls import TubeLine, WallLine
from wingpath.structure.wing_shell import LOWER, UPPER

BALANCE = 1e-8
"""Share: sums of forces and of stiffness times displacement, to rounding."""

PROPORTION = 1e-9
"""Share: twice the load is twice the answer, to rounding."""

FACTOR = 1e-3
"""Share: factors are found by iteration to 1e-4."""

SHAPE = 1e-3
"""Share by which two shapes of one mode may miss each other: the bound of the iteration."""

MIRRORED = 1e-6
"""Share, for skins alone: their triangles are mirrored too."""

MIRRORED_WALLS = 0.01
"""Share, with walls: the diagonals of their squares go the other way. Measured 0.1 per cent."""

# Loads


@pytest.mark.parametrize("seed", range(5))
def test_loads_on_the_skins_are_those_of_the_strips(seed: int) -> None:
    loads, shell = strips(seed), wing().shell
    place = shell.model.frames.points_mm
    for number in [*range(4), None]:
        part = loads
        if number is not None:
            only = np.arange(4) == number
            part = replace(
                loads,
                force_n=loads.force_n * only,
                couple_n_mm=loads.couple_n_mm * only,
                bend_n_mm=loads.bend_n_mm * only,
            )
        force = skin_loads(shell, part)
        assert not force[:, [0, 2, 3, 4, 5]].any()
        size = np.abs(force[:, 1]).sum()
        assert force[:, 1].sum() == pytest.approx(part.total_n, rel=BALANCE, abs=BALANCE * size)
        along = (force[:, 1] * place[:, 2]).sum()
        assert along == pytest.approx(part.total_bending_n_mm, rel=BALANCE, abs=BALANCE * size * END_MM)
        nose_up = -(force[:, 1] * place[:, 0]).sum()
        assert nose_up == pytest.approx(part.torque_n_mm(0.0, 0.0), rel=BALANCE, abs=BALANCE * size * 60.0)
        touched = place[np.flatnonzero(force[:, 1]), 2]
        if number is not None:
            # nodes of triangles whose middles lie in the strip
            assert touched.min() > loads.edges_mm[number] - 2.0 * EDGE_MM
            assert touched.max() < loads.edges_mm[number + 1] + 2.0 * EDGE_MM


def test_the_upper_skin_takes_more_of_the_lift_and_the_nose_more_than_the_tail() -> None:
    shell = wing().shell
    force = skin_loads(shell, lift())[:, 1]
    frames = shell.model.frames
    upper = np.setdiff1d(frames.triangles[shell.owner == UPPER], frames.triangles[shell.owner == LOWER])
    lower = np.setdiff1d(frames.triangles[shell.owner == LOWER], frames.triangles[shell.owner == UPPER])
    assert force[upper].sum() > 1.4 * force[lower].sum() > 0.0
    x = frames.points_mm[:, 0]
    # lift at the quarter chord is nearly the usual pressure: what is added linearly turns next to none of it
    quarter = replace(lift(), x_mm=np.interp(lift().z_mm, [0.0, END_MM], [15.0, 22.0]))
    usual = skin_loads(shell, quarter)[:, 1]
    assert -usual[usual < 0.0].sum() < 0.02 * usual.sum()
    assert force[x < 26.0].sum() > 2.0 * force[x > 36.0].sum()


def test_torque_round_the_tip_is_a_pure_couple() -> None:
    shell = wing().shell
    total = moments(shell.model.frames.points_mm, tip_torque(shell, 50.0))
    # positive about z, which points outboard, with x aft and y up, is nose down
    assert total == pytest.approx([0, 0, 0, 0, 0, -50.0], abs=BALANCE * 50.0) or total[5] == pytest.approx(
        -50.0
    )
    assert np.abs(total[:3]).max() < BALANCE


@pytest.mark.parametrize("root", ["clamped", "held"])
def test_the_root_carries_what_acts_on_the_wing(root: str) -> None:
    shell = wing().shell
    fixed = shell.supports("clamped")
    if root == "held":
        tube = TubeLine("spar", np.array([20.0, 2.0, 0.0]), np.array([24.0, 1.5, 90.0]), 1e6, 1e6, 1e6, 1e6)
        shell = built(tubes=(tube,))[1].shell
        fixed = shell.supports("held")
    place = shell.model.frames.points_mm
    force = skin_loads(shell, strips(3)) + tip_torque(shell, 40.0)
    moved = shell.model.held(fixed).displacement(force)
    assert not moved[fixed].any()
    assert np.isfinite(moved).all()
    internal = (shell.model.stiffness @ moved.ravel()).reshape(-1, 6)
    reaction = np.where(fixed, internal - force, 0.0)
    total = moments(place, force)
    size = np.abs(force).sum() * 90.0
    assert np.abs(moments(place, reaction) + total).max() < BALANCE * size
    assert np.abs(np.where(fixed, 0.0, internal - force)).max() < BALANCE * size


def test_a_held_root_lets_the_skins_lift_off_and_clamps_tubes() -> None:
    tube = TubeLine("spar", np.array([20.0, 2.0, 0.0]), np.array([24.0, 1.5, 90.0]), 1e6, 1e6, 1e6, 1e6)
    shell = built(tubes=(tube,))[1].shell
    axis = shell.model.beams[0].nodes[0]
    skin = np.setdiff1d(shell.root, [axis])
    assert np.abs(shell.model.frames.points_mm[shell.root, 2]).max() < 1e-9
    held, clamped = shell.supports("held"), shell.supports("clamped")
    assert held[skin].all(axis=0).tolist() == [True, True, False, False, False, False]
    assert held[skin].sum() == 2 * len(skin)
    assert held[axis].all()
    assert clamped[shell.root].all()
    assert held.sum() == 2 * len(skin) + 6
    force = skin_loads(shell, lift())
    soft, stiff = (
        section_motion(shell, shell.model.held(fixed).displacement(force), shell.tip_ring, x_mm=20.0)
        for fixed in (held, clamped)
    )
    assert soft.deflection_mm > 1.05 * stiff.deflection_mm


def test_strips_without_skin_of_their_own_are_carried_beside_them() -> None:
    """One between two rows of triangles, one beyond the tip: force and both moments arrive all the same."""
    shell = wing().shell
    middles = np.unique(shell.centre_mm[shell.skin, 2])
    gap = int(np.argmax(np.diff(middles)))
    inner = middles[gap] + np.array([0.4, 0.6]) * np.diff(middles)[gap]
    edges = np.array([0.0, *inner, END_MM, END_MM + 8.0])
    middle = 0.5 * (edges[1:] + edges[:-1])
    force = np.array([1.0, 2.0, 3.0, 4.0])
    found = skin_loads(shell, StripLoads(edges, force, middle, np.full(4, 20.0), np.full(4, 5.0)))
    place = shell.model.frames.points_mm
    assert found[:, 1].sum() == pytest.approx(force.sum(), rel=BALANCE)
    assert found[:, 1] @ place[:, 2] == pytest.approx(force @ middle, rel=BALANCE)
    assert found[:, 1] @ place[:, 0] == pytest.approx(20.0 * force.sum() - 20.0, rel=BALANCE)


# Proportion, symmetry, reciprocity


def test_stiffer_walls_and_greater_loads_are_in_proportion() -> None:
    soft = wing()
    stiff_shell = soft.shell.with_material(PRINTED.scaled(2.0))
    stiff = stiff_shell.model.held(stiff_shell.supports("clamped"))
    force = skin_loads(soft.shell, lift())
    one, half, twice = (
        soft.held.displacement(force),
        stiff.displacement(force),
        soft.held.displacement(2 * force),
    )
    size = np.abs(one).max()
    assert np.abs(2.0 * half - one).max() < PROPORTION * size
    assert np.abs(0.5 * twice - one).max() < PROPORTION * size
    base = buckling_modes(soft.held, one)[0].factor
    assert buckling_modes(stiff, half)[0].factor == pytest.approx(2.0 * base, rel=FACTOR)
    assert buckling_modes(soft.held, twice)[0].factor == pytest.approx(0.5 * base, rel=FACTOR)


def test_the_other_way_is_the_load_turned_round() -> None:
    held = wing().held
    force = skin_loads(wing().shell, lift())
    up, down = held.displacement(force), held.displacement(-force)
    there, back = buckling_modes(held, up, reverse=True)[0], buckling_modes(held, down)[0]
    assert there.factor == pytest.approx(back.factor, rel=FACTOR)
    # a cambered wing is not as strong both ways
    assert abs(there.factor / buckling_modes(held, up)[0].factor - 1.0) > 10.0 * FACTOR


@pytest.mark.parametrize("turned", [1.0, -1.0])
def test_both_ways_at_once_are_each_way_alone(turned: float) -> None:
    held = wing().held
    moved = held.displacement(turned * skin_loads(wing().shell, lift()))
    ahead, back = buckling_both_ways(held, moved)
    assert ahead is not None
    assert back is not None
    for found, reverse in ((ahead, False), (back, True)):
        alone = buckling_modes(held, moved, reverse=reverse)[0]
        assert found.factor == pytest.approx(alone.factor, rel=FACTOR)
        size = np.linalg.norm(found.shape) * np.linalg.norm(alone.shape)
        assert abs((found.shape * alone.shape).sum()) == pytest.approx(size, rel=SHAPE)


def test_modes_are_in_order_and_repeat() -> None:
    held = wing().held
    moved = held.displacement(skin_loads(wing().shell, lift()))
    modes = buckling_modes(held, moved, count=4)
    factors = [mode.factor for mode in modes]
    assert factors == sorted(factors)
    assert factors == [mode.factor for mode in buckling_modes(held, moved, count=4)]
    # a mode is one: under its factor the load no longer resists it
    for mode in modes[:2]:
        pushed = held.stiffness @ mode.shape.ravel()[held.free]
        stress = held.shell.geometric_stiffness(moved)[held.free][:, held.free]
        left = pushed + mode.factor * (stress @ mode.shape.ravel()[held.free])
        assert np.linalg.norm(held.solver(left)) < 0.02 * np.linalg.norm(mode.shape)


def test_pulling_alone_buckles_nothing() -> None:
    # small: where there is no mode to find, the iteration runs to its end
    flat_one = sheet(3, 3, lambda s, t: (20.0 * s, 0.0 * s, 20.0 * t))
    border = np.setdiff1d(flat_one.number, flat_one.number[1:-1, 1:-1])
    held = flat_one.shell(0.5, 1000.0, 0.3).held(flat_one.holding((border, (1, 4)), (border[:1], (0, 2))))
    moved = np.zeros((len(flat_one.points_mm), 6))
    moved[:, :3] = 1e-3 * flat_one.points_mm
    assert buckling_modes(held, moved) == ()
    assert len(buckling_modes(held, moved, reverse=True)) == 1
    ahead, back = buckling_both_ways(held, moved)
    assert ahead is None
    assert back is not None
    ahead, back = buckling_both_ways(held, -moved)
    assert ahead is not None
    assert back is None


@pytest.mark.parametrize(("walls", "cap_mm", "share"), [((), 0.0, MIRRORED), (RIBS, 0.8, MIRRORED_WALLS)])
def test_upside_down_is_the_mirrored_answer(walls: Sequence[WallLine], cap_mm: float, share: float) -> None:
    first = skins()
    turned = SkinSurfaces(
        first.z_mm, first.fraction, first.front_mm, first.rear_mm, -first.lower_mm, -first.upper_mm
    )
    _, one = built(walls, cap_mm=cap_mm)
    _, other = built(walls, surfaces=turned, cap_mm=cap_mm)
    flip = np.array([1.0, -1.0, 1.0])
    apart, same = cKDTree(other.shell.model.frames.points_mm).query(one.shell.model.frames.points_mm * flip)
    assert apart.max() < 1e-9
    force = skin_loads(one.shell, lift()) + tip_torque(one.shell, 30.0)
    mirror = np.array([1.0, -1.0, 1.0, -1.0, 1.0, -1.0])
    force_there = np.zeros_like(force)
    force_there[same] = force * mirror
    here, there = one.held.displacement(force), other.held.displacement(force_there)[same] * mirror
    assert np.abs(here - there)[:, :3].max() < share * np.abs(here[:, :3]).max()
    tip = [
        section_motion(panel.shell, moved, panel.shell.tip_ring, x_mm=20.0)
        for panel, moved in ((one, here), (other, other.held.displacement(force_there)))
    ]
    assert tip[1].deflection_mm == pytest.approx(-tip[0].deflection_mm, rel=share)
    assert tip[1].twist_deg == pytest.approx(-tip[0].twist_deg, rel=share, abs=share)


@settings(max_examples=10)
@given(st.integers(0, 10**6))
def test_work_is_mutual(seed: int) -> None:
    # Maxwell and Betti: what a load at one place does at another, the same load there does here
    rng, panel = np.random.default_rng(seed), wing()
    nodes = np.unique(panel.shell.model.frames.triangles)
    free = nodes[panel.shell.model.frames.points_mm[nodes, 2] > 1.0]
    loads = []
    for node, freedom in zip(rng.choice(free, 2), rng.integers(0, 6, 2), strict=True):
        loads.append(np.zeros((panel.shell.model.nodes, 6)))
        loads[-1][node, freedom] = 1.0
    one, other = (panel.held.displacement(load) for load in loads)
    size = np.sqrt((one * loads[0]).sum() * (other * loads[1]).sum())
    assert (one * loads[1]).sum() == pytest.approx((other * loads[0]).sum(), abs=BALANCE * size)


def test_nose_up_torque_turns_every_section_nose_up() -> None:
    panel = wing()
    moved = panel.held.displacement(tip_torque(panel.shell, 100.0))
    used = np.unique(panel.shell.model.frames.triangles)
    place = panel.shell.model.frames.points_mm
    turned = []
    for z in (20.0, 40.0, 60.0, 80.0):
        near = used[np.abs(place[used, 2] - z) < EDGE_MM]
        turned.append(section_motion(panel.shell, moved, near, x_mm=20.0, z_mm=z).twist_deg)
    turned.append(panel.tip(moved).twist_deg)
    assert 0.0 < turned[0] < turned[1] < turned[2] < turned[3] < turned[4]
    # the nose rises and the tail falls
    ring = panel.shell.tip_ring
    nose, tail = ring[np.argmin(place[ring, 0])], ring[np.argmax(place[ring, 0])]
    assert moved[nose, 1] > 0.0 > moved[tail, 1]


def test_a_rigid_motion_is_read_off_a_section() -> None:
    panel = wing()
    place = panel.shell.model.frames.points_mm
    nose_up, lift_mm = np.deg2rad(0.7), 3.0
    moved = np.zeros((len(place), 6))
    # nose up is clockwise seen from the tip
    moved[:, 0], moved[:, 1] = 0.4 + nose_up * place[:, 1], lift_mm - nose_up * place[:, 0]
    near = np.flatnonzero(np.abs(place[:, 2] - 45.0) < 8.0)
    for found in (
        section_motion(panel.shell, moved, panel.shell.tip_ring, x_mm=15.0),
        section_motion(panel.shell, moved, near, x_mm=15.0, z_mm=45.0),
    ):
        assert found.deflection_mm == pytest.approx(lift_mm - nose_up * 15.0)
        assert found.twist_deg == pytest.approx(0.7)
        assert found.distortion_mm == pytest.approx(0.0, abs=1e-9)


def test_less_fused_slots_are_softer() -> None:
    found = []
    for fusion in (None, Fusion(0.0), Fusion(15.0), Fusion(40.0), Fusion(np.inf)):
        panel = built(fusion=fusion)[1]
        found.append(panel.tip(panel.held.displacement(skin_loads(panel.shell, lift()))).deflection_mm)
    assert found == sorted(found)
    # two beads of half the thickness, fused at every node, are nearly the wall that they make
    assert found[1] == pytest.approx(found[0], rel=0.02)
    assert found[-1] > 1.5 * found[0]
