"""A part taken apart: its outer body without any cut, and every body that cuts it, for people with CAD."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from wingpath.build.ailerons import Aileron, aileron_bay_mesh
from wingpath.build.bays import bay_mesh
from wingpath.build.body import WingBody, body_solid
from wingpath.build.bores import bore_mesh
from wingpath.build.kernel import Solid, from_solid, to_solid, trim_by_planes
from wingpath.build.slots import slot_mesh
from wingpath.build.solid import BEYOND_MM, CutSettings, PanelSolid, Voids, control_surface_body
from wingpath.build.surfaces import SurfaceNumbers, SurfaceShape
from wingpath.core.arrays import FloatArray
from wingpath.geometry.mesh import Mesh

__all__ = ["Piece", "pieces_of_part"]

CLEAR_MM = 5.0
"""Cutting bodies that reach far beyond a part are cut off this far outside of it [mm]."""


@dataclass(frozen=True, slots=True, eq=False)
class Piece:
    """One body of a part that was taken apart.

    Parameters
    ----------
    name : str
        For example ``panel-1 outer body`` or ``panel-1 cut tube[0]``; no two are alike.
    mesh : Mesh
        It, in wing coordinates [mm].
    names, shapes : tuple
        Of the surface numbers of `mesh`.
    """

    name: str
    mesh: Mesh
    names: tuple[str, ...]
    shapes: tuple[SurfaceShape | None, ...]


def pieces_of_part(
    body: WingBody, voids: Voids, settings: CutSettings, part: PanelSolid
) -> tuple[Piece, ...]:
    """Return the outer body of a part and everything that is cut out of it.

    Parameters
    ----------
    body, voids, settings
        What the part was made with.
    part : PanelSolid
        A panel or a control surface. A cover has no cuts and is its own outer body.
    """
    kind, panel = part.panel.kind, part.panel
    numbers = SurfaceNumbers()
    if kind == "panel":
        outer = from_solid(body_solid(body, panel.start_mm, panel.end_mm, numbers), name=part.panel.name)
    elif kind == "aileron":
        aileron = _surface(voids, panel.number)
        outer = from_solid(control_surface_body(body, aileron, numbers), name=panel.name)
    else:
        moved = part.mesh.moved((0.0, 0.0, panel.start_mm))
        return (Piece(f"{panel.name} outer body", moved, part.surface_names, part.surface_shapes),)
    made = [Piece(f"{panel.name} outer body", outer, tuple(numbers.names), tuple(numbers.shapes))]
    used: dict[str, int] = {}
    for name, mesh, own in _cuts(voids, settings, part, outer.bounds):
        title = f"{panel.name} cut {name}"
        used[title] = used.get(title, 0) + 1
        if used[title] > 1:
            title = f"{title} no. {used[title]}"
        made.append(Piece(title, mesh, tuple(own.names), tuple(own.shapes)))
    return tuple(made)


def _surface(voids: Voids, number: int) -> Aileron:
    return next(aileron for aileron in voids.ailerons if aileron.number == number)


def _cuts(
    voids: Voids, settings: CutSettings, part: PanelSolid, bounds: FloatArray
) -> Iterator[tuple[str, Mesh, SurfaceNumbers]]:
    start, end = part.panel.start_mm, part.panel.end_mm
    low, high = float(bounds[0, 1]) - BEYOND_MM, float(bounds[1, 1]) + BEYOND_MM
    for slot in part.slots:
        numbers = SurfaceNumbers()
        mesh = slot_mesh(slot, width_mm=settings.width_mm, below_mm=low, above_mm=high, numbers=numbers)
        side = "" if slot.side == "lower" else " from above"
        yield f"{slot.name}{side}", mesh, numbers
    if part.panel.kind != "panel":
        return
    for bore in part.bores:
        numbers = SurfaceNumbers()
        hole = bore_mesh(bore, start_mm=start, end_mm=end, numbers=numbers)
        if hole is not None:
            yield bore.name, hole, numbers
    for bay in voids.bays:
        numbers = SurfaceNumbers()
        pocket = bay_mesh(bay, start_mm=start, end_mm=end, numbers=numbers)
        if pocket is not None:
            yield bay.name, pocket, numbers
    for aileron in voids.ailerons:
        numbers = SurfaceNumbers()
        gap = aileron_bay_mesh(aileron, start_mm=start, end_mm=end, numbers=numbers)
        if gap is None:
            continue
        near = from_solid(_cut_off(to_solid(gap), bounds, numbers), name=aileron.name)
        if len(near.faces):
            yield aileron.name, near, numbers


def _cut_off(solid: Solid, bounds: FloatArray, numbers: SurfaceNumbers) -> Solid:
    planes = []
    for axis in range(3):
        for sense, level in ((1.0, bounds[0, axis] - CLEAR_MM), (-1.0, bounds[1, axis] + CLEAR_MM)):
            normal = np.zeros(3)
            normal[axis] = sense
            planes.append((normal, sense * float(level), numbers.new("cut off")))
    return trim_by_planes(solid, planes)
