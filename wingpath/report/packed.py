"""Layers and meshes packed small for a page: whole numbers, differences, deflated, as base64 text.

A page's script unpacks them with the browser's own inflater. What is packed is what was judged: paths lose
nothing but what rounding to a hundredth of a millimetre takes.

Layout of the layers' bytes, little endian: rings of each layer (uint16, one a layer), points of each ring
(uint32), then all dx, then all dy (int16): steps from point to point in units of `unit_mm`, the first point
of each ring from `origin_mm`. Each ring begins where the bead begins, and is closed.
"""

from __future__ import annotations

import base64
import gzip
from typing import Any

import numpy as np
import shapely

from wingpath.build.continuity import Continuity
from wingpath.core.arrays import FloatArray
from wingpath.geometry.mesh import Mesh

__all__ = ["packed_layers", "packed_mesh", "packed_text", "unpacked"]

UNIT_MM = 0.01
"""Paths are rounded to this, unless a part is so large that steps would not fit [mm]."""

LARGEST = 32_000
"""Steps stay below this many units."""

MESH_STEPS = 65_000
"""Corners of a mesh are rounded to its longest side over this."""

LEVEL = 6
"""Effort of deflating: more takes four times as long for two per cent."""


def packed_text(data: bytes) -> str:
    """Return bytes deflated (gzip, RFC 1952) as base64 text (RFC 4648)."""
    # without a time stamp equal builds give equal pages
    return base64.b64encode(gzip.compress(data, LEVEL, mtime=0)).decode("ascii")


def unpacked(text: str) -> bytes:
    """Return what :func:`packed_text` packed."""
    return gzip.decompress(base64.b64decode(text))


def packed_layers(continuity: Continuity) -> dict[str, Any]:
    """Return the paths of all layers of a part, packed, with what a script needs to draw them.

    Parameters
    ----------
    continuity : Continuity
        The judged layers.
    """
    layers = continuity.layers
    bounds = np.asarray(shapely.total_bounds(layers.paths))
    if not np.isfinite(bounds).all():
        bounds = np.array([0.0, 0.0, 1.0, 1.0])
    origin = 0.5 * (bounds[:2] + bounds[2:])
    unit = max(UNIT_MM, float((bounds[2:] - bounds[:2]).max()) / LARGEST)
    count = np.zeros(len(layers), np.uint16)
    sizes: list[int] = []
    steps: list[np.ndarray[Any, np.dtype[np.int16]]] = []
    for index, path in enumerate(layers.paths):
        rings = _rings(path)
        count[index] = len(rings)
        for ring in rings:
            points = np.rint((_from_start(ring, continuity.starts[index]) - origin) / unit).astype(np.int64)
            sizes.append(len(points))
            steps.append(np.diff(points, axis=0, prepend=np.zeros((1, 2), np.int64)).astype(np.int16))
    moves = np.concatenate(steps) if steps else np.zeros((0, 2), np.int16)
    data = (
        count.astype("<u2").tobytes()
        + np.array(sizes, "<u4").tobytes()
        + moves[:, 0].astype("<i2").tobytes()
        + moves[:, 1].astype("<i2").tobytes()
    )
    return {
        "layers": len(layers),
        "rings": len(sizes),
        "points": len(moves),
        "unit_mm": unit,
        "origin_mm": [float(value) for value in origin],
        "bounds_mm": [float(value) for value in bounds],
        "bead_mm": layers.bead_mm,
        "layer_mm": layers.layer_mm,
        "first_z_mm": float(layers.z_mm[0]) if len(layers) else 0.0,
        "data": packed_text(data),
    }


def _rings(path: Any) -> list[FloatArray]:
    """Return the rings of a layer's path without their last point, outer ones anticlockwise."""
    return [
        shapely.get_coordinates(ring)[:-1]
        for part in shapely.get_parts(shapely.orient_polygons(path))
        if not part.is_empty
        for ring in (part.exterior, *part.interiors)
    ]


def _from_start(ring: FloatArray, start: FloatArray) -> FloatArray:
    """Return a ring turned so that it begins at a place on it, if the place is on it."""
    if np.isnan(start).any():
        return ring
    closed = shapely.LinearRing(ring)
    if closed.distance(shapely.Point(start)) > UNIT_MM:
        return ring
    along = closed.project(shapely.Point(start))
    ends = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(ring, axis=0).T))])
    after = int(np.searchsorted(ends, along, side="right"))
    return np.vstack([start, ring[after:], ring[:after]])


def packed_mesh(mesh: Mesh, kinds: dict[str, np.ndarray[Any, np.dtype[np.bool_]]]) -> dict[str, Any]:
    """Return a mesh packed: corners as uint16 (x, then y, then z), then three numbers a triangle, by kind.

    Parameters
    ----------
    mesh : Mesh
        The mesh, where it is to be shown.
    kinds : dict of str to ndarray of bool, shape (n,)
        Triangles of each kind; one that belongs to none is left out.
    """
    low, high = mesh.bounds
    unit = max(float((high - low).max()) / MESH_STEPS, 1e-9)
    corners = np.rint((mesh.vertices - low) / unit).astype("<u2")
    shown = {kind: mesh.faces[mask] for kind, mask in kinds.items() if mask.any()}
    faces = np.concatenate(list(shown.values())) if shown else np.zeros((0, 3), np.int64)
    # numbers of corners rise along the mesh, so that differences are small
    data = corners.T.tobytes() + np.diff(faces.ravel(), prepend=0).astype("<i4").tobytes()
    return {
        "corners": len(corners),
        "kinds": [[kind, len(triangles)] for kind, triangles in shown.items()],
        "unit_mm": unit,
        "low_mm": [float(value) for value in low],
        "data": packed_text(data),
    }
