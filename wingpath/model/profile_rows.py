"""Tables inside a filament profile: foaming by temperature, softening by warmth, what was measured on."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from itertools import pairwise

from pydantic import Field

from wingpath.core.errors import Problem
from wingpath.model.printing_values import NozzleDiameter, NozzleTemperature
from wingpath.model.spec_base import ISO_DATE, ONE_LINE, Number, SpecTable, Switch

__all__ = [
    "PLA_WARM_ROWS",
    "CalibrationRecord",
    "FoamingRow",
    "WarmRow",
    "share_at",
    "unrisen_rows",
]


class FoamingRow(SpecTable):
    """How much the filament grows at one temperature."""

    temperature_c: NozzleTemperature = Field(description="temperature of the nozzle")
    ratio: Number = Field(ge=0.5, le=8, description="volume that comes out over filament volume that goes in")
    measured: Switch = Field(default=False, description="whether this row was measured on a coupon")


class WarmRow(SpecTable):
    """How stiff the printed part still is at one temperature."""

    temperature_c: Number = Field(ge=-40, le=150, description="temperature of the part")
    share: Number = Field(ge=0, le=1.2, description="stiffness over the stiffness at 20 °C")


PLA_WARM_ROWS = tuple(
    WarmRow(temperature_c=temperature, share=share)
    for temperature, share in (
        (20.0, 1.0),
        (40.0, 0.90),
        (50.0, 0.65),
        (55.0, 0.35),
        (60.0, 0.10),
        (65.0, 0.02),
    )
)
"""Stiffness left of warm PLA: what a profile without rows of its own takes. The glass transition at 65 °C and
the fall from 1045.7 to 1.2 MPa through it are published (Polymers 16(11):1526, 2024, abstract); the shape of
the curve between is judgement."""


class CalibrationRecord(SpecTable):
    """What the measured values of a profile were measured on."""

    date: str = Field(pattern=ISO_DATE, description="day of the measurements, year-month-day")
    printer: str = Field(min_length=1, max_length=120, pattern=ONE_LINE, description="the printer")
    spool: str = Field(min_length=1, max_length=120, pattern=ONE_LINE, description="the spool")
    nozzle_mm: NozzleDiameter = Field(description="nozzle diameter")
    bead_mm: Number = Field(ge=0.1, le=2.4, description="width of the bead")
    layer_mm: Number = Field(ge=0.02, le=1.2, description="height of a layer")
    temperature_c: tuple[NozzleTemperature, ...] = Field(
        min_length=1, max_length=100, description="temperatures of the nozzle"
    )
    flow: tuple[Number, ...] = Field(min_length=1, max_length=100, description="flow at each temperature")
    slot_temperature_c: NozzleTemperature | None = Field(
        default=None, description="temperature of the coupon whose slots were tried"
    )
    strip_temperature_c: NozzleTemperature | None = Field(
        default=None, description="temperature of the foam whose stiffness was measured"
    )

    def printed_with(self, temperature_c: float) -> tuple[float, ...]:
        """Return the flows of the coupons that were printed at a temperature."""
        pairs = zip(self.temperature_c, self.flow, strict=False)
        return tuple(flow for known, flow in pairs if known == temperature_c)


def share_at(rows: Sequence[WarmRow], temperature_c: float) -> float:
    """Return the share of the stiffness that is left at a temperature.

    Parameters
    ----------
    rows : sequence of WarmRow
        One at least, temperatures rising.
    temperature_c : float
        Temperature of the part [°C].

    Notes
    -----
    The shares fall by decades through the glass transition, so their logarithm is interpolated linearly
    between two rows; the share itself where one of the two is zero. Outside the rows the nearest one holds.
    """
    if temperature_c <= rows[0].temperature_c:
        return rows[0].share
    for below, above in pairwise(rows):
        if temperature_c <= above.temperature_c:
            part = (temperature_c - below.temperature_c) / (above.temperature_c - below.temperature_c)
            if below.share <= 0.0 or above.share <= 0.0:
                return below.share + part * (above.share - below.share)
            return math.exp((1.0 - part) * math.log(below.share) + part * math.log(above.share))
    return rows[-1].share


def unrisen_rows(key: str, rows: Sequence[FoamingRow | WarmRow]) -> Iterable[Problem]:
    """Return a problem for every row that is not hotter than the one before it."""
    for i, (below, above) in enumerate(pairwise(rows), start=1):
        if above.temperature_c <= below.temperature_c:
            yield Problem(
                f"{key}[{i}].temperature_c",
                f"{above.temperature_c:g} °C",
                f"more than the row before it, {below.temperature_c:g} °C",
            )
