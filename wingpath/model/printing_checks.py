"""Print settings held against the profiles: what this filament and this printer do not bear."""

from __future__ import annotations

from collections.abc import Iterator

from wingpath.core.errors import A_SPEC, Problem, SpecError
from wingpath.model.printer_blocks import block_values, block_words, fill_block
from wingpath.model.profiles import FilamentProfile, PrinterProfile
from wingpath.model.spec_printing import PrintSpec

__all__ = ["refuse_unfit_settings"]

HEATING = frozenset({("M", 104.0), ("M", 109.0)})
"""Words that set the nozzle's temperature, to what S or R of the same line says."""


def refuse_unfit_settings(settings: PrintSpec, *, printer: PrinterProfile, filament: FilamentProfile) -> None:
    """Refuse temperatures that the filament does not bear, in the settings or in the printer's blocks.

    Raises
    ------
    SpecError
        With every key that is wrong.
    """
    problems = [*_temperatures(settings, filament), *_blocks(settings, printer, filament)]
    if problems:
        raise SpecError(A_SPEC, problems)


def _temperatures(settings: PrintSpec, filament: FilamentProfile) -> Iterator[Problem]:
    low, high = filament.temperature_min_c, filament.temperature_max_c
    allowed = f"{low:g} to {high:g} °C, what {filament.name} prints at"
    for key in ("temperature_c", "unfoamed_temperature_c"):
        value = getattr(settings, key)
        if value is not None and not low <= value <= high:
            yield Problem(
                f"print.{key}",
                f"{value:g} °C",
                allowed,
                "Or choose another filament; its limits are temperature_min_c and temperature_max_c",
            )
    cool = settings.unfoamed_temperature_c
    if settings.unfoamed_mm > 0 and cool is not None and cool > settings.temperature_c:
        yield Problem(
            "print.unfoamed_temperature_c and print.temperature_c",
            f"{cool:g} °C below and {settings.temperature_c:g} °C above",
            "an unfoamed foot that is cooler than the rest",
        )


def _blocks(settings: PrintSpec, printer: PrinterProfile, filament: FilamentProfile) -> Iterator[Problem]:
    # a wanted temperature that is too high is a problem of its own
    wanted = min(settings.temperature_c, filament.temperature_max_c)
    values = block_values(printer, filament, settings, start_temperature_c=wanted)
    for key in ("start_block", "end_block"):
        block = fill_block(getattr(printer, key), values)
        hot = (words for words in block_words(block) if not HEATING.isdisjoint(words))
        for letter, number in (word for words in hot for word in words):
            if letter in "SR" and number > filament.temperature_max_c:
                yield Problem(
                    f"printer.{key}",
                    f"a nozzle of {number:g} °C",
                    f"up to {filament.temperature_max_c:g} °C, what {filament.name} bears",
                    "Write {temperature_c} instead of the number",
                )
