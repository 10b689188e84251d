"""The mesh boolean engine behind one small door.

Everything that knows `manifold3d` by name is here. Surface numbers go in with the triangles and come
out on the triangles of the result.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import manifold3d
import mapbox_earcut
import numpy as np

from wingpath.core.arrays import FloatArray, IntArray
from wingpath.core.errors import InputError
from wingpath.geometry.mesh import Mesh

__all__ = [
    "Solid",
    "cap_triangles",
    "from_solid",
    "heights_mm",
    "loft",
    "subtract",
    "to_solid",
    "trim_above",
    "trim_by_planes",
    "unite",
]

Solid = Any
"""A solid inside the engine; the binding ships no types."""


def to_solid(mesh: Mesh) -> Solid:
    """Hand a closed mesh to the engine.

    Raises
    ------
    InputError
        When the engine does not accept it as a closed, oriented surface.
    """
    data = manifold3d.Mesh64(
        vert_properties=np.array(mesh.vertices, order="C"),
        tri_verts=np.array(mesh.faces, dtype=np.uint64, order="C"),
        face_id=np.array(_surfaces(mesh), dtype=np.uint64),
    )
    solid = manifold3d.Manifold(data)
    status = solid.status()
    if status != manifold3d.Error.NoError:
        raise InputError(f"{mesh.name}: not a closed surface ({status.name})")
    return solid


def _surfaces(mesh: Mesh) -> IntArray:
    assert mesh.surfaces is not None
    return mesh.surfaces


def from_solid(solid: Solid, *, name: str) -> Mesh:
    """Take the mesh of a solid back from the engine."""
    data = solid.to_mesh64()
    return Mesh(
        np.asarray(data.vert_properties)[:, :3],
        np.asarray(data.tri_verts).astype(np.int64),
        np.asarray(data.face_id).astype(np.int64),
        name,
    )


def unite(solids: Sequence[Solid]) -> Solid:
    """Return the union of solids; an empty solid for none."""
    if not solids:
        return manifold3d.Manifold()
    return manifold3d.Manifold.batch_boolean(list(solids), manifold3d.OpType.Add)


def subtract(solid: Solid, voids: Solid) -> Solid:
    """Return `solid` without `voids`."""
    return solid - voids


def heights_mm(solid: Solid) -> tuple[float, float]:
    """Return the lowest and the highest y of a solid [mm]."""
    box = solid.bounding_box()
    return float(box[1]), float(box[4])


def trim_above(solid: Solid, z_mm: float, number: int) -> Solid:
    """Return what lies below height `z_mm`; the new face carries the surface number."""
    return trim_by_planes(solid, [(np.array([0.0, 0.0, -1.0]), -z_mm, number)])


def trim_by_planes(solid: Solid, planes: Sequence[tuple[FloatArray, float, int]]) -> Solid:
    """Keep what lies on the inner side of every plane.

    Parameters
    ----------
    solid : Solid
        The solid.
    planes : sequence of (normal, offset, surface number)
        What is kept has ``normal . point >= offset``; the new faces carry the number.
    """
    for normal, offset, number in planes:
        unit = normal / np.linalg.norm(normal)
        foot = unit * offset / np.linalg.norm(normal)
        solid = solid - to_solid(_half_space(foot, unit, number))
    return solid


HALF_SPACE_MM = 4000.0
"""Size of a block that stands for a half space [mm]: larger than any wing in the range of the spec."""


def _half_space(foot: FloatArray, unit: FloatArray, number: int) -> Mesh:
    """Return a block that fills the outer side of a plane as far as a wing may reach."""
    aside = np.cross(unit, [0.0, 0.0, 1.0] if abs(unit[2]) < 0.9 else [1.0, 0.0, 0.0])
    aside /= np.linalg.norm(aside)
    up = np.cross(unit, aside)
    size = HALF_SPACE_MM
    square = [foot + size * (a * aside + b * up) for a, b in ((-1, -1), (1, -1), (1, 1), (-1, 1))]
    corners = np.array([*(point - size * unit for point in square), *square])
    faces = [(4, 5, 6), (4, 6, 7), (0, 2, 1), (0, 3, 2)]
    for a in range(4):
        b = (a + 1) % 4
        faces += [(a, b, b + 4), (a, b + 4, a + 4)]
    return Mesh(corners, np.array(faces), np.full(len(faces), number), "half space")


def cap_triangles(ring: FloatArray) -> IntArray:
    """Triangulate a simple ring; triangles counter-clockwise, shape (k, 3)."""
    points = np.ascontiguousarray(ring, dtype=np.float64)
    flat = mapbox_earcut.triangulate_float64(points, np.array([len(points)], dtype=np.uint32))
    triangles = flat.reshape(-1, 3).astype(np.int64)
    a, b, c = (points[triangles[:, i]] for i in range(3))
    area = (b[:, 0] - a[:, 0]) * (c[:, 1] - a[:, 1]) - (b[:, 1] - a[:, 1]) * (c[:, 0] - a[:, 0])
    return np.where((area < 0)[:, None], triangles[:, ::-1], triangles)


def loft(rings: FloatArray, z_mm: FloatArray, *, sides: IntArray, bottom: int, top: int, name: str) -> Mesh:
    """Join rings of equal point count to a closed mesh.

    Parameters
    ----------
    rings : ndarray, shape (r, m, 2)
        Counter-clockwise rings [mm].
    z_mm : ndarray, shape (r,)
        Their heights, rising [mm].
    sides : ndarray of int, shape (r - 1, m)
        Surface number of the strip from point j to j + 1 between ring i and i + 1.
    bottom, top : int
        Surface numbers of the two caps.
    name : str
        Name of the mesh.
    """
    count, points = rings.shape[:2]
    vertices = np.concatenate(
        [rings.reshape(-1, 2), np.repeat(z_mm, points)[:, None]],
        axis=1,
    )
    here = np.arange(points)
    there = (here + 1) % points
    base = (np.arange(count - 1) * points)[:, None]
    a, b = base + here, base + there
    c, d = b + points, a + points
    first = np.stack([a, b, c], axis=-1).reshape(-1, 3)
    second = np.stack([a, c, d], axis=-1).reshape(-1, 3)
    low = cap_triangles(rings[0])[:, ::-1]
    high = cap_triangles(rings[-1]) + (count - 1) * points
    faces = np.vstack([first, second, low, high])
    numbers = np.concatenate(
        [sides.ravel(), sides.ravel(), np.full(len(low), bottom), np.full(len(high), top)]
    )
    return Mesh(vertices, faces, numbers, name)
