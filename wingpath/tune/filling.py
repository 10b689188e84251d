"""Filling: whether flow and foaming together make the bead as thick as it is drawn."""

from __future__ import annotations

import math

from wingpath.core.findings import Finding
from wingpath.model.profiles import FilamentProfile

__all__ = ["filling_findings", "or_hotter", "rounded_up"]

LEAST_FILL = 0.97
"""Flow times foaming under this leaves a bead visibly thinner than it is drawn."""

WIDE_FILL = 1.4
"""Over this the bead is pressed far beyond its drawn width and fills bores: judgement, no source."""

WIDE_REMEDY = 1.2
"""What a bead is filled by in the remedy of one that is filled too much: as by default."""

HOTTER_C = 10.0
"""Printing hotter is a remedy where this much more makes more foam [°C]."""


def filling_findings(
    filament: FilamentProfile, *, flow: float, temperature_c: float, key: str = "flow"
) -> list[Finding]:
    """Say when flow and temperature leave the bead much thinner or thicker than it is drawn.

    Parameters
    ----------
    filament : FilamentProfile
        The filament.
    flow, temperature_c : float
        Extruded over nominal volume; of the nozzle [°C].
    key : str
        What the flow is called where it can be changed.
    """
    fill = filament.fill(flow=flow, temperature_c=temperature_c)
    ratio = filament.foaming_ratio(temperature_c)
    told = f"flow {flow:g} at {temperature_c:g} °C fills {100.0 * fill:.0f} per cent of the bead"
    if fill < LEAST_FILL:
        return [
            Finding(
                "underfilled",
                "warning",
                f"{told}: {filament.name} grows {ratio:.2f} times",
                f"set {key} to {rounded_up(flow / fill)}{or_hotter(filament, temperature_c)}",
                found=fill,
                limit=1.0,
            )
        ]
    if fill > WIDE_FILL:
        return [
            Finding(
                "overfilled",
                "warning",
                f"{told}: walls come out {fill:.2f} times as thick, bores narrow",
                f"set {key} to {WIDE_REMEDY * flow / fill:.2f}, or print cooler",
                found=fill,
                limit=WIDE_FILL,
            )
        ]
    return []


def or_hotter(filament: FilamentProfile, temperature_c: float) -> str:
    """Return the other remedy, where heat makes more foam; else nothing."""
    hotter = filament.foaming_ratio(min(temperature_c + HOTTER_C, filament.temperature_max_c))
    return ", or print hotter" if hotter > 1.01 * filament.foaming_ratio(temperature_c) else ""


def rounded_up(flow: float) -> str:
    """Return a flow to a hundredth, so that it is enough."""
    return f"{math.ceil(100.0 * flow - 1e-9) / 100.0:.2f}"
