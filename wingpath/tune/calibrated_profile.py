"""The filament profile that a calibration writes: measured values in the place of assumed ones."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np

from wingpath.core.errors import InputError
from wingpath.model.profile_base import ValueSource
from wingpath.model.profiles import FilamentProfile, profile_from_dict
from wingpath.tune.calibration import Calibration
from wingpath.tune.coupon_values import CouponValues, Limit
from wingpath.tune.estimates import Estimate

__all__ = ["calibrated_profile", "foaming_through"]

SHAPE_FROM = 0.1
"""A table that grows by less than this share tells no shape of foaming."""

MOST_GUESS = 1.2
"""A ratio that was not measured is guessed at no more than this times the largest one known: judgement."""

RATIO_DIGITS, DIGITS = 4, 6
"""Digits that are written: far below any band."""

LONGEST_TITLE = 120

_SLOT_WORDS = {
    True: "widest fused slot less the wall's swelling",
    False: "widest fused slot less the swelling that the foaming table gives; no wall was measured",
}


def calibrated_profile(calibration: Calibration) -> FilamentProfile:
    """Return the base profile with what was measured.

    Parameters
    ----------
    calibration : Calibration
        What the coupons say.

    Raises
    ------
    InputError
        When two measurements contradict each other.
    SpecError
        When a measured value is outside the range of its key.
    """
    if not calibration.sound:
        raise InputError("no profile can be written while two measurements contradict each other")
    given, base = calibration.measurements, calibration.base
    changes = _Changes(f"coupon, {given.date}, {given.printer}, {given.spool}")
    first = calibration.coupons[0]
    before = base.calibration
    if calibration.density is not None:
        changes.estimate("density_g_cm3", calibration.density, "mass of the coupon over the filament in it")
        changes.plain("feed_band", 0.0, "contained in the density, which was weighed as it was fed")
    if calibration.ratios:
        rows = foaming_through(base, [(t, estimate.value) for t, estimate in calibration.ratios])
        told = ", ".join(
            f"{estimate.value:.3f} +- {estimate.half_width:.3f} at {t:g} °C"
            for t, estimate in calibration.ratios
        )
        changes.plain("foaming", rows, f"wall over bead and flow: {told}; the other rows have the shape of "
                      f"{base.name}")  # fmt: skip
        band = max(estimate.half_width / estimate.value for _, estimate in calibration.ratios)
        changes.plain("foaming_band", band, "half the 95 per cent band of the ratio over it")
    tried_on = next((one for one in calibration.coupons if one.slot is not None), None)
    if calibration.bond_extra is not None:
        changes.limit(
            "bond_extra_mm",
            calibration.bond_extra,
            _SLOT_WORDS[tried_on is not None and tried_on.wall is not None],
        )
    if calibration.modulus is not None:
        changes.estimate(
            "e_modulus_mpa",
            calibration.modulus,
            "droop of the strip, brought to the unfoamed filament with the exponent of this profile; the "
            "band is that of the strip at the first coupon",
        )
    if calibration.exponent is not None:
        changes.estimate("stiffness_exponent", calibration.exponent, "strips of different foaming")
    _fits(changes, calibration.coupons, base)
    tried = None
    if tried_on is not None and calibration.bond_extra is not None:
        tried = tried_on.temperature_c
    elif before is not None:
        tried = before.slot_temperature_c
    bent = first.temperature_c if calibration.modulus is not None else None
    if before is not None and bent is None:
        bent = before.strip_temperature_c
    data = base.model_dump() | changes.values | {
        "name": given.name,
        "title": _title(base, given.date),
        "source": f"measured on a coupon on {given.date} where it says so, the rest from {base.name}: "
        f"{base.source}"[:1000],
        "calibrated": calibration.complete or base.calibrated,
        "calibration": {
            "date": given.date,
            "printer": given.printer,
            "spool": given.spool,
            "nozzle_mm": given.printed.nozzle_mm,
            "bead_mm": given.printed.bead_mm,
            "layer_mm": given.printed.layer_mm,
            "temperature_c": [one.temperature_c for one in calibration.coupons],
            "flow": [one.flow for one in calibration.coupons],
            "slot_temperature_c": tried,
            "strip_temperature_c": bent,
        },
        "sources": dict(base.sources) | changes.sources,
    }  # fmt: skip
    return profile_from_dict(FilamentProfile, data, source=f"profile {given.name}")


def _title(base: FilamentProfile, date: str) -> str:
    plain = base.title.split(", calibrated ")[0]
    return f"{plain}, calibrated {date}"[:LONGEST_TITLE]


def _fits(changes: _Changes, coupons: Sequence[CouponValues], base: FilamentProfile) -> None:
    """Take each fit from the first coupon on which it was tried."""
    for key, name, words in (
        ("bore_allowance_mm", "slide", "tightest bore that the tube slides in"),
        ("bore_push_mm", "push", "tightest bore that the tube can be pushed into"),
        ("bore_loose_mm", "loose", "tightest bore that the tube falls through"),
        ("tab_allowance_mm", "tab", "tightest slot that the tongue slides in"),
        ("overhang_limit_deg", "lean", "steepest clean lean"),
    ):
        tried = next((one for one in coupons if getattr(one, name) is not None), None)
        if tried is not None:
            changes.limit(key, getattr(tried, name), f"{words}, coupon at {tried.temperature_c:g} °C")
    push = next((one.push for one in coupons if one.push is not None), None)
    if push is not None and all(one.slide is None for one in coupons) and push.safe > base.bore_allowance_mm:
        changes.assumed("bore_allowance_mm", push.safe, "no less than a tube can be pushed into")


class _Changes:
    """Collects values and where they come from."""

    def __init__(self, where: str) -> None:
        self.where = where
        self.values: dict[str, Any] = {}
        self.sources: dict[str, ValueSource] = {}

    def _note(self, words: str) -> str:
        return f"{words}; {self.where}"[:500]

    def plain(self, key: str, value: Any, words: str) -> None:
        self.values[key] = round(value, DIGITS) if isinstance(value, float) else value
        self.sources[key] = ValueSource(kind="measured", note=self._note(words))

    def _ranged(self, key: str, value: float, low: float, high: float, words: str) -> None:
        # no minus before a zero
        self.values[key] = round(value, DIGITS) + 0.0
        self.sources[key] = ValueSource(
            kind="measured",
            note=self._note(words),
            low=round(min(low, value) - 10.0**-DIGITS, DIGITS),
            high=round(max(high, value) + 10.0**-DIGITS, DIGITS),
        )

    def assumed(self, key: str, value: float, words: str) -> None:
        self.values[key] = round(value, DIGITS)
        self.sources[key] = ValueSource(kind="judgement", note=self._note(words))

    def estimate(self, key: str, estimate: Estimate, words: str) -> None:
        self._ranged(key, estimate.value, estimate.low, estimate.high, words)

    def limit(self, key: str, limit: Limit, words: str) -> None:
        if limit.seen:
            self._ranged(key, limit.safe, limit.estimate.low, limit.estimate.high, words)
        else:
            self.assumed(key, limit.safe, f"no step of the row was good; {words}")


def foaming_through(base: FilamentProfile, measured: Sequence[tuple[float, float]]) -> list[dict[str, Any]]:
    """Return a foaming table that has the measured rows and between and beside them the base's shape.

    Parameters
    ----------
    base : FilamentProfile
        Whose shape is taken.
    measured : sequence of (float, float)
        Temperature [°C] and ratio, temperatures rising.

    Notes
    -----
    What the base foams beyond its own volume, ``R - 1``, is scaled by what was measured over what the base
    has there; between two measured temperatures the scale runs linearly, beside them it stays. Where the
    base hardly foams, the ratio itself is scaled.
    """
    at = np.array([temperature for temperature, _ in measured])
    ratio = np.array([value for _, value in measured])
    own = np.array([base.foaming_ratio(float(temperature)) for temperature in at])
    shaped = bool(np.all(own - 1.0 >= SHAPE_FROM))
    scale = (ratio - 1.0) / (own - 1.0) if shaped else ratio / own
    known = dict(measured)
    # far from a measured row the scale may run away; nothing foams much more than the base and the readings
    most = MOST_GUESS * max(*(row.ratio for row in base.foaming), *known.values())
    rows = []
    for temperature in sorted({*known, *(row.temperature_c for row in base.foaming)}):
        there = float(np.interp(temperature, at, scale))
        plain = base.foaming_ratio(temperature)
        guessed = min(1.0 + there * (plain - 1.0) if shaped else there * plain, most)
        value = known.get(temperature, guessed)
        rows.append(
            {
                "temperature_c": temperature,
                "ratio": round(min(max(value, 0.5), 8.0), RATIO_DIGITS),
                "measured": temperature in known,
            }
        )
    return rows
