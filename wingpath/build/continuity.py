"""Continuity: is every layer one closed bead that lies on the one below? Findings, and a row a layer.

The same questions are put to our own panels and to a stranger's mesh. Nothing is repaired.
"""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass

import numpy as np
import shapely

from wingpath.build.gaps import GapTable, gaps_of_regions, layers_to_probe
from wingpath.build.layers import MOST_CONTOURS, GeometryArray, Layers
from wingpath.build.limits import Limits
from wingpath.build.losses import judge_losses, losses_of_layers
from wingpath.build.runs import Reporter
from wingpath.build.slot_judging import judge_slots
from wingpath.build.support import path_starts, support_of_layers
from wingpath.core.arrays import BoolArray, FloatArray
from wingpath.core.findings import Finding
from wingpath.core.tolerances import LAYER_SIMPLIFY_MM

__all__ = ["Continuity", "Limits", "judge_layers"]

STEP_BEADS = 2.0
"""The nozzle may rise to a start this far from the last end without leaving a string."""


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
        """Whether every layer is one closed ring inside one contour, all of it known."""
        return bool(np.all(self.layers.one_bead))


def judge_layers(
    layers: Layers,
    limits: Limits,
    *,
    strict: bool,
    excuse: Callable[[float, float], str | None] | None = None,
    narrow: Callable[[float, float], bool] | None = None,
    closing_from_mm: float = np.inf,
    at_once: bool = False,
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
    narrow : callable, optional
        Tells whether a slot of the design, narrow enough to fuse, stands at (x, z).
    closing_from_mm : float
        Height from which the part closes to a tip, whose ends are thinner than a bead by design [mm].
    at_once : bool
        Whether a second processor helps; it takes more memory, and is no use where other parts are judged
        meanwhile.
    """
    report = Reporter(layers)
    _rings(report)
    probe = layers_to_probe(layers.path_mm, layers.contours, layers.rings, layers.layer_mm)
    starts, step = path_starts(layers)

    # the geometry engine works outside the interpreter's lock
    with ThreadPoolExecutor(max_workers=1) as helper:
        waiting = helper.submit(
            support_of_layers, layers, overhang_deg=limits.overhang_deg, bond_mm=limits.bond_mm
        )
        if not at_once:
            waiting.result()
        gaps, losses = gaps_of_regions(layers.orderly, probe), losses_of_layers(layers)
        support = waiting.result()
    report.error(
        "long-step",
        step > STEP_BEADS * layers.bead_mm,
        found=step,
        limit=STEP_BEADS * layers.bead_mm,
        at=starts,
        message="the path starts {found:.2f} mm away from where the layer below ends",
        remedy="let the shape change more gently there, or start a new panel",
    )
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
    open_slot = judge_slots(report, gaps, limits, strict=strict, excuse=excuse, narrow=narrow)
    judge_losses(report, losses, closing_from_mm=closing_from_mm)
    return Continuity(
        layers=layers,
        open_slot_mm=open_slot,
        airborne_mm=support.airborne_mm,
        steep_mm=support.steep_mm,
        step_mm=step,
        lost_mm2=losses.lost_mm2,
        starts=starts,
        gaps=gaps,
        verdicts=report.verdicts(),
        findings=report.findings(),
    )


def _rings(report: Reporter) -> None:
    layers = report.layers
    report.error(
        "torn-outline",
        layers.torn,
        found=layers.torn_mm,
        limit=LAYER_SIMPLIFY_MM,
        at=None,
        message="the mesh is open here: {found:.2f} mm of an outline are missing, and are judged as a "
        "straight line where that closes it; what would be printed there is not known",
        remedy="export the part as one solid, or close the hole in the program that made it",
    )
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
    report.note(
        "second-contour",
        layers.crowded,
        found=layers.contours.astype(float),
        limit=float(MOST_CONTOURS),
        unit="",
        at=None,
        message="up to {found:.0f} contours on one layer: slots, thin places and support are not looked "
        "for there",
        remedy="normal for what is no wing; otherwise look for a broken surface",
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


def _extra_ring(regions: GeometryArray, mask: BoolArray) -> FloatArray:
    """Find a point in the smallest ring of each masked region."""
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
