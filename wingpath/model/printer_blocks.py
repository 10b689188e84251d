"""The blocks of text that a printer is sent before and after a print, with named values in braces."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from typing import TYPE_CHECKING

from wingpath.core.errors import Problem, SpecError

if TYPE_CHECKING:
    from wingpath.model.profiles import FilamentProfile, PrinterProfile
    from wingpath.model.spec_printing import PrintSpec

__all__ = [
    "LONGEST_LINE",
    "MILLIMETRES",
    "NAMED_VALUES",
    "block_problems",
    "block_values",
    "block_words",
    "fill_block",
    "named_in",
    "plain_number",
]

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
    "end_z_mm",
    "park_x_mm",
    "park_y_mm",
)
"""What a start or end block may name in braces."""

PRIME_LENGTH_MM = 60.0
"""Length of a line at the front edge that a block may draw to fill the nozzle [mm]."""

LIFT_MM = 5.0
"""How far the nozzle rises off a finished part, if the machine goes that high [mm]."""

FULL_PWM = 255
"""Fan value at full speed, common practice of machine controllers, no source."""

LONGEST_LINE = 256
"""Longest line of a program [characters]; NIST RS274NGC interpreter, version 3, NISTIR 6556, 2000, 3.3."""

INCHES, MILLIMETRES = ("G", 20.0), ("G", 21.0)
"""Words that set the unit of all lengths after them."""

_BRACED = re.compile(r"\{([^{}\n]*)\}")
_REMARK = re.compile(r"\([^()]*\)|;.*")
_WORD = re.compile(r"(?<![A-Z])([A-Z])\s*([-+]?(?:\d+\.?\d*|\.\d+))")


def named_in(block: str) -> tuple[str, ...]:
    """Return the names that stand in braces in a block, each once."""
    return tuple(dict.fromkeys(_BRACED.findall(block)))


def block_words(block: str) -> Iterator[tuple[tuple[str, float], ...]]:
    """Yield the words of every line of a block, letter and number, without what stands in comments.

    Small letters, leading zeros and blanks, or none, make no difference (NISTIR 6556, 3.3).

    Parameters
    ----------
    block : str
        Its text.
    """
    for line in block.splitlines():
        words = _WORD.findall(_REMARK.sub(" ", line).upper())
        yield tuple((letter, float(number)) for letter, number in words)


def block_problems(key: str, block: str) -> Iterator[Problem]:
    """Yield what is wrong with a start or end block.

    Parameters
    ----------
    key : str
        Key of the block.
    block : str
        Its text.
    """
    for name in named_in(block):
        if name not in NAMED_VALUES:
            yield Problem(key, f"{{{name[:40]}}}", f"the names {', '.join(NAMED_VALUES)} in braces")
    if any(INCHES in words for words in block_words(block)):
        yield Problem(key, "G20, inches", "G21, millimetres: the path is written in them")
    longest = max((len(line) for line in block.splitlines()), default=0)
    if longest > LONGEST_LINE:
        yield Problem(key, f"a line of {longest} characters", f"lines of up to {LONGEST_LINE}")


def block_values(
    printer: PrinterProfile,
    filament: FilamentProfile,
    settings: PrintSpec,
    *,
    start_temperature_c: float | None = None,
    top_mm: float = 0.0,
) -> dict[str, float]:
    """Return the values that a start or end block may name, by name.

    Parameters
    ----------
    printer, filament, settings
        What is printed with.
    start_temperature_c : float, optional
        Temperature of the first layer, ``temperature_c`` in a block; by default that of the settings [°C].
    top_mm : float
        Height of the printed part [mm].
    """
    middle_x, middle_y = printer.centre_mm
    left = middle_x - printer.bed_x_mm / 2.0 + printer.margin_mm
    start = settings.temperature_c if start_temperature_c is None else start_temperature_c
    return {
        "bed_temperature_c": filament.bed_temperature_c,
        "temperature_c": start,
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
        "end_z_mm": max(top_mm, min(top_mm + LIFT_MM, printer.height_mm)),
        "park_x_mm": left,
        "park_y_mm": middle_y + printer.bed_y_mm / 2.0 - printer.margin_mm,
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
    return _BRACED.sub(lambda match: plain_number(values[match[1]]), block)


def plain_number(value: float) -> str:
    """Return a number as a program may hold it: without exponent, to a micrometre.

    An exponent would be read as the word E (NISTIR 6556, 3.3.2.1).
    """
    text = f"{value:.3f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text
