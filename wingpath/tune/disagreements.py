"""Readings that contradict each other: which two, and by how much."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from itertools import combinations

from wingpath.core.findings import Finding
from wingpath.model.measurements import CouponReadings, Measurements
from wingpath.model.profiles import FilamentProfile
from wingpath.tune.coupon_values import CouponValues
from wingpath.tune.estimates import COVERAGE_FACTOR, Estimate

__all__ = ["disagreements"]

DOUBT_SIGMAS, ERROR_SIGMAS = 2.5, 4.0
"""Two values farther apart than this many standard deviations are questioned, or refused. By chance alone
that happens once in 80 and once in 16,000 pairs."""

FLANK_MM = 0.02
"""Standard deviation of the gap that touching flanks bridge, for round and skewed flanks: judgement [mm]."""

SEAM_MM = 0.02
"""The same of the strip's thickness, whose two beads press on each other, judgement [mm]."""

READINGS_SHARE = 0.3
"""Readings of one wall do not differ by more than this share of it."""

LEAST_RATIO = 0.93
"""A bead cannot take less room than the filament that went into it; the rest is rounding of its flanks."""

TABLE_ROOM = 1.4
"""A foaming ratio this many times off the table is questioned: twice what such tables scatter by."""

MODULUS_ROOM = 1.5
"""A modulus this many times beyond what is published is questioned."""


def disagreements(
    given: Measurements, coupons: Sequence[CouponValues], base: FilamentProfile
) -> list[Finding]:
    """Return every pair of readings that cannot both be right.

    Parameters
    ----------
    given : Measurements
        What was read.
    coupons : sequence of CouponValues
        What each coupon says, in the same order.
    base : FilamentProfile
        What is known of such filaments.
    """
    found: list[Finding] = []
    for read, one in zip(given.coupons, coupons, strict=True):
        here = f"coupon[{one.number}]"
        found += _scatter(here, read, one)
        found += _wall_and_slot(here, one, given.printed.bead_mm)
        found += _wall_and_strip(here, one, given.printed.bead_mm)
        found += _wall_and_flow(here, one)
        found += _wall_and_table(here, one, base)
        found += _mass_and_filament(here, one, base)
        found += _droops(here, read, one)
        found += _stiffness(here, one, base)
    for one, other in combinations(coupons, 2):
        found += _masses(one, other)
        found += _foaming(one, other)
    return found


def _question(
    one: CouponValues,
    keys: tuple[str, str],
    *,
    sigmas: float,
    message: str,
    remedy: str,
    found: float,
    limit: float,
    unit: str = "",
) -> Finding:
    sure = sigmas > ERROR_SIGMAS
    return Finding(
        "disagreement",
        "error" if sure else "warning",
        f"{keys[0]} and {keys[1]} {'cannot both be right' if sure else 'hardly agree'}: {message}",
        remedy,
        panel=f"coupon at {one.temperature_c:g} °C",
        found=found,
        limit=limit,
        unit=unit,
    )


def _apart(one: float, other: float, sigma: float) -> float:
    return abs(one - other) / sigma if sigma > 0.0 else math.inf if one != other else 0.0


def _scatter(here: str, read: CouponReadings, one: CouponValues) -> Iterator[Finding]:
    for key in ("wall_mm", "strip_mm"):
        values = getattr(read, key)
        if len(values) < 2:
            continue
        low, high = min(values), max(values)
        middle = sorted(values)[len(values) // 2]
        if high - low > READINGS_SHARE * middle:
            pair = f"{here}.{key}[{values.index(low)}]", f"{here}.{key}[{values.index(high)}]"
            yield _question(
                one,
                pair,
                sigmas=math.inf,
                message=f"{low:g} and {high:g} mm of one wall",
                remedy="measure these two places again; a blob or a missed digit is left out",
                found=high - low,
                limit=READINGS_SHARE * middle,
                unit="mm",
            )


def _wall_and_slot(here: str, one: CouponValues, bead_mm: float) -> Iterator[Finding]:
    if one.wall is None or one.slot is None:
        return
    swelling = one.wall.value - bead_mm
    slot = one.slot.estimate
    if one.slot.beyond and swelling >= slot.value:
        # wider slots than the row has were never tried
        return
    if one.slot.safe == 0.0 and swelling <= slot.value:
        # no slot fused, as a bead that hardly swells says too
        return
    sigmas = _apart(swelling, slot.value, math.hypot(one.wall.sigma, slot.sigma, FLANK_MM))
    if sigmas > DOUBT_SIGMAS:
        yield _question(
            one,
            (f"{here}.wall_mm", f"{here}.slot_fused"),
            sigmas=sigmas,
            message=f"a wall of {one.wall.value:.3f} mm bridges slots up to about "
            f"{max(0.0, swelling):.3f} mm, the slots say about {slot.value:.3f} mm",
            remedy="measure the wall again, and pry the slots apart once more with a thin blade",
            found=swelling,
            limit=slot.value,
            unit="mm",
        )


def _wall_and_strip(here: str, one: CouponValues, bead_mm: float) -> Iterator[Finding]:
    if one.wall is None or one.strip is None:
        return
    expected = bead_mm + one.wall.value
    sigmas = _apart(expected, one.strip.value, math.hypot(one.wall.sigma, one.strip.sigma, SEAM_MM))
    if sigmas > DOUBT_SIGMAS:
        yield _question(
            one,
            (f"{here}.wall_mm", f"{here}.strip_mm"),
            sigmas=sigmas,
            message=f"two beads as wide as the wall, {bead_mm:g} mm apart, are {expected:.3f} mm thick, the "
            f"strip was {one.strip.value:.3f} mm",
            remedy="measure both again, the strip away from its ends",
            found=one.strip.value,
            limit=expected,
            unit="mm",
        )


def _wall_and_flow(here: str, one: CouponValues) -> Iterator[Finding]:
    if one.ratio is not None and one.ratio.high < LEAST_RATIO:
        yield _question(
            one,
            (f"{here}.wall_mm", f"{here}.flow"),
            sigmas=math.inf,
            message=f"the wall takes only {one.ratio.value:.2f} times the room of the filament in it",
            remedy="look whether this coupon was printed with this flow, and measure the wall again",
            found=one.ratio.value,
            limit=LEAST_RATIO,
        )


def _mass_and_filament(here: str, one: CouponValues, base: FilamentProfile) -> Iterator[Finding]:
    if one.density is None:
        return
    known = base.density_g_cm3
    feed = max(base.feed_band, 0.02) * known / COVERAGE_FACTOR
    sigmas = _apart(one.density.value, known, math.hypot(one.density.sigma, feed))
    if sigmas > DOUBT_SIGMAS:
        yield _question(
            one,
            (f"{here}.mass_g", f"{here}.filament_mm3"),
            sigmas=sigmas,
            message=f"together they make filament of {one.density.value:.3f} g/cm3, and {base.name} has "
            f"{known:g}",
            remedy="weigh again without brim and strings; measure the filament's diameter and whether 100 mm "
            "asked for are 100 mm fed",
            found=one.density.value,
            limit=known,
            unit="g/cm3",
        )


def _masses(one: CouponValues, other: CouponValues) -> Iterator[Finding]:
    if one.density is None or other.density is None:
        return
    a, b = one.density, other.density
    sigmas = _apart(a.value, b.value, math.hypot(a.sigma, b.sigma))
    if sigmas > DOUBT_SIGMAS:
        yield _question(
            other,
            (f"coupon[{one.number}].mass_g", f"coupon[{other.number}].mass_g"),
            sigmas=sigmas,
            message=f"filament of {a.value:.3f} and of {b.value:.3f} g/cm3, though it is the same",
            remedy="weigh both again; look for strings, a torn wall, or a slipping drive",
            found=b.value,
            limit=a.value,
            unit="g/cm3",
        )


def _foaming(one: CouponValues, other: CouponValues) -> Iterator[Finding]:
    """Question a hotter coupon that foamed less; foam that is overheated does lose gas, so never refuse."""
    if one.ratio is None or other.ratio is None or one.temperature_c == other.temperature_c:
        return
    cool, hot = sorted((one, other), key=lambda coupon: coupon.temperature_c)
    if cool.ratio is None or hot.ratio is None or cool.ratio.value <= hot.ratio.value:
        return
    if (
        _apart(cool.ratio.value, hot.ratio.value, math.hypot(cool.ratio.sigma, hot.ratio.sigma))
        > DOUBT_SIGMAS
    ):
        yield _question(
            hot,
            (f"coupon[{cool.number}].wall_mm", f"coupon[{hot.number}].wall_mm"),
            sigmas=DOUBT_SIGMAS,
            message=f"foamed {cool.ratio.value:.2f} times at {cool.temperature_c:g} °C and "
            f"{hot.ratio.value:.2f} times at {hot.temperature_c:g} °C, though heat makes foam",
            remedy="look whether the two were swapped; foam that is overheated may lose its gas again",
            found=hot.ratio.value,
            limit=cool.ratio.value,
        )


def _wall_and_table(here: str, one: CouponValues, base: FilamentProfile) -> Iterator[Finding]:
    if one.ratio is None:
        return
    known = base.foaming_ratio(one.temperature_c)
    if one.ratio.high < known / TABLE_ROOM or one.ratio.low > known * TABLE_ROOM:
        yield _question(
            one,
            (f"{here}.wall_mm", f"{here}.temperature_c"),
            sigmas=DOUBT_SIGMAS,
            message=f"foamed {one.ratio.value:.2f} times; {base.name} has {known:.2f} at this temperature, "
            "and such tables are good to 20 per cent",
            remedy="measure the wall again; look at flow and at the nozzle's real temperature",
            found=one.ratio.value,
            limit=known,
        )


def _droops(here: str, read: CouponReadings, one: CouponValues) -> Iterator[Finding]:
    for (i, a), (j, b) in combinations(enumerate(one.moduli), 2):
        sigmas = _apart(math.log(a.value), math.log(b.value), math.hypot(a.relative, b.relative))
        if sigmas > DOUBT_SIGMAS:
            yield _question(
                one,
                (f"{here}.droop[{i}]", f"{here}.droop[{j}]"),
                sigmas=sigmas,
                message=f"{read.droop[i].mass_g:g} g say a strip of {a.value:.0f} MPa, "
                f"{read.droop[j].mass_g:g} g one of {b.value:.0f} MPa",
                remedy="hang both again; the clamp may have slipped, or the strip has crept",
                found=b.value,
                limit=a.value,
                unit="MPa",
            )


def _stiffness(here: str, one: CouponValues, base: FilamentProfile) -> Iterator[Finding]:
    if one.modulus is None:
        return
    ratio = base.foaming_ratio(one.temperature_c) if one.ratio is None else one.ratio.value
    low, high = _published_modulus(base, max(1.0, ratio))
    value: Estimate = one.modulus
    if low / MODULUS_ROOM <= value.high and value.low <= high * MODULUS_ROOM:
        return
    yield _question(
        one,
        (f"{here}.droop", f"{here}.strip_mm"),
        sigmas=math.inf,
        message=f"they make a strip of {value.value:.0f} MPa; foam of {ratio:.2f} times its volume is "
        f"published or judged at {low:.0f} to {high:.0f} MPa",
        remedy="measure the strip's thickness again, whose cube counts, and look at masses and lengths",
        found=value.value,
        limit=low if value.value < low else high,
        unit="MPa",
    )


def _published_modulus(base: FilamentProfile, ratio: float) -> tuple[float, float]:
    """Return the range of the foam's modulus by the profile's own ranges [MPa]."""
    modulus, power = base.source_of("e_modulus_mpa"), base.source_of("stiffness_exponent")
    least = most = base.e_modulus_mpa
    weak = strong = base.stiffness_exponent
    if modulus is not None:
        least, most = modulus.low or least, modulus.high or most
    if power is not None:
        weak, strong = power.high or weak, power.low or strong
    return least * ratio**-weak, most * ratio**-strong
