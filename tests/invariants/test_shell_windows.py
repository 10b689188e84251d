"""Shells of ribs that stand on one skin and hang from the other, as lightening windows leave them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import pytest
from shell_panels import Panel
from small_shell import END_MM, RIBS, built, line, skins

from wingpath.core.errors import InputError
from wingpath.structure.columns import Fusion
from wingpath.structure.walls import MEET_MM, TubeLine, WallLine

OPEN = Fusion(float("inf"))

ROUNDING = 1e-9
"""Share: the same stiffness added up in another order."""

NODE_MM = 1e-6
"""Points of the plan lie as close as this to where they are asked for, heights with them [mm]."""

SOLVED = 1e-6
"""Share: the same shell with its nodes in another order, solved anew."""

STUB = 1.5
"""Depth of the stubs; the small wing is up to 9 mm thick [mm]."""

PRESSURE_MPA = 5e-4

NEVER = 100.0
"""Farther above and below than any skin [mm]."""

RIB = line("aft", "aft", (8.0, 6.0), (48.0, 46.0))
AT = (28.0, 26.0)
"""A place in the middle of that rib (x, z)."""

NEAR_MM = 3.2
"""Half an edge: the point of the plan that is nearest to the place."""

TURNED = replace(skins(), upper_mm=-skins().lower_mm, lower_mm=-skins().upper_mm)
"""The small wing's skins turned over."""


def shaped(wall: WallLine, standing: np.ndarray | float, hanging: np.ndarray | float) -> WallLine:
    """Return a wall that stands and hangs by depths, measured from its skins; `NEVER`: all the way."""
    z = np.linspace(0.0, END_MM, 91)
    x = np.interp(z, wall.z_mm, wall.x_mm)
    upper, lower = skins().heights_mm(np.clip(skins().fraction_of(x, z), 0.0, 1.0), z)
    top, hang = lower + standing, upper - hanging
    # where the section is too thin for both, they meet
    meet = 0.5 * (top + hang)
    top, hang = np.where(hang < top, meet, top), np.where(hang < top, meet, hang)
    return replace(wall, profile_z_mm=z, profile_top_mm=top, profile_hang_mm=hang)


def halves(wall: WallLine, apart_mm: float = 0.0) -> WallLine:
    """Return a wall whose halves meet on the middle of the section, or stay apart by so much."""
    z = np.linspace(0.0, END_MM, 91)
    x = np.interp(z, wall.z_mm, wall.x_mm)
    upper, lower = skins().heights_mm(np.clip(skins().fraction_of(x, z), 0.0, 1.0), z)
    return shaped(wall, 0.5 * (upper - lower - apart_mm), 0.5 * (upper - lower - apart_mm))


def stubs(wall: WallLine) -> WallLine:
    return shaped(wall, STUB, STUB)


def turned_over(wall: WallLine) -> WallLine:
    """Return the wall in the wing turned over."""
    if wall.profile_z_mm is None:
        return wall
    top = np.full(len(wall.profile_z_mm), NEVER) if wall.profile_top_mm is None else wall.profile_top_mm
    hang = np.full(len(wall.profile_z_mm), NEVER) if wall.profile_hang_mm is None else wall.profile_hang_mm
    return replace(wall, profile_top_mm=-hang, profile_hang_mm=-top)


def moved(panel: Panel) -> list[float]:
    """Return how far the tip goes under a load on both skins alike, and its twist then and under a torque."""
    frames = panel.shell.model.frames
    skin = panel.shell.skin
    force = np.zeros((panel.shell.model.nodes, 6))
    np.add.at(force[:, 1], frames.triangles[skin], frames.area_mm2[skin, None] * PRESSURE_MPA / 3.0)
    lifted = panel.tip(panel.held.displacement(force))
    return [lifted.deflection_mm, lifted.twist_deg, panel.tip(panel.turned).twist_deg]


def heights_at(panel: Panel, x: float, z: float, owner: int | None = 0) -> np.ndarray:
    """Heights of a wall's nodes, or of all, at the point nearest to a place, lowest first [mm]."""
    frames = panel.shell.model.frames
    own = frames.triangles if owner is None else frames.triangles[panel.shell.owner == owner]
    place = frames.points_mm[np.unique(own)]
    apart = np.hypot(place[:, 0] - x, place[:, 2] - z)
    nearest = place[np.argmin(apart)]
    assert apart.min() < NEAR_MM
    return np.sort(place[np.hypot(*(place[:, [0, 2]] - nearest[[0, 2]]).T) < NODE_MM][:, 1])


@pytest.mark.parametrize("fusion", [None, Fusion(0.0)])
@pytest.mark.parametrize("apart", [0.0, 0.9 * MEET_MM])
def test_halves_that_meet_are_as_stiff_as_one_wall(fusion: Fusion | None, apart: float) -> None:
    whole = built(fusion=fusion, stub_mm=STUB)[1]
    both = built([halves(wall, apart) for wall in RIBS], fusion=fusion, stub_mm=STUB)[1]
    assert moved(both) == pytest.approx(moved(whole), rel=ROUNDING)
    assert both.shell.wall_mass_g == pytest.approx(whole.shell.wall_mass_g, rel=ROUNDING)


@pytest.mark.parametrize("row", [0, 1, 2, 3])
def test_no_row_is_lost_between_halves_that_meet(row: int) -> None:
    even = np.ones_like(skins().upper_mm)
    level = replace(skins(), upper_mm=5.0 * even, lower_mm=-5.0 * even)
    middle = (-5.0 + 0.5 * STUB, -0.5 * (5.0 - STUB), 0.5 * (5.0 - STUB), 5.0 - 0.5 * STUB)[row]
    plain = line("web", "web", (30.0, 0.0), (30.0, END_MM))
    found = []
    for apart in (0.0, 0.9 * MEET_MM, 1.1 * MEET_MM):
        top, hang = (np.full(2, middle + side * apart) for side in (-0.5, 0.5))
        wall = replace(plain, profile_z_mm=plain.z_mm, profile_top_mm=top, profile_hang_mm=hang)
        found.append(built([wall], surfaces=level, stub_mm=STUB)[1].shell.wall_mass_g)
    assert found[1] == pytest.approx(found[0], rel=ROUNDING)
    assert found[2] < 0.999 * found[0]


def test_halves_that_meet_outside_the_middle_are_one_wall_too() -> None:
    upper, lower = skins().heights_mm(0.4, 45.0)
    for share in (0.25, 0.4, 0.8):
        height = np.full(2, lower + share * (upper - lower))
        both = [replace(w, profile_z_mm=np.array([0.0, END_MM]), profile_top_mm=height) for w in RIBS]
        both = [replace(w, profile_hang_mm=height) for w in both]
        assert moved(built(both, stub_mm=STUB)[1]) == pytest.approx(
            moved(built(stub_mm=STUB)[1]), rel=ROUNDING
        )


def test_stubs_stiffen_less_than_ribs_and_more_than_nothing() -> None:
    spar = RIBS[-1]
    bare, left, whole = (
        built([*ribs, spar], stub_mm=STUB)[1] for ribs in ([], [stubs(rib) for rib in RIBS[:-1]], RIBS[:-1])
    )
    twists = [abs(moved(panel)[2]) for panel in (bare, left, whole)]
    assert twists[0] > 1.001 * twists[1]
    assert twists[1] > 1.001 * twists[2]
    masses = [panel.shell.wall_mass_g for panel in (bare, left, whole)]
    assert masses[0] < masses[1] < masses[2]


def test_rows_follow_the_stubs_and_leave_an_eighth_to_those_between() -> None:
    for stub in (0.4, STUB, 50.0):
        found = heights_at(built([RIB], stub_mm=stub)[1], *AT)
        low, high = found[0], found[-1]
        depth = min(stub, 0.375 * (high - low))
        expected = [low, low + depth, 0.5 * (low + high), high - depth, high]
        assert found == pytest.approx(expected, abs=NODE_MM)


def test_stubs_take_the_rows_at_the_skins_and_no_others() -> None:
    low, *_, high = heights_at(built([RIB], stub_mm=STUB)[1], *AT)
    found = heights_at(built([stubs(RIB)], stub_mm=STUB)[1], *AT)
    assert found == pytest.approx([low, low + STUB, high - STUB, high], abs=NODE_MM)
    only = heights_at(built([shaped(RIB, -NEVER, STUB)], stub_mm=STUB)[1], *AT)
    assert only == pytest.approx([high - STUB, high], abs=NODE_MM)


@pytest.mark.parametrize("stub", [0.0, -1.0, float("nan")])
def test_stubs_of_no_depth_are_refused(stub: float) -> None:
    with pytest.raises(InputError, match="stubs"):
        built([RIB], stub_mm=stub)


def test_open_slots_from_both_skins_hang_together_in_the_middle() -> None:
    fused = heights_at(built([halves(RIB)], stub_mm=STUB)[1], *AT)
    apart = heights_at(built([halves(RIB)], fusion=OPEN, stub_mm=STUB)[1], *AT)
    # every row twice but for the middle, where the necks of both slots are
    assert apart == pytest.approx(np.sort([*fused, *np.delete(fused, 2)]), abs=NODE_MM)


def test_open_stubs_part_the_skins_and_hang_together_at_their_ends() -> None:
    low, *_, high = heights_at(built([RIB], stub_mm=STUB)[1], *AT)
    found = heights_at(built([stubs(RIB)], fusion=OPEN, stub_mm=STUB)[1], *AT)
    assert found == pytest.approx([low, low, low + STUB, high - STUB, high, high], abs=NODE_MM)
    only = heights_at(built([shaped(RIB, -NEVER, STUB)], fusion=OPEN, stub_mm=STUB)[1], *AT, owner=None)
    assert only == pytest.approx([low, high - STUB, high, high], abs=NODE_MM)


def test_a_bore_holds_slots_from_both_skins_at_the_axis_of_its_tube() -> None:
    x, (z0, z1) = 22.0, (0.0, 60.0)
    upper, lower = skins().heights_mm(skins().fraction_of(x, 30.0), 30.0)
    axis = float(0.6 * upper + 0.4 * lower)
    slit = line("tube[0]", "slit", (x, z0), (x, z1))
    tube = TubeLine("tube[0]", np.array([x, axis, z0]), np.array([x, axis, z1]), 1e5, 1e6, 1e6, 0.0)
    found = heights_at(built([halves(slit)], tubes=[tube], fusion=OPEN, stub_mm=STUB)[1], x, 30.0)
    low, high = found[0], found[-1]
    depth = STUB / (high - low)
    # either side of the axis rows keep their shares: a stub is as much of a half as it was
    ends = [low + 2.0 * depth * (axis - low), high - 2.0 * depth * (high - axis)]
    assert found == pytest.approx(
        [low, low, ends[0], ends[0], axis, ends[1], ends[1], high, high], abs=NODE_MM
    )


def test_a_bore_holds_a_slot_from_above_at_the_axis_of_its_tube() -> None:
    x, (z0, z1) = 22.0, (0.0, 60.0)
    axis = float(np.mean(skins().heights_mm(skins().fraction_of(x, 30.0), 30.0)))
    slit = line("tube[0]", "slit", (x, z0), (x, z1))
    tube = TubeLine("tube[0]", np.array([x, axis, z0]), np.array([x, axis, z1]), 1e5, 1e6, 1e6, 0.0)
    found = heights_at(
        built([shaped(slit, -NEVER, NEVER)], tubes=[tube], fusion=OPEN, stub_mm=STUB)[1], x, 30.0
    )
    # below the axis once, above it twice
    assert len(found) == 7
    assert found[2] == pytest.approx(axis, abs=NODE_MM)
    assert found[3::2] == pytest.approx(found[4::2], abs=NODE_MM)


def test_slots_from_both_skins_that_cross_at_one_height_leave_four_quarters() -> None:
    other = line("forward", "forward", (48.0, 6.0), (8.0, 46.0))
    # three of four rows each: the rib from below, the other from above
    low, depth, middle, end, high = heights_at(built([RIB, other], stub_mm=STUB)[1], *AT)
    deep = 0.5 * (high - low) + STUB
    walls = [shaped(RIB, deep, -NEVER), shaped(other, -NEVER, deep)]
    found = heights_at(built(walls, fusion=OPEN, stub_mm=STUB)[1], *AT, owner=None)
    expected = np.repeat([low, depth, middle, end, high], [2, 2, 4, 2, 2])
    assert found == pytest.approx(expected, abs=NODE_MM)


CROSSED: tuple[Sequence[WallLine], ...] = (
    [shaped(wall, NEVER, -NEVER) for wall in RIBS],
    [shaped(wall, 4.0, -NEVER) for wall in RIBS],
    [*map(halves, RIBS[:2]), stubs(RIBS[2]), shaped(RIBS[3], STUB, 5.0)],
    [shaped(RIBS[0], 5.0, -NEVER), stubs(RIBS[1]), shaped(RIBS[2], -NEVER, 3.0), halves(RIBS[3])],
)
"""Walls that reach from the lower skin to the upper one, end below it, have windows, and a mixture."""


@pytest.mark.parametrize("spacing", [float("inf"), 15.0])
@pytest.mark.parametrize("walls", CROSSED, ids=["full", "low", "windows", "mixed"])
def test_slots_from_above_act_as_those_from_below_in_the_wing_turned_over(
    walls: Sequence[WallLine], spacing: float
) -> None:
    fusion = Fusion(spacing)
    one = built(walls, fusion=fusion, stub_mm=STUB)[1]
    other = built([*map(turned_over, walls)], surfaces=TURNED, fusion=fusion, stub_mm=STUB)[1]
    assert one.shell.model.nodes == other.shell.model.nodes
    assert moved(other) == pytest.approx(moved(one), rel=SOLVED)


def test_walls_that_hang_nowhere_leave_the_upper_skin_as_they_did() -> None:
    plain, told = (built(walls, fusion=Fusion(15.0))[1] for walls in (RIBS, CROSSED[0]))
    assert np.array_equal(plain.shell.model.frames.points_mm, told.shell.model.frames.points_mm)
    assert np.array_equal(plain.shell.model.frames.triangles, told.shell.model.frames.triangles)


def test_welds_of_a_slot_from_below_do_not_close_one_from_above() -> None:
    # welds lie half a spacing from the start: the other wall has one where the two cross, the rib has not
    other = line("forward", "forward", (44.0, 10.0), (8.0, 46.0))
    fusion = Fusion(2.0 * float(np.hypot(16.0, 16.0)))
    _, panel = built([shaped(RIB, -NEVER, STUB), other], fusion=fusion, stub_mm=STUB)
    low, *_, high = heights_at(panel, *AT, owner=1)
    assert heights_at(panel, *AT, owner=0) == pytest.approx([high - STUB, high, high], abs=NODE_MM)
    every = heights_at(panel, *AT, owner=None)
    assert (np.abs(every - low) < NODE_MM).sum() == 1
