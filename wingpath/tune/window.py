"""The slot window: how narrow a slot may be before it is lost, and how wide before its beads part."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

from wingpath.build.bead import bead_area_mm2
from wingpath.build.slots import LEAST_DEPTH_BEADS
from wingpath.core.errors import InputError
from wingpath.core.findings import Finding
from wingpath.core.tolerances import LAYER_SIMPLIFY_MM, WELD_MM
from wingpath.model.profiles import FilamentProfile
from wingpath.model.spec import NECK_BEADS
from wingpath.tune.bands import foaming_band_at, slots_were_tried
from wingpath.tune.filling import filling_findings, or_hotter, rounded_up

__all__ = [
    "NECK_RANGE_BEADS",
    "OVERHANG_ANGLES_DEG",
    "SlotWindow",
    "bead_findings",
    "bead_for_nozzle_mm",
    "layer_for_bead_mm",
    "overlap_share",
    "slot_window",
    "window_findings",
]

BEAD_PER_NOZZLE = 1.125
"""Bead width over nozzle diameter, where nothing else is asked for: common practice, no source."""

LAYER_PER_BEAD = 5.0 / 9.0
"""Layer height over bead width, where nothing else is asked for: 0.25 mm under 0.45 mm."""

BEAD_RANGE = (1.0, 2.0)
"""Bead width over nozzle diameter that prints: a narrower bead tears, a wider one has to be pressed aside."""

LAYER_RANGE = (0.25, 0.8)
"""Layer height over nozzle diameter that prints: common practice, no source."""

NECK_RANGE_BEADS = (1.0, 2.0)
"""A neck of one bead pinches the path off; at two the rib no longer touches the far skin."""

GRID_STEPS = 20.0
"""A slot has to be this many times as wide as the grid that single precision puts corners on."""

CUT_STEPS = 4.0
"""A slot has to be this many times as wide as what outlines are straightened by on either side of it."""

RESOLUTION_SIDES = 2.0
"""A program that joins what is nearer than its resolution may move both sides of a slot by it."""

LEAST_SEEN_MM = 0.02
"""A slot that is narrower is hard to tell from one line by any reader of meshes, ours too [mm]."""

SUGGESTED_SHARE = 0.6
"""The suggestion leaves two fifths of what the bead bridges to uneven foaming: judgement, no source."""

SLOT_STEP_MM = 0.005
"""Suggested widths are rounded to this [mm]."""

OVERHANG_ANGLES_DEG = (30.0, 45.0, 50.0, 55.0, 60.0)
"""Leans that the table of overhangs holds [deg]."""


@dataclass(frozen=True, slots=True)
class SlotWindow:
    """What a nozzle, a bead and a filament allow.

    Parameters
    ----------
    nozzle_mm, bead_mm, layer_mm : float
        Nozzle diameter, bead width, layer height [mm].
    flow, temperature_c, foaming_ratio : float
        Extruded over nominal volume [-], of the nozzle [°C], volume out over volume in [-].
    least_mm : float
        Narrowest slot that is not lost on its way to the printer [mm].
    least_reason : str
        What sets it.
    widest_mm, widest_low_mm, widest_high_mm : float
        Widest slot whose beads fuse, and its 95 per cent band [mm].
    suggested_mm : float or None
        A width inside the window; None when the window is empty [mm].
    neck_mm : tuple of float
        Least, suggested and greatest neck; the ends themselves are not allowed [mm].
    least_thickness_mm : float
        Thinnest section that carries a rib: a slot worth having and a neck over it, and one neck of solid on
        both sides [mm].
    fastest_mm_s : float
        Fastest that the nozzle can melt enough for this bead [mm/s].
    """

    nozzle_mm: float
    bead_mm: float
    layer_mm: float
    flow: float
    temperature_c: float
    foaming_ratio: float
    least_mm: float
    least_reason: str
    widest_mm: float
    widest_low_mm: float
    widest_high_mm: float
    suggested_mm: float | None
    neck_mm: tuple[float, float, float]
    least_thickness_mm: float
    fastest_mm_s: float

    @property
    def fill(self) -> float:
        """Real over nominal volume of the bead, ``flow x foaming ratio``."""
        return self.flow * self.foaming_ratio

    @property
    def real_bead_mm(self) -> float:
        """Width that the bead grows to at a fixed layer height, ``bead x fill`` [mm]."""
        return self.bead_mm * self.fill

    @property
    def empty(self) -> bool:
        """Whether no slot is both wide enough to be kept and narrow enough to fuse."""
        return self.widest_mm < self.least_mm

    def overlap_share(self, lean_deg: float) -> float:
        """Return the share of a bead that lies on the one below in a wall leaning by `lean_deg`."""
        return overlap_share(lean_deg, bead_mm=self.bead_mm, layer_mm=self.layer_mm)


def bead_for_nozzle_mm(nozzle_mm: float) -> float:
    """Return the bead width that is taken for a nozzle when none is asked for [mm], to a hundredth."""
    return round(BEAD_PER_NOZZLE * nozzle_mm + 1e-9, 2)


def layer_for_bead_mm(bead_mm: float) -> float:
    """Return the layer height that is taken for a bead when none is asked for [mm], in steps of 0.05."""
    return max(0.05, math.floor(LAYER_PER_BEAD * bead_mm * 20.0 + 1e-6) / 20.0)


def overlap_share(lean_deg: float, *, bead_mm: float, layer_mm: float) -> float:
    """Return the share of a bead's width that lies on the bead below.

    Parameters
    ----------
    lean_deg : float
        Lean of the wall from the vertical, 0 to under 90 [deg].
    bead_mm, layer_mm : float
        Bead width and layer height [mm].

    Notes
    -----
    Each layer steps sideways by ``h tan(lean)``, so ``1 - h tan(lean) / w`` of the width is left; 0 where
    the beads miss each other. Derived here from that geometry.
    """
    return max(0.0, 1.0 - layer_mm * math.tan(math.radians(lean_deg)) / bead_mm)


def slot_window(
    *,
    nozzle_mm: float,
    bead_mm: float,
    layer_mm: float,
    filament: FilamentProfile,
    temperature_c: float,
    flow: float,
    resolution_mm: float = 0.0,
) -> SlotWindow:
    """Work out what a nozzle, a bead and a filament allow.

    Parameters
    ----------
    nozzle_mm, bead_mm, layer_mm : float
        Nozzle diameter, bead width, layer height, at most as high as wide [mm].
    filament : FilamentProfile
        The filament.
    temperature_c, flow : float
        Of the nozzle [°C]; extruded over nominal volume of the bead.
    resolution_mm : float
        How near to each other another program that lays paths joins outlines; 0 when none does [mm].

    Raises
    ------
    InputError
        When the bead is higher than wide.

    Notes
    -----
    Two nominal beads that are `g` apart touch when ``flow x ratio - 1 >= g / bead``. The band of the widest
    slot carries the bands of the foaming ratio and of the filament that is fed. Where slots were measured,
    with settings like these, it is the band of that measurement.
    """
    if layer_mm > bead_mm:
        raise InputError(
            f"layer: got {layer_mm:g} mm, more than the bead width {bead_mm:g} mm; a bead is wider than high"
        )
    ratio = filament.foaming_ratio(temperature_c)
    least, reason = max(
        (GRID_STEPS * WELD_MM, "corners of a mesh in single precision lie on a grid"),
        (CUT_STEPS * LAYER_SIMPLIFY_MM, "outlines are straightened when layers are cut"),
        (LEAST_SEEN_MM, "a narrower cut is read as one line"),
        (RESOLUTION_SIDES * resolution_mm, "your program joins outlines nearer than its resolution"),
    )
    widest = filament.bonded_gap_mm(bead_mm=bead_mm, flow=flow, temperature_c=temperature_c)
    seen = filament.source_of("bond_extra_mm")
    tried = slots_were_tried(
        filament, temperature_c=temperature_c, flow=flow, bead_mm=bead_mm, layer_mm=layer_mm
    )
    share = 0.0 if tried else math.hypot(foaming_band_at(filament, temperature_c), filament.feed_band)
    extra = filament.bond_extra_mm
    spread_low = 0.0 if seen is None or seen.low is None else extra - seen.low
    spread_high = 0.0 if seen is None or seen.high is None else seen.high - extra
    swelling = bead_mm * (flow * ratio - 1.0) + extra
    change = share * bead_mm * flow * ratio
    low = max(0.0, swelling - math.hypot(change, spread_low))
    high = max(0.0, swelling + math.hypot(change, spread_high))
    return SlotWindow(
        nozzle_mm=nozzle_mm,
        bead_mm=bead_mm,
        layer_mm=layer_mm,
        flow=flow,
        temperature_c=temperature_c,
        foaming_ratio=ratio,
        least_mm=least,
        least_reason=reason,
        widest_mm=widest,
        widest_low_mm=low,
        widest_high_mm=high,
        suggested_mm=_suggested(least, widest, low if filament.calibrated else widest),
        neck_mm=(NECK_RANGE_BEADS[0] * bead_mm, NECK_BEADS * bead_mm, NECK_RANGE_BEADS[1] * bead_mm),
        least_thickness_mm=max(LEAST_DEPTH_BEADS + NECK_BEADS, 2.0 * NECK_BEADS) * bead_mm,
        fastest_mm_s=filament.melt_rate_mm3_s / (bead_area_mm2(bead_mm=bead_mm, layer_mm=layer_mm) * flow),
    )


def _suggested(least: float, widest: float, sure: float) -> float | None:
    """Return a width that leaves room on both sides; None when there is no window."""
    if widest < least:
        return None
    wanted = max(least, min(SUGGESTED_SHARE * widest, sure))
    rounded = SLOT_STEP_MM * math.floor(wanted / SLOT_STEP_MM + 0.5)
    return round(min(max(rounded, least), widest), 6)


def window_findings(window: SlotWindow, filament: FilamentProfile) -> tuple[Finding, ...]:
    """Say what is wrong with a window, and with what it was worked out from."""
    return (
        *_emptiness(window, filament),
        *bead_findings(nozzle_mm=window.nozzle_mm, bead_mm=window.bead_mm, layer_mm=window.layer_mm),
        *filling_findings(filament, flow=window.flow, temperature_c=window.temperature_c),
        *_table_findings(window, filament),
    )


def _emptiness(window: SlotWindow, filament: FilamentProfile) -> Iterator[Finding]:
    if not window.empty:
        return
    more = or_hotter(filament, window.temperature_c)
    needed = (1.0 + (window.least_mm - filament.bond_extra_mm) / window.bead_mm) / window.fill
    yield Finding(
        "no-window",
        "warning",
        f"with nozzle {window.nozzle_mm:g} mm no slot fuses that is wide enough to be kept: beads bridge "
        f"{window.widest_mm:.3f} mm, and under {window.least_mm:.3f} mm {window.least_reason}",
        f"set flow to {rounded_up(needed * window.flow)} at {window.temperature_c:g} °C{more}",
        found=window.widest_mm,
        limit=window.least_mm,
        unit="mm",
    )


def bead_findings(*, nozzle_mm: float, bead_mm: float, layer_mm: float) -> Iterator[Finding]:
    """Say where a bead or a layer is not what a nozzle usually prints.

    Parameters
    ----------
    nozzle_mm, bead_mm, layer_mm : float
        Diameter of the nozzle, width and height of the bead [mm].
    """
    nozzle, suits = nozzle_mm, bead_for_nozzle_mm(nozzle_mm)
    for code, value, (low, high), words, remedy in (
        ("odd-bead", bead_mm, BEAD_RANGE, "bead", f"use a bead of {suits:g} mm, or another nozzle"),
        ("odd-layer", layer_mm, LAYER_RANGE, "layer", "choose another layer height or another nozzle"),
    ):
        if not low * nozzle - 1e-9 <= value <= high * nozzle + 1e-9:
            yield Finding(
                code,
                "warning",
                f"a {words} of {value:g} mm from a nozzle of {nozzle:g} mm; {low * nozzle:.2f} to "
                f"{high * nozzle:.2f} mm usually print",
                remedy,
                found=value,
                limit=low * nozzle if value < low * nozzle else high * nozzle,
                unit="mm",
            )


def _table_findings(window: SlotWindow, filament: FilamentProfile) -> Iterator[Finding]:
    low, high = filament.foaming_range_c
    if not low <= window.temperature_c <= high:
        yield Finding(
            "beyond-table",
            "warning",
            f"the foaming of {filament.name} is known from {low:g} to {high:g} °C, not at "
            f"{window.temperature_c:g} °C; the nearest row was taken",
            "print a coupon at that temperature, or choose one in the table",
            found=window.temperature_c,
            limit=low if window.temperature_c < low else high,
            unit="°C",
        )
    if not filament.calibrated:
        yield Finding(
            "uncalibrated",
            "note",
            f"{filament.title}: its values are published or judged, not measured here; the widest slot may "
            f"lie anywhere from {window.widest_low_mm:.3f} to {window.widest_high_mm:.3f} mm",
            "print the coupon and read the measurements back",
        )
