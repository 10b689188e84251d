"""The solid of a panel: body less slots, bores and slits, by one boolean subtraction.

``panel = body - (slots + bores + slits)``. The solid that is made here is the one that is written,
sliced and judged.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from wingpath.build.bores import Bore, bore_mesh, bore_slit
from wingpath.build.ceiling import Ceiling, ceiling_of_sections
from wingpath.build.kernel import from_solid, loft, subtract, to_solid, trim_above, unite
from wingpath.build.slots import Slot, slot_mesh, slots_of_planes
from wingpath.build.surfaces import SurfaceNumbers
from wingpath.build.tip import TipCap
from wingpath.core.arrays import FloatArray
from wingpath.geometry.mesh import Mesh
from wingpath.model.panels import PanelRange
from wingpath.model.ribs import RibPlane
from wingpath.model.wing import Wing

__all__ = ["PanelSolid", "WingBody", "panel_solid"]

ROW_STEP_MM = 3.0
"""Distance of ceiling rows along the span [mm]: between stations the ceiling is nearly straight."""

CAP_ROW_STEP_MM = 0.5
"""The same inside a closed tip, whose section shrinks quickly [mm]."""

BELOW_MM = 3.0
"""Slots begin this far under the lowest point of the wing [mm]."""


@dataclass(frozen=True, slots=True, eq=False)
class WingBody:
    """The outer shape of the half wing: ruled surfaces and, where asked for, a closed tip."""

    wing: Wing
    cap: TipCap | None = None

    def section(self, z_mm: float) -> FloatArray:
        """Return the ring of the body at height `z_mm`, shape (k, 2) [mm]."""
        if self.cap is not None and z_mm > self.cap.base_mm:
            return self.cap.section(min(z_mm, self.cap.top_mm - 1e-6))
        return np.asarray(self.wing.loops(z_mm)[0])

    def rows_mm(self, start_mm: float, end_mm: float) -> FloatArray:
        """Return heights at which to sample sections between two spans [mm]."""
        inner = [z for z in self.wing.station_spans_mm if start_mm < z < end_mm]
        count = max(2, int(np.ceil((end_mm - start_mm) / ROW_STEP_MM)) + 1)
        rows = [np.linspace(start_mm, end_mm, count), np.array(inner)]
        if self.cap is not None and self.cap.base_mm < end_mm:
            tip = max(start_mm, self.cap.base_mm)
            rows.append(np.arange(tip, end_mm, CAP_ROW_STEP_MM))
        return np.unique(np.round(np.concatenate(rows), 9))


@dataclass(frozen=True, slots=True, eq=False)
class PanelSolid:
    """One panel, made.

    Parameters
    ----------
    panel : PanelRange
        Which stretch of the half wing.
    mesh : Mesh
        Its surface in the print frame of the left hand, root on z = 0 [mm].
    slots : tuple of Slot
        Its slots and slits, in wing coordinates.
    surface_names : tuple of str
        Names of the surface numbers of `mesh`.
    """

    panel: PanelRange
    mesh: Mesh
    slots: tuple[Slot, ...]
    surface_names: tuple[str, ...]

    def reason_at(self, x_mm: float, z_mm: float) -> str | None:
        """Return why a slot of the design stops short at a place of the wing's planform, or None."""
        reasons = (slot.reason_at(x_mm, z_mm) for slot in self.slots)
        return next((reason for reason in reasons if reason is not None), None)


def panel_solid(
    body: WingBody,
    panel: PanelRange,
    planes: Sequence[RibPlane],
    bores: Sequence[Bore],
    *,
    bead_mm: float,
    width_mm: float,
    neck_mm: float,
    rise: float,
) -> PanelSolid:
    """Make the solid of one panel.

    Parameters
    ----------
    body : WingBody
        Outer shape of the half wing.
    panel : PanelRange
        Stretch of span.
    planes : sequence of RibPlane
        Ribs and webs of the whole wing.
    bores : sequence of Bore
        Bores of the whole wing.
    bead_mm, width_mm, neck_mm : float
        Bead width, slot width, neck [mm].
    rise : float
        Steepest growth of a wall: tan of the overhang limit.
    """
    numbers = SurfaceNumbers()
    start, end = panel.start_mm, panel.end_mm
    outer = _body_mesh(body, start, end, numbers)
    solid = to_solid(outer)
    if body.cap is not None and end > body.cap.base_mm:
        solid = trim_above(solid, end)
    ceiling = _ceiling(body, start, end, neck_mm)
    present = [bore for bore in bores if bore.to_mm > start and bore.seed_mm < end]
    slits = [
        slit
        for bore in present
        if (slit := bore_slit(bore, body.section, start_mm=start, end_mm=end, rise=rise)) is not None
    ]
    slots = slots_of_planes(
        planes,
        ceiling,
        present,
        slits=slits,
        start_mm=start,
        end_mm=end,
        bead_mm=bead_mm,
        width_mm=width_mm,
        rise=rise,
    )
    bottom = float(outer.vertices[:, 1].min()) - BELOW_MM
    cuts = [
        slot_mesh(slot, width_mm=width_mm, bottom_mm=bottom, numbers=numbers) for slot in [*slots, *slits]
    ]
    for bore in present:
        hole = bore_mesh(bore, start_mm=start, end_mm=end, numbers=numbers)
        if hole is not None:
            cuts.append(hole)
    made = subtract(solid, unite([to_solid(cut) for cut in cuts]))
    mesh = from_solid(made, name=panel.name).moved((0.0, 0.0, -start))
    return PanelSolid(panel, mesh, (*slots, *slits), tuple(numbers.names))


def _ceiling(body: WingBody, start: float, end: float, neck: float) -> Ceiling:
    return ceiling_of_sections(body.rows_mm(start, end), _section_of(body), neck_mm=neck)


def _section_of(body: WingBody) -> Callable[[float], FloatArray]:
    return body.section


def _body_mesh(body: WingBody, start: float, end: float, numbers: SurfaceNumbers) -> Mesh:
    wing, cap = body.wing, body.cap
    capped = cap is not None and end > cap.base_mm
    shoulder = cap.base_mm if cap is not None and capped else end
    heights = wing.ring_heights_mm(start, shoulder)
    rings = wing.loops(heights)
    points = (rings.shape[1] + 1) // 2
    strips: dict[int, tuple[int, int, int]] = {}
    sides = np.empty((len(heights) - 1, rings.shape[1]), dtype=np.int64)
    spans = wing.station_spans_mm
    for row, z in enumerate(0.5 * (heights[:-1] + heights[1:])):
        bay = int(np.clip(np.searchsorted(spans, z) - 1, 0, len(spans) - 2))
        if bay not in strips:
            strips[bay] = (
                numbers.new(f"lower skin, bay {bay}"),
                numbers.new(f"trailing edge, bay {bay}"),
                numbers.new(f"upper skin, bay {bay}"),
            )
        lower, edge, upper = strips[bay]
        sides[row, : points - 1], sides[row, points - 1], sides[row, points:] = lower, edge, upper
    bottom, top = numbers.new("root face"), numbers.new("tip face")
    mesh = loft(rings, heights, sides=sides, bottom=bottom, top=top, name="body")
    return _with_cap(mesh, cap, top, numbers) if cap is not None and capped else mesh


def _with_cap(mesh: Mesh, cap: TipCap, top: int, numbers: SurfaceNumbers) -> Mesh:
    """Replace the flat end of a loft by the cap's roof."""
    ring, points = len(cap.rim), (len(cap.rim) + 1) // 2
    rim = len(mesh.vertices) - ring
    ridge = len(mesh.vertices) + np.arange(len(cap.ridge))
    lower = rim + np.arange(1, points - 1)
    upper = rim + ring - np.arange(1, points - 1)
    nose, low_edge, high_edge = rim, rim + points - 1, rim + points
    faces = [(nose, lower[0], ridge[0]), (nose, ridge[0], upper[0])]
    for a, b in zip(range(len(ridge) - 1), range(1, len(ridge)), strict=True):
        faces += [(lower[a], lower[b], ridge[b]), (lower[a], ridge[b], ridge[a])]
        faces += [(upper[b], upper[a], ridge[a]), (upper[b], ridge[a], ridge[b])]
    faces += [
        (lower[-1], low_edge, ridge[-1]),
        (low_edge, high_edge, ridge[-1]),
        (high_edge, upper[-1], ridge[-1]),
    ]
    number = numbers.new("tip cap")
    peaks = np.column_stack([cap.ridge, cap.base_mm + cap.rise])
    surfaces = mesh.surfaces if mesh.surfaces is not None else np.zeros(len(mesh.faces), np.int64)
    keep = surfaces != top
    return Mesh(
        np.vstack([mesh.vertices, peaks]),
        np.vstack([mesh.faces[keep], np.array(faces)]),
        np.concatenate([surfaces[keep], np.full(len(faces), number)]),
        mesh.name,
    )
