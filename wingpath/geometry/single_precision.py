"""Rounding a mesh to 32-bit coordinates without tearing it."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from wingpath.core.errors import MeshFileError
from wingpath.core.tolerances import GEOMETRY_EPS_MM
from wingpath.geometry.mesh import Mesh
from wingpath.geometry.welding import edge_table, welded_points

__all__ = ["single_vertices"]

_ROUNDS = 50


def single_vertices(mesh: Mesh) -> NDArray[np.float32]:
    """Return the vertices as files hold them: in 32 bits, each at a place of its own.

    Parameters
    ----------
    mesh : Mesh
        The mesh.

    Returns
    -------
    array of float32, shape (n, 3)
        Coordinates rounded to GEOMETRY_EPS_MM and then to 32 bits, whichever is coarser [mm]. Vertices that
        would fall together are moved apart by one such step, so that a reader that knows triangles by their
        coordinates alone finds the same edges.

    Raises
    ------
    MeshFileError
        When vertices cannot be told apart, which takes many of them within a few rounding steps.

    Notes
    -----
    In a closed mesh every vertex is kept apart, also from one at the same place: where two corners of a solid
    touch, a reader would otherwise join them to an edge with four triangles. In a mesh that is not closed,
    vertices that were equal before stay equal.
    """
    exact = mesh.vertices
    if len(mesh.faces) and edge_table(mesh.faces).clean.all():
        origin = np.arange(len(exact))
    else:
        _, origin = welded_points(exact)
    used = np.zeros(len(exact), np.bool_)
    used[mesh.faces] = True
    rounded = _rounded(exact)
    for step in range(_ROUNDS):
        place, number = welded_points(rounded)
        # One vertex of each place stays; a vertex that was elsewhere before, and is in use, has to go.
        keeper = np.full(len(place), len(exact))
        np.minimum.at(keeper, number[used], np.flatnonzero(used))
        crowded = np.flatnonzero(used)
        crowded = crowded[origin[crowded] != origin[keeper[number[crowded]]]]
        if not len(crowded):
            rounded.setflags(write=False)
            return rounded
        axis = step % 3
        value = rounded[crowded, axis].astype(np.float64)
        pace = np.maximum(np.spacing(np.abs(rounded[crowded, axis])).astype(np.float64), GEOMETRY_EPS_MM)
        # Different ones go different ways, or they would meet again.
        order = 1 + np.arange(len(crowded)) % 7
        moved = _rounded(value + pace * order)
        group = origin[crowded]
        first = np.full(len(exact), len(crowded))
        np.minimum.at(first, group, np.arange(len(crowded)))
        rounded[crowded, axis] = moved[first[group]]
    raise MeshFileError(
        f"{mesh.name}: got corners too close together for the 32-bit coordinates of mesh files; "
        "they need to be some micrometres apart. Leave out details of that size."
    )


def _rounded(values: NDArray[np.float64]) -> NDArray[np.float32]:
    """Return values on the grid of GEOMETRY_EPS_MM, in 32 bits."""
    return (np.round(values / GEOMETRY_EPS_MM) * GEOMETRY_EPS_MM).astype(np.float32) + np.float32(0.0)
