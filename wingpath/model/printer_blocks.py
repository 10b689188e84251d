"""The blocks of text that a printer is sent before and after a print, with named values in braces."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import TYPE_CHECKING

from wingpath.core.errors import Problem, SpecError

if TYPE_CHECKING:
    from wingpath.model.profiles import FilamentProfile, PrinterProfile
    from wingpath.model.spec import PrintSpec

__all__ = ["NAMED_VALUES", "block_values", "fill_block", "named_in"]

NAMED_VALUES = (
    "bed_temperature_c",
    "temperature_c",
    "fan_pwm",
    "bed_x_mm",
    "bed_y_mm",
    "height_mm",
    "nozzle_mm",
    "bead_mm",
    "layer_mm",
    "prime_start_x_mm",
    "prime_end_x_mm",
    "prime_y_mm",
)
"""What a start or end block may name in braces."""

PRIME_LENGTH_MM = 60.0
"""Length of the line that fills the nozzle at the front edge: about the melt that a nozzle holds [mm]."""

FULL_PWM = 255
"""Fan value at full speed, common practice of machine controllers, no source."""

_BRACED = re.compile(r"\{([^{}\n]*)\}")


def named_in(block: str) -> tuple[str, ...]:
    """Return the names that stand in braces in a block, each once."""
    return tuple(dict.fromkeys(_BRACED.findall(block)))


def block_values(printer: PrinterProfile, filament: FilamentProfile, settings: PrintSpec) -> dict[str, float]:
    """Return the values that a start or end block may name, by name."""
    middle_x, middle_y = printer.centre_mm
    left = middle_x - printer.bed_x_mm / 2.0 + printer.margin_mm
    return {
        "bed_temperature_c": filament.bed_temperature_c,
        "temperature_c": settings.temperature_c,
        "fan_pwm": float(round(FULL_PWM * filament.fan_percent / 100.0)),
        "bed_x_mm": printer.bed_x_mm,
        "bed_y_mm": printer.bed_y_mm,
        "height_mm": printer.height_mm,
        "nozzle_mm": printer.nozzle_mm,
        "bead_mm": settings.bead_mm,
        "layer_mm": settings.layer_mm,
        "prime_start_x_mm": left,
        "prime_end_x_mm": left + min(PRIME_LENGTH_MM, printer.usable_x_mm),
        "prime_y_mm": middle_y - printer.bed_y_mm / 2.0 + printer.margin_mm / 2.0,
    }


def fill_block(block: str, values: Mapping[str, float]) -> str:
    """Return a start or end block with the names in braces replaced by their values.

    Raises
    ------
    SpecError
        When the block names a value that `values` does not hold.
    """
    missing = [name for name in named_in(block) if name not in values]
    if missing:
        allowed = f"the names {', '.join(values)} in braces"
        raise SpecError("block", [Problem("block", f"{{{name[:40]}}}", allowed) for name in missing])
    return _BRACED.sub(lambda match: f"{values[match[1]]:.6g}", block)
