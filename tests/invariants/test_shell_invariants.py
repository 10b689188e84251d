"""What holds for every wing's shell: balance, proportion, symmetry, reciprocity, and a mesh without holes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from functools import cache
from itertools import pairwise

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.spatial import cKDTree
from shell_panels import Panel

from wingpath.core.arrays import FloatArray
from wingpath.core.errors import InputError
from wingpath.structure.buckling import buckling_modes
from wingpath.structure.columns import Fusion
from wingpath.structure.material import WallMaterial
from wingpath.structure.planform_mesh import PlanformMesh, planform_mesh
from wingpath.structure.shell_loads import section_motion, skin_loads, tip_torque
from wingpath.structure.skins import SkinSurfaces
from wingpath.structure.strip_loads import StripLoads
from wingpath.structure.walls import CutOut, Pocket, TubeLine, WallLine
from wingpath.structure.wing_shell import LEAST_THICKNESS_MM, LOWER, UPPER, WingShell, wing_shell

BALANCE = 1e-8
"""Share: sums of forces and of stiffness times displacement, to rounding."""

PROPORTION = 1e-9
"""Share: twice the load is twice the answer, to rounding."""

FACTOR = 1e-3
"""Share: factors are found by iteration to 1e-4."""

MIRRORED = 1e-6
"""Share, for skins alone: their triangles are mirrored too."""

MIRRORED_WALLS = 0.01
"""Share, with walls: the diagonals of their squares go the other way. Measured 0.1 per cent."""

HOLE = 1e-4
"""Share of an area: slivers along a straight border may be left out."""

END_MM, FRONT_MM, REAR_MM = 90.0, (0.0, 12.0), (60.0, 52.0)
"""A small wing: span, and x of its edges at root and tip [mm]."""

PRINTED = WallMaterial(900.0, 600.0, 0.3, 0.7)

EDGE_MM = 6.0


def skins(*, camber: float = 0.04, thick: float = 0.14) -> SkinSurfaces:
    """Return the small wing's skins: parabolic camber, and a round nose on a straight taper."""
    share = 0.5 * (1.0 - np.cos(np.linspace(0.0, np.pi, 41)))
    half = 1.1 * thick * np.sqrt(share) * (1.0 - share) + 0.02 * thick * share * (1.0 - share)
    mean = 4.0 * camber * share * (1.0 - share)
    z = np.linspace(0.0, END_MM, 4)
    front, rear = (np.interp(z, [0.0, END_MM], side) for side in (FRONT_MM, REAR_MM))
    length = (rear - front)[:, None]
    return SkinSurfaces(z, share, front, rear, length * (mean + half), length * (mean - half))


def line(name: str, kind: str, *ends: tuple[float, float]) -> WallLine:
    """Return a wall through places (x, z)."""
    x, z = np.transpose(ends)
    return WallLine(name, kind, z, x, 0.8)  # type: ignore[arg-type]


RIBS = (
    line("aft 0", "aft", (4.0, 0.0), (50.0, 46.0)),
    line("aft 1", "aft", (12.0, 30.0), (50.0, 68.0)),
    line("forward 0", "forward", (46.0, 4.0), (14.0, 72.0)),
    line("spar", "web", (20.0, 0.0), (24.0, 90.0)),
)


def built(
    walls: Sequence[WallLine] = RIBS,
    *,
    surfaces: SkinSurfaces | None = None,
    cut_outs: Sequence[CutOut] = (),
    pockets: Sequence[Pocket] = (),
    tubes: Sequence[TubeLine] = (),
    fusion: Fusion | None = None,
    cap_mm: float = 0.8,
    edge_mm: float = EDGE_MM,
    material: WallMaterial = PRINTED,
) -> tuple[PlanformMesh, Panel]:
    surfaces = surfaces or skins()
    plan = planform_mesh(surfaces, walls, cut_outs, edge_mm=edge_mm)
    shell = wing_shell(
        surfaces,
        plan,
        walls,
        material=material,
        skin_mm=0.4,
        cap_mm=cap_mm,
        pockets=pockets,
        tubes=tubes,
        fusion=fusion,
    )
    return plan, Panel(shell, shell.model.held(shell.supports("clamped")))


@cache
def wing() -> Panel:
    """Return the small wing with two runs of ribs and a spar."""
    return built()[1]


def strips(seed: int = 0) -> StripLoads:
    """Return loads of all kinds, up and down."""
    rng = np.random.default_rng(seed)
    edges = np.array([0.0, 25.0, 48.0, 70.0, END_MM])
    z = edges[:-1] + rng.uniform(0.1, 0.9, 4) * np.diff(edges)
    return StripLoads(
        edges,
        rng.uniform(-2, 4, 4),
        z,
        rng.uniform(10, 40, 4),
        rng.uniform(-30, 30, 4),
        rng.uniform(-9, 9, 4),
    )


def lift() -> StripLoads:
    edges = np.linspace(0.0, END_MM, 5)
    return StripLoads(edges, np.array([2.0, 1.8, 1.5, 1.0]), edges[:-1] + 11.0, np.full(4, 18.0), np.zeros(4))


def moments(place: FloatArray, force: FloatArray) -> FloatArray:
    """Return the sum of forces and of their moments about the origin, shape (6,)."""
    return np.concatenate(
        [force[:, :3].sum(axis=0), (np.cross(place, force[:, :3]) + force[:, 3:]).sum(axis=0)]
    )


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


def test_a_strip_without_skin_is_refused() -> None:
    shell = wing().shell
    edges = np.array([0.0, 30.0, 30.001, END_MM])
    loads = StripLoads(edges, np.ones(3), edges[:-1] + [1.0, 0.0005, 1.0], np.full(3, 20.0), np.zeros(3))
    with pytest.raises(InputError, match="strip 1"):
        skin_loads(shell, loads)


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
    assert there.factor != pytest.approx(buckling_modes(held, up)[0].factor, rel=0.05)


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
    shell = built((), cap_mm=0.0)[1].shell
    held = shell.model.held(shell.supports("held") | shell.supports("clamped"))
    moved = np.zeros((shell.model.nodes, 6))
    # stretched evenly along the span and across it: every wall is in tension
    place = shell.model.frames.points_mm
    moved[:, :3] = 1e-3 * place
    assert buckling_modes(held, moved) == ()


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


# The mesh


def edges_of(plan: PlanformMesh) -> set[tuple[int, int]]:
    sides = np.concatenate([plan.triangles[:, [0, 1]], plan.triangles[:, [1, 2]], plan.triangles[:, [2, 0]]])
    return {(min(a, b), max(a, b)) for a, b in sides.tolist()}


def flat(plan: PlanformMesh, surfaces: SkinSurfaces) -> FloatArray:
    return np.column_stack([surfaces.x_of_mm(plan.fraction, plan.z_mm), plan.z_mm])


def areas(plan: PlanformMesh, surfaces: SkinSurfaces) -> FloatArray:
    """Return the areas seen from above, positive when all corners turn the same way."""
    corner = flat(plan, surfaces)[plan.triangles]
    one, other = corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0]
    return 0.5 * (one[:, 0] * other[:, 1] - one[:, 1] * other[:, 0])


PLANFORM_MM2 = 0.5 * (60.0 + 40.0) * END_MM

COORDINATES = st.tuples(st.integers(-2, 13).map(lambda n: 5.0 * n), st.integers(0, 9).map(lambda n: 10.0 * n))
"""Ends of walls on a coarse grid, so that they meet, coincide, run along borders and leave the planform."""

ANYWHERE = st.tuples(st.floats(-5.0, 65.0), st.floats(0.0, END_MM))

KINDS = st.sampled_from(["aft", "forward", "web", "wall", "slit"])


@st.composite
def random_walls(draw: st.DrawFn) -> list[WallLine]:
    found = []
    for number in range(draw(st.integers(0, 5))):
        places = draw(st.sampled_from([COORDINATES, ANYWHERE]))
        one, other = draw(places), draw(places)
        if np.hypot(one[0] - other[0], one[1] - other[1]) > 8.0:
            # as walls are given: outward
            found.append(line(f"wall {number}", draw(KINDS), *sorted((one, other), key=lambda p: p[1])))
    return found


@settings(max_examples=60)
@given(random_walls(), st.sampled_from([5.0, 8.0, 13.0]), st.sampled_from([None, 25.0, np.inf]))
def test_any_walls_leave_no_hole_and_nothing_loose(
    walls: list[WallLine], edge_mm: float, weld_mm: float | None
) -> None:
    surfaces = skins()
    fusion = None if weld_mm is None else Fusion(weld_mm)
    plan, panel = built(walls, fusion=fusion, edge_mm=edge_mm)
    size = areas(plan, surfaces)
    assert size.min() > 0.0
    assert size.sum() == pytest.approx(PLANFORM_MM2, rel=HOLE)
    known, place = edges_of(plan), flat(plan, surfaces)
    for wall, chain in zip(walls, plan.lines, strict=True):
        trace = shapely.LineString(np.column_stack([wall.x_mm, wall.z_mm]))
        for a, b in pairwise(chain.tolist()):
            assert (min(a, b), max(a, b)) in known or np.linalg.norm(place[a] - place[b]) < 0.2 * edge_mm
        if len(chain):
            away = shapely.distance(shapely.points(place[chain]), trace)
            assert away.max() < 0.75 * edge_mm
    # each side belongs to two triangles, or to one on the border
    sides = np.concatenate([plan.triangles[:, [0, 1]], plan.triangles[:, [1, 2]], plan.triangles[:, [2, 0]]])
    _, count = np.unique(np.sort(sides, axis=1), axis=0, return_counts=True)
    assert count.max() <= 2
    moved = panel.held.displacement(skin_loads(panel.shell, lift()))
    assert np.isfinite(moved).all()
    deflection = panel.tip(moved).deflection_mm
    assert 0.0 < deflection < 200.0


def test_walls_are_whole() -> None:
    plan, panel = built()
    surfaces = skins()
    for number, wall in enumerate(panel.shell.walls[:-1]):
        frames = panel.shell.model.frames
        mine = panel.shell.owner == number
        assert panel.shell.model.thickness_mm[mine] == pytest.approx(0.8)
        place = flat(plan, surfaces)[plan.lines[number]]
        upper, lower = surfaces.heights_mm(plan.fraction[plan.lines[number]], place[:, 1])
        height = np.where(np.isin(plan.lines[number], [*plan.front, *plan.rear]), 0.0, upper - lower)
        run = np.linalg.norm(np.diff(place, axis=0), axis=1)
        assert frames.area_mm2[mine].sum() == pytest.approx((0.5 * (height[1:] + height[:-1]) * run).sum())
        assert np.ptp(place[:, 1]) == pytest.approx(np.ptp(wall.z_mm), abs=0.3 * EDGE_MM)


def test_walls_stand_only_as_high_as_they_are_told() -> None:
    surfaces = skins()
    low = replace(RIBS[3], profile_z_mm=np.array([0.0, END_MM]), profile_top_mm=np.array([2.0, 1.5]))
    tall, short = (built((wall,), surfaces=surfaces)[1].shell for wall in (RIBS[3], low))
    of_wall = [shell.model.frames.area_mm2[shell.owner == 0].sum() for shell in (tall, short)]
    assert 0.3 < of_wall[1] / of_wall[0] < 0.7
    assert short.centre_mm[short.owner == 0, 1].max() < 2.0


CUT = CutOut("aileron", np.array([[38.0, 30.0], [70.0, 30.0], [70.0, 70.0], [38.0, 70.0]]))
CUT_WALLS = (
    line("hinge", "wall", (38.0, 30.0), (38.0, 70.0)),
    line("inner", "wall", (38.0, 30.0), (60.0, 30.0)),
    line("outer", "wall", (38.0, 70.0), (60.0, 70.0)),
)


def test_cut_outs_take_skins_away() -> None:
    surfaces = skins()
    plan, panel = built((*RIBS[3:], *CUT_WALLS), cut_outs=(CUT,))
    size = areas(plan, surfaces)
    rear = [np.interp(z, [0.0, END_MM], REAR_MM) for z in (30.0, 70.0)]
    gone = 0.5 * (rear[0] + rear[1] - 2 * 38.0) * 40.0
    assert size[~plan.inside].sum() == pytest.approx(gone, rel=0.01)
    centre = panel.shell.centre_mm[panel.shell.skin]
    bay = (centre[:, 0] > 39.0) & (centre[:, 2] > 31.0) & (centre[:, 2] < 69.0)
    assert not bay.any()
    whole = built((*RIBS[3:], *CUT_WALLS))[1]
    force = [tip_torque(each.shell, 100.0) for each in (panel, whole)]
    twist = [
        each.tip(each.held.displacement(load)).twist_deg
        for each, load in zip((panel, whole), force, strict=True)
    ]
    assert twist[0] > 1.05 * twist[1]


@pytest.mark.parametrize("side", ["lower", "upper"])
@pytest.mark.parametrize("floor_mm", [1.0, 3.0, 40.0])
def test_pockets_leave_the_skins_apart(side: str, floor_mm: float) -> None:
    surfaces = skins()
    height = floor_mm if side == "lower" else 4.0 - floor_mm
    pocket = Pocket("servo", side, 16.0, 34.0, 30.0, 55.0, height)  # type: ignore[arg-type]
    plan, panel = built((line("fore", "wall", (16.0, 20.0), (16.0, 60.0)),), pockets=(pocket,))
    frames, shell = panel.shell.model.frames, panel.shell
    found = []
    for owner in (UPPER, LOWER):
        nodes = np.unique(frames.triangles[shell.owner == owner])
        place = frames.points_mm[nodes]
        here = (place[:, 0] > 18.0) & (place[:, 0] < 32.0) & (place[:, 2] > 32.0) & (place[:, 2] < 53.0)
        order = np.lexsort(place[here][:, [0, 2]].T)
        found.append(place[here][order])
    assert found[0][:, [0, 2]] == pytest.approx(found[1][:, [0, 2]])
    apart = found[0][:, 1] - found[1][:, 1]
    assert apart.min() > LEAST_THICKNESS_MM - 1e-9
    if floor_mm > 30.0:
        assert apart.max() == pytest.approx(LEAST_THICKNESS_MM)
    assert np.isfinite(panel.held.displacement(skin_loads(shell, lift()))).all()
    # without the pocket the skin is where the section has it
    upper, lower = surfaces.heights_mm(plan.fraction, plan.z_mm)
    assert (upper - lower).max() > apart.min()


def test_loose_parts_are_left_out() -> None:
    # a cut across the whole chord: what is outboard of it hangs on nothing
    cut = CutOut("gap", np.array([[-20.0, 40.0], [80.0, 40.0], [80.0, 55.0], [-20.0, 55.0]]))
    ends = tuple(line(f"end {z:g}", "wall", (-5.0, z), (70.0, z)) for z in (40.0, 55.0))
    _, panel = built((*ends, line("lost", "wall", (30.0, 43.0), (30.0, 52.0))), cut_outs=(cut,))
    assert panel.shell.centre_mm[:, 2].max() < 41.0
    force = np.zeros((panel.shell.model.nodes, 6))
    used = np.unique(panel.shell.model.frames.triangles)
    force[used, 1] = 0.01
    moved = panel.held.displacement(force)
    assert np.isfinite(moved).all()
    assert 0.0 < moved[used, 1].max() < 10.0


def test_mass_is_that_of_the_walls() -> None:
    shell = wing().shell
    area = shell.model.frames.area_mm2
    walls = (area[~shell.skin].sum() * 0.8 + area[shell.skin].sum() * 0.4) * 0.7 / 1000.0
    assert shell.wall_mass_g == pytest.approx(walls)
    finer = built(edge_mm=3.0)[1].shell.wall_mass_g
    assert finer == pytest.approx(shell.wall_mass_g, rel=0.02)
