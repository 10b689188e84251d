"""Hidden values, measured with noise and read back: they lie in the stated bands as often as is said."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from simulated_coupons import PLAN, Hidden, covers, measured, readings

from wingpath.io.profile_store import load_filament
from wingpath.model.spec_printing import PrintSpec
from wingpath.tune.bands import bands_of
from wingpath.tune.calibrated_profile import calibrated_profile
from wingpath.tune.calibration import calibrate
from wingpath.tune.window import slot_window

BASE = load_filament("foaming-pla")
SETTINGS = PrintSpec(temperature_c=230.0, flow=0.5)

DRAWS = 500
LEAST_COVERAGE, MOST_COVERAGE = 0.90, 0.99
"""What a band of 95 per cent may hold over 500 draws: the issue's own bounds, five deviations wide below."""

EXACT = 1e-9
"""With perfect tools nothing is lost but rounding."""


def hidden_values() -> st.SearchStrategy[Hidden]:
    return st.builds(
        Hidden,
        density=st.floats(1.17, 1.30),
        ratio=st.floats(2.15, 2.6),
        modulus=st.floats(330.0, 750.0),
        bond_extra=st.floats(-0.01, 0.01),
        push=st.floats(0.02, 0.2),
        slide=st.floats(0.2, 0.35),
        loose=st.floats(0.36, 0.6),
        tab=st.floats(0.05, 0.45),
        lean=st.floats(43.0, 62.0),
        roughness_mm=st.floats(0.0, 0.015),
    )


@given(hidden=hidden_values())
def test_perfect_readings_give_the_hidden_values_back(hidden: Hidden) -> None:
    calibration = calibrate(readings(measured(hidden, None)), BASE)
    assert [f for f in calibration.findings if f.code == "disagreement"] == []
    one = calibration.coupons[0]
    assert one.density is not None
    assert one.ratio is not None
    assert one.modulus is not None
    assert one.density.value == pytest.approx(hidden.density, rel=EXACT)
    assert one.ratio.value == pytest.approx(hidden.ratio, rel=EXACT)
    assert one.modulus.value == pytest.approx(hidden.modulus, rel=1e-6)
    profile = calibrated_profile(calibration)
    assert profile.foaming_ratio(230.0) == pytest.approx(hidden.ratio, abs=1e-4)
    assert profile.e_modulus_mpa * hidden.ratio**-profile.stiffness_exponent == pytest.approx(
        hidden.modulus, rel=1e-4
    )


@given(hidden=hidden_values(), seed=st.integers(0, 2**32 - 1))
def test_limits_found_on_rows_are_on_the_safe_side_of_what_was_seen(hidden: Hidden, seed: int) -> None:
    read = readings(measured(hidden, np.random.default_rng(seed)))
    calibration = calibrate(read, BASE)
    one, given_ = calibration.coupons[0], read.coupons[0]
    assert one.slot is not None
    assert one.slide is not None
    assert one.lean is not None
    slots = [0.0, *read.printed.slots_mm]
    assert one.slot.safe == slots[given_.slot_fused or 0]
    assert one.slot.estimate.low <= one.slot.safe <= one.slot.estimate.high
    assert one.slide.estimate.low <= one.slide.safe <= one.slide.estimate.high
    assert one.lean.safe <= one.lean.estimate.value
    if not calibration.sound:
        return
    profile = calibrated_profile(calibration)
    width = profile.bonded_gap_mm(bead_mm=PLAN.bead_mm, flow=0.5, temperature_c=230.0)
    assert width == pytest.approx(max(0.0, one.slot.safe), abs=1e-4)
    window = slot_window(
        nozzle_mm=0.4, bead_mm=0.45, layer_mm=0.25, filament=profile, temperature_c=230.0, flow=0.5
    )
    assert window.suggested_mm is None or window.suggested_mm <= window.widest_mm


def drawn(number: int) -> Hidden:
    random = np.random.default_rng(10_000 + number)
    return Hidden(
        density=random.uniform(1.17, 1.30),
        ratio=random.uniform(2.2, 2.6),
        modulus=random.uniform(350.0, 700.0),
        bond_extra=random.uniform(-0.01, 0.01),
        push=random.uniform(0.03, 0.15),
        slide=random.uniform(0.2, 0.3),
        loose=random.uniform(0.36, 0.48),
        tab=random.uniform(0.05, 0.38),
        lean=random.uniform(46.0, 59.0),
        roughness_mm=random.uniform(0.003, 0.02),
    )


@pytest.fixture(scope="module")
def hits() -> dict[str, list[bool]]:
    """Return for every value and every draw whether its band held the hidden one."""
    found: dict[str, list[bool]] = {}

    def note(key: str, low: float, high: float, true: float) -> None:
        found.setdefault(key, []).append(covers(low, high, true))

    for number in range(DRAWS):
        hidden = drawn(number)
        calibration = calibrate(readings(measured(hidden, np.random.default_rng(number))), BASE)
        one: Any = calibration.coupons[0]
        for key, estimate, true in (
            ("density", one.density, hidden.density),
            ("bead width", one.wall, hidden.wall),
            ("foaming ratio", one.ratio, hidden.ratio),
            ("modulus", one.modulus, hidden.modulus),
            ("widest slot", one.slot.estimate, hidden.slot),
            ("push fit", one.push.estimate, hidden.push),
            ("slide fit", one.slide.estimate, hidden.slide),
            ("loose fit", one.loose.estimate, hidden.loose),
            ("tab fit", one.tab.estimate, hidden.tab),
            ("lean", one.lean.estimate, hidden.lean),
        ):
            note(key, estimate.low, estimate.high, true)
        if not calibration.sound:
            continue
        profile = calibrated_profile(calibration)
        bands = bands_of(profile, SETTINGS)
        stiff = profile.e_modulus_mpa * profile.foaming_ratio(230.0) ** -profile.stiffness_exponent
        note(
            "modulus of the profile", stiff * (1 - bands.modulus), stiff * (1 + bands.modulus), hidden.modulus
        )
        mass = profile.density_g_cm3
        note("mass of the profile", mass * (1 - bands.mass), mass * (1 + bands.mass), hidden.density)
        width = profile.foaming_ratio(230.0)
        note("bead of the profile", width * (1 - bands.bead), width * (1 + bands.bead), hidden.ratio)
        window = slot_window(
            nozzle_mm=0.4, bead_mm=0.45, layer_mm=0.25, filament=profile, temperature_c=230.0, flow=0.5
        )
        note("slot of the window", window.widest_low_mm, window.widest_high_mm, hidden.slot)
    return found


@pytest.mark.parametrize(
    "key",
    [
        "density",
        "bead width",
        "foaming ratio",
        "modulus",
        "widest slot",
        "push fit",
        "slide fit",
        "loose fit",
        "tab fit",
        "lean",
        "modulus of the profile",
        "mass of the profile",
        "bead of the profile",
        "slot of the window",
    ],
)
def test_the_band_of_95_per_cent_holds_it_as_often_as_that(hits: dict[str, list[bool]], key: str) -> None:
    share = float(np.mean(hits[key]))
    assert len(hits[key]) > 0.98 * DRAWS
    assert LEAST_COVERAGE <= share <= MOST_COVERAGE, (key, share)


def test_honest_readings_are_seldom_questioned() -> None:
    questioned = refused = 0
    for number in range(DRAWS):
        read = readings(measured(drawn(number), np.random.default_rng(number)))
        calibration = calibrate(read, BASE)
        questioned += any(f.code == "disagreement" for f in calibration.findings)
        refused += not calibration.sound
    # some four pairs a coupon, each questioned by chance once in 80
    assert questioned <= 0.06 * DRAWS
    assert refused <= 0.004 * DRAWS


def test_two_temperatures_tell_the_exponent() -> None:
    cool = Hidden(ratio=1.55, modulus=3000.0 * 1.55**-1.8, temperature_c=220.0, flow=0.76)
    hot = Hidden(ratio=2.6, modulus=3000.0 * 2.6**-1.8, temperature_c=240.0, flow=0.44)
    calibration = calibrate(readings(measured(hot, None), measured(cool, None)), BASE)
    assert calibration.exponent is not None
    assert calibration.modulus is not None
    assert calibration.exponent.value == pytest.approx(1.8, rel=1e-6)
    assert calibration.modulus.value == pytest.approx(3000.0, rel=1e-6)
    assert [t for t, _ in calibration.ratios] == [220.0, 240.0]
    profile = calibrated_profile(calibration)
    assert profile.foaming_ratio(220.0) == pytest.approx(1.55)
    assert profile.foaming_ratio(240.0) == pytest.approx(2.6)
    found = []
    for number in range(200):
        random = np.random.default_rng(number)
        noisy = calibrate(readings(measured(hot, random), measured(cool, random)), BASE)
        # what tells no better than the assumed range is not taken
        if noisy.exponent is not None:
            found.append(covers(noisy.exponent.low, noisy.exponent.high, 1.8))
    assert len(found) > 120
    # the spread from coupon to coupon that the band allows for is not simulated, so it holds more often
    assert np.mean(found) >= 0.93


def test_more_readings_narrow_a_band_but_not_below_the_tool() -> None:
    hidden = Hidden()
    few = measured(hidden, np.random.default_rng(1))
    many = dict(few)
    many["wall_mm"] = few["wall_mm"] * 6
    one, other = (calibrate(readings(c), BASE).coupons[0].wall for c in (few, many))
    assert one is not None
    assert other is not None
    assert other.half_width < one.half_width
    assert other.half_width >= 0.03 * (1.0 - 1e-9)
    assert math.isclose(one.value, other.value)
