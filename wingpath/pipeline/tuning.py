"""The slot window for one nozzle and for a range of them, as values and as plain data."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

from wingpath.core.findings import Finding, count_severities, sort_findings
from wingpath.pipeline.bands_document import bands_document
from wingpath.pipeline.cautions import CAUTIONS
from wingpath.pipeline.coupon_making import Coupons
from wingpath.pipeline.tune_options import NOZZLES_MM, TuneOptions
from wingpath.report.window_picture import window_picture, window_svg
from wingpath.tune.bands import bands_of, calibration_findings
from wingpath.tune.window import (
    OVERHANG_ANGLES_DEG,
    SlotWindow,
    bead_for_nozzle_mm,
    layer_for_bead_mm,
    slot_window,
    window_findings,
)
from wingpath.version import __version__

__all__ = ["Tuning", "tune_windows", "tuning_document", "tuning_picture"]


@dataclass(frozen=True, slots=True)
class Tuning:
    """The window that was asked for, and those of other nozzles beside it.

    Parameters
    ----------
    options : TuneOptions
        What is tuned.
    chosen : SlotWindow
        With the nozzle, bead and layer that were asked for.
    side_by_side : tuple of SlotWindow
        By nozzle, the chosen one among them.
    findings : tuple of Finding
        Worst first.
    """

    options: TuneOptions
    chosen: SlotWindow
    side_by_side: tuple[SlotWindow, ...]
    findings: tuple[Finding, ...]


def tune_windows(options: TuneOptions) -> Tuning:
    """Work out the slot window for the wanted nozzle and for a range of others.

    Parameters
    ----------
    options : TuneOptions
        What is tuned. Other nozzles get the bead and layer that go with them, at the same flow and
        temperature.
    """
    settings, nozzle = options.settings, options.printer.nozzle_mm
    chosen = _window(options, nozzle, settings.bead_mm, settings.layer_mm)
    others = [
        _window(options, other, bead_for_nozzle_mm(other), layer_for_bead_mm(bead_for_nozzle_mm(other)))
        for other in NOZZLES_MM
        if abs(other - nozzle) > 1e-9
    ]
    every = tuple(sorted([chosen, *others], key=lambda window: window.nozzle_mm))
    findings = [
        *window_findings(chosen, options.filament),
        *calibration_findings(options.filament, settings),
    ]
    findings += _empty_ones([window for window in every if window.empty and window is not chosen])
    return Tuning(options, chosen, every, sort_findings(findings))


def _empty_ones(windows: list[SlotWindow]) -> list[Finding]:
    """Say of all other nozzles without a window at once that they have none."""
    if not windows:
        return []
    listed = ", ".join(f"{window.nozzle_mm:g}" for window in windows)
    return [
        Finding(
            "no-window",
            "warning",
            f"{'nozzles' if len(windows) > 1 else 'a nozzle'} of {listed} mm "
            f"{'have' if len(windows) > 1 else 'has'} no window: at this flow and temperature no slot fuses "
            "that is wide enough to be kept",
            "ask for the nozzle that you have, by --nozzle-mm, to see which flow opens it",
        )
    ]


def _window(options: TuneOptions, nozzle: float, bead: float, layer: float) -> SlotWindow:
    return slot_window(
        nozzle_mm=nozzle,
        bead_mm=bead,
        layer_mm=layer,
        filament=options.filament,
        temperature_c=options.settings.temperature_c,
        flow=options.settings.flow,
        resolution_mm=options.resolution_mm,
    )


def tuning_picture(tuning: Tuning, ending: str) -> bytes:
    """Draw the windows side by side, and the chosen bead to scale.

    Parameters
    ----------
    tuning : Tuning
        What is drawn.
    ending : {".png", ".svg"}
        Kind of picture.
    """
    title = _title(tuning)
    if ending == ".svg":
        return window_svg(tuning.side_by_side, tuning.chosen, title=title).encode("utf-8", "replace")
    return window_picture(tuning.side_by_side, tuning.chosen, title=title)


def _title(tuning: Tuning) -> str:
    settings = tuning.options.settings
    return (
        f"Slot windows: {tuning.options.filament.name}, {settings.temperature_c:g} °C, flow {settings.flow:g}"
    )


def tuning_document(
    tuning: Tuning,
    coupons: Coupons | None = None,
    *,
    folder: Path | None = None,
    files: tuple[Path, ...] = (),
) -> dict[str, Any]:
    """Return the document of `tune`.

    Parameters
    ----------
    tuning : Tuning
        The windows.
    coupons : Coupons, optional
        The coupons that were made.
    folder : Path, optional
        Where their files are.
    files : tuple of Path
        Those files.
    """
    options = tuning.options
    findings = [*tuning.findings, *(coupons.findings if coupons is not None else ())]
    return {
        "document": "wingpath tune",
        "format": 1,
        "wingpath_version": __version__,
        "printer": options.printer.title,
        "filament": options.filament.name,
        "calibrated": options.filament.calibrated,
        "temperature_c": options.settings.temperature_c,
        "flow": options.settings.flow,
        "window": _plain(tuning.chosen),
        "nozzles": [_plain(window) for window in tuning.side_by_side],
        "overhangs": [
            {
                "lean_deg": lean,
                "overlap_share": round(tuning.chosen.overlap_share(lean), 4),
            }
            for lean in OVERHANG_ANGLES_DEG
        ],
        "bands": bands_document(bands_of(options.filament, options.settings)),
        "coupon": None if coupons is None else _coupon(coupons, folder, files),
        "counts": count_severities(findings),
        "findings": [finding.as_dict() for finding in sort_findings(findings)],
        "cautions": list(CAUTIONS),
    }


def _plain(window: SlotWindow) -> dict[str, Any]:
    low, wanted, high = window.neck_mm
    return {
        "nozzle_mm": window.nozzle_mm,
        "bead_mm": window.bead_mm,
        "layer_mm": window.layer_mm,
        "foaming_ratio": round(window.foaming_ratio, 4),
        "fill": round(window.fill, 4),
        "real_bead_mm": round(window.real_bead_mm, 4),
        "least_slot_mm": round(window.least_mm, 4),
        "least_slot_reason": window.least_reason,
        "widest_slot_mm": round(window.widest_mm, 4),
        "widest_slot_band_mm": [round(window.widest_low_mm, 4), round(window.widest_high_mm, 4)],
        "suggested_slot_mm": window.suggested_mm,
        "empty": window.empty,
        "neck_over_mm": round(low, 4),
        "suggested_neck_mm": round(wanted, 4),
        "neck_under_mm": round(high, 4),
        "overlap_share_at_45_deg": round(window.overlap_share(45.0), 4),
        "least_thickness_mm": round(window.least_thickness_mm, 4),
        "fastest_mm_s": round(window.fastest_mm_s, 1),
    }


def _coupon(coupons: Coupons, folder: Path | None, files: tuple[Path, ...]) -> dict[str, Any]:
    plan, layers = coupons.plan, coupons.continuity.layers
    return {
        "folder": None if folder is None else str(folder),
        "files": [file.name for file in files],
        "proven": coupons.continuity.proven,
        "layers": len(layers),
        "height_mm": round(plan.height_mm, 4),
        "slots_mm": [step.size_mm for step in plan.slots],
        "bores_mm": [step.size_mm for step in plan.bores],
        "tabs_mm": [step.size_mm for step in plan.tabs],
        "leans_deg": list(plan.leans_deg),
        "prints": [
            {
                "file": f"{one.stem}.gcode",
                "temperature_c": one.settings.temperature_c,
                "flow": one.settings.flow,
                "print_time_s": round(one.path.time_s, 1),
                "printed_mass_g": round(one.path.printed_mass_g, 4),
            }
            for one in coupons.prints
        ],
    }
