"""Readings that contradict each other, readings that are missing, and the profile that is written."""

from __future__ import annotations

import copy
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from simulated_coupons import Hidden, file_of, measured, readings
from wings import SMALL_WING

from wingpath import Finding, InputError, SpecError, build_wing, spec_from_dict
from wingpath.io.calibrated_profile_toml import calibrated_profile_text, write_calibrated_profile
from wingpath.io.profile_store import load_filament
from wingpath.io.spec_toml import parse_toml
from wingpath.model.measurements import measurements_from_dict
from wingpath.model.profiles import FilamentProfile, profile_from_dict
from wingpath.model.spec_printing import PrintSpec
from wingpath.tune.bands import bands_of, calibration_findings, slots_were_tried
from wingpath.tune.calibrated_profile import calibrated_profile, foaming_through
from wingpath.tune.calibration import Calibration, calibrate

BASE = load_filament("foaming-pla")
CLEAN = measured(Hidden(), np.random.default_rng(3))


def calibrated(*coupons: dict[str, Any], **changes: Any) -> Calibration:
    return calibrate(readings(*coupons, **changes), BASE)


def changed(**changes: Any) -> dict[str, Any]:
    return copy.deepcopy(CLEAN) | changes


def questions(calibration: Calibration) -> list[Finding]:
    return [finding for finding in calibration.findings if finding.code == "disagreement"]


def test_honest_readings_raise_no_question() -> None:
    assert questions(calibrated(CLEAN)) == []
    assert calibrated(CLEAN).sound
    assert calibrated(CLEAN).complete


@pytest.mark.parametrize(
    ("changes", "pair"),
    [
        ({"wall_mm": [0.66, 0.66, 0.67]}, ("wall_mm", "slot_fused")),
        ({"slot_fused": 6}, ("wall_mm", "slot_fused")),
        ({"slot_fused": 5, "wall_mm": [0.51, 0.51, 0.52]}, ("wall_mm", "slot_fused")),
        ({"wall_mm": [0.43, 0.44, 0.43], "slot_fused": 4}, ("wall_mm", "slot_fused")),
        ({"strip_mm": [1.2, 1.21, 1.2]}, ("wall_mm", "strip_mm")),
        ({"wall_mm": [0.54, 0.45, 0.64]}, ("wall_mm[1]", "wall_mm[2]")),
        ({"strip_mm": [0.98, 0.89, 1.3]}, ("strip_mm[1]", "strip_mm[2]")),
        ({"mass_g": 3.4}, ("mass_g", "filament_mm3")),
        ({"mass_g": 1.9}, ("mass_g", "filament_mm3")),
        ({"wall_mm": [0.16, 0.17, 0.16], "slot_fused": 0, "strip_mm": []}, ("wall_mm", "flow")),
    ],
)
def test_two_readings_that_cannot_both_be_right(changes: dict[str, Any], pair: tuple[str, str]) -> None:
    if not changes.get("strip_mm", True):
        changes = changes | {"droop": []}
    found = questions(calibrated(changed(**changes)))
    named = [finding for finding in found if all(f"coupon[0].{key}" in finding.message for key in pair)]
    assert named, [finding.message for finding in found]
    assert named[0].panel == "coupon at 230 °C"
    assert named[0].remedy


def test_a_gross_error_is_refused_and_a_small_one_is_asked_about() -> None:
    small = calibrated(changed(wall_mm=[0.61, 0.61, 0.61], strip_mm=[1.05, 1.06, 1.05]))
    gross = calibrated(changed(wall_mm=[0.76, 0.76, 0.76], strip_mm=[1.2, 1.21, 1.2]))
    assert {finding.severity for finding in questions(small)} == {"warning"}
    assert small.sound
    assert "error" in {finding.severity for finding in questions(gross)}
    assert not gross.sound
    with pytest.raises(InputError, match="contradict"):
        calibrated_profile(gross)


def test_two_droops_that_disagree() -> None:
    droop = copy.deepcopy(CLEAN["droop"])
    droop[1]["mass_g"] *= 1.6
    found = questions(calibrated(changed(droop=droop)))
    assert any("coupon[0].droop[0] and coupon[0].droop[1]" in finding.message for finding in found)


def test_a_stiffness_far_from_what_is_published() -> None:
    droop = [row | {"mass_g": 12.0 * row["mass_g"]} for row in CLEAN["droop"]]
    found = questions(calibrated(changed(droop=droop)))
    assert any("droop and coupon[0].strip_mm" in finding.message for finding in found)


def test_two_coupons_of_one_filament_have_one_density() -> None:
    other = measured(
        Hidden(temperature_c=240.0, flow=0.44, ratio=2.7, density=1.35), np.random.default_rng(5)
    )
    found = questions(calibrated(CLEAN, other))
    assert any("coupon[0].mass_g and coupon[1].mass_g" in finding.message for finding in found)
    same = measured(Hidden(temperature_c=240.0, flow=0.44, ratio=2.7), np.random.default_rng(5))
    assert not any("mass_g" in finding.message for finding in questions(calibrated(CLEAN, same)))


def test_what_was_not_measured_stays_as_it_was() -> None:
    only = {key: CLEAN[key] for key in ("temperature_c", "flow", "filament_mm3", "mass_g")}
    calibration = calibrated(only)
    assert not calibration.complete
    assert [f.code for f in calibration.findings] == ["not-measured"]
    profile = calibrated_profile(calibration)
    assert not profile.calibrated
    assert profile.foaming == BASE.foaming
    assert profile.e_modulus_mpa == BASE.e_modulus_mpa
    assert profile.bore_allowance_mm == BASE.bore_allowance_mm
    assert profile.density_g_cm3 != BASE.density_g_cm3
    kinds = {key: source.kind for key, source in profile.sources}
    assert kinds["density_g_cm3"] == "measured"
    assert kinds["e_modulus_mpa"] == "judgement"
    assert set(kinds) >= {key for key, _ in BASE.sources}


def test_a_coupon_that_was_not_printed_counts_for_nothing() -> None:
    blank = {"temperature_c": 220.0, "flow": 0.67, "filament_mm3": 2753.0}
    with_blank, without = calibrated(CLEAN, blank), calibrated(CLEAN)
    assert len(with_blank.coupons) == 1
    assert calibrated_profile(with_blank) == calibrated_profile(without)
    first = calibrated(blank, CLEAN)
    assert first.coupons[0].temperature_c == 230.0
    assert first.complete


@pytest.mark.parametrize(
    ("tool", "off", "key", "kept"),
    [
        ("hung_g", 5.0, "droop", "e_modulus_mpa"),
        ("scale_g", 2.0, "mass_g", "density_g_cm3"),
        ("calliper_mm", 0.5, "wall_mm", "foaming"),
    ],
)
def test_a_value_too_vague_to_tell_anything_is_not_taken(tool: str, off: float, key: str, kept: str) -> None:
    data = file_of(CLEAN)
    data["tools"] = data["tools"] | {tool: off}
    calibration = calibrate(measurements_from_dict(data, source="m.toml"), BASE)
    found = [f for f in calibration.findings if f.code == "vague"]
    assert key in [f.message.split()[0] for f in found]
    assert {f.severity for f in found} == {"warning"}
    profile = calibrated_profile(calibration)
    assert getattr(profile, kept) == getattr(BASE, kept)


def test_a_slot_without_a_wall_still_counts() -> None:
    only = {key: CLEAN[key] for key in ("temperature_c", "flow", "filament_mm3")} | {"slot_fused": 4}
    profile = calibrated_profile(calibrated(only))
    assert profile.foaming == BASE.foaming
    assert profile.bonded_gap_mm(0.45, 0.5, 230.0) == pytest.approx(0.12)


def test_more_coupons_do_not_make_a_tool_better() -> None:
    others = [
        measured(Hidden(flow=0.5 + 0.001 * number), np.random.default_rng(number)) for number in range(1, 6)
    ]
    one, many = calibrated(CLEAN), calibrated(CLEAN, *others)
    assert one.density is not None
    assert many.density is not None
    assert many.density.half_width > 0.95 * one.density.half_width
    ((_, together),) = many.ratios
    # 0.03 mm of the calliper on a wall of 0.53 mm
    assert together.half_width / together.value >= 0.03 / 0.53 * (1.0 - 1e-3)
    assert one.modulus is not None
    assert many.modulus is not None
    assert many.modulus.relative == pytest.approx(one.modulus.relative)


def test_what_is_written_is_what_the_first_coupon_showed() -> None:
    other = measured(Hidden(temperature_c=240.0, flow=0.44, ratio=2.7, bond_extra=0.06), None)
    profile = calibrated_profile(calibrated(CLEAN, other))
    slots = [0.0, *readings(CLEAN).printed.slots_mm]
    assert profile.bonded_gap_mm(0.45, 0.5, 230.0) == pytest.approx(slots[CLEAN["slot_fused"]], abs=1e-4)


def test_a_strip_bent_at_another_temperature_tells_less() -> None:
    bare = {key: value for key, value in CLEAN.items() if key not in ("droop", "strip_mm")}
    hidden = Hidden(temperature_c=220.0, flow=0.66, ratio=1.8, modulus=520.0 * (2.35 / 1.8) ** 2)
    here, there = calibrated(CLEAN), calibrated(bare, measured(hidden, np.random.default_rng(3)))
    assert here.modulus is not None
    assert there.modulus is not None
    assert there.modulus.value == pytest.approx(here.modulus.value, rel=0.15)
    # half of exponent's range, 0.5, over the logarithm of 2.35 / 1.8
    more = 0.5 / 1.96 * abs(np.log(2.35 / 1.8))
    assert there.modulus.relative >= more
    assert there.modulus.relative > 1.2 * here.modulus.relative


@pytest.mark.parametrize(
    ("changes", "key", "value"),
    [
        ({"slot_fused": 6, "wall_mm": [0.64, 0.64], "strip_mm": [1.09, 1.09]}, "slot_fused", 0.18),
        ({"lean_clean": 4}, "lean_clean", 60.0),
        ({"bore_loose": 0}, "bore_loose", 0.6),
        ({"tab_slide": 0}, "tab_slide", 0.5),
    ],
)
def test_a_limit_beyond_its_row_is_said(changes: dict[str, Any], key: str, value: float) -> None:
    calibration = calibrated(changed(**changes))
    found = [f for f in calibration.findings if f.code == "beyond-row" and key in f.message]
    assert [f.found for f in found] == [pytest.approx(value)]


def test_a_calibrated_profile_by_hand() -> None:
    profile = calibrated_profile(calibrated(measured(Hidden(), None)))
    assert profile.calibrated
    assert profile.density_g_cm3 == pytest.approx(1.22)
    assert profile.foaming_ratio(230.0) == pytest.approx(2.35)
    # hidden limits 0.12, 0.26, 0.43 on steps of 0.1; 0.17; 52 degrees on 45, 50, 55, 60
    assert profile.bore_push_mm == 0.2
    assert profile.bore_allowance_mm == 0.3
    assert profile.bore_loose_mm == 0.5
    assert profile.tab_allowance_mm == 0.2
    assert profile.overhang_limit_deg == 50.0
    # 0.45 x 0.5 x 2.35 = 0.52875, so 0.07875 and 0.005 more fuse: the second slot, 0.06
    assert profile.bonded_gap_mm(0.45, 0.5, 230.0) == pytest.approx(0.06, abs=1e-4)
    assert profile.calibration is not None
    assert profile.calibration.spool == "white, second spool"
    measured_rows = [row.temperature_c for row in profile.foaming if row.measured]
    assert measured_rows == [230.0]


def test_the_shape_of_foaming_beside_the_measured_rows() -> None:
    rows = {row["temperature_c"]: row["ratio"] for row in foaming_through(BASE, [(230.0, 1.0 + 1.2 * 1.44)])}
    for row in BASE.foaming:
        assert rows[row.temperature_c] == pytest.approx(1.0 + 1.2 * (row.ratio - 1.0), abs=1e-4)
    two = foaming_through(BASE, [(220.0, 1.82), (240.0, 1.0 + 1.1 * 1.77)])
    scale = {
        row["temperature_c"]: (row["ratio"] - 1.0) / (BASE.foaming_ratio(row["temperature_c"]) - 1.0)
        for row in two
    }
    assert scale[225.0] == pytest.approx(1.025, abs=1e-3)
    assert scale[250.0] == pytest.approx(1.1, abs=1e-3)
    assert scale[210.0] == pytest.approx(1.0, abs=1e-3)
    solid = foaming_through(load_filament("pla"), [(210.0, 0.97)])
    assert {row["ratio"] for row in solid} == {0.97}


# --- the file ------------------------------------------------------------------------------------------


def test_the_profile_reads_back_as_it_was_written(tmp_path: Path) -> None:
    profile = calibrated_profile(calibrated(CLEAN))
    text = calibrated_profile_text(profile, file_name="white-spool.toml")
    assert profile_from_dict(FilamentProfile, parse_toml(text), source="text") == profile
    write_calibrated_profile(tmp_path / "white-spool.toml", profile, force=False)
    assert load_filament("white-spool.toml", base_dir=tmp_path) == profile


def test_measured_or_assumed_stands_beside_each_value() -> None:
    profile = calibrated_profile(calibrated(CLEAN))
    text = calibrated_profile_text(profile, file_name="white-spool.toml")
    head = text.split("[sources]")[0].splitlines()
    values = [line for line in head if line and not line.startswith("#")]
    plain = ("name", "title", "source", "calibrated")
    for line in values:
        key = line.split(" = ")[0]
        if key not in plain:
            source = profile.source_of(key)
            assert source is not None, key
            assert ("# measured" if source.kind == "measured" else "# assumed") in line
    assert text.count("measured = true") == 1
    for word in ("2026-05-31", "the old one by the window", "white, second spool"):
        assert word in text


def test_the_source_that_is_broken_over_lines_stays_one_remark() -> None:
    profile = calibrated_profile(calibrated(CLEAN))
    text = calibrated_profile_text(profile, file_name="a\nb.toml")
    assert profile_from_dict(FilamentProfile, parse_toml(text), source="text") == profile


def test_build_takes_it_and_every_number_uses_it(tmp_path: Path) -> None:
    profile = calibrated_profile(calibrated(CLEAN))
    write_calibrated_profile(tmp_path / "mine.toml", profile, force=False)
    data = SMALL_WING | {
        "filament": {"profile": "mine.toml"},
        "print": {"temperature_c": 230.0, "flow": 0.5},
        "slots": {"width_mm": 0.05},
        "tube": [{"outer_mm": 4.0, "to_mm": 20.0, "chord_fraction": 0.3}],
    }
    build = build_wing(spec_from_dict(data), base_dir=tmp_path)
    codes = {finding.code for finding in build.findings}
    assert codes.isdisjoint({"uncalibrated", "off-calibration", "tight-bore"})
    assert build.design.limits.bond_mm == pytest.approx(profile.bonded_gap_mm(0.45, 0.5, 230.0))
    bore = next(bore for bore in build.design.voids.bores if bore.name == "tube[0]")
    assert bore.radius_mm == pytest.approx(0.5 * (4.0 + profile.bore_allowance_mm))
    plain = build_wing(spec_from_dict(data | {"filament": {"profile": "foaming-pla"}}))
    first, other = build.panels[0].path, plain.panels[0].path
    assert first is not None
    assert other is not None
    share = profile.density_g_cm3 / BASE.density_g_cm3
    assert first.printed_mass_g / other.printed_mass_g == pytest.approx(share, rel=2e-2)


@pytest.mark.parametrize(
    ("filament", "clearance", "found"),
    [
        ({}, 0.3, set()),
        ({}, 0.19, {"warning"}),
        ({"bore_push_mm": 0.12}, 0.19, set()),
        ({"bore_push_mm": 0.12}, 0.11, {"warning"}),
        ({"bore_push_mm": 0.35}, 0.3, {"warning"}),
        ({"bore_allowance_mm": 0.4, "bore_push_mm": 0.35}, None, set()),
    ],
)
def test_tight_bores(filament: dict[str, float], clearance: float | None, found: set[str]) -> None:
    tube = {"outer_mm": 4.0, "to_mm": 20.0, "chord_fraction": 0.3}
    if clearance is not None:
        tube["clearance_mm"] = clearance
    data = SMALL_WING | {"tube": [tube], "filament": filament}
    build = build_wing(spec_from_dict(data))
    assert {f.severity for f in build.findings if f.code == "tight-bore"} == found


# --- bands ---------------------------------------------------------------------------------------------


def test_bands_are_wide_before_and_narrow_after() -> None:
    settings = PrintSpec(temperature_c=230.0, flow=0.5)
    before, after = bands_of(BASE, settings), bands_of(calibrated_profile(calibrated(CLEAN)), settings)
    assert not before.calibrated
    assert after.calibrated
    assert after.mass < 0.5 * before.mass
    assert after.modulus < 0.3 * before.modulus
    assert after.bead < 0.5 * before.bead
    # by hand: 4 per cent of density downward, 8 of feed
    assert before.mass == pytest.approx(np.hypot(0.04 / 1.24, 0.08))
    log = np.log(2.44)
    assert before.modulus == pytest.approx(np.sqrt((1600 / 3300) ** 2 + (0.5 * log) ** 2 + (2 * 0.2) ** 2))


def test_bands_widen_away_from_where_it_was_measured() -> None:
    profile = calibrated_profile(calibrated(CLEAN))
    here, there = (bands_of(profile, PrintSpec(temperature_c=t, flow=0.5)) for t in (230.0, 215.0))
    assert there.modulus > 1.5 * here.modulus


@pytest.mark.parametrize(
    ("changes", "keys"),
    [
        ({}, []),
        ({"temperature_c": 234.0, "flow": 0.55, "bead_mm": 0.5, "layer_mm": 0.22}, []),
        ({"temperature_c": 240.0}, ["temperature_c"]),
        ({"bead_mm": 0.6}, ["bead_mm"]),
        ({"layer_mm": 0.2}, ["layer_mm"]),
        ({"flow": 0.6, "temperature_c": 220.0}, ["temperature_c", "flow"]),
    ],
)
def test_off_calibration(changes: dict[str, float], keys: list[str]) -> None:
    profile = calibrated_profile(calibrated(CLEAN))
    settings = PrintSpec(**({"temperature_c": 230.0, "flow": 0.5} | changes))  # type: ignore[arg-type]
    found = list(calibration_findings(profile, settings))
    assert [f.message.split()[0] for f in found] == keys
    assert {f.code for f in found} <= {"off-calibration"}
    near = slots_were_tried(
        profile,
        temperature_c=settings.temperature_c,
        flow=settings.flow,
        bead_mm=settings.bead_mm,
        layer_mm=settings.layer_mm,
    )
    assert near == (not keys)


# --- files that are wrong ------------------------------------------------------------------------------


def _set(data: dict[str, Any], path: str, value: Any) -> dict[str, Any]:
    data = copy.deepcopy(data)
    *way, last = path.replace("]", "").replace("[", ".").split(".")
    at: Any = data
    for step in way:
        at = at[int(step)] if step.isdigit() else at[step]
    if value is None:
        del at[last]
    else:
        at[last] = value
    return data


@pytest.mark.parametrize(
    ("path", "value", "named"),
    [
        ("name", "White Spool", "name"),
        ("date", "yesterday", "date"),
        ("date", "2026-02-30", "date"),
        ("printer", "", "printer"),
        ("spool", None, "spool"),
        ("printed", None, "printed"),
        ("printed.slots_mm", [0.06, 0.03], "printed.slots_mm"),
        ("printed.bead_mm", "wide", "printed.bead_mm"),
        ("printed.layer_mm", 0.6, "printed.layer_mm and printed.bead_mm"),
        ("tools.calliper_mm", -0.1, "tools.calliper_mm"),
        ("tools.caliper_mm", 0.1, "tools.caliper_mm"),
        ("coupon", [], "coupon"),
        ("coupon[0].mass_g", "2.5 g", "coupon[0].mass_g"),
        ("coupon[0].mass_g", float("nan"), "coupon[0].mass_g"),
        ("coupon[0].wall_mm", [0.5, 54.0], "coupon[0].wall_mm[1]"),
        ("coupon[0].wal_mm", [0.5], "coupon[0].wal_mm"),
        ("coupon[0].slot_fused", 7, "coupon[0].slot_fused"),
        ("coupon[0].slot_fused", 2.5, "coupon[0].slot_fused"),
        ("coupon[0].slot_fused", True, "coupon[0].slot_fused"),
        ("coupon[0].bore_push", 5, "coupon[0].bore_push and coupon[0].bore_slide"),
        ("coupon[0].bore_slide", 0, "coupon[0].bore_slide and coupon[0].bore_loose"),
        ("coupon[0].lean_clean", 5, "coupon[0].lean_clean"),
        ("coupon[0].tab_slide", -1, "coupon[0].tab_slide"),
        ("coupon[0].strip_mm", None, "coupon[0].strip_mm"),
        ("coupon[0].droop[1].droop_mm", 31.0, "coupon[0].droop[1].droop_mm"),
        ("coupon[0].droop[0].length_mm", 0.0, "coupon[0].droop[0].length_mm"),
        ("coupon[0].temperature_c", 20.0, "coupon[0].temperature_c"),
        ("coupon[0].flow", None, "coupon[0].flow"),
        ("coupon[0].filament_mm3", None, "coupon[0].filament_mm3"),
        ("format", 2, "format"),
    ],
)
def test_bad_files_are_refused_by_key(path: str, value: Any, named: str) -> None:
    with pytest.raises(SpecError) as caught:
        measurements_from_dict(_set(file_of(CLEAN), path, value), source="m.toml")
    assert named in [problem.key for problem in caught.value.problems]


def test_everything_that_is_wrong_is_told_at_once() -> None:
    data = _set(_set(file_of(CLEAN), "coupon[0].slot_fused", 9), "date", "2026-13-01")
    data = _set(_set(data, "coupon[0].strip_mm", None), "coupon[0].lean_clean", 9)
    with pytest.raises(SpecError) as caught:
        measurements_from_dict(data, source="m.toml")
    # a value that is wrong by itself comes before those that are wrong together
    assert [problem.key for problem in caught.value.problems] == ["date"]
    with pytest.raises(SpecError) as caught:
        measurements_from_dict(_set(data, "date", "2026-12-01"), source="m.toml")
    assert len(caught.value.problems) == 3


def test_the_same_coupon_twice_is_refused() -> None:
    with pytest.raises(SpecError, match="same readings"):
        readings(CLEAN, CLEAN)


def test_a_date_of_toml_is_taken() -> None:
    data = file_of(CLEAN) | parse_toml("date = 2026-05-31")
    assert measurements_from_dict(data, source="m.toml").date == "2026-05-31"
