"""Numbers beside questions, bands and windows, and how a profile's table is carried on."""

from __future__ import annotations

import copy
import math
import re
from typing import Any

import numpy as np
import pytest
from simulated_coupons import Hidden, measured, readings

from wingpath import Finding
from wingpath.io.profile_store import load_filament
from wingpath.model.profiles import FilamentProfile, profile_from_dict
from wingpath.model.spec_printing import PrintSpec
from wingpath.tune.bands import bands_of, foaming_band_at
from wingpath.tune.calibrated_profile import calibrated_profile, foaming_through
from wingpath.tune.calibration import calibrate
from wingpath.tune.coupon_plan import TAB_WIDTH_MM, coupon_plan
from wingpath.tune.other_spool import taken_over
from wingpath.tune.window import bead_for_nozzle_mm, slot_window, window_findings

FOAM, SOLID = load_filament("foaming-pla"), load_filament("pla")
CLEAN = measured(Hidden(), np.random.default_rng(3))


def with_changes(base: FilamentProfile, **changes: Any) -> FilamentProfile:
    data = base.model_dump() | {"sources": dict(base.sources)} | changes
    return profile_from_dict(FilamentProfile, data, source="changed")


def questions(**changes: Any) -> list[Finding]:
    found = calibrate(readings(copy.deepcopy(CLEAN) | changes), FOAM).findings
    return [finding for finding in found if finding.code == "disagreement"]


@pytest.mark.parametrize(("walls", "middle"), [([0.44, 0.66], 0.66), ([0.54, 0.45, 0.64], 0.54)])
def test_readings_of_one_wall_are_held_against_three_tenths_of_their_middle(
    walls: list[float], middle: float
) -> None:
    scattered = next(finding for finding in questions(wall_mm=walls) if "of one wall" in finding.message)
    assert scattered.found == pytest.approx(max(walls) - min(walls))
    assert scattered.limit == pytest.approx(0.3 * middle)
    assert scattered.unit == "mm"


@pytest.mark.parametrize("bent", [True, False])
def test_the_profile_remembers_the_temperature_of_a_strip_that_was_bent(bent: bool) -> None:
    coupon = copy.deepcopy(CLEAN) | ({} if bent else {"droop": []})
    record = calibrated_profile(calibrate(readings(coupon), FOAM)).calibration
    assert record is not None
    assert record.strip_temperature_c == (CLEAN["temperature_c"] if bent else None)


def test_where_the_base_hardly_foams_the_ratio_itself_is_scaled() -> None:
    table = [{"temperature_c": t, "ratio": ratio} for t, ratio in ((200.0, 1.0), (215.0, 1.1), (230.0, 1.5))]
    base = with_changes(SOLID, foaming=table)
    rows = {row["temperature_c"]: row["ratio"] for row in foaming_through(base, [(200.0, 0.9)])}
    assert rows == pytest.approx({200.0: 0.9, 215.0: 0.99, 230.0: 1.35})
    # one measured temperature at which it does not foam is enough for that
    rows = {row["temperature_c"]: row["ratio"] for row in foaming_through(base, [(200.0, 1.0), (230.0, 1.8)])}
    assert rows == pytest.approx({200.0: 1.0, 215.0: 1.1 * 1.1, 230.0: 1.8})


def test_the_exponent_counts_for_nothing_in_a_filament_that_does_not_foam() -> None:
    settings = PrintSpec(temperature_c=210.0)
    assert SOLID.foaming_ratio(210.0) <= 1.0
    source = SOLID.source_of("e_modulus_mpa")
    assert source is not None
    assert source.low is not None
    assert source.high is not None
    own = max(source.high - SOLID.e_modulus_mpa, SOLID.e_modulus_mpa - source.low) / SOLID.e_modulus_mpa
    foam = SOLID.stiffness_exponent * foaming_band_at(SOLID, 210.0)
    assert bands_of(SOLID, settings).modulus == pytest.approx(math.hypot(own, foam))


def test_a_reach_without_a_range_leaves_the_bands_of_foam_and_feed_alone() -> None:
    sources = {key: source for key, source in FOAM.sources if key != "bond_extra_mm"}
    plain = with_changes(FOAM, sources=sources, bond_extra_mm=0.02)
    found = slot_window(
        nozzle_mm=0.4, bead_mm=0.45, layer_mm=0.25, filament=plain, temperature_c=230.0, flow=0.5
    )
    filled = 0.45 * 0.5 * plain.foaming_ratio(230.0)
    spread = math.hypot(foaming_band_at(plain, 230.0), plain.feed_band) * filled
    assert filled - 0.45 + 0.02 > spread > 0.0
    assert found.widest_low_mm == pytest.approx(filled - 0.45 + 0.02 - spread)
    assert found.widest_high_mm == pytest.approx(filled - 0.45 + 0.02 + spread)


def test_where_slots_were_tried_the_window_has_the_range_of_that_trial() -> None:
    tried = calibrated_profile(calibrate(readings(copy.deepcopy(CLEAN)), FOAM))
    record, source = tried.calibration, tried.source_of("bond_extra_mm")
    assert record is not None
    assert source is not None
    assert source.low is not None
    assert source.high is not None
    found = slot_window(
        nozzle_mm=record.nozzle_mm,
        bead_mm=record.bead_mm,
        layer_mm=record.layer_mm,
        filament=tried,
        temperature_c=record.temperature_c[0],
        flow=record.flow[0],
    )
    bare = record.bead_mm * (record.flow[0] * tried.foaming_ratio(record.temperature_c[0]) - 1.0)
    assert found.widest_low_mm == pytest.approx(max(0.0, bare + source.low))
    assert found.widest_high_mm == pytest.approx(max(0.0, bare + source.high))
    assert found.widest_low_mm < found.widest_high_mm


@pytest.mark.parametrize(
    ("changes", "code", "limit"),
    [
        ({"bead_mm": 0.35}, "odd-bead", 0.40),
        ({"bead_mm": 0.85}, "odd-bead", 0.80),
        ({"layer_mm": 0.34}, "odd-layer", 0.32),
        ({"layer_mm": 0.08}, "odd-layer", 0.10),
    ],
)
def test_odd_sizes_name_the_bound_that_they_break(changes: dict[str, float], code: str, limit: float) -> None:
    sizes = {"nozzle_mm": 0.4, "bead_mm": 0.45, "layer_mm": 0.25} | changes
    window = slot_window(**sizes, filament=FOAM, temperature_c=230.0, flow=0.5)  # type: ignore[arg-type]
    told = next(finding for finding in window_findings(window, FOAM) if finding.code == code)
    assert told.found == pytest.approx(*changes.values())
    assert told.limit == pytest.approx(limit)
    assert limit in [float(number) for number in re.findall(r"\d\.\d\d", told.message)]


@pytest.mark.parametrize(("tube", "tab"), [(4.0, 1.0), (6.0, 1.5), (10.0, 3.0)])
@pytest.mark.parametrize("bead", [0.4, 0.8, 1.2])
def test_a_coupon_is_deep_enough_for_its_widest_bore_and_its_notches_stand_clear(
    bead: float, tube: float, tab: float
) -> None:
    plan = coupon_plan(nozzle_mm=bead / 1.1, bead_mm=bead, layer_mm=0.25, tube_mm=tube, tab_mm=tab)
    # a slit to cut with, the bore, and solid behind it
    assert plan.lower_depth_mm > 2.0 + tube + plan.bores[-1].size_mm + 1.6 * bead
    assert plan.lower_depth_mm > 2.0 + TAB_WIDTH_MM + plan.tabs[-1].size_mm + 1.6 * bead
    for steps, notches, base in (
        (plan.slots, plan.slot_notches, 0.0),
        (plan.tabs, plan.tab_notches, tab),
    ):
        end = 0.0
        for step, marks in zip(steps, notches, strict=True):
            assert len(marks.x_mm) == step.number
            assert np.all(np.diff(marks.x_mm) >= 2.5 * bead)
            # solid for two beads between what stands before, the marks, and what they tell
            assert marks.x_mm[0] - end >= 1.9 * bead
            assert step.x_mm - 0.5 * (base + step.size_mm) - marks.x_mm[-1] >= 1.9 * bead
            end = step.x_mm + 0.5 * (base + step.size_mm)


@pytest.mark.parametrize(
    "changes",
    [{"slot_fused": 0}, {"wall_mm": [0.43, 0.44, 0.43], "strip_mm": [], "droop": [], "slot_fused": 3}],
)
def test_a_row_of_slots_tells_its_limit_even_where_the_wall_says_otherwise(changes: dict[str, Any]) -> None:
    assert calibrate(readings(copy.deepcopy(CLEAN) | changes), FOAM).bond_extra is not None


def test_a_row_that_only_confirms_the_wall_tells_no_limit() -> None:
    # nothing fused, and the bead did not swell; its walls are as wide as the bead
    changes = {"wall_mm": [0.44, 0.44, 0.44], "strip_mm": [], "droop": [], "slot_fused": 0}
    assert calibrate(readings(copy.deepcopy(CLEAN) | changes), FOAM).bond_extra is None


@pytest.mark.parametrize(("temperature", "hotter"), [(200.0, True), (FOAM.temperature_max_c, False)])
def test_more_heat_is_a_remedy_only_where_it_makes_more_foam(temperature: float, hotter: bool) -> None:
    window = slot_window(
        nozzle_mm=0.4, bead_mm=0.45, layer_mm=0.25, filament=FOAM, temperature_c=temperature, flow=0.2
    )
    told = next(finding for finding in window_findings(window, FOAM) if finding.code == "underfilled")
    assert ("or print hotter" in told.remedy) is hotter


def test_the_suggestion_leaves_two_fifths_of_what_the_bead_bridges() -> None:
    window = slot_window(
        nozzle_mm=0.8, bead_mm=0.88, layer_mm=0.4, filament=FOAM, temperature_c=230.0, flow=0.55
    )
    assert window.suggested_mm == pytest.approx(0.6 * window.widest_mm, abs=0.0025 + 1e-9)


@pytest.mark.parametrize(("nozzle", "bead"), [(0.25, 0.28), (0.4, 0.45), (0.35, 0.39)])
def test_a_bead_for_a_nozzle_is_an_eighth_wider_to_a_hundredth(nozzle: float, bead: float) -> None:
    assert bead_for_nozzle_mm(nozzle) == bead


def test_another_spool_widens_the_bands_that_were_measured() -> None:
    tried = calibrated_profile(calibrate(readings(copy.deepcopy(CLEAN)), FOAM))
    other = taken_over(tried, readings(copy.deepcopy(CLEAN), spool="another spool"))
    assert tried.calibrated
    assert not other.calibrated
    assert (other.feed_band, other.foaming_band) == (
        max(tried.feed_band, 0.05),
        max(tried.foaming_band, 0.1),
    )
    source = other.source_of("e_modulus_mpa")
    assert source is not None
    assert source.kind == "judgement"
    assert source.low == pytest.approx(0.7 * tried.e_modulus_mpa)
    assert source.high == pytest.approx(1.3 * tried.e_modulus_mpa)
