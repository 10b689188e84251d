"""Rates: how fast each layer is laid, with how much filament and how hot."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from wingpath.build.bead import bead_area_mm2
from wingpath.core.arrays import BoolArray, FloatArray, frozen_floats
from wingpath.model.profiles import FilamentProfile, PrinterProfile
from wingpath.model.spec_printing import PrintSpec

__all__ = ["PathRates", "path_rates"]

LEAD_IN_FLOW = 1.0
"""The run that fills the nozzle gets as much filament as a solid bead, twice what a foamed one gets."""

MOST_FLOW = 1.2
"""More filament than this beside the path has no room there."""

HELIX_HIGHEST = 1.3
"""Highest bead of a path in layers, where a helix of the fewest turns begins and ends: 0.25 + 11.5 / 11."""


@dataclass(frozen=True, slots=True, eq=False)
class PathRates:
    """Speed, flow and temperature of every layer.

    Parameters
    ----------
    speed_mm_s, flow, temperature_c : ndarray, shape (n,)
        Of each layer [mm/s], [-], [°C].
    capped : ndarray of bool, shape (n,)
        Layers slowed down because the nozzle melts no more.
    hurried : ndarray of bool, shape (n,)
        Layers that take less than the least time at the slowest speed.
    brim_speed_mm_s, lead_in_speed_mm_s, lead_in_flow : float
        Of what comes before the first layer.
    """

    speed_mm_s: FloatArray
    flow: FloatArray
    temperature_c: FloatArray
    capped: BoolArray
    hurried: BoolArray
    brim_speed_mm_s: float
    lead_in_speed_mm_s: float
    lead_in_flow: float

    def __post_init__(self) -> None:
        count = (len(self.speed_mm_s),)
        for field in ("speed_mm_s", "flow", "temperature_c"):
            object.__setattr__(self, field, frozen_floats(getattr(self, field), count, name=field))


def path_rates(
    length_mm: FloatArray, settings: PrintSpec, *, filament: FilamentProfile, printer: PrinterProfile
) -> PathRates:
    """Work out how each layer is laid.

    Parameters
    ----------
    length_mm : ndarray, shape (n,)
        Length of each layer's loop [mm].
    settings : PrintSpec
        The wanted speed, temperature and flow.
    filament, printer : profiles
        What limits them.

    Notes
    -----
    Speed is the least of what is wanted, what the printer does, ``Q / (A x flow)`` with the most filament
    `Q` that the nozzle melts, and ``length / least time``, the last not under the slowest speed.

    The first `unfoamed_mm` are printed cooler. Above them the temperature rises as fast as the nozzle
    gets hotter while it prints, layer by layer, and the flow falls so that ``flow x foaming ratio`` stays
    what it is at the end: the bead keeps its width.
    """
    area = bead_area_mm2(bead_mm=settings.bead_mm, layer_mm=settings.layer_mm)
    highest = HELIX_HIGHEST if settings.style == "helical" else 1.0
    cap = filament.melt_rate_mm3_s / (highest * area)
    fastest = min(settings.speed_mm_s, printer.max_speed_mm_s)
    temperature, flow = _foaming(length_mm / fastest, settings, filament, printer)
    wanted = np.full(len(length_mm), fastest)
    wanted[:1] = min(settings.foot_speed_mm_s, fastest)
    speed = np.minimum(wanted, cap / flow)
    capped = cap / flow < wanted
    if filament.least_layer_s > 0.0:
        speed = np.minimum(speed, np.maximum(length_mm / filament.least_layer_s, filament.least_speed_mm_s))
    first_flow = float(flow[0]) if len(flow) else settings.flow
    lead_in_flow = max(LEAD_IN_FLOW, first_flow)
    return PathRates(
        speed_mm_s=speed,
        flow=flow,
        temperature_c=temperature,
        capped=capped,
        hurried=length_mm < speed * filament.least_layer_s * (1.0 - 1e-9),
        brim_speed_mm_s=min(settings.foot_speed_mm_s, fastest, cap / first_flow),
        lead_in_speed_mm_s=min(settings.foot_speed_mm_s, fastest, cap / lead_in_flow),
        lead_in_flow=lead_in_flow,
    )


def _foaming(
    seconds: FloatArray, settings: PrintSpec, filament: FilamentProfile, printer: PrinterProfile
) -> tuple[FloatArray, FloatArray]:
    """Temperature and flow of each layer."""
    count, final = len(seconds), settings.temperature_c
    cool = settings.unfoamed_temperature_c
    cool = filament.unfoamed_temperature_c if cool is None else cool
    temperature = np.full(count, final)
    solid = int(np.floor(settings.unfoamed_mm / settings.layer_mm + 1e-6))
    if solid and cool < final:
        above = np.floor(cool + printer.nozzle_heating_c_s * np.cumsum(seconds[solid:]))
        temperature[:solid] = cool
        temperature[solid:] = np.minimum(final, above)
    fill = filament.fill(flow=settings.flow, temperature_c=final)
    kinds, which = np.unique(temperature, return_inverse=True)
    flows = np.array(
        [
            settings.flow if kind == final else min(MOST_FLOW, fill / filament.foaming_ratio(float(kind)))
            for kind in kinds.tolist()
        ]
    )
    return temperature, flows[which]
