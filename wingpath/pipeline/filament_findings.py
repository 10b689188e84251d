"""What there is to say about a wing's filament: its filling, how well it is known, how tubes fit."""

from __future__ import annotations

from collections.abc import Iterator

from wingpath.core.findings import Finding
from wingpath.pipeline.design import WingDesign
from wingpath.tune.bands import bands_of, calibration_findings
from wingpath.tune.filling import filling_findings

__all__ = ["filament_findings"]


def filament_findings(design: WingDesign) -> list[Finding]:
    """Return what there is to say about the filament of a design."""
    filament, settings = design.filament, design.spec.print
    return [
        *filling_findings(
            filament, flow=settings.flow, temperature_c=settings.temperature_c, key="print.flow"
        ),
        *_uncalibrated(design),
        *calibration_findings(filament, settings),
        *_tight_bores(design),
    ]


def _uncalibrated(design: WingDesign) -> Iterator[Finding]:
    filament = design.filament
    if filament.calibrated:
        return
    bands = bands_of(filament, design.spec.print)
    yield Finding(
        "uncalibrated",
        "note",
        f"{filament.title}: its values are published or judged, not measured here; mass may be off by "
        f"{100.0 * bands.mass:.0f} per cent, the bead's width and with it the fusing of slots by "
        f"{100.0 * bands.bead:.0f}, the stiffness of walls by {100.0 * bands.wall_stiffness:.0f}",
        "print the coupon of `wingpath tune -o DIR`, measure it, and read it back",
    )


def _tight_bores(design: WingDesign) -> Iterator[Finding]:
    """Say where a tube has less clearance than it can be pushed into, or than is plausible."""
    filament = design.filament
    push, words = filament.bore_push_mm, "has to be pushed into a bore of {0:.2f} mm more, as measured"
    if push is None:
        push = bands_of(filament, design.spec.print).bore_mm[0]
        words = "usually needs {0:.2f} mm at least"
    for number, tube in enumerate(design.spec.tubes):
        clearance = tube.bore_clearance_mm
        if clearance < push - 1e-9:
            yield Finding(
                "tight-bore",
                "warning",
                f"tube[{number}] has a clearance of {clearance:g} mm, and with {filament.name} a tube "
                f"{words.format(push)}",
                f"leave clearance_mm out, which makes it {max(0.0, filament.bore_allowance_mm):g} mm, or be "
                "ready to ream the bore",
                found=clearance,
                limit=push,
                unit="mm",
            )
