"""What holds for every wing's shell as a mesh: no holes, walls whole, skins apart, nothing loose."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
import shapely
from hypothesis import example, given, settings
from hypothesis import strategies as st
from small_shell import (
    EDGE_MM,
    END_MM,
    REAR_MM,
    RIBS,
    built,
    lift,
    line,
    skins,
    wing,
)

from wingpath.core.arrays import FloatArray
from wingpath.structure.columns import Fusion
from wingpath.structure.planform_mesh import PlanformMesh
from wingpath.structure.shell_loads import skin_loads, tip_torque
from wingpath.structure.skins import SkinSurfaces
from wingpath.structure.walls import CutOut, Pocket, TubeLine, WallLine
from wingpath.structure.wing_shell import LEAST_THICKNESS_MM, LOWER, UPPER

HOLE = 1e-4
"""Share of an area: slivers along a straight border may be left out."""


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

ROUNDING_MM2 = 1e-6
"""Three points of one wall close to the nose span a triangle of skin without an area from above: the wall is
straight, and the skin stands upright there [mm2]."""

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
@example(
    [line("wall 0", "aft", (21.0, 28.0), (0.0, 51.0)), line("wall 1", "aft", (35.0, 6.5), (0.0, 53.25))],
    5.0,
    None,
)
def test_any_walls_leave_no_hole_and_nothing_loose(
    walls: list[WallLine], edge_mm: float, weld_mm: float | None
) -> None:
    surfaces = skins()
    fusion = None if weld_mm is None else Fusion(weld_mm)
    plan, panel = built(walls, fusion=fusion, edge_mm=edge_mm)
    size = areas(plan, surfaces)
    assert size.min() > -ROUNDING_MM2
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


def test_triangles_are_not_needles() -> None:
    # points of bays keep off the walls; what walls themselves force is left: 0.4 per cent measured
    plan, _ = built()
    corner = flat(plan, skins())[plan.triangles]
    ahead, behind = np.roll(corner, -1, axis=1) - corner, np.roll(corner, 1, axis=1) - corner
    cosine = (ahead * behind).sum(axis=2) / np.linalg.norm(ahead, axis=2) / np.linalg.norm(behind, axis=2)
    least = np.degrees(np.arccos(np.clip(cosine, -1.0, 1.0))).min(axis=1)
    assert (least < 20.0).mean() < 0.05
    assert np.median(least) > 40.0


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


def test_the_tip_is_closed_by_a_wall() -> None:
    closed, opened = built()[1].shell, built(cap_mm=0.0)[1].shell
    of_cap = closed.owner == len(RIBS)
    assert closed.walls[-1].kind == "cap"
    x, upper, lower = skins().section(END_MM)
    frames = closed.model.frames
    # corners lie on the section, so what is missing are the bulges between them
    assert frames.area_mm2[of_cap].sum() == pytest.approx(np.trapezoid(upper - lower, x), rel=0.05)
    assert frames.points_mm[frames.triangles[of_cap], 2] == pytest.approx(END_MM)
    assert len(opened.walls) == len(RIBS)
    assert opened.owner.max() == len(RIBS) - 1


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
    height = floor_mm if side == "lower" else 4.0 - floor_mm
    pocket = Pocket("servo", side, 16.0, 34.0, 30.0, 55.0, height)  # type: ignore[arg-type]
    _, panel = built((line("fore", "wall", (16.0, 20.0), (16.0, 60.0)),), pockets=(pocket,))
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
    # pressed in, never out
    bare = built((line("fore", "wall", (16.0, 20.0), (16.0, 60.0)),))[1].shell.model.frames.points_mm
    assert bare[:, [0, 2]] == pytest.approx(frames.points_mm[:, [0, 2]])
    inward = (frames.points_mm[:, 1] - bare[:, 1]) * (1.0 if side == "lower" else -1.0)
    skin_nodes = np.unique(frames.triangles[shell.owner == (LOWER if side == "lower" else UPPER)])
    assert inward[skin_nodes].min() > -1e-9
    assert inward[skin_nodes].max() > 0.0


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


def test_tubes_run_along_their_axis() -> None:
    tube = TubeLine("spar", np.array([20.0, 3.0, 0.0]), np.array([24.0, 1.5, 90.0]), 1e6, 1e6, 1e6, 1e6)
    model = built(tubes=(tube,))[1].shell.model
    place = model.frames.points_mm[model.beams[0].nodes]
    assert place[:, :2] == pytest.approx(tube.centre_mm(place[:, 2]), abs=0.3 * EDGE_MM)
    assert place[:, 1] == pytest.approx(tube.centre_mm(place[:, 2])[:, 1])
    assert (np.diff(place[:, 2]) > 0.0).all()
