"""Calibration: from readings on coupons to the values of a filament, each with its band."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from wingpath.core.findings import Finding, sort_findings
from wingpath.model.measurements import Measurements
from wingpath.model.profiles import FilamentProfile
from wingpath.tune.coupon_values import CouponValues, Limit, coupon_values
from wingpath.tune.disagreements import disagreements
from wingpath.tune.estimates import COVERAGE_FACTOR, Estimate, product, weighted_mean
from wingpath.tune.other_spool import taken_over

__all__ = ["Calibration", "calibrate"]

Ratios = Sequence[tuple[float, Estimate]]
"""Foaming ratio by temperature [°C]."""

LEAST_SPREAD = 0.3
"""Coupons whose foaming ratios differ by less than this factor, as a logarithm, tell no exponent."""

MOST_VAGUE = 0.5
"""A value known no better than within half of itself is not taken: what was assumed is no worse."""

LEAST_ASSUMED = 0.1
"""Standard uncertainty that an assumed exponent has at the least: judgement."""

LEAST_EXPONENT, MOST_EXPONENT = 0.8, 3.5
"""An exponent beyond these is not taken: 1 to 2 is what cellular solids have (Gibson and Ashby, Cellular
Solids, 2nd ed. 1997, from memory), with room for a plastic that bakes while it foams."""

ALIKE_SPREAD = 0.05
"""Relative standard deviation of the modulus from coupon to coupon, with one exponent: judgement."""


@dataclass(frozen=True, slots=True)
class Calibration:
    """What all coupons together say.

    Parameters
    ----------
    measurements : Measurements
        What was read.
    base : FilamentProfile
        The profile that is corrected; what was measured on another spool or printer counts as assumed in it.
    coupons : tuple of CouponValues
        Each coupon on which something was measured, by itself.
    density : Estimate or None
        Of the filament as it is fed [g/cm3].
    ratios : tuple of (float, Estimate)
        Foaming ratio by temperature, rising [°C].
    modulus : Estimate or None
        Along a bead, unfoamed, with the exponent that goes with it [MPa].
    exponent : Estimate or None
        Of the density ratio in the stiffness, when coupons of different foaming tell it.
    bond_extra : Limit or None
        What beads bridge beyond their swelling [mm].
    findings : tuple of Finding
        What disagrees or is odd, worst first.
    """

    measurements: Measurements
    base: FilamentProfile
    coupons: tuple[CouponValues, ...]
    density: Estimate | None
    ratios: tuple[tuple[float, Estimate], ...]
    modulus: Estimate | None
    exponent: Estimate | None
    bond_extra: Limit | None
    findings: tuple[Finding, ...]

    @property
    def sound(self) -> bool:
        """Whether nothing contradicts itself, so that a profile may be written."""
        return not any(finding.severity == "error" for finding in self.findings)

    @property
    def complete(self) -> bool:
        """Whether the first coupon was weighed and its wall measured."""
        return self.coupons[0].density is not None and self.coupons[0].wall is not None


def calibrate(measurements: Measurements, base: FilamentProfile) -> Calibration:
    """Work out what the readings say.

    Parameters
    ----------
    measurements : Measurements
        What was read.
    base : FilamentProfile
        The profile that is corrected; what was not measured stays as it is there.

    Notes
    -----
    Bead width is the wall's thickness. Density is mass over filament fed, ``m / V``. The foaming ratio is
    ``wall / (bead x flow)``, since at a fixed layer height the width grows as the volume. The modulus comes
    from :func:`wingpath.tune.cantilever.modulus_from_droop_mpa` and is brought to the unfoamed filament by
    ``E = E_strip x ratio^n``. Uncertainty is carried through by the GUM, see
    :mod:`wingpath.tune.estimates`.
    """
    printed, tools = measurements.printed, measurements.tools
    base = taken_over(base, measurements)
    every = tuple(
        coupon_values(one, printed, tools, number=number) for number, one in enumerate(measurements.coupons)
    )
    findings = [*disagreements(measurements, every, base)]
    # a file may hold coupons that were not printed
    found = [one for one, read in zip(every, measurements.coupons, strict=True) if not read.empty]
    findings += [finding for one in found for finding in _vague(one)]
    coupons = tuple(_firm(one) for one in found)
    findings += _unmeasured(coupons)
    ratios = _ratios(coupons)
    modulus, exponent = _stiffness(coupons, ratios, base)
    findings += _odd_exponent(coupons, ratios, base)
    return Calibration(
        measurements=measurements,
        base=base,
        coupons=coupons,
        density=weighted_mean([one.density for one in coupons], alike=True),
        ratios=ratios,
        modulus=modulus,
        exponent=exponent,
        bond_extra=_bond_extra(coupons, ratios, base, printed.bead_mm),
        findings=sort_findings(findings),
    )


VAGUE = (
    ("density", "mass_g", "a finer scale"),
    ("wall", "wall_mm", "a finer calliper, or more places"),
    ("modulus", "droop", "a heavier mass, a longer strip or a finer ruler"),
)
"""Values that may be too vague to be taken, the reading that they hang on, and what would make them firm."""


def _is_vague(estimate: Estimate | None) -> bool:
    return estimate is not None and estimate.half_width > MOST_VAGUE * abs(estimate.value)


def _vague(one: CouponValues) -> list[Finding]:
    found = []
    for name, key, remedy in VAGUE:
        estimate: Estimate | None = getattr(one, name)
        if estimate is not None and _is_vague(estimate):
            share = 100.0 * estimate.half_width / abs(estimate.value)
            found.append(
                Finding(
                    "vague",
                    "warning",
                    f"{key} tells its value only within {share:.0f} per cent and is not taken",
                    f"look at [tools], and measure with {remedy}",
                    panel=f"coupon at {one.temperature_c:g} °C",
                    found=share,
                    limit=100.0 * MOST_VAGUE,
                    unit="%",
                )
            )
    return found


def _firm(one: CouponValues) -> CouponValues:
    """Return the values of a coupon without those that are too vague."""
    gone: dict[str, Any] = {name: None for name, _, _ in VAGUE if _is_vague(getattr(one, name))}
    if "wall" in gone:
        gone["ratio"] = None
    return replace(one, **gone) if gone else one


def _ratios(coupons: Sequence[CouponValues]) -> tuple[tuple[float, Estimate], ...]:
    rows = []
    for temperature in sorted({one.temperature_c for one in coupons}):
        same = [one.ratio for one in coupons if one.temperature_c == temperature]
        here = weighted_mean(same, alike=True)
        if here is not None:
            rows.append((temperature, here))
    return tuple(rows)


def _bond_extra(
    coupons: Sequence[CouponValues],
    ratios: Ratios,
    base: FilamentProfile,
    bead_mm: float,
) -> Limit | None:
    """Return what the beads bridge beyond their swelling, ``slot - (wall - bead)``, by the first coupon.

    None where the row does not tell: when all slots fused and the bead swells farther than the row goes, or
    when none fused and the bead does not swell.
    """
    one = next((one for one in coupons if one.slot is not None), None)
    if one is None or one.slot is None:
        return None
    # the wall's error goes out again where this is added to the swelling that the wall showed
    swelling = bead_mm * (one.flow * _ratio_of(one, ratios, base) - 1.0)
    if (one.slot.beyond and swelling >= one.slot.safe) or (one.slot.safe == 0.0 and swelling <= 0.0):
        return None
    return Limit(one.slot.estimate.shifted(-swelling), one.slot.safe - swelling, one.slot.beyond, seen=True)


def _stiffness(
    coupons: Sequence[CouponValues], ratios: Ratios, base: FilamentProfile
) -> tuple[Estimate | None, Estimate | None]:
    """Return the unfoamed modulus by the first strip, and the exponent when the coupons tell it.

    The band of the modulus is that of the first strip, which foamed as wings will; the exponent has its own.
    Where only another coupon's strip was bent, the exponent's band over the way between the two comes on top.
    """
    known = [(one.modulus, _ratio_of(one, ratios, base)) for one in coupons if one.modulus is not None]
    if not known:
        return None, None
    first, ratio = known[0]
    exponent, assumed = _exponent(known), _exponent_sigma(base)
    if exponent is not None:
        usual = LEAST_EXPONENT <= exponent.value <= MOST_EXPONENT
        # what is assumed is taken where two strips tell no better
        exponent = exponent if usual and exponent.sigma <= max(assumed, LEAST_ASSUMED) else None
    power = base.stiffness_exponent if exponent is None else exponent.value
    spread = assumed if exponent is None else exponent.sigma
    way = abs(math.log(ratio / _ratio_of(coupons[0], ratios, base)))
    return product(first.value * ratio**power, [(first, 1.0)], extra=spread * way), exponent


def _odd_exponent(coupons: Sequence[CouponValues], ratios: Ratios, base: FilamentProfile) -> list[Finding]:
    """Question two strips whose stiffness does not go with their foaming."""
    bent = [one for one in coupons if one.modulus is not None]
    exponent = _exponent(
        [(one.modulus, _ratio_of(one, ratios, base)) for one in bent if one.modulus is not None]
    )
    if exponent is None or LEAST_EXPONENT <= exponent.value <= MOST_EXPONENT:
        return []
    low = min(bent, key=lambda one: _ratio_of(one, ratios, base))
    high = max(bent, key=lambda one: _ratio_of(one, ratios, base))
    return [
        Finding(
            "disagreement",
            "warning",
            f"coupon[{low.number}].droop and coupon[{high.number}].droop hardly agree: the stiffness of "
            f"their strips goes with the density to the power {exponent.value:.1f}, and 1 to 2 is usual; the "
            f"assumed {base.stiffness_exponent:g} is kept",
            "measure both strips and walls again",
            found=exponent.value,
            limit=LEAST_EXPONENT if exponent.value < LEAST_EXPONENT else MOST_EXPONENT,
        )
    ]


def _ratio_of(one: CouponValues, ratios: Ratios, base: FilamentProfile) -> float:
    """Return the foaming ratio at a coupon's temperature: what the profile will hold there."""
    known = dict(ratios).get(one.temperature_c)
    return base.foaming_ratio(one.temperature_c) if known is None else known.value


def _exponent_sigma(base: FilamentProfile) -> float:
    """Return the standard uncertainty of an assumed exponent, from the wider side of its range."""
    source, value = base.source_of("stiffness_exponent"), base.stiffness_exponent
    ends = [] if source is None else [end for end in (source.low, source.high) if end is not None]
    return max((abs(end - value) for end in ends), default=0.0) / COVERAGE_FACTOR


def _exponent(known: Sequence[tuple[Estimate, float]]) -> Estimate | None:
    """Return the slope of modulus over ratio, both as logarithms; None when the ratios lie too close."""
    logs = np.log([ratio for _, ratio in known])
    if len(known) < 2 or float(np.ptp(logs)) < LEAST_SPREAD:
        return None
    sigma = np.array([math.hypot(modulus.relative, ALIKE_SPREAD) for modulus, _ in known])
    grid = np.column_stack([np.ones(len(known)), -logs]) / sigma[:, None]
    target = np.log([modulus.value for modulus, _ in known]) / sigma
    spread = np.linalg.inv(grid.T @ grid)
    slope = float((spread @ grid.T @ target)[1])
    return Estimate(slope, math.sqrt(float(spread[1, 1])))


def _unmeasured(coupons: Sequence[CouponValues]) -> list[Finding]:
    found = []
    named = (
        ("mass_g", "density", "density and mass"),
        ("wall_mm", "wall", "bead width and foaming"),
        ("slot_fused", "slot", "the widest slot"),
        ("bore_slide", "slide", "how tubes fit"),
        ("droop", "modulus", "stiffness"),
    )
    left_out = [
        (key, what) for key, name, what in named if all(getattr(one, name) is None for one in coupons)
    ]
    if left_out:
        found.append(
            Finding(
                "not-measured",
                "note",
                f"{_listed([key for key, _ in left_out])} given for no coupon, so nothing new is known of "
                f"{_listed([what for _, what in left_out])}",
                "measure the rest when you can, and read the file again",
            )
        )
    for one in coupons:
        for key, limit in (
            ("slot_fused", one.slot),
            ("lean_clean", one.lean),
            ("bore_push", one.push),
            ("bore_slide", one.slide),
            ("bore_loose", one.loose),
            ("tab_slide", one.tab),
        ):
            if limit is not None and (limit.beyond or not limit.seen):
                found.append(_beyond(one, key, limit))
    return found


def _listed(words: Sequence[str]) -> str:
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}"


def _beyond(one: CouponValues, key: str, limit: Limit) -> Finding:
    why = "the last step was still good" if limit.seen else "no step was good"
    taken = f"{limit.safe:g} is taken" + ("" if limit.seen else " but was never seen, and counts as assumed")
    return Finding(
        "beyond-row",
        "note" if limit.seen else "warning",
        f"{key}: {why}, so the limit lies beyond the row; {taken}",
        "nothing" if limit.seen else "print a coupon with another flow or temperature, and try again",
        panel=f"coupon at {one.temperature_c:g} °C",
        found=limit.safe,
    )
