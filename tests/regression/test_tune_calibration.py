"""Calibration by hand: what each value hangs on, and when readings are questioned."""

from __future__ import annotations

import math
from typing import Any

import pytest
from simulated_coupons import Hidden, measured, readings

from wingpath.io.profile_store import load_filament
from wingpath.model.profiles import FilamentProfile, profile_from_dict
from wingpath.model.spec_printing import PrintSpec
from wingpath.tune.bands import bands_of
from wingpath.tune.calibrated_profile import calibrated_profile
from wingpath.tune.calibration import Calibration, calibrate
from wingpath.tune.estimates import from_readings
from wingpath.tune.window import SlotWindow, slot_window

BASE = load_filament("foaming-pla")
CLEAN = measured(Hidden(), None)
HOT = Hidden(temperature_c=240.0, flow=0.44, ratio=2.7)


def calibrated(*coupons: dict[str, Any], base: FilamentProfile = BASE, **changes: Any) -> Calibration:
    return calibrate(readings(*coupons, **changes), base)


def profile_of(*coupons: dict[str, Any], base: FilamentProfile = BASE, **changes: Any) -> FilamentProfile:
    return calibrated_profile(calibrated(*coupons, base=base, **changes))


def window_of(filament: FilamentProfile, temperature_c: float = 230.0, flow: float = 0.5) -> SlotWindow:
    return slot_window(
        nozzle_mm=0.4,
        bead_mm=0.45,
        layer_mm=0.25,
        filament=filament,
        temperature_c=temperature_c,
        flow=flow,
    )


def without(*keys: str) -> dict[str, Any]:
    return {key: value for key, value in CLEAN.items() if key not in keys}


def printed(temperature_c: float = 230.0, flow: float = 0.5) -> PrintSpec:
    return PrintSpec(temperature_c=temperature_c, flow=flow)


# --- calibration ---------------------------------------------------------------------------------------


def test_a_row_on_which_no_slot_fused_bounds_from_above_only() -> None:
    thin = Hidden(flow=0.5, ratio=1.8)
    calibration = calibrated(measured(thin, None))
    assert calibration.measurements.coupons[0].slot_fused == 0
    assert not [f for f in calibration.findings if f.code == "disagreement" and "slot" in f.message]
    assert calibration.bond_extra is None
    profile = calibrated_profile(calibration)
    assert profile.bond_extra_mm == BASE.bond_extra_mm
    # a bead that swells, but did not fuse, bridges less than its swelling
    swollen = profile_of(CLEAN | {"slot_fused": 0})
    assert swollen.bonded_gap_mm(0.45, 0.5, 230.0) == pytest.approx(0.0, abs=1e-6)


def test_a_row_on_which_all_slots_fused_bounds_from_below_only() -> None:
    thick = CLEAN | {"wall_mm": [0.66] * 3, "strip_mm": [1.11] * 3, "slot_fused": 6}
    calibration = calibrated(thick)
    assert calibration.bond_extra is None
    assert calibrated_profile(calibration).bond_extra_mm == 0.0
    more = calibrated(CLEAN | {"wall_mm": [0.61] * 3, "strip_mm": [1.06] * 3, "slot_fused": 6})
    assert more.bond_extra is not None
    assert more.bond_extra.safe == pytest.approx(0.18 - 0.16)


def test_two_coupons_at_one_temperature_share_one_swelling() -> None:
    other = measured(Hidden(ratio=2.45, flow=0.49), None)
    profile = profile_of(CLEAN, other)
    slots = [0.0, *readings(CLEAN).printed.slots_mm]
    assert profile.bonded_gap_mm(0.45, 0.5, 230.0) == pytest.approx(slots[CLEAN["slot_fused"]], abs=1e-4)


def test_another_spool_makes_what_was_measured_assumed() -> None:
    before = profile_of(CLEAN)
    only = {"temperature_c": 220.0, "flow": 0.66, "filament_mm3": 2700.0, "wall_mm": [0.5346] * 3}
    other = profile_of(only, base=before, spool="black, opened today", name="black")
    assert other.density_g_cm3 == before.density_g_cm3
    for key in ("density_g_cm3", "e_modulus_mpa", "bond_extra_mm"):
        source = other.source_of(key)
        assert source is not None
        assert source.kind == "judgement"
        assert "taken over from" in source.note
    assert other.feed_band == 0.05
    assert not other.calibrated
    assert bands_of(other, printed(220.0, 0.66)).modulus > 2.0 * bands_of(before, printed()).modulus
    same = profile_of(only, base=before, name="white-2")
    assert same.calibrated
    assert same.feed_band == 0.0
    assert same.calibration is not None
    assert same.calibration.strip_temperature_c == 230.0
    kept = same.source_of("density_g_cm3")
    assert kept is not None
    assert kept.kind == "measured"


def test_another_spool_may_weigh_and_bend_otherwise() -> None:
    before = profile_of(CLEAN)
    # five per cent denser and half as stiff again: another spool, and no contradiction
    fresh = measured(Hidden(density=1.28, modulus=760.0), None)
    other = calibrated(fresh, base=before, spool="black, opened today", name="black")
    assert [f for f in other.findings if f.code == "disagreement"] == []
    assert other.base.calibration is None
    assert not any(row.measured for row in other.base.foaming)
    assert (other.base.feed_band, other.base.foaming_band) == (0.05, 0.1)
    modulus = other.base.source_of("e_modulus_mpa")
    assert modulus is not None
    assert modulus.low is not None
    assert modulus.high is not None
    assert modulus.low <= 0.701 * before.e_modulus_mpa
    assert modulus.high >= 1.299 * before.e_modulus_mpa
    # of the spool that was measured before, so much is asked about
    same = calibrated(fresh, base=before, name="white-2")
    assert [f for f in same.findings if f.code == "disagreement"]
    assert same.base is before


def test_complete_asks_for_mass_and_wall_of_the_first_coupon() -> None:
    bare = without("mass_g", "wall_mm", "strip_mm", "droop")
    assert not calibrated(bare, measured(HOT, None)).complete
    assert not calibrated(without("mass_g")).complete
    assert calibrated(CLEAN).complete


def test_not_measured_names_what_no_coupon_told() -> None:
    finding = calibrated(
        {key: CLEAN[key] for key in ("temperature_c", "flow", "filament_mm3", "mass_g")}
    ).findings[0]
    assert all(key in finding.message for key in ("wall_mm", "slot_fused", "bore_slide", "droop"))
    assert "mass_g" not in finding.message
    bare = without("mass_g", "wall_mm", "strip_mm", "droop")
    assert not [f for f in calibrated(bare, measured(HOT, None)).findings if f.code == "not-measured"]


def test_fits_come_from_the_first_coupon_that_tried_them() -> None:
    bare = without("bore_slide", "bore_push", "bore_loose", "tab_slide", "lean_clean")
    profile = profile_of(bare, measured(HOT, None) | {"bore_slide": 4, "lean_clean": 1})
    assert profile.bore_allowance_mm == 0.4
    assert profile.overhang_limit_deg == 45.0
    source = profile.source_of("bore_allowance_mm")
    assert source is not None
    assert "240 °C" in source.note


def test_a_push_fit_alone_lifts_the_sliding_one() -> None:
    profile = profile_of(without("bore_slide", "bore_loose") | {"bore_push": 4})
    assert (profile.bore_push_mm, profile.bore_allowance_mm) == (0.4, 0.4)
    source = profile.source_of("bore_allowance_mm")
    assert source is not None
    assert source.kind == "judgement"
    assert profile_of(without("bore_slide", "bore_loose") | {"bore_push": 2}).bore_allowance_mm == 0.3


def test_what_was_never_seen_counts_as_assumed() -> None:
    none = {"bore_push": 0, "bore_slide": 0, "bore_loose": 0, "tab_slide": 0, "lean_clean": 0}
    calibration = calibrated(CLEAN | none)
    beyond = [f for f in calibration.findings if f.code == "beyond-row"]
    assert len(beyond) == 5
    assert {f.severity for f in beyond} == {"warning"}
    profile = calibrated_profile(calibration)
    assert profile.bore_allowance_mm == pytest.approx(0.6)
    assert profile.overhang_limit_deg == 40.0
    for key in (
        "bore_push_mm",
        "bore_allowance_mm",
        "bore_loose_mm",
        "tab_allowance_mm",
        "overhang_limit_deg",
    ):
        source = profile.source_of(key)
        assert source is not None
        assert source.kind == "judgement"
        assert source.low is None


def test_foaming_that_falls_with_heat_is_questioned() -> None:
    cool = measured(Hidden(temperature_c=225.0, flow=0.4, ratio=2.95, modulus=500.0), None)
    found = calibrated(CLEAN, cool).findings
    named = [f for f in found if "coupon[1].wall_mm and coupon[0].wall_mm" in f.message]
    assert [f.severity for f in named] == ["warning"]


def test_foaming_far_off_the_table_is_questioned() -> None:
    flat = CLEAN | {"wall_mm": [0.225] * 3, "slot_fused": 0}
    flat = {key: value for key, value in flat.items() if key not in ("strip_mm", "droop")}
    found = calibrated(flat).findings
    assert any("wall_mm and coupon[0].temperature_c" in f.message for f in found)


def test_strips_that_do_not_go_with_their_foaming_are_questioned() -> None:
    cool = measured(Hidden(temperature_c=210.0, flow=0.85, ratio=1.4, modulus=700.0), None)
    calibration = calibrated(CLEAN, cool)
    named = [f for f in calibration.findings if "coupon[1].droop and coupon[0].droop" in f.message]
    assert [f.severity for f in named] == ["warning"]
    assert calibration.exponent is None
    assert calibrated_profile(calibration).stiffness_exponent == BASE.stiffness_exponent


def test_an_exponent_needs_foaming_that_differs() -> None:
    near = measured(Hidden(temperature_c=225.0, flow=0.55, ratio=1.9), None)
    assert calibrated(CLEAN, near).exponent is None


def test_the_worst_band_of_foaming_is_the_one_that_is_kept() -> None:
    other = measured(Hidden(temperature_c=220.0, flow=0.66, ratio=1.8), None) | {
        "wall_mm": [0.45 * 0.66 * 1.8]
    }
    calibration = calibrated(CLEAN, other)
    worst = max(estimate.half_width / estimate.value for _, estimate in calibration.ratios)
    profile = calibrated_profile(calibration)
    assert profile.foaming_band == pytest.approx(worst, rel=1e-4)
    assert profile.calibration is not None
    assert profile.calibration.flow == (0.5, 0.66)
    assert profile.calibration.temperature_c == (230.0, 220.0)


def test_one_reading_alone_is_taken_to_scatter_like_its_tool() -> None:
    assert from_readings([0.54], tool=0.03).half_width == pytest.approx(0.03 * math.sqrt(2.0))


def test_every_tool_of_the_bending_counts() -> None:
    fine = {"calliper_mm": 0.001, "scale_g": 0.03, "hung_g": 0.0005, "length_mm": 0.01, "droop_mm": 0.01}
    one = CLEAN | {"strip_height_mm": 12.0, "droop": CLEAN["droop"][:1]}
    hung, droop = one["droop"][0]["mass_g"], one["droop"][0]["droop_mm"]
    for tool, off, least in (
        ("length_mm", 2.0, 3.0 * 2.0 / 60.0),
        ("hung_g", 0.5, 0.5 / hung),
        ("droop_mm", 0.5, 0.5 / droop),
        ("calliper_mm", 0.05, 3.0 * 0.05 / 0.97875),
    ):
        modulus = calibrated(one, tools=fine | {tool: off}).coupons[0].modulus
        assert modulus is not None
        assert 0.99 * least <= modulus.half_width / modulus.value <= 1.2 * least, tool


def test_the_height_of_the_strip_counts() -> None:
    high, low = (calibrated(CLEAN | {"strip_height_mm": h}).coupons[0].modulus for h in (12.0, 10.0))
    assert high is not None
    assert low is not None
    assert low.value == pytest.approx(1.2 * high.value)


@pytest.mark.parametrize(("sigmas", "said"), [(2.2, []), (2.8, ["warning"]), (4.6, ["error"])])
def test_when_a_pair_is_questioned_and_when_refused(sigmas: float, said: list[str]) -> None:
    density = calibrated(CLEAN).coupons[0].density
    assert density is not None
    sigma = math.hypot(density.relative * BASE.density_g_cm3, 0.08 * BASE.density_g_cm3 / 1.959964)
    mass = (BASE.density_g_cm3 + sigmas * sigma) * CLEAN["filament_mm3"] / 1000.0
    found = calibrated(CLEAN | {"mass_g": mass}).findings
    asked = [f for f in found if f.code == "disagreement"]
    assert [f.severity for f in asked] == said
    assert {f.unit for f in asked} <= {"g/cm3"}
    assert all(f.limit == BASE.density_g_cm3 for f in asked)


def test_a_calibrated_feed_still_leaves_some_room() -> None:
    known = BASE.model_copy(update={"feed_band": 0.0})
    mass = BASE.density_g_cm3 * CLEAN["filament_mm3"] / 1000.0
    for share, asked in ((1.03, False), (1.06, True)):
        found = calibrated(CLEAN | {"mass_g": share * mass}, base=known).findings
        assert any(f.code == "disagreement" for f in found) == asked


def test_a_strip_far_too_soft_is_questioned() -> None:
    soft = [row | {"mass_g": row["mass_g"] / 6.0} for row in CLEAN["droop"]]
    found = calibrated(CLEAN | {"droop": soft}, tools={"hung_g": 0.01}).findings
    assert any("droop and coupon[0].strip_mm" in f.message for f in found)


def test_what_is_not_measured_is_carried_over() -> None:
    rows = ({"temperature_c": 20.0, "share": 1.0}, {"temperature_c": 70.0, "share": 0.1})
    data = BASE.model_dump() | {"warm_stiffness": rows, "glue_shear_mpa": 1.7}
    base = profile_from_dict(FilamentProfile, data, source="test")
    profile = profile_of(measured(Hidden(), None), base=base)
    assert profile.warm_stiffness == base.warm_stiffness != BASE.warm_stiffness
    assert profile.glue_shear_mpa == 1.7
    for key in ("warm_stiffness", "glue_shear_mpa"):
        assert profile.source_of(key) == base.source_of(key)
