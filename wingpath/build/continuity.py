"""Continuity: is every layer one closed bead that lies on the one below? Findings, and a row a layer.

The same questions are put to our own panels and to a stranger's mesh. Nothing is repaired.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import shapely

from wingpath.build.gaps import GapTable, gaps_of_regions, layers_to_probe
from wingpath.build.layers import GeometryArray, Layers, shrunk
from wingpath.build.runs import Reporter
from wingpath.build.support import path_starts, support_of_layers
from wingpath.core.arrays import FloatArray
from wingpath.core.findings import Finding

__all__ = ["Continuity", "Limits", "judge_layers"]

LOOSE_BEADS = 2.0
"""A slot that ends farther than this from the skin leaves its rib loose: the two beads do not meet it."""

LOOSE_SLACK = 1.02
"""Two per cent for rounding and straightening."""

TIP_LOSS_MM2 = 1.0
"""Losing less than this at the thin end of a section is normal: no bead ends in a point [mm2]."""

SEEN_LOSS_MM2 = 0.05
"""A loss below this is not worth a word [mm2]: a bead end of 0.2 mm."""

STEP_BEADS = 2.0
"""The nozzle may rise to a start this far from the last end without leaving a string."""

AGAIN_MM = 1.25
"""Within this height a gap that stays open is measured again [mm]."""

AGAIN_LEAN = 2.5
"""How far aside its inner end may lie then, over the height: a rib at 60 degrees under a sloping skin."""

CLOSE_MM = 1.0
"""Two runs of the path closer than twice this lie beside one strip [mm]."""


@dataclass(frozen=True, slots=True)
class Limits:
    """What layers are held against.

    Parameters
    ----------
    bond_mm : float
        Widest gap between two beads that they bridge [mm].
    overhang_deg : float
        Steepest lean from the vertical that prints well [deg].
    bridge_mm : float
        Longest piece of bead that may hang in the air [mm].
    """

    bond_mm: float
    overhang_deg: float = 45.0
    bridge_mm: float = 5.0


@dataclass(frozen=True, slots=True, eq=False)
class Continuity:
    """The verdict on all layers of a part.

    Parameters
    ----------
    layers : Layers
        What was judged.
    open_slot_mm, airborne_mm, steep_mm, step_mm, lost_mm2 : ndarray, shape (n,)
        Length of open slots, of path in the air, beyond the overhang limit; step to the layer's start
        [mm]; area that no bead fits into [mm2].
    starts : ndarray, shape (n, 2)
        Start points of the loops [mm].
    gaps : GapTable
        The slots that were measured.
    verdicts : tuple of str
        ``ok`` or the codes of the errors and warnings on the layer.
    findings : tuple of Finding
        Worst first.
    """

    layers: Layers
    open_slot_mm: FloatArray
    airborne_mm: FloatArray
    steep_mm: FloatArray
    step_mm: FloatArray
    lost_mm2: FloatArray
    starts: FloatArray
    gaps: GapTable
    verdicts: tuple[str, ...]
    findings: tuple[Finding, ...]

    @property
    def proven(self) -> bool:
        """Whether every layer is one closed ring inside one contour."""
        return bool(np.all(self.layers.contours == 1) and np.all(self.layers.rings == 1))


def judge_layers(
    layers: Layers,
    limits: Limits,
    *,
    strict: bool,
    excuse: Callable[[float, float], str | None] | None = None,
    closing_from_mm: float = np.inf,
) -> Continuity:
    """Judge the layers of a part.

    Parameters
    ----------
    layers : Layers
        All layers, lowest first.
    limits : Limits
        What they are held against.
    strict : bool
        True for our own panels: open slots and loose ribs are errors; for a stranger's mesh warnings.
    excuse : callable, optional
        Tells for a slot's inner end (x, z) why the design itself stops it there, or None.
    closing_from_mm : float
        Height from which the part closes to a tip, whose ends are thinner than a bead by design [mm].
    """
    report = Reporter(layers)
    _rings(report)
    starts, step = path_starts(layers)
    report.error(
        "long-step",
        step > STEP_BEADS * layers.bead_mm,
        found=step,
        limit=STEP_BEADS * layers.bead_mm,
        at=starts,
        message="the path starts {found:.2f} mm away from where the layer below ends",
        remedy="let the shape change more gently there, or start a new panel",
    )
    support = support_of_layers(layers, overhang_deg=limits.overhang_deg, bond_mm=limits.bond_mm)
    _hanging(report, support.airborne_mm, support.piece_mm, support.piece_at, limits)
    report.note(
        "steep",
        support.steep_mm > 0,
        found=support.steep_mm,
        limit=0.0,
        at=support.piece_at,
        message=f"up to {{found:.1f}} mm of bead lean more than {limits.overhang_deg:g} degrees",
        remedy="normal where ribs cross; elsewhere print slower, or lean the wall less",
    )
    probe = layers_to_probe(layers.path_mm, layers.contours, layers.rings, layers.layer_mm)
    gaps = gaps_of_regions(layers.regions, probe)
    open_slot = _slots(report, gaps, limits, strict=strict, excuse=excuse)
    lost = _losses(report, closing_from_mm)
    return Continuity(
        layers=layers,
        open_slot_mm=open_slot,
        airborne_mm=support.airborne_mm,
        steep_mm=support.steep_mm,
        step_mm=step,
        lost_mm2=lost,
        starts=starts,
        gaps=gaps,
        verdicts=report.verdicts(),
        findings=report.findings(),
    )


def _rings(report: Reporter) -> None:
    layers = report.layers
    report.error(
        "empty-layer",
        layers.contours == 0,
        found=np.zeros(len(layers)),
        limit=1.0,
        unit="",
        at=None,
        message="there is no solid on these layers, and the part goes on above them",
        remedy="close the part there, or print the pieces apart",
    )
    more = layers.contours > 1
    report.error(
        "second-contour",
        more,
        found=layers.contours.astype(float),
        limit=1.0,
        unit="",
        at=_extra_ring(layers.regions, more),
        message="{found:.0f} contours on one layer: the nozzle must travel between them",
        remedy="join every hole to the outside by a slit, and every island to the rest",
    )
    torn = (layers.contours == 1) & (layers.rings > 1)
    report.error(
        "pinch",
        torn,
        found=layers.rings.astype(float),
        limit=1.0,
        unit="",
        at=_extra_ring(layers.paths, torn),
        message="the path falls into {found:.0f} rings: the solid between them is thinner than a bead",
        remedy=f"make the narrow place wider than {layers.bead_mm:.2f} mm",
    )
    report.error(
        "empty-layer",
        (layers.contours == 1) & (layers.rings == 0),
        found=np.zeros(len(layers)),
        limit=1.0,
        unit="",
        at=None,
        message="the whole layer is thinner than one bead, so nothing is printed on it",
        remedy="make the part thicker there or the bead thinner",
    )


def _extra_ring(regions: GeometryArray, mask: np.ndarray[tuple[int, ...], np.dtype[np.bool_]]) -> FloatArray:
    """A point in the smallest ring of each masked region."""
    at = np.full((len(regions), 2), np.nan)
    for index in np.flatnonzero(mask):
        rings = [
            shapely.Polygon(ring)
            for part in shapely.get_parts(regions[index])
            for ring in (part.exterior, *part.interiors)
        ]
        point = min(rings, key=shapely.area).representative_point()
        at[index] = point.x, point.y
    return at


def _hanging(
    report: Reporter, airborne: FloatArray, piece: FloatArray, at: FloatArray, limits: Limits
) -> None:
    long = piece > limits.bridge_mm
    report.error(
        "airborne",
        long,
        found=piece,
        limit=limits.bridge_mm,
        at=at,
        message="{found:.1f} mm of bead in one piece have no bead under them",
        remedy="let the wall grow out of the one below at 45 degrees, or give it something to stand on",
    )
    report.warning(
        "airborne",
        (airborne > 0) & ~long,
        found=piece,
        limit=0.0,
        at=at,
        message="short pieces of bead, up to {found:.1f} mm, have no bead under them",
        remedy="bridges this short usually hold; look at the place after printing",
    )


def _slots(
    report: Reporter,
    gaps: GapTable,
    limits: Limits,
    *,
    strict: bool,
    excuse: Callable[[float, float], str | None] | None,
) -> FloatArray:
    layers = report.layers
    count = len(layers)
    place = np.column_stack([gaps.x_mm, gaps.y_mm])
    wide = _lasting(layers, gaps, gaps.width_mm > limits.bond_mm)
    measured = np.zeros(count)
    np.add.at(measured, gaps.layer[wide], gaps.length_mm[wide])
    # layers between two that were looked at have the shape of the one below
    holder = gaps.probed[np.maximum(np.searchsorted(gaps.probed, np.arange(count), side="right") - 1, 0)]
    open_slot = measured[holder]
    worst, at = _worst_by_layer(count, gaps.layer[wide], gaps.width_mm[wide], place[wide])
    speak = report.error if strict else report.warning
    speak(
        "open-slot",
        open_slot > 0,
        found=worst[holder],
        limit=limits.bond_mm,
        at=at[holder],
        message="the beads beside a slot are {found:.3f} mm apart and do not fuse",
        remedy=f"make slots at most {limits.bond_mm:.3f} mm wide, or print hotter or with more flow",
    )
    limit = LOOSE_BEADS * layers.bead_mm
    loose = np.flatnonzero(np.nan_to_num(gaps.neck_mm) > limit * LOOSE_SLACK)
    # a gap shallower than that is a groove in the skin and no rib
    loose = loose[gaps.length_mm[loose] > limit]
    reasons: dict[str | None, list[int]] = {}
    for row in loose:
        z = float(layers.z_mm[gaps.layer[row]])
        why = excuse(float(gaps.x_mm[row]), z) if excuse is not None else None
        reasons.setdefault(why, []).append(int(row))
    for why, rows in sorted(reasons.items(), key=lambda item: item[0] or ""):
        worst, at = _worst_by_layer(count, gaps.layer[rows], gaps.neck_mm[rows], place[rows])
        if why is None:
            speak(
                "loose-rib",
                worst > 0,
                found=worst,
                limit=limit,
                at=at,
                message="a slot ends {found:.2f} mm from the nearest skin, so its rib touches nothing",
                remedy=f"let the slot end between {layers.bead_mm:.2f} and {limit:.2f} mm from the skin",
            )
        else:
            report.note(
                "loose-rib",
                worst > 0,
                found=worst,
                limit=limit,
                at=at,
                message=f"ribs {why} and do not reach the far skin yet",
                remedy="intended: a rib rises no faster than the wall below carries it",
            )
    return open_slot


def _lasting(
    layers: Layers, gaps: GapTable, wide: np.ndarray[tuple[int, ...], np.dtype[np.bool_]]
) -> np.ndarray[tuple[int, ...], np.dtype[np.bool_]]:
    """Leave out gaps that are wide for a layer or two only, as where two slots cross.

    The beads above and below hold such a place. Every gap is looked at once a millimetre at least, so
    one that stays wide is seen again, no farther aside than a rib leans.
    """
    rows = np.flatnonzero(wide)
    lasting = wide.copy()
    if len(layers) * layers.layer_mm < 2.0 * AGAIN_MM:
        return lasting
    apart = max(2, int(np.ceil(layers.bead_mm / layers.layer_mm)))
    window = int(np.ceil(AGAIN_MM / layers.layer_mm)) + 1
    number = gaps.layer[rows]
    for row in rows:
        near = rows[
            np.searchsorted(number, gaps.layer[row] - window) : np.searchsorted(
                number, gaps.layer[row] + window, side="right"
            )
        ]
        rise = np.abs(gaps.layer[near] - gaps.layer[row])
        aside = np.hypot(gaps.x_mm[near] - gaps.x_mm[row], gaps.y_mm[near] - gaps.y_mm[row])
        reach = AGAIN_LEAN * rise * layers.layer_mm + layers.bead_mm
        lasting[row] = bool(np.any((rise >= apart) & (aside <= reach)))
    return lasting


def _worst_by_layer(
    count: int, layer: np.ndarray[tuple[int, ...], np.dtype[np.int64]], value: FloatArray, place: FloatArray
) -> tuple[FloatArray, FloatArray]:
    worst, at = np.zeros(count), np.full((count, 2), np.nan)
    order = np.argsort(value, kind="stable")
    worst[layer[order]] = value[order]
    at[layer[order]] = place[order]
    return worst, at


def _losses(report: Reporter, closing_from_mm: float) -> FloatArray:
    """Solid that no bead fits into: strips between crossing ribs, thin trailing edges."""
    layers = report.layers
    closing = layers.z_mm > closing_from_mm
    opened = shrunk(layers.paths, -0.5 * layers.bead_mm)
    lost = np.maximum(layers.area_mm2 - shapely.area(opened), 0.0)
    rows = np.flatnonzero((lost > SEEN_LOSS_MM2) & (layers.rings > 0))
    between, outside = np.zeros(len(layers)), np.zeros(len(layers))
    at_strip, at_tip = np.full((len(layers), 2), np.nan), np.full((len(layers), 2), np.nan)
    if len(rows):
        gone = shapely.difference(layers.regions[rows], opened[rows])
        grown = shapely.buffer(opened[rows], CLOSE_MM, join_style="mitre", mitre_limit=2.0)
        closed = shapely.buffer(grown, -CLOSE_MM, join_style="mitre", mitre_limit=2.0)
        strip, tip = shapely.intersection(gone, closed), shapely.difference(gone, closed)
        between[rows], outside[rows] = shapely.area(strip), shapely.area(tip)
        for at, geometry in ((at_strip, strip), (at_tip, tip)):
            full = ~shapely.is_empty(geometry)
            point = shapely.point_on_surface(geometry[full])
            at[rows[full]] = np.column_stack([shapely.get_x(point), shapely.get_y(point)])
    report.note(
        "thin-lost",
        between > TIP_LOSS_MM2,
        found=between,
        limit=TIP_LOSS_MM2,
        unit="mm2",
        at=at_strip,
        message="strips between two slots are thinner than a bead for a moment and are left out",
        remedy="normal where ribs cross: the strip comes back on its neighbours a layer or two higher",
    )
    report.warning(
        "thin-lost",
        (outside > TIP_LOSS_MM2) & ~closing,
        found=outside,
        limit=TIP_LOSS_MM2,
        unit="mm2",
        at=at_tip,
        message="{found:.1f} mm2 of a layer are thinner than a bead and are left out",
        remedy=f"make the thin place, often the trailing edge, at least {2 * layers.bead_mm:.2f} mm thick",
    )
    report.note(
        "thin-lost",
        (outside > SEEN_LOSS_MM2) & ((outside <= TIP_LOSS_MM2) | closing),
        found=outside,
        limit=TIP_LOSS_MM2,
        unit="mm2",
        at=at_tip,
        message="thin ends, up to {found:.2f} mm2 a layer, are left out",
        remedy="normal: no bead ends in a point",
    )
    return lost
