"""What one coupon says by itself, each value with its uncertainty."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from wingpath.core.units import MM3_PER_CM3
from wingpath.model.measurements import CouponReadings, PrintedSteps, Tools
from wingpath.tune.cantilever import load_of_droop_share, modulus_from_droop_mpa
from wingpath.tune.estimates import Estimate, from_readings, from_steps, from_tool, product, weighted_mean

__all__ = ["CouponValues", "Limit", "coupon_values"]

PRINT_SCATTER = 0.01
"""Standard deviation of the mass of one print after another, as a share: judgement, no source."""

SIZE_SCATTER_MM = 0.02
"""Standard deviation of a drawn size that is taken unmeasured [mm]: judgement, no source."""


@dataclass(frozen=True, slots=True)
class Limit:
    """A limit found on a graded row.

    Parameters
    ----------
    estimate : Estimate
        Where it lies.
    safe : float
        The last step that was seen to be good: what is designed with.
    beyond : bool
        Whether it lies beyond the last step, so that only one side of it is known.
    seen : bool
        Whether `safe` was seen to be good; a row without a good step only tells where it is not.
    """

    estimate: Estimate
    safe: float
    beyond: bool
    seen: bool


@dataclass(frozen=True, slots=True)
class CouponValues:
    """What one coupon says; None where nothing was measured.

    Parameters
    ----------
    number : int
        Its place in the file, from 0.
    temperature_c, flow : float
        What it was printed with [°C], [-].
    density : Estimate or None
        Mass over the filament that went in: density of the filament as it is fed [g/cm3].
    wall : Estimate or None
        Width that the bead grew to [mm].
    ratio : Estimate or None
        Foaming ratio.
    slot, push, slide, loose, tab, lean : Limit or None
        Widest slot that fuses [mm], clearances of the fits [mm], steepest clean lean [deg].
    strip : Estimate or None
        Thickness of the strip [mm].
    moduli : tuple of Estimate
        Of the foamed strip, one a hung mass, without what all of them have in common [MPa].
    modulus : Estimate or None
        Of the foamed strip, all masses together [MPa].
    """

    number: int
    temperature_c: float
    flow: float
    density: Estimate | None
    wall: Estimate | None
    ratio: Estimate | None
    slot: Limit | None
    push: Limit | None
    slide: Limit | None
    loose: Limit | None
    tab: Limit | None
    lean: Limit | None
    strip: Estimate | None
    moduli: tuple[Estimate, ...]
    modulus: Estimate | None


def coupon_values(
    one: CouponReadings, printed: PrintedSteps, tools: Tools, *, number: int = 0
) -> CouponValues:
    """Work out what one coupon says by itself.

    Parameters
    ----------
    one : CouponReadings
        What was read.
    printed : PrintedSteps
        What it was made with.
    tools : Tools
        How far readings may be off.
    number : int
        Its place in the file, from 0.
    """
    density = wall = ratio = strip = None
    if one.mass_g is not None:
        mass = from_tool(one.mass_g, tool=tools.scale_g)
        density = product(one.mass_g / one.filament_mm3 * MM3_PER_CM3, [(mass, 1.0)], extra=PRINT_SCATTER)
    if one.wall_mm:
        wall = from_readings(one.wall_mm, tool=tools.calliper_mm)
        ratio = wall.scaled(1.0 / (printed.bead_mm * one.flow))
    if one.strip_mm:
        strip = from_readings(one.strip_mm, tool=tools.calliper_mm)
    moduli, modulus = _droops(one, printed, tools, strip)
    leans = printed.leans_deg
    return CouponValues(
        number=number,
        temperature_c=one.temperature_c,
        flow=one.flow,
        density=density,
        wall=wall,
        ratio=ratio,
        slot=_last_good(one.slot_fused, (0.0, *printed.slots_mm), first_seen=True),
        push=_first_good(one.bore_push, printed.bores_mm),
        slide=_first_good(one.bore_slide, printed.bores_mm),
        loose=_first_good(one.bore_loose, printed.bores_mm),
        tab=_first_good(one.tab_slide, printed.tabs_mm),
        lean=_last_good(one.lean_clean, (leans[0] - 5.0, *leans), first_seen=False),
        strip=strip,
        moduli=moduli,
        modulus=modulus,
    )


def _last_good(number: int | None, row: Sequence[float], *, first_seen: bool) -> Limit | None:
    """Return the limit after the last good step; row[0] stands for none, good by itself or never seen."""
    if number is None:
        return None
    beyond = number == len(row) - 1
    above = row[number] + (row[number] - row[number - 1]) if beyond else row[number + 1]
    return Limit(from_steps(row[number], above), row[number], beyond, seen=first_seen or number > 0)


def _first_good(number: int | None, row: Sequence[float]) -> Limit | None:
    """Return the limit before the first good step; 0 is none of them."""
    if number is None:
        return None
    step = row[1] - row[0]
    place = number or len(row) + 1
    safe = row[place - 1] if number else row[-1] + step
    below = row[place - 2] if place > 1 else row[0] - step
    return Limit(from_steps(below, safe), safe, beyond=not number, seen=number > 0)


def _droops(
    one: CouponReadings, printed: PrintedSteps, tools: Tools, strip: Estimate | None
) -> tuple[tuple[Estimate, ...], Estimate | None]:
    """Return the modulus of each droop, and of all together with what they have in common."""
    if strip is None or not one.droop:
        return (), None
    drawn = Estimate(printed.strip_height_mm, SIZE_SCATTER_MM)
    height = drawn if one.strip_height_mm is None else from_tool(one.strip_height_mm, tool=tools.calliper_mm)
    own, lengths = [], []
    for reading in one.droop:
        value = modulus_from_droop_mpa(
            mass_g=reading.mass_g,
            length_mm=reading.length_mm,
            droop_mm=reading.droop_mm,
            height_mm=height.value,
            thickness_mm=strip.value,
        )
        power = _droop_power(reading.droop_mm / reading.length_mm)
        hung = from_tool(reading.mass_g, tool=tools.hung_g)
        droop = from_tool(reading.droop_mm, tool=tools.droop_mm)
        own.append(product(value, [(hung, 1.0), (droop, -power)]))
        length = from_tool(reading.length_mm, tool=tools.length_mm)
        lengths.append((2.0 + power) * length.relative)
    best = weighted_mean(list(own))
    assert best is not None
    # the length is read with one ruler at one clamp, the section with one calliper
    whole = product(
        best.value,
        [(best, 1.0), (height, -1.0), (strip, -3.0)],
        extra=float(np.mean(lengths)),
    )
    return tuple(own), whole


def _droop_power(share: float) -> float:
    """Return the power of the droop in the load: 1 for small droops, more for large ones."""
    step = 1e-3 * share
    low, high = share - step, min(share + step, 0.5)
    return math.log(load_of_droop_share(high) / load_of_droop_share(low)) / math.log(high / low)
