"""Bands: how far mass, stiffness and fit may be off with a filament as well known as this one."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace

from wingpath.core.findings import Finding
from wingpath.model.profiles import FilamentProfile
from wingpath.model.spec_printing import PrintSpec

__all__ = ["Bands", "bands_of", "calibration_findings", "foaming_band_at", "slots_were_tried"]

NEAR_C = 5.0
"""Up to this far from a measured temperature the measured foaming holds [°C]."""

BETWEEN_FOAM, BEYOND_FOAM = 0.1, 0.2
"""Band of the foaming ratio between measured temperatures and beside them: judgement."""

NEAR_SHARE = 0.15
"""Up to this share of another bead, layer or flow a calibration holds: judgement."""


@dataclass(frozen=True, slots=True)
class Bands:
    """Half-widths of bands that hold the true value with about 95 per cent.

    Parameters
    ----------
    mass : float
        Of printed mass, as a share of it.
    bead : float
        Of the bead's real width, as a share of it.
    modulus : float
        Of the foamed wall's modulus along a bead, as a share of it; the wider side.
    wall_stiffness : float
        Of modulus times thickness, which skins stretch and twist by, as a share of it.
    wall_buckling : float
        Of modulus times the cube of the thickness, which walls wrinkle by, as a share of it.
    bore_mm : tuple of float
        Least and greatest clearance with which a tube may turn out to slide [mm].
    calibrated : bool
        Whether the filament was measured.
    """

    mass: float
    bead: float
    modulus: float
    wall_stiffness: float
    wall_buckling: float
    bore_mm: tuple[float, float]
    calibrated: bool


def bands_of(filament: FilamentProfile, settings: PrintSpec) -> Bands:
    """Return how far numbers may be off.

    Parameters
    ----------
    filament : FilamentProfile
        The filament, with the ranges of its values.
    settings : PrintSpec
        What it is printed with.

    Notes
    -----
    Mass is ``density x flow x path volume``, so its band is that of density and feed. The modulus of the
    foam is ``E R^-n``. With an uncalibrated filament the bands of E, n and R add as squares. A calibrated E
    was taken from the foam itself at one ratio, so n and R count only as far as the ratio differs from
    there. Values without a range are taken as exact; ranges of the shipped profiles are judgement.
    """
    temperature = settings.temperature_c
    density = _share(filament, "density_g_cm3")
    mass = math.hypot(density, filament.feed_band)
    foam = foaming_band_at(filament, temperature)
    bead = math.hypot(foam, filament.feed_band)
    ratio = max(1.0, filament.foaming_ratio(temperature))
    exponent = _width(filament, "stiffness_exponent")
    own = _share(filament, "e_modulus_mpa")
    record = filament.calibration
    bent_at = None if record is None else record.strip_temperature_c
    if bent_at is not None and _is_measured(filament, "e_modulus_mpa"):
        there = max(1.0, filament.foaming_ratio(bent_at))
        near = abs(temperature - bent_at) <= NEAR_C
        parts = (
            exponent * abs(math.log(ratio / there)),
            0.0 if near else filament.stiffness_exponent * foam,
        )
    else:
        parts = (exponent * math.log(ratio), filament.stiffness_exponent * foam)
    modulus = math.hypot(own, *parts)
    # foam that grows more is softer and thicker at once: E t^3 goes with R^(3 - n)
    power = 3.0 - (filament.stiffness_exponent if parts[1] > 0.0 else 0.0)
    buckling = math.hypot(own, parts[0], power * foam, 3.0 * filament.feed_band)
    low, high = _range(filament, "bore_allowance_mm")
    return Bands(
        mass=mass,
        bead=bead,
        modulus=modulus,
        wall_stiffness=math.hypot(modulus, bead),
        wall_buckling=buckling,
        bore_mm=(max(0.0, low), high),
        calibrated=filament.calibrated,
    )


def foaming_band_at(filament: FilamentProfile, temperature_c: float) -> float:
    """Return how far the foaming ratio may be off at a temperature, as a share of it.

    Where rows of the table were measured, the profile's band holds near them; between two of them it is at
    least 10 per cent, elsewhere at least 20, as for a table that was never measured.

    Parameters
    ----------
    filament : FilamentProfile
        The filament.
    temperature_c : float
        Of the nozzle [°C].
    """
    rows = [row.temperature_c for row in filament.foaming if row.measured]
    if not rows or any(abs(temperature_c - row) <= NEAR_C for row in rows):
        return filament.foaming_band
    between = min(rows) < temperature_c < max(rows)
    return max(filament.foaming_band, BETWEEN_FOAM if between else BEYOND_FOAM)


def _range(filament: FilamentProfile, key: str) -> tuple[float, float]:
    value, source = float(getattr(filament, key)), filament.source_of(key)
    if source is None:
        return value, value
    return (value if source.low is None else source.low), (value if source.high is None else source.high)


def _width(filament: FilamentProfile, key: str) -> float:
    """Return the wider side of a value's range, in its unit."""
    value = float(getattr(filament, key))
    low, high = _range(filament, key)
    return max(value - low, high - value)


def _share(filament: FilamentProfile, key: str) -> float:
    return _width(filament, key) / abs(float(getattr(filament, key)))


def _is_measured(filament: FilamentProfile, key: str) -> bool:
    source = filament.source_of(key)
    return source is not None and source.kind == "measured"


def calibration_findings(filament: FilamentProfile, settings: PrintSpec) -> Iterator[Finding]:
    """Say where a filament is printed otherwise than it was calibrated."""
    record = filament.calibration
    if record is None:
        return
    foamed = [row.temperature_c for row in filament.foaming if row.measured]
    if foamed and all(abs(settings.temperature_c - known) > NEAR_C for known in foamed):
        listed = ", ".join(f"{known:g}" for known in foamed)
        yield replace(_off("temperature_c", settings.temperature_c, listed, "°C"), severity="warning")
    for key, value, known in (
        ("bead_mm", settings.bead_mm, record.bead_mm),
        ("layer_mm", settings.layer_mm, record.layer_mm),
    ):
        if abs(value / known - 1.0) > NEAR_SHARE:
            yield _off(key, value, f"{known:g}", "mm")
    if all(abs(settings.flow / flow - 1.0) > NEAR_SHARE for flow in record.flow):
        yield _off("flow", settings.flow, ", ".join(f"{flow:g}" for flow in record.flow), "")


def slots_were_tried(
    filament: FilamentProfile, *, temperature_c: float, flow: float, bead_mm: float, layer_mm: float
) -> bool:
    """Return whether slots were tried on a coupon that was printed like this.

    Parameters
    ----------
    filament : FilamentProfile
        The filament.
    temperature_c, flow, bead_mm, layer_mm : float
        What it is printed with [°C], [-], [mm], [mm].
    """
    record = filament.calibration
    if record is None or record.slot_temperature_c is None or not _is_measured(filament, "bond_extra_mm"):
        return False
    return (
        abs(temperature_c - record.slot_temperature_c) <= NEAR_C
        and any(
            abs(flow / known - 1.0) <= NEAR_SHARE for known in record.printed_with(record.slot_temperature_c)
        )
        and abs(bead_mm / record.bead_mm - 1.0) <= NEAR_SHARE
        and abs(layer_mm / record.layer_mm - 1.0) <= NEAR_SHARE
    )


def _off(key: str, value: float, known: str, unit: str) -> Finding:
    tail = f" {unit}" if unit else ""
    return Finding(
        "off-calibration",
        "note",
        f"{key} is {value:g}{tail}, and the filament was measured at {known}{tail}; what it does here "
        "is assumed",
        "print a coupon with the settings of the wing and read it back",
        found=value,
        unit=unit,
    )
