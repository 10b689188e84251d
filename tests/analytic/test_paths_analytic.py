"""Paths of boxes and cylinders: length, volume, height and time in closed form."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
import shapely
from paths import TOLERANCE_MM, Traced, traced
from shapes import BEAD_MM, LAYER_MM, lofted, prism, slotted_box

from wingpath.build.bead import bead_area_mm2
from wingpath.build.brim import brim_spiral, brim_width_mm, lead_in, slenderness
from wingpath.build.loops import safe_tolerance_mm
from wingpath.build.path_heights import path_heights
from wingpath.build.print_time import corner_speeds, move_times
from wingpath.build.support import path_starts
from wingpath.build.toolpath import BRIM, LEAD_IN

AREA = (BEAD_MM - LAYER_MM) * LAYER_MM + math.pi * LAYER_MM**2 / 4.0
"""Section of the bead: a rectangle with half-round ends [mm2]."""

ROUNDING = 1e-9

LONG, WIDE, HEIGHT = 40.0, 20.0, 10.0
LAYERS = 40

RADIUS = 20.0
CURVE_SHARE = 2.0 * (TOLERANCE_MM + 0.003) / (3.0 * RADIUS)
"""A chord with sagitta s on a circle of radius r is shorter than its arc by s / 3r times its length; the path
may lie that far to both sides, and the outline was straightened by 0.003 mm before."""


@pytest.fixture(scope="module")
def box() -> dict[str, Traced]:
    mesh = prism(shapely.box(0.0, 0.0, LONG, WIDE), HEIGHT)
    return {style: traced(mesh, style=style) for style in ("helical", "stepped")}


@pytest.fixture(scope="module")
def cylinder() -> dict[str, Traced]:
    mesh = prism(shapely.Point(0.0, 0.0).buffer(RADIUS, quad_segs=200), HEIGHT)
    return {style: traced(mesh, style=style) for style in ("helical", "stepped")}


styles = pytest.mark.parametrize("style", ["helical", "stepped"])

BOX_LOOP = 2.0 * (LONG + WIDE) - 4.0 * BEAD_MM
CIRCLE_LOOP = 2.0 * math.pi * (RADIUS - 0.5 * BEAD_MM)


@styles
def test_length_and_volume_of_a_box(box: dict[str, Traced], style: str) -> None:
    path = box[style].path
    assert path.length_mm.sum() == pytest.approx(LAYERS * BOX_LOOP, rel=ROUNDING)
    # what a helix lacks in its first and last loop it has in its pitch
    assert (path.area_mm2 * path.length_mm).sum() == pytest.approx(LAYERS * BOX_LOOP * AREA, rel=1e-6)
    # foaming PLA at flow 0.5
    assert path.volume_mm3.sum() == pytest.approx(0.5 * LAYERS * BOX_LOOP * AREA, rel=1e-6)


@styles
def test_length_and_volume_of_a_cylinder(cylinder: dict[str, Traced], style: str) -> None:
    path = cylinder[style].path
    assert path.length_mm.sum() == pytest.approx(LAYERS * CIRCLE_LOOP, rel=CURVE_SHARE)
    assert path.volume_mm3.sum() == pytest.approx(0.5 * LAYERS * CIRCLE_LOOP * AREA, rel=CURVE_SHARE)


@styles
def test_every_move_extrudes_and_none_goes_down(box: dict[str, Traced], style: str) -> None:
    path = box[style].path
    assert path.length_mm.min() > 0.0
    assert path.volume_mm3.min() > 0.0
    assert np.diff(path.points[:, 2]).min() >= 0.0
    assert (path.points[0, 2], path.points[-1, 2]) == (LAYER_MM, pytest.approx(HEIGHT, abs=ROUNDING))


def test_a_stepped_loop_is_flat_but_for_the_rise_over_one_bead(box: dict[str, Traced]) -> None:
    path = box["stepped"].path
    for layer in range(1, LAYERS):
        moves = path.layer == layer
        z = path.points[1:][moves, 2]
        assert z[-1] == pytest.approx((layer + 1) * LAYER_MM, abs=ROUNDING)
        rising = moves & (np.diff(path.points[:, 2]) > ROUNDING)
        assert path.length_mm[rising].sum() == pytest.approx(BEAD_MM, rel=ROUNDING)
    assert path.helical_from == LAYERS


def test_a_helix_rises_with_the_length_of_the_path(box: dict[str, Traced]) -> None:
    path = box["helical"].path
    assert path.helical_from == 3
    turns = LAYERS - 3
    pitch = LAYER_MM * (turns - 0.5) / (turns - 1)
    # the loops between the first, which steps up by a quarter of a layer, and the last, which is flat
    inner = (path.layer > 3) & (path.layer < LAYERS - 1)
    slope = np.diff(path.points[:, 2])[inner] / path.length_mm[inner]
    assert slope == pytest.approx(np.full(inner.sum(), pitch / BOX_LOOP), rel=1e-6)
    top = path.points[1:, 2][path.layer == LAYERS - 1]
    assert top[top > HEIGHT - 0.25 * LAYER_MM].size > 2
    assert top[-1] == pytest.approx(HEIGHT, abs=ROUNDING)


def test_the_first_loop_of_a_helix_grows_from_a_quarter_of_a_layer(box: dict[str, Traced]) -> None:
    path = box["helical"].path
    turns = LAYERS - 3
    pitch = LAYER_MM * (turns - 0.5) / (turns - 1)
    volume = path.area_mm2 * path.length_mm
    ends = 0.25 * LAYER_MM + 0.5 * pitch
    for layer, wanted in ((3, ends), (20, pitch), (LAYERS - 1, ends)):
        laid = volume[path.layer == layer].sum()
        assert laid == pytest.approx(BOX_LOOP * AREA * wanted / LAYER_MM, rel=1e-6)


def test_the_bead_of_a_helix_is_as_high_as_the_room_below_it() -> None:
    count, flat = 30, 2
    heights = path_heights(count, layer_mm=LAYER_MM, helical=True, flat_layers=flat)
    share = np.linspace(0.0, 1.0, 11)

    def nozzle(loop: int) -> Any:
        rows = np.full(len(share), loop)
        return heights.at(rows, share, rise_share=np.full(count, 1e-9))

    below = np.full(len(share), flat * LAYER_MM)
    for loop in range(flat, count):
        z, bead = nozzle(loop)
        # where a loop steps up, its first point is still at the height that it comes from
        assert bead[1:] == pytest.approx((z - below)[1:], abs=ROUNDING)
        below = z
    assert below[1:] == pytest.approx(np.full(len(share) - 1, count * LAYER_MM), abs=ROUNDING)


def test_a_low_part_is_stepped() -> None:
    assert path_heights(14, layer_mm=0.25, helical=True, flat_layers=3).helical_from == 14
    assert path_heights(15, layer_mm=0.25, helical=True, flat_layers=3).helical_from == 3


def test_loops_begin_and_end_where_layers_start(cylinder: dict[str, Traced]) -> None:
    one = cylinder["helical"]
    for layer in range(len(one.layers)):
        loop = one.loops.loop(layer)
        assert loop[0] == pytest.approx(loop[-1], abs=ROUNDING)
        assert shapely.LinearRing(loop).is_ccw
        line, ring = shapely.LineString(loop), one.layers.paths[layer].exterior
        assert shapely.hausdorff_distance(line, ring, densify=0.01) <= TOLERANCE_MM


def test_starts_move_little_from_loop_to_loop() -> None:
    """A leaning box: every loop starts where its layer said, less than a bead from the one below."""
    low = [(0.0, 0.0), (40.0, 0.0), (40.0, 8.0), (0.0, 8.0)]
    one = traced(lofted(low, [(x + 5.0, y + 1.0) for x, y in low], 10.0))
    starts, _ = path_starts(one.layers)
    begins = one.loops.points[one.loops.first[:-1]]
    assert begins == pytest.approx(starts, abs=ROUNDING)
    assert np.linalg.norm(np.diff(begins, axis=0), axis=1).max() < BEAD_MM
    # all of them at the far end, where a trailing edge would be
    assert np.all(begins[:, 0] > 39.0)


def test_the_beads_of_a_slot_stay_together() -> None:
    """The widest gap that bonds is 0.1 mm here: half of what a slot of 0.06 mm leaves goes to either bead."""
    assert safe_tolerance_mm(0.05, slot_mm=0.06, bond_mm=0.1) == pytest.approx(0.02)
    assert safe_tolerance_mm(0.01, slot_mm=0.06, bond_mm=0.1) == pytest.approx(0.01)
    assert safe_tolerance_mm(0.05, slot_mm=0.2, bond_mm=0.1) == pytest.approx(0.002)
    one = traced(prism(slotted_box([(20.0, 0.06, 7.2)]), 5.0))
    loop = one.loops.loop(7)
    # the two long runs beside the slot: x = 20 -+ (0.03 + half a bead)
    sides = [loop[np.abs(loop[:, 0] - x) < 0.1] for x in (20.0 - 0.255, 20.0 + 0.255)]
    gap = sides[1][:, 0].min() - sides[0][:, 0].max() - BEAD_MM
    assert gap == pytest.approx(0.06, abs=ROUNDING + 1e-4)


# --- brim and lead-in ----------------------------------------------------------------------------------

SPACING = BEAD_MM - LAYER_MM * (1.0 - math.pi / 4.0)


def test_a_brim_is_one_spiral_of_concentric_turns_round_a_disc() -> None:
    disc = shapely.Point(0.0, 0.0).buffer(RADIUS, quad_segs=200)
    start = np.array([RADIUS - 0.5 * BEAD_MM, 0.0])
    brim = brim_spiral(disc, start, width_mm=4.0, gap_mm=0.2, bead_mm=BEAD_MM, layer_mm=LAYER_MM)
    assert brim.loops == round(4.0 / SPACING)
    radius = np.linalg.norm(brim.points, axis=1)
    turns = RADIUS + 0.2 + SPACING - 0.5 * BEAD_MM + SPACING * np.arange(brim.loops)
    assert radius.max() == pytest.approx(turns[-1], abs=0.03)
    assert radius.min() == pytest.approx(turns[0], abs=0.03)
    # inward all the way: the last point is the one that the part's own loop follows on
    assert radius[0] == pytest.approx(turns[-1], abs=0.03)
    assert np.linalg.norm(brim.points[-1] - start) < 2.0 * SPACING + 0.2
    length = np.linalg.norm(np.diff(brim.points, axis=0), axis=1).sum()
    # each turn stops one spacing short and steps in by one, along the other legs of a triangle
    wanted = (2.0 * math.pi * turns - SPACING).sum() + (brim.loops - 1) * math.sqrt(2.0) * SPACING
    assert length == pytest.approx(wanted, rel=2e-3)
    assert shapely.LineString(brim.points).is_simple
    assert brim.outline.area == pytest.approx(math.pi * (turns[-1] + 0.5 * BEAD_MM) ** 2, rel=1e-3)


def test_no_brim_when_none_is_wanted() -> None:
    brim = brim_spiral(
        shapely.box(0, 0, 9, 9), np.zeros(2), width_mm=0.0, gap_mm=0.0, bead_mm=BEAD_MM, layer_mm=LAYER_MM
    )
    assert (len(brim.points), brim.loops) == (0, 0)


def test_a_brim_leads_on_into_the_first_loop_on_the_bed() -> None:
    one = traced(prism(shapely.box(0.0, 0.0, LONG, WIDE), HEIGHT), brim_mm=3.0, lead=[[70.0, 10.0]])
    path = one.path
    kinds = path.layer[np.append(True, np.diff(path.layer) != 0)].tolist()
    assert kinds[:3] == [LEAD_IN, BRIM, 0]
    assert kinds == sorted(kinds)
    assert np.all(path.points[:-1][path.layer < 0, 2] == LAYER_MM)
    assert path.flow[path.layer == LEAD_IN].tolist() == [1.0]
    assert path.length_mm[path.layer == 0].sum() == pytest.approx(BOX_LOOP, abs=2.0 * SPACING)


def test_slenderness_and_the_width_of_a_brim() -> None:
    foot = shapely.box(0.0, 0.0, 200.0, 20.0)
    assert slenderness(foot, height_mm=300.0) == pytest.approx(15.0)
    # eight times as high as wide: 37.5 mm, so 8.75 mm on both sides
    assert brim_width_mm(foot, height_mm=300.0) == pytest.approx(8.75)
    assert slenderness(foot, height_mm=300.0, brim_mm=8.75) == pytest.approx(8.0)
    assert brim_width_mm(foot, height_mm=50.0) == 3.0
    assert brim_width_mm(shapely.box(0.0, 0.0, 50.0, 2.0), height_mm=300.0) == 12.0


def test_a_lead_in_keeps_off_the_part_and_on_the_bed() -> None:
    part, room = shapely.box(0.0, 0.0, 40.0, 20.0), shapely.box(-100.0, -3.0, 43.0, 23.0)
    start = np.array([20.0, 20.0])
    lead = lead_in(start, part, room, bead_mm=BEAD_MM)
    assert len(lead) == 1
    line = shapely.LineString([lead[0], start])
    assert line.intersection(part.buffer(-BEAD_MM)).is_empty
    assert room.contains(shapely.Point(lead[0]))
    tight = lead_in(start, part, part, bead_mm=BEAD_MM)
    assert len(tight) == 0


# --- time ----------------------------------------------------------------------------------------------

HUGE = 1e12


def run(points: Any, speed: float, **given: float) -> float:
    places = np.asarray(points, float)
    settings: dict[str, Any] = {"acceleration_mm_s2": 1000.0, "corner_mm_s": 0.0} | given
    return float(move_times(places, np.full(len(places) - 1, speed), **settings).sum())


def test_with_unlimited_acceleration_time_is_length_over_speed(cylinder: dict[str, Traced]) -> None:
    path = cylinder["stepped"].path
    seconds = move_times(path.points[:, :2], path.speed_mm_s, acceleration_mm_s2=HUGE, corner_mm_s=HUGE)
    assert seconds.sum() == pytest.approx((path.length_mm / path.speed_mm_s).sum(), rel=1e-6)
    # the first layer at 20 mm/s; the others take 6 s at least: 124 mm at 20.7 mm/s
    assert seconds.sum() == pytest.approx(CIRCLE_LOOP / 20.0 + (LAYERS - 1) * 6.0, rel=CURVE_SHARE)


def test_a_straight_run_is_a_trapezium_of_speed() -> None:
    # v^2 / a is the way that speeding up and braking take together
    assert run([[0, 0], [100, 0]], 40.0) == pytest.approx(40.0 / 1000.0 + 100.0 / 40.0)
    # too short to reach the speed: a triangle
    assert run([[0, 0], [0.4, 0]], 40.0) == pytest.approx(2.0 * math.sqrt(0.4 / 1000.0))


def test_points_on_a_straight_run_cost_nothing() -> None:
    # moves of 0.1 mm: speeding up to 40 mm/s takes 0.8 mm, eight of them
    split = np.column_stack([np.linspace(0.0, 100.0, 1001), np.zeros(1001)])
    assert run(split, 40.0) == pytest.approx(run([[0, 0], [100, 0]], 40.0), rel=1e-9)


def test_a_right_angle_is_taken_at_the_corner_speed_over_root_two() -> None:
    corner = np.array([[0.0, 0.0], [50.0, 0.0], [50.0, 50.0]])
    passed = corner_speeds(corner, np.full(2, 40.0), corner_mm_s=8.0)
    assert passed == pytest.approx([0.0, 8.0 / math.sqrt(2.0), 0.0])
    u, v, a, d = 8.0 / math.sqrt(2.0), 40.0, 1000.0, 50.0
    each = (2.0 * v - u) / a + (d - (2.0 * v * v - u * u) / (2.0 * a)) / v
    assert run(corner, v, corner_mm_s=8.0) == pytest.approx(2.0 * each, rel=1e-9)


def test_a_box_takes_the_sum_of_its_sides(box: dict[str, Traced]) -> None:
    path = box["stepped"].path
    seconds = move_times(path.points[:, :2], path.speed_mm_s, acceleration_mm_s2=1000.0, corner_mm_s=8.0)
    u, a = 8.0 / math.sqrt(2.0), 1000.0
    # 118.2 mm in 6 s; the start lies in a corner, so every side runs from corner to corner
    speed = BOX_LOOP / 6.0
    loop = 0.0
    for side in (LONG - BEAD_MM, WIDE - BEAD_MM):
        ramps = (speed**2 - u * u) / a
        loop += 2.0 * (2.0 * (speed - u) / a + (side - ramps) / speed)
    inner = seconds[path.layer == 20].sum()
    assert inner == pytest.approx(loop, rel=1e-6)


def test_the_bead_section_is_the_documented_one() -> None:
    assert bead_area_mm2(bead_mm=BEAD_MM, layer_mm=LAYER_MM) == pytest.approx(AREA, rel=1e-15)
