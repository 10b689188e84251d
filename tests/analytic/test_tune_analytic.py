"""The slot window and the coupon against closed forms."""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest
import shapely

from wingpath.build.bead import bead_area_mm2
from wingpath.build.ceiling import ceiling_of_sections
from wingpath.build.slot_planning import slots_of_planes
from wingpath.io.profile_store import load_filament
from wingpath.model.ribs import RibPlane
from wingpath.tune.coupon_plan import CouponPlan, coupon_plan
from wingpath.tune.coupon_solid import coupon_mesh, coupon_region
from wingpath.tune.window import (
    SlotWindow,
    bead_for_nozzle_mm,
    layer_for_bead_mm,
    overlap_share,
    slot_window,
)

FOAM = load_filament("foaming-pla")
PLAIN = load_filament("pla")


def window(flow: float = 0.5, temperature_c: float = 230.0, **changes: float) -> SlotWindow:
    sizes = {"nozzle_mm": 0.4, "bead_mm": 0.45, "layer_mm": 0.25} | changes
    return slot_window(**sizes, filament=FOAM, temperature_c=temperature_c, flow=flow)  # type: ignore[arg-type]


# layer 0.20 under bead 0.45: 1 - h tan(lean) / w, worked out by hand to whole per cent
@pytest.mark.parametrize(("lean", "per_cent"), [(0, 100), (30, 74), (45, 56), (50, 47), (60, 23), (70, 0)])
def test_the_table_of_overlaps(lean: float, per_cent: float) -> None:
    assert 100.0 * overlap_share(lean, bead_mm=0.45, layer_mm=0.20) == pytest.approx(per_cent, abs=0.5)


@pytest.mark.parametrize("lean", [10.0, 45.0, 57.0])
def test_overlaps_are_those_of_two_boxes(lean: float) -> None:
    step = 0.25 * math.tan(math.radians(lean))
    below, above = shapely.box(0, 0, 0.45, 1), shapely.box(step, 0, step + 0.45, 1)
    shared = shapely.area(shapely.intersection(below, above)) / 0.45
    assert overlap_share(lean, bead_mm=0.45, layer_mm=0.25) == pytest.approx(shared)


@pytest.mark.parametrize(("bead", "layer"), [(0.45, 0.25), (0.45, 0.2), (0.9, 0.5), (0.28, 0.28)])
def test_the_section_of_a_bead_is_a_rectangle_with_round_ends(bead: float, layer: float) -> None:
    flat = shapely.LineString([(0.0, 0.0), (max(bead - layer, 1e-9), 0.0)])
    drawn = shapely.area(shapely.buffer(flat, 0.5 * layer, quad_segs=256))
    assert bead_area_mm2(bead_mm=bead, layer_mm=layer) == pytest.approx(drawn, rel=1e-4)


# g 0.05 -> 11 per cent, 0.1 -> 22, 0.2 -> 44 for a bead of 0.45
@pytest.mark.parametrize(("gap", "swelling"), [(0.05, 0.11), (0.1, 0.22), (0.2, 0.44)])
def test_the_widest_slot_just_closes(gap: float, swelling: float) -> None:
    ratio = FOAM.foaming_ratio(240.0)
    flow = (1.0 + gap / 0.45) / ratio
    found = window(flow=flow, temperature_c=240.0)
    assert found.widest_mm == pytest.approx(gap)
    assert found.fill - 1.0 == pytest.approx(swelling, abs=5e-3)
    assert found.real_bead_mm == pytest.approx(0.45 + gap)


def test_a_window_by_hand() -> None:
    found = window()
    # 230 degrees: 2.44 times; 0.5 x 2.44 = 1.22; 0.22 x 0.45 = 0.099
    assert (found.foaming_ratio, found.fill) == (2.44, 1.22)
    assert found.widest_mm == pytest.approx(0.099)
    assert found.neck_mm == pytest.approx((0.45, 0.765, 0.9))
    # two necks of 1.7 beads are more than one and the least depth of 1.5
    assert found.least_thickness_mm == pytest.approx(1.53)
    # 4 mm3/s over 0.5 of (0.45 - 0.25) 0.25 + pi 0.25^2 / 4 = 0.0991 mm2
    assert found.fastest_mm_s == pytest.approx(4.0 / (0.5 * 0.0990874), rel=1e-5)
    assert found.least_mm < found.suggested_mm < found.widest_mm  # type: ignore[operator]
    # 20 per cent of foaming and 8 of feed, of a bead of 0.549 mm, and 0.05 of what flanks bridge
    half = math.hypot(0.549 * math.hypot(0.2, 0.08), 0.05)
    assert (found.widest_low_mm, found.widest_high_mm) == pytest.approx((0.0, 0.099 + half))


def test_solid_filament_has_no_window() -> None:
    found = slot_window(
        nozzle_mm=0.4, bead_mm=0.45, layer_mm=0.25, filament=PLAIN, temperature_c=210.0, flow=1.0
    )
    assert found.empty
    assert found.widest_mm == 0.0


def test_another_program_needs_wider_slots() -> None:
    found = slot_window(
        nozzle_mm=0.4,
        bead_mm=0.45,
        layer_mm=0.25,
        filament=FOAM,
        temperature_c=230.0,
        flow=0.5,
        resolution_mm=0.04,
    )
    assert found.least_mm == pytest.approx(0.08)
    assert "resolution" in found.least_reason


@pytest.mark.parametrize(("more", "ribs"), [(0.02, 1), (-0.02, 0)])
def test_the_thinnest_section_is_that_at_which_ribs_begin(more: float, ribs: int) -> None:
    bead = 0.45
    thick = window().least_thickness_mm + more
    ring = np.array([[0.0, 0.0], [80.0, 0.0], [80.0, thick], [0.0, thick]])
    ceiling = ceiling_of_sections(np.linspace(0.0, 20.0, 41), lambda _z: ring, neck_mm=1.7 * bead)
    plane = RibPlane("rib", "aft", np.array([-10.0, 30.0]), np.array([30.0, 50.0]))
    slots = slots_of_planes(
        [plane], ceiling, (), start_mm=0.0, end_mm=20.0, bead_mm=bead, width_mm=0.06, rise=1.0
    )
    assert len(slots) == ribs


def plan_of(nozzle: float, **changes: float) -> CouponPlan:
    bead = bead_for_nozzle_mm(nozzle)
    return coupon_plan(nozzle_mm=nozzle, bead_mm=bead, layer_mm=layer_for_bead_mm(bead), **changes)


def leaning_volume(plan: CouponPlan) -> float:
    """Return what leans out of the arm: trapezia under its profile times the arm's depth [mm3]."""
    volume = 0.0
    reach = 0.0
    step = plan.height_mm / len(plan.leans_deg)
    for lean in plan.leans_deg:
        upright = 2.0 * plan.layer_mm
        grown = (step - upright) * math.tan(math.radians(lean))
        volume += step * reach + 0.5 * (step - upright) * grown
        reach += grown
    return volume * plan.upper_depth_mm


@pytest.mark.parametrize("nozzle", [0.25, 0.4, 0.8])
def test_the_volume_of_the_coupon(nozzle: float) -> None:
    plan = plan_of(nozzle)
    flat = shapely.area(coupon_region(plan)) * plan.height_mm
    assert coupon_mesh(plan).volume_mm3 == pytest.approx(flat + leaning_volume(plan), rel=1e-9)


def test_the_area_of_the_coupon_by_hand() -> None:
    plan = plan_of(0.4)
    bead, neck = 0.45, 1.7 * 0.45
    box = 24.0 * plan.top_mm
    arms = plan.lower_end_mm * plan.lower_depth_mm + plan.upper_end_mm * plan.upper_depth_mm
    strip = 70.0 * 2.0 * bead + (4.0 * bead) * (4.0 * bead - 2.0 * bead)
    # 15 notches for five bores, 10 for four tab slots, 21 for six slots; trapezia
    notches = (15 + 10 + 21) * 0.5 * (2.2 + 1.1) * bead * 1.2 * bead
    slots = sum(step.size_mm for step in plan.slots) * (plan.upper_depth_mm - neck)
    area = box + arms + strip + notches - slots
    for step in plan.bores:
        radius = 0.5 * (6.0 + step.size_mm)
        sides = 96 * radius**2 * math.tan(math.pi / 96)
        below = plan.lower_depth_mm - neck - 2.0 * radius
        # the slit meets the circle where it is as wide as the slit
        half = 0.5 * plan.slit_mm
        area -= sides + plan.slit_mm * (below + radius - math.sqrt(radius**2 - half**2))
    for step in plan.tabs:
        wide, high = 3.0 + step.size_mm, 8.0 + step.size_mm
        area -= wide * high + plan.slit_mm * (plan.lower_depth_mm - neck - high)
    assert shapely.area(coupon_region(plan)) == pytest.approx(area, abs=2e-3)


@pytest.mark.parametrize("nozzle", [0.25, 0.4, 0.8])
def test_a_bore_takes_the_tube_and_its_clearance(nozzle: float) -> None:
    plan = plan_of(nozzle, tube_mm=5.0)
    region = coupon_region(plan)
    for step in plan.bores:
        centre = shapely.Point(plan.bore_centre_mm(step))
        assert centre.distance(region) == pytest.approx(0.5 * (5.0 + step.size_mm), abs=1e-6)


def test_necks_of_the_coupon_are_necks() -> None:
    plan = plan_of(0.4)
    for step in plan.bores:
        top = plan.bore_centre_mm(step)[1] + plan.bore_radius_mm(step)
        assert plan.lower_depth_mm - top == pytest.approx(plan.neck_mm)
    assert all(plan.tab_corners_mm(step)[3] == plan.lower_depth_mm - plan.neck_mm for step in plan.tabs)
    assert 0.45 < plan.neck_mm < 0.9


@pytest.mark.parametrize("nozzle", [0.25, 0.3, 0.4, 0.5, 0.6, 0.8])
def test_steps_stand_apart_and_rise(nozzle: float) -> None:
    plan = plan_of(nozzle, tube_mm=8.0)
    for row, size in ((plan.slots, 0.0), (plan.bores, 8.0), (plan.tabs, 3.0)):
        assert [step.number for step in row] == list(range(1, len(row) + 1))
        assert all(b.size_mm > a.size_mm for a, b in itertools.pairwise(row))
        for a, b in itertools.pairwise(row):
            free = b.x_mm - a.x_mm - size - 0.5 * (a.size_mm + b.size_mm)
            assert free > 2.0 * plan.bead_mm
    counts = [len(notches.x_mm) for notches in plan.slot_notches]
    assert counts == [1, 2, 3, 4, 5, 6]
    for notches, step in zip(plan.slot_notches, plan.slots, strict=True):
        assert max(notches.x_mm) + 1.1 * plan.bead_mm < step.x_mm
