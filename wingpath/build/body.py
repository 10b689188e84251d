"""The outer shape of the half wing, and its mesh: ruled surfaces between stations, and the tip's cap."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from wingpath.build.kernel import Solid, loft, to_solid, trim_above
from wingpath.build.surfaces import Facets, RuledStrip, SurfaceNumbers
from wingpath.build.tip import TipCap
from wingpath.core.arrays import FloatArray
from wingpath.geometry.mesh import Mesh
from wingpath.geometry.outline import lower_surface, upper_surface
from wingpath.model.wing import Wing

__all__ = ["WingBody", "body_solid"]

ROW_STEP_MM = 3.0
"""Distance of ceiling rows along the span [mm]: between stations the ceiling is nearly straight."""

CAP_ROW_STEP_MM = 0.15
"""The same inside a closed tip, whose section shrinks quickly [mm]."""


@dataclass(frozen=True, slots=True, eq=False)
class WingBody:
    """The outer shape of the half wing: ruled surfaces and, where asked for, a closed tip."""

    wing: Wing
    cap: TipCap | None = None

    def section(self, z_mm: float) -> FloatArray:
        """Return the ring of the body at height `z_mm`, shape (k, 2) [mm]."""
        if self.cap is not None and z_mm > self.cap.base_mm:
            return self.cap.section(min(z_mm, self.cap.top_mm - 1e-6))
        return self.wing.loop(z_mm)

    def rows_mm(self, start_mm: float, end_mm: float) -> FloatArray:
        """Return heights at which to sample sections between two spans [mm]."""
        inner = [z for z in self.wing.station_spans_mm if start_mm < z < end_mm]
        count = max(2, int(np.ceil((end_mm - start_mm) / ROW_STEP_MM)) + 1)
        rows = [np.linspace(start_mm, end_mm, count), np.array(inner)]
        if self.cap is not None and self.cap.base_mm < end_mm:
            tip = max(start_mm, self.cap.base_mm)
            rows.append(np.arange(tip, end_mm, CAP_ROW_STEP_MM))
        return np.unique(np.round(np.concatenate(rows), 9))


def body_solid(body: WingBody, start: float, end: float, numbers: SurfaceNumbers) -> Solid:
    """Return the solid of the body between two spans [mm], a surface number on every triangle."""
    solid = to_solid(_mesh(body, start, end, numbers))
    capped = body.cap is not None and end > body.cap.base_mm
    return trim_above(solid, end, numbers.new("tip flat")) if capped else solid


def _mesh(body: WingBody, start: float, end: float, numbers: SurfaceNumbers) -> Mesh:
    """Return its closed mesh; where the tip is closed it stands a little above `end`."""
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
            ends = np.clip(spans[bay : bay + 2], heights[0], heights[-1])
            strips[bay] = _strips(wing, bay, float(ends[0]), float(ends[1]), numbers)
        lower, edge, upper = strips[bay]
        sides[row, : points - 1], sides[row, points - 1], sides[row, points:] = lower, edge, upper
    bottom, top = numbers.new("root face"), numbers.new("tip face")
    mesh = loft(rings, heights, sides=sides, bottom=bottom, top=top, name="body")
    return _with_cap(mesh, cap, top, numbers) if cap is not None and capped else mesh


def _strips(
    wing: Wing, bay: int, near_mm: float, far_mm: float, numbers: SurfaceNumbers
) -> tuple[int, int, int]:
    """Return numbers for lower skin, trailing edge and upper skin between two stations."""
    near, far = wing.loops([near_mm, far_mm])
    lower = (lower_surface(near), lower_surface(far))
    upper = (upper_surface(near), upper_surface(far))
    edge = tuple(np.stack([low[-1], high[-1]]) for low, high in zip(lower, upper, strict=True))
    return (
        numbers.new(f"lower skin, bay {bay}", RuledStrip(lower[0], lower[1], near_mm, far_mm)),
        numbers.new(f"trailing edge, bay {bay}", RuledStrip(edge[0], edge[1], near_mm, far_mm)),
        numbers.new(f"upper skin, bay {bay}", RuledStrip(upper[0], upper[1], near_mm, far_mm)),
    )


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
    number = numbers.new("tip cap", Facets())
    peaks = np.column_stack([cap.ridge, cap.base_mm + cap.rise])
    surfaces = mesh.surfaces if mesh.surfaces is not None else np.zeros(len(mesh.faces), np.int64)
    keep = surfaces != top
    return Mesh(
        np.vstack([mesh.vertices, peaks]),
        np.vstack([mesh.faces[keep], np.array(faces)]),
        np.concatenate([surfaces[keep], np.full(len(faces), number)]),
        mesh.name,
    )
