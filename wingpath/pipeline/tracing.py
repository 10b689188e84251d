"""From judged layers to the path that is printed: brim, lead-in, place on the bed, time."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import shapely

from wingpath.build.arcs import Arc, arcs_of_path
from wingpath.build.brim import Brim, brim_spiral, brim_width_mm, lead_in, slenderness
from wingpath.build.continuity import Continuity
from wingpath.build.loops import Loops, loops_of_layers, safe_tolerance_mm
from wingpath.build.path_heights import path_heights
from wingpath.build.path_rates import PathRates, path_rates
from wingpath.build.print_time import move_times
from wingpath.build.toolpath import LEAD_IN, Toolpath, toolpath_from_loops
from wingpath.core.arrays import FloatArray, frozen_floats
from wingpath.core.findings import Finding
from wingpath.core.units import MM3_PER_CM3
from wingpath.model.panels import BedPlace, place_on_bed
from wingpath.model.profiles import PrinterProfile
from wingpath.pipeline.print_setup import PrintSetup

__all__ = ["PartPath", "trace_part"]

STOPPING = frozenset({"second-contour", "pinch", "empty-layer", "long-step", "too-big"})
"""Errors with which no unbroken path exists, or none that fits the machine."""

TALL_SLENDERNESS = 10.0
"""Over this, brim included, a part is said to be slender: judgement, no source."""

BRIM_SHARES = (1.0, 0.75, 0.5, 0.25, 0.0)
"""Shares of the wanted brim that are tried, the widest first."""

ARCS_SHARE = 0.5
"""Share of the path's tolerance that is left to arcs, where the printer understands them."""

FIT_MM = 1e-3
"""A part may stick out of the usable bed by a thousandth, which is rounding [mm]."""

LEAD_TURN_DEG = 5
"""Steps in which a part is turned on until the nozzle can be filled beside it [deg]."""

ENOUGH_LEAD_MM = 20.0
"""A straight run of this length fills a nozzle that has oozed a little: judgement, no source [mm]."""

LEAST_LEAD_MM = 10.0
"""A shorter run than this is said to be short: judgement, no source [mm]."""


@dataclass(frozen=True, slots=True, eq=False)
class PartPath:
    """The path of one part, for both hands.

    Parameters
    ----------
    toolpath : Toolpath
        The moves, in the frame of the left part.
    arcs : tuple of Arc
        Arcs that may be written for some of the moves, where the printer understands them.
    place : BedPlace
        How it lies on the bed, brim included; the right hand lies mirrored.
    brim : Brim
        The spiral before the first loop.
    brim_mm : float
        Width of the brim [mm].
    slenderness : float
        Height over the least width of the foot, brim included.
    loops_mm : float
        Length of the loops of all layers, without the steps from one to the next [mm].
    tolerance_mm : float
        How far the path may lie from the one that was proven [mm].
    seconds : ndarray, shape (n,)
        Time of each move [s].
    findings : tuple of Finding
        What there is to say about printing it.
    density_g_cm3, filament_area_mm2 : float
        Of the filament [g/cm3], [mm2].
    """

    toolpath: Toolpath
    arcs: tuple[Arc, ...]
    place: BedPlace
    brim: Brim
    brim_mm: float
    slenderness: float
    loops_mm: float
    tolerance_mm: float
    seconds: FloatArray
    findings: tuple[Finding, ...]
    density_g_cm3: float
    filament_area_mm2: float

    def __post_init__(self) -> None:
        seconds = frozen_floats(self.seconds, (len(self.toolpath),), name="seconds")
        object.__setattr__(self, "seconds", seconds)

    @property
    def time_s(self) -> float:
        """Time of the whole path, without heating and homing [s]."""
        return float(self.seconds.sum())

    @property
    def filament_mm(self) -> float:
        """Length of filament that goes in, brim and lead-in included [mm]."""
        return float(self.toolpath.volume_mm3.sum() / self.filament_area_mm2)

    @property
    def extruded_mass_g(self) -> float:
        """Mass of all that is extruded, brim and lead-in included [g]."""
        return float(self.toolpath.volume_mm3.sum()) * self.density_g_cm3 / MM3_PER_CM3

    @property
    def printed_mass_g(self) -> float:
        """Mass of the part, without brim and lead-in [g]."""
        volume = self.toolpath.volume_mm3[self.toolpath.of_part]
        return float(volume.sum()) * self.density_g_cm3 / MM3_PER_CM3


def trace_part(
    setup: PrintSetup, continuity: Continuity, findings: tuple[Finding, ...]
) -> tuple[PartPath | None, tuple[Finding, ...]]:
    """Make the path of one part.

    Parameters
    ----------
    setup : PrintSetup
        What it is printed with.
    continuity : Continuity
        Its judged layers.
    findings : tuple of Finding
        What was found about it so far.

    Returns
    -------
    path : PartPath or None
        None when no unbroken path exists.
    findings : tuple of Finding
        What there is to say, whether there is a path or not.
    """
    layers, settings = continuity.layers, setup.settings
    stops = sorted({f.code for f in findings if f.severity == "error" and f.code in STOPPING})
    tolerance = safe_tolerance_mm(settings.path_tolerance_mm, slot_mm=setup.slot_mm, bond_mm=setup.bond_mm)
    # arcs move the path once more
    arcs_share = ARCS_SHARE if setup.printer.arcs else 0.0
    loops = None
    if not stops:
        loops = loops_of_layers(layers, continuity.starts, tolerance_mm=(1.0 - arcs_share) * tolerance)
    if loops is None:
        return None, (_no_path(layers.name, stops),)
    height = len(layers) * layers.layer_mm
    laid = _on_the_bed(setup, continuity, loops, height)
    if laid is None:
        return None, (_no_path(layers.name, ["too-big"]),)
    rates = path_rates(loops.length_mm, settings, filament=setup.filament, printer=setup.printer)
    heights = path_heights(
        len(layers),
        layer_mm=layers.layer_mm,
        helical=settings.style == "helical",
        flat_layers=settings.flat_layers,
    )
    toolpath = toolpath_from_loops(
        layers.name,
        loops,
        heights,
        rates,
        brim=laid.brim,
        lead=laid.lead,
        bead_mm=layers.bead_mm,
        layer_mm=layers.layer_mm,
    )
    seconds = move_times(
        toolpath.points,
        toolpath.speed_mm_s,
        acceleration_mm_s2=setup.printer.acceleration_mm_s2,
        corner_mm_s=setup.printer.corner_mm_s,
    )
    slender = slenderness(layers.regions[0], height_mm=height, brim_mm=laid.brim_mm)
    found = (
        *laid.findings,
        *_slender(layers.name, slender, height),
        *_unfilled(layers.name, toolpath),
        *_rate_findings(setup, layers.name, rates),
    )
    path = PartPath(
        toolpath=toolpath,
        # an arc lies within twice its tolerance of the moves that it stands for
        arcs=arcs_of_path(toolpath, 0.5 * arcs_share * tolerance) if setup.printer.arcs else (),
        place=laid.place,
        brim=laid.brim,
        brim_mm=laid.brim_mm,
        slenderness=slender,
        loops_mm=float(loops.length_mm.sum()),
        tolerance_mm=tolerance,
        seconds=seconds,
        findings=found,
        density_g_cm3=setup.filament.density_g_cm3,
        filament_area_mm2=0.25 * np.pi * setup.printer.filament_diameter_mm**2,
    )
    return path, found


@dataclass(frozen=True, slots=True, eq=False)
class _Laid:
    """A part on the bed: where, with which brim, and where the run that fills the nozzle begins."""

    place: BedPlace
    brim: Brim
    brim_mm: float
    lead: FloatArray
    findings: tuple[Finding, ...] = ()


def _on_the_bed(setup: PrintSetup, continuity: Continuity, loops: Loops, height_mm: float) -> _Laid | None:
    """Place the part with the widest brim that fits, up to the one that is wanted."""
    layers, settings = continuity.layers, setup.settings
    wanted = settings.brim_mm
    if wanted is None:
        wanted = brim_width_mm(layers.regions[0], height_mm=height_mm)
    body = shapely.buffer(_hull(loops.points), 0.5 * layers.bead_mm, join_style="mitre")
    for share in BRIM_SHARES:
        width = share * wanted
        brim = brim_spiral(
            layers.regions[0],
            loops.points[0],
            width_mm=width,
            gap_mm=settings.brim_gap_mm,
            bead_mm=layers.bead_mm,
            layer_mm=layers.layer_mm,
        )
        first = brim.points[0] if len(brim.points) else loops.points[0]
        laid = _turned(setup.printer, body, brim, width, first, layers.bead_mm)
        if laid is not None:
            return laid if share == 1.0 else replace(laid, findings=(_brim_cut(layers.name, width, wanted),))
    return None


def _hull(points: FloatArray) -> Any:
    """Return the convex hull of many points; the quick way does not take points in one line."""
    from scipy.spatial import ConvexHull, QhullError

    try:
        return shapely.Polygon(points[ConvexHull(points).vertices])
    except QhullError:
        return shapely.convex_hull(shapely.linestrings(points))


def _turned(
    printer: PrinterProfile, body: Any, brim: Brim, brim_mm: float, first: FloatArray, bead_mm: float
) -> _Laid | None:
    """Turn part and brim until they fit, and on until there is room to fill the nozzle, if there ever is."""
    points = shapely.get_coordinates(shapely.union(body, brim.outline))
    place = place_on_bed(points, printer)
    best, longest = None, -1.0
    for _ in range(0, 180, LEAD_TURN_DEG):
        if place.over_mm > FIT_MM:
            break
        room = shapely.Polygon(place.room(printer))
        lead = lead_in(first, brim.outline, room, bead_mm=bead_mm)
        length = float(np.linalg.norm(lead - first)) if len(lead) else 0.0
        if length > longest:
            best, longest = _Laid(place, brim, brim_mm, lead), length
        if longest >= ENOUGH_LEAD_MM:
            break
        place = place_on_bed(points, printer, from_deg=place.turn_deg + LEAD_TURN_DEG)
    return best


def _brim_cut(name: str, width: float, wanted: float) -> Finding:
    return Finding(
        "brim-cut",
        "warning",
        f"the bed has room for a brim of {width:.1f} mm; {wanted:.1f} mm were wanted",
        "use a larger bed or a smaller margin_mm, or tape the ends of the first layer down by hand",
        panel=name,
        found=width,
        limit=wanted,
        unit="mm",
    )


def _no_path(name: str, stops: list[str]) -> Finding:
    why = f" ({', '.join(stops)})" if stops else ""
    return Finding(
        "no-path",
        # what stops it is an error of its own, told already
        "note" if stops else "warning",
        f"no G-code is written for it: no unbroken path exists that fits the machine{why}",
        "mend the errors of this part first",
        panel=name,
    )


def _slender(name: str, slender: float, height_mm: float) -> tuple[Finding, ...]:
    if slender <= TALL_SLENDERNESS:
        return ()
    return (
        Finding(
            "slender",
            "note",
            f"{height_mm:.0f} mm high on a foot of {height_mm / slender:.0f} mm, brim included: it may tip "
            "or sway near the top",
            "clean the bed well, a wider brim_mm, or shorter panels with panels.joints_mm",
            panel=name,
            found=slender,
            limit=TALL_SLENDERNESS,
        ),
    )


def _unfilled(name: str, toolpath: Toolpath) -> tuple[Finding, ...]:
    length = float(toolpath.length_mm[toolpath.layer == LEAD_IN].sum())
    if length >= LEAST_LEAD_MM:
        return ()
    return (
        Finding(
            "short-lead-in",
            "note",
            f"the bed has room for a line of {length:.0f} mm to fill the nozzle before the part begins",
            "use a larger bed or a smaller brim_mm, or fill and wipe the nozzle by hand before the print",
            panel=name,
            found=length,
            limit=LEAST_LEAD_MM,
            unit="mm",
        ),
    )


def _rate_findings(setup: PrintSetup, name: str, rates: PathRates) -> list[Finding]:
    filament, settings = setup.filament, setup.settings
    found = []
    short = np.flatnonzero(rates.hurried)
    if len(short):
        found.append(
            Finding(
                "short-layer",
                "note",
                f"{len(short)} layer{' takes' if len(short) == 1 else 's take'} less than "
                f"{filament.least_layer_s:g} s even at {filament.least_speed_mm_s:g} mm/s, and may stay soft "
                "under the next one",
                "blow on them with a fan, or set least_speed_mm_s lower in [filament]",
                panel=name,
                layers=(int(short[0]) + 1, int(short[-1]) + 1),
                found=float(len(short)),
                limit=0.0,
            )
        )
    capped = np.flatnonzero(rates.capped)
    if len(capped):
        found.append(
            Finding(
                "slowed",
                "note",
                f"{len(capped)} layer{' is' if len(capped) == 1 else 's are'} laid slower than wanted, "
                f"because the nozzle melts {filament.melt_rate_mm3_s:g} mm3 of filament a second",
                "nothing; or a lower layer, a thinner bead or less flow",
                panel=name,
                layers=(int(capped[0]) + 1, int(capped[-1]) + 1),
                found=float(rates.speed_mm_s[capped].min()),
                limit=settings.speed_mm_s,
                unit="mm/s",
            )
        )
    return found
