"""Numbers of window, bands, clearances, files and sheet worked out by hand."""

from __future__ import annotations

import copy
import math
from typing import Any

import numpy as np
import pytest
from simulated_coupons import PLAN, Hidden, measured, readings
from wings import SMALL_WING

from wingpath import SpecError, build_wing, spec_from_dict
from wingpath.io.calibrated_profile_toml import calibrated_profile_text, write_calibrated_profile
from wingpath.io.profile_store import load_filament
from wingpath.model.clearances import with_clearances
from wingpath.model.profiles import FilamentProfile
from wingpath.model.spec_printing import PrintSpec
from wingpath.pipeline.bands_document import bands_document
from wingpath.pipeline.coupon_making import make_coupons, write_coupons
from wingpath.pipeline.tune_options import printing_settings, tune_options
from wingpath.report.sheet import SheetFacts, hung_mass_g
from wingpath.tune.bands import bands_of, foaming_band_at, slots_were_tried
from wingpath.tune.calibrated_profile import calibrated_profile
from wingpath.tune.calibration import Calibration, calibrate
from wingpath.tune.cantilever import droop_share_of_load
from wingpath.tune.coupon_plan import coupon_plan
from wingpath.tune.window import SlotWindow, slot_window, window_findings

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


# --- window --------------------------------------------------------------------------------------------


def test_where_slots_were_tried_the_band_is_theirs() -> None:
    profile = profile_of(CLEAN)
    window, source = window_of(profile), profile.source_of("bond_extra_mm")
    assert source is not None
    assert source.low is not None
    assert source.high is not None
    extra = profile.bond_extra_mm
    assert window.widest_low_mm == pytest.approx(window.widest_mm - (extra - source.low))
    assert window.widest_high_mm == pytest.approx(window.widest_mm + (source.high - extra))
    # elsewhere foaming comes on top, 20 per cent beside what was measured
    there = window_of(profile, 240.0, 0.44)
    change = there.real_bead_mm * math.hypot(0.2, profile.feed_band)
    assert there.widest_high_mm - there.widest_mm == pytest.approx(math.hypot(change, source.high - extra))


def test_without_slots_the_band_is_that_of_foaming_and_flanks() -> None:
    profile = profile_of(without("slot_fused"))
    window = window_of(profile)
    change = window.real_bead_mm * math.hypot(profile.foaming_band, profile.feed_band)
    assert window.widest_high_mm - window.widest_mm == pytest.approx(math.hypot(change, 0.05))


def test_a_calibrated_suggestion_stays_under_the_low_end() -> None:
    profile = profile_of(CLEAN)
    window = window_of(profile, 240.0, 0.44)
    assert window.widest_low_mm < 0.5 * window.widest_mm
    assert window.suggested_mm == pytest.approx(max(window.least_mm, window.widest_low_mm), abs=0.0026)


@pytest.mark.parametrize(
    ("flow", "temperature", "code", "fill"),
    [(0.6, 240.0, "overfilled", 1.2), (0.38, 230.0, "underfilled", 1.0)],
)
def test_remedies_fill_the_bead_when_followed(
    flow: float, temperature: float, code: str, fill: float
) -> None:
    finding = next(f for f in window_findings(window_of(BASE, temperature, flow), BASE) if f.code == code)
    wanted = float(finding.remedy.split("set flow to ")[1].split()[0].rstrip(","))
    assert window_of(BASE, temperature, wanted).fill == pytest.approx(fill, abs=0.02)


@pytest.mark.parametrize("extra", [-0.03, 0.0, 0.02])
@pytest.mark.parametrize("temperature", [215.0, 220.0, 230.0, 245.0])
def test_the_remedy_of_no_window_opens_it(extra: float, temperature: float) -> None:
    filament = BASE.model_copy(update={"bond_extra_mm": extra})
    flow = 0.99 * (1.0 - (extra - 0.02) / 0.45) / filament.foaming_ratio(temperature)
    empty = window_of(filament, temperature, flow)
    finding = next(f for f in window_findings(empty, filament) if f.code == "no-window")
    wanted = float(finding.remedy.split("set flow to ")[1].split()[0])
    assert not window_of(filament, temperature, wanted).empty


def test_solid_filament_is_not_told_to_print_hotter() -> None:
    plain = load_filament("pla")
    found = window_findings(window_of(plain, 210.0, 0.9), plain)
    assert {"no-window", "underfilled"} <= {finding.code for finding in found}
    assert not any("hotter" in finding.remedy for finding in found)
    assert tune_options(filament="pla").settings.flow == 1.0


def test_the_modulus_of_the_foam_by_hand() -> None:
    # 230 degrees: 2.44 times its volume; 3300 / 2.44^2
    assert BASE.foam_modulus_mpa(230.0) == pytest.approx(554.29, abs=0.01)
    # a table that says less than its own volume makes no plastic stiffer than itself
    row = BASE.foaming[0].model_copy(update={"ratio": 0.9})
    assert BASE.model_copy(update={"foaming": (row,)}).foam_modulus_mpa(230.0) == BASE.e_modulus_mpa


def test_what_beads_bridge_is_never_negative() -> None:
    more = BASE.model_copy(update={"bond_extra_mm": 0.03})
    assert more.bonded_gap_mm(0.45, 0.4, 230.0) == pytest.approx(0.45 * (0.4 * 2.44 - 1.0) + 0.03)
    less = BASE.model_copy(update={"bond_extra_mm": -0.2})
    assert less.bonded_gap_mm(0.45, 0.4, 230.0) == 0.0


# --- bands ---------------------------------------------------------------------------------------------


def test_bands_of_the_shipped_filament_by_hand() -> None:
    bands = bands_of(BASE, printed())
    assert bands.bead == pytest.approx(math.hypot(0.2, 0.08))
    assert bands.wall_stiffness == pytest.approx(math.hypot(bands.modulus, bands.bead))
    assert bands.bore_mm == (0.2, 0.5)
    plain = bands_document(bands)
    assert plain["printed_mass_share"] == pytest.approx(bands.mass, abs=1e-4)
    assert plain["bead_share"] == pytest.approx(bands.bead, abs=1e-4)
    assert plain["modulus_share"] == pytest.approx(bands.modulus, abs=1e-4)
    assert plain["wall_stiffness_share"] == pytest.approx(bands.wall_stiffness, abs=1e-4)
    assert plain["bore_slide_mm"] == [0.2, 0.5]


def test_bands_of_a_calibrated_modulus_by_hand() -> None:
    profile = profile_of(CLEAN)
    source = profile.source_of("e_modulus_mpa")
    assert source is not None
    assert source.high is not None
    own = (source.high - profile.e_modulus_mpa) / profile.e_modulus_mpa
    assert bands_of(profile, printed()).modulus == pytest.approx(own, rel=1e-3)
    assert bands_of(profile, printed(234.0)).modulus == pytest.approx(own, rel=0.05)
    way = abs(math.log(profile.foaming_ratio(240.0) / profile.foaming_ratio(230.0)))
    there = math.sqrt(own**2 + (0.5 * way) ** 2 + (2.0 * 0.2) ** 2)
    assert bands_of(profile, printed(240.0)).modulus == pytest.approx(there, rel=1e-3)


def test_the_band_of_foaming_by_temperature() -> None:
    profile = profile_of(CLEAN, measured(Hidden(temperature_c=210.0, flow=0.8, ratio=1.4), None))
    assert foaming_band_at(profile, 230.0) == profile.foaming_band
    assert foaming_band_at(profile, 235.0) == profile.foaming_band
    assert foaming_band_at(profile, 220.0) == 0.1
    assert foaming_band_at(profile, 236.0) == 0.2
    assert foaming_band_at(BASE, 236.0) == BASE.foaming_band


def test_a_coupon_without_a_wall_does_not_make_foaming_known() -> None:
    blank = {key: measured(HOT, None)[key] for key in ("temperature_c", "flow", "filament_mm3", "mass_g")}
    profile = profile_of(CLEAN, blank)
    alone = profile_of(CLEAN)
    assert foaming_band_at(profile, 240.0) == 0.2
    assert bands_of(profile, printed(240.0, 0.44)).modulus == pytest.approx(
        bands_of(alone, printed(240.0, 0.44)).modulus, rel=1e-3
    )


def test_slots_were_tried_only_with_the_flow_of_that_coupon() -> None:
    profile = profile_of(CLEAN, measured(HOT, None))
    assert slots_were_tried(profile, temperature_c=230.0, flow=0.5, bead_mm=0.45, layer_mm=0.25)
    assert not slots_were_tried(profile, temperature_c=230.0, flow=0.42, bead_mm=0.45, layer_mm=0.25)
    assert not slots_were_tried(profile, temperature_c=240.0, flow=0.44, bead_mm=0.45, layer_mm=0.25)


def test_foaming_far_from_what_was_measured_does_not_run_away() -> None:
    profile = profile_of(measured(Hidden(temperature_c=210.0, flow=0.9, ratio=1.6), None))
    most = max(row.ratio for row in BASE.foaming)
    assert max(row.ratio for row in profile.foaming) <= 1.2 * most + 1e-9


# --- clearances, files, options, sheet -----------------------------------------------------------------


def test_clearances_are_the_filaments_and_never_negative() -> None:
    data = SMALL_WING | {
        "tube": [
            {"outer_mm": 4.0, "to_mm": 20.0, "chord_fraction": 0.3},
            {"outer_mm": 3.0, "to_mm": 20.0, "chord_fraction": 0.6, "clearance_mm": 0.0},
        ],
        "tab": [{"thickness_mm": 2.0, "width_mm": 8.0, "depth_mm": 10.0, "chord_fraction": 0.5}],
    }
    spec = spec_from_dict(data)
    tight = BASE.model_copy(update={"bore_allowance_mm": -0.1, "tab_allowance_mm": 0.15})
    found = with_clearances(spec, tight)
    assert [tube.clearance_mm for tube in found.tubes] == [0.0, 0.0]
    assert found.tabs[0].clearance_mm == 0.15
    wide = BASE.model_copy(update={"bore_allowance_mm": 0.4, "tab_allowance_mm": -0.2})
    found = with_clearances(spec, wide)
    assert [tube.clearance_mm for tube in found.tubes] == [0.4, 0.0]
    assert found.tabs[0].clearance_mm == 0.0


def test_every_coupon_of_the_file_has_its_own_flow_and_filament(tmp_path: Any) -> None:
    made = make_coupons(tune_options(), tube_mm=8.0, tab_mm=2.0)
    write_coupons(made, tmp_path)
    text = (tmp_path / "measurements.toml").read_text()
    volumes = [float(part.split()[0]) for part in text.split("filament_mm3 = ")[1:]]
    flows = [float(part.split()[0]) for part in text.split("\nflow = ")[1:]]
    paths = [one.path.toolpath for one in made.prints]
    assert volumes == pytest.approx([float(t.volume_mm3[t.of_part].sum()) for t in paths], abs=0.01)
    assert len({round(volume) for volume in volumes}) == 4
    assert flows == [one.settings.flow for one in made.prints]
    for line in (
        "tube_mm = 8.0",
        "tab_mm = 2.0",
        "nozzle_mm = 0.4",
        f"strip_height_mm = {made.plan.height_mm}",
    ):
        assert line in text


def test_remarks_give_the_range_from_low_to_high() -> None:
    profile = profile_of(CLEAN)
    source = profile.source_of("density_g_cm3")
    assert source is not None
    line = next(
        line
        for line in calibrated_profile_text(profile, file_name="x.toml").splitlines()
        if line.startswith("density")
    )
    assert line.endswith(f"# measured, {source.low:.5g} to {source.high:.5g} g/cm3")


def test_a_calibrated_filament_sets_temperature_and_flow(tmp_path: Any) -> None:
    write_calibrated_profile(tmp_path / "hot.toml", profile_of(measured(HOT, None), name="hot"), force=False)
    settings = tune_options(filament=str(tmp_path / "hot.toml")).settings
    assert (settings.temperature_c, settings.flow) == (240.0, 0.44)
    assert (
        tune_options(filament=str(tmp_path / "hot.toml"), temperature_c=230.0).settings.temperature_c == 230.0
    )
    codes = [f.code for f in build_at(tmp_path, temperature_c=220.0).findings]
    assert "off-calibration" in codes
    assert "off-calibration" not in [f.code for f in build_at(tmp_path, temperature_c=240.0).findings]


def build_at(folder: Any, *, temperature_c: float) -> Any:
    data = SMALL_WING | {
        "filament": {"profile": "hot.toml"},
        "print": {"temperature_c": temperature_c, "flow": 0.44},
        "slots": {"width_mm": 0.02},
    }
    return build_wing(spec_from_dict(data), base_dir=folder)


def test_a_coupon_has_no_brim_to_be_weighed() -> None:
    options = tune_options()
    assert printing_settings(options, 230.0).brim_mm == 0.0
    assert printing_settings(options, 220.0).brim_mm == 0.0


def test_a_wing_filled_too_much_is_told_so() -> None:
    data = SMALL_WING | {"print": {"temperature_c": 240.0, "flow": 0.55}}
    found = [f for f in build_wing(spec_from_dict(data)).findings if f.code == "overfilled"]
    assert [f.severity for f in found] == ["warning"]


def test_steps_of_a_wide_bead() -> None:
    plan = coupon_plan(nozzle_mm=0.8, bead_mm=0.9, layer_mm=0.5)
    assert [step.size_mm for step in plan.slots] == pytest.approx([0.07 * n for n in range(1, 7)])


def test_the_mass_that_the_sheet_names_makes_the_droop_that_it_names() -> None:
    facts = SheetFacts("a", "b", (230.0,), (0.5,), 22.0, 2.5, modulus_mpa=554.0, strip_mm=0.999)
    mass = hung_mass_g(PLAN, facts)
    # 70 mm less 10 in the clamp and the thick end of 1.8 mm; 12 mm high
    length, inertia = 58.2, 12.0 * 0.999**3 / 12.0
    share = droop_share_of_load(mass * 9.80665e-3 * length**2 / (554.0 * inertia))
    assert 0.09 < share < 0.16


@pytest.mark.parametrize("key", ["bore_loose", "bore_push", "tab_slide"])
def test_steps_beyond_each_row_are_refused(key: str) -> None:
    with pytest.raises(SpecError, match=key):
        readings(copy.deepcopy(CLEAN) | {key: 6})


@pytest.mark.parametrize("key", ["lean_clean", "tab_slide", "bore_push", "slot_fused"])
def test_one_reading_is_enough(key: str) -> None:
    only = {name: CLEAN[name] for name in ("temperature_c", "flow", "filament_mm3", key)}
    assert calibrated(only).sound
    assert np.isfinite(profile_of(only).density_g_cm3)
