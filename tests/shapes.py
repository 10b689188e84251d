"""Plain solids for tests: outlines as shapely polygons, lifted and stacked by the solid engine."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import manifold3d
import numpy as np
import shapely

from wingpath.build.layers import Layers, layers_of_mesh
from wingpath.geometry.mesh import Mesh
from wingpath.model.wing import Wing

BEAD_MM, LAYER_MM = 0.45, 0.25
"""Bead and layer of the tests' solids: the defaults of a spec [mm]."""


def _lifted(region: shapely.Geometry, low: float, high: float) -> manifold3d.Manifold:
    rings = [
        np.asarray(ring.coords)[:-1]
        for part in shapely.get_parts(shapely.orient_polygons(region))
        for ring in (part.exterior, *part.interiors)
    ]
    return manifold3d.CrossSection(rings).extrude(high - low).translate((0.0, 0.0, low))


def mesh_from(solid: manifold3d.Manifold, name: str = "shape") -> Mesh:
    """Return the mesh of an engine's solid."""
    data = solid.to_mesh64()
    return Mesh(
        np.asarray(data.vert_properties)[:, :3], np.asarray(data.tri_verts).astype(np.int64), name=name
    )


def prism(region: shapely.Geometry, height_mm: float) -> Mesh:
    """Lift a region straight up from z = 0."""
    return mesh_from(_lifted(region, 0.0, height_mm))


def stack(regions: Sequence[shapely.Geometry], layer_mm: float = LAYER_MM) -> Mesh:
    """Lay regions on each other, each one layer high; an empty one leaves air."""
    steps = [
        _lifted(region, k * layer_mm, (k + 1) * layer_mm)
        for k, region in enumerate(regions)
        if not region.is_empty
    ]
    return mesh_from(manifold3d.Manifold.batch_boolean(steps, manifold3d.OpType.Add))


def lofted(low: Sequence[tuple[float, float]], high: Sequence[tuple[float, float]], height_mm: float) -> Mesh:
    """Join two convex rings of equal point count, z = 0 and z = `height_mm`."""
    count = len(low)
    points = [(*p, 0.0) for p in low] + [(*p, height_mm) for p in high]
    faces: list[tuple[int, int, int]] = []
    for a in range(count):
        b = (a + 1) % count
        faces += [(a, b, count + b), (a, count + b, count + a)]
    faces += [(0, k + 1, k) for k in range(1, count - 1)]
    faces += [(count, count + k, count + k + 1) for k in range(1, count - 1)]
    return Mesh(np.array(points), np.array(faces))


def sheared_box(lean_deg: float, *, long: float, wide: float, high: float) -> Mesh:
    """Return a box whose ends lean along x by an angle from the vertical."""
    aside = high * np.tan(np.deg2rad(lean_deg))
    low = [(0.0, 0.0), (long, 0.0), (long, wide), (0.0, wide)]
    return lofted(low, [(x + aside, y) for x, y in low], high)


def layers_of(mesh: Mesh, *, layer_mm: float = LAYER_MM, bead_mm: float = BEAD_MM) -> Layers:
    """Cut a mesh into layers."""
    return layers_of_mesh(mesh, layer_mm=layer_mm, bead_mm=bead_mm)


def slotted_box(
    slots: Iterable[tuple[float, float, float]], *, long: float = 40.0, wide: float = 8.0
) -> shapely.Polygon:
    """Return a box from (0, 0) with slots (middle x, width, depth) cut upward from its lower side."""
    region = shapely.box(0.0, 0.0, long, wide)
    for x, width, depth in slots:
        region -= shapely.box(x - 0.5 * width, -1.0, x + 0.5 * width, depth)
    return region


def skin_lean(wing: Wing) -> float:
    """Greatest lean of the skin as a tangent: how far a point lies outside the section a millimetre below."""
    worst = 0.0
    for z in np.arange(0.0, wing.semi_span_mm - 1.0, 1.0):
        low, high = wing.loops([z, z + 1.0])
        worst = max(worst, float(shapely.distance(shapely.linearrings(low), shapely.points(high)).max()))
    return worst
