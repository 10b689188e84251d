"""From a file of measurements to a calibrated filament profile."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

from wingpath.core.errors import Problem, SpecError
from wingpath.core.findings import Finding, count_severities, sort_findings
from wingpath.io.measurements_toml import load_measurements
from wingpath.io.profile_store import is_shipped, load_filament
from wingpath.model.measurements import Measurements
from wingpath.model.profiles import FilamentProfile
from wingpath.model.spec_base import unit_of
from wingpath.model.spec_printing import PrintSpec
from wingpath.pipeline.bands_document import bands_document
from wingpath.pipeline.cautions import CAUTIONS
from wingpath.tune.bands import bands_of
from wingpath.tune.calibrated_profile import calibrated_profile
from wingpath.tune.calibration import Calibration, calibrate
from wingpath.tune.window import SlotWindow, slot_window, window_findings
from wingpath.version import __version__

__all__ = ["ReadCoupons", "calibration_document", "read_coupons"]

VALUE_KEYS = (
    "density_g_cm3",
    "feed_band",
    "foaming_band",
    "e_modulus_mpa",
    "stiffness_exponent",
    "strength_mpa",
    "bond_extra_mm",
    "bore_push_mm",
    "bore_allowance_mm",
    "bore_loose_mm",
    "tab_allowance_mm",
    "overhang_limit_deg",
)
"""Values of a profile that a coupon can tell, and strength, which it cannot."""

FILLING = frozenset({"underfilled", "overfilled", "no-window"})
"""What is said of the bead that a coupon was printed with."""


@dataclass(frozen=True, slots=True)
class ReadCoupons:
    """What was read back.

    Parameters
    ----------
    source : str
        The file.
    calibration : Calibration
        What its readings say.
    profile : FilamentProfile or None
        The calibrated profile; None while two readings contradict each other.
    window : SlotWindow or None
        The slot window with it, at the first coupon's settings.
    settings : PrintSpec
        Those settings.
    findings : tuple of Finding
        Worst first.
    """

    source: str
    calibration: Calibration
    profile: FilamentProfile | None
    window: SlotWindow | None
    settings: PrintSpec
    findings: tuple[Finding, ...]


def read_coupons(path: str | Path) -> ReadCoupons:
    """Read a file of measurements and work out the profile that it makes.

    Parameters
    ----------
    path : path
        The file that came with a coupon, filled in.

    Raises
    ------
    SpecError
        With every key that is wrong.
    FileAccessError
        When a file cannot be read.
    """
    file = Path(path)
    given = load_measurements(file)
    if is_shipped("filaments", given.name):
        problem = Problem("name", f'"{given.name}", which is shipped', "a name of your own")
        raise SpecError(str(path), [problem])
    base = load_filament(
        given.base_profile, key="base_profile", base_dir=file.resolve().parent, allow_outside=True
    )
    _refuse_other_heat(given, base, source=str(path))
    calibration = calibrate(given, base)
    first, printed = calibration.coupons[0], given.printed
    settings = PrintSpec().model_copy(
        update={
            "bead_mm": printed.bead_mm,
            "layer_mm": printed.layer_mm,
            "temperature_c": first.temperature_c,
            "flow": first.flow,
        }
    )
    findings = list(calibration.findings)
    profile = window = None
    if calibration.sound:
        profile = calibrated_profile(calibration)
        window = slot_window(
            nozzle_mm=printed.nozzle_mm,
            bead_mm=printed.bead_mm,
            layer_mm=printed.layer_mm,
            filament=profile,
            temperature_c=first.temperature_c,
            flow=first.flow,
        )
        findings += [f for f in window_findings(window, profile) if f.code in FILLING]
        if not calibration.complete:
            findings.append(
                Finding(
                    "uncalibrated",
                    "note",
                    "the profile is not marked as calibrated: mass_g or wall_mm of the first coupon is "
                    "missing",
                    "weigh the coupon, measure its wall, and read the file again",
                )
            )
    return ReadCoupons(str(path), calibration, profile, window, settings, sort_findings(findings))


def _refuse_other_heat(given: Measurements, base: FilamentProfile, *, source: str) -> None:
    """Refuse coupons printed at temperatures that the filament's profile does not allow to print at."""
    low, high = base.temperature_min_c, base.temperature_max_c
    problems = [
        Problem(
            f"coupon[{number}].temperature_c",
            f"{one.temperature_c:g} °C",
            f"{low:g} to {high:g} °C, what {base.name} prints at",
            "Or correct another profile: base_profile",
        )
        for number, one in enumerate(given.coupons)
        if not low <= one.temperature_c <= high
    ]
    if problems:
        raise SpecError(source, problems)


def calibration_document(read: ReadCoupons, written: Path | None) -> dict[str, Any]:
    """Return what was read back as plain data.

    Parameters
    ----------
    read : ReadCoupons
        What was read.
    written : Path or None
        The profile's file, when one was written.
    """
    calibration = read.calibration
    given = calibration.measurements
    return {
        "document": "wingpath tune --read",
        "format": 1,
        "wingpath_version": __version__,
        "measurements": read.source,
        "profile": None if written is None else str(written),
        "name": given.name,
        "base_profile": given.base_profile,
        "date": given.date,
        "printer": given.printer,
        "spool": given.spool,
        "calibrated": calibration.sound and calibration.complete,
        "coupons": [
            {
                "temperature_c": one.temperature_c,
                "flow": one.flow,
                "density_g_cm3": _estimate(one.density),
                "bead_mm": _estimate(one.wall),
                "foaming_ratio": _estimate(one.ratio),
                "widest_slot_mm": None if one.slot is None else _estimate(one.slot.estimate),
                "strip_modulus_mpa": _estimate(one.modulus),
            }
            for one in calibration.coupons
        ],
        "values": {} if read.profile is None else _values(read.profile),
        "bands": None if read.profile is None else bands_document(bands_of(read.profile, read.settings)),
        "suggested_slot_mm": None if read.window is None else read.window.suggested_mm,
        "counts": count_severities(read.findings),
        "findings": [finding.as_dict() for finding in read.findings],
        "cautions": list(CAUTIONS),
    }


def _estimate(estimate: Any) -> dict[str, float] | None:
    if estimate is None:
        return None
    return {
        "value": round(estimate.value, 6),
        "low": round(estimate.low, 6),
        "high": round(estimate.high, 6),
    }


def _values(profile: FilamentProfile) -> dict[str, Any]:
    found: dict[str, Any] = {}
    for key in VALUE_KEYS:
        value, source = getattr(profile, key), profile.source_of(key)
        if value is None:
            continue
        found[key] = {
            "value": value,
            "unit": unit_of(key),
            "low": None if source is None else source.low,
            "high": None if source is None else source.high,
            "kind": "judgement" if source is None else source.kind,
        }
    return found
