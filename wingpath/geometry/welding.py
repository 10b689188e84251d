"""Which corners are one and the same, and which triangles share an edge."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from wingpath.core.arrays import FloatArray, IntArray

_Float = TypeVar("_Float", np.float32, np.float64)

__all__ = ["EdgeTable", "edge_table", "linked_faces", "welded_near", "welded_points"]

_MIX = (0x9E3779B97F4A7C15, 0xC2B2AE3D27D4EB4F, 0x165667B19E3779F9)
"""Odd 64-bit constants with well spread bits, one a coordinate; any such would do."""


@dataclass(frozen=True, slots=True, eq=False)
class EdgeTable:
    """The undirected edges of a triangle mesh.

    Half-edge 3 f + j of face f runs from its corner j to its corner (j + 1) mod 3.

    Parameters
    ----------
    ends : array of int, shape (e, 2)
        Vertex numbers of each edge, the lower first.
    of_half_edge : array of int, shape (3 m,)
        Edge of every half-edge.
    by_edge : array of int, shape (3 m,)
        The half-edges, those of the first edge first.
    forward, backward : array of int, shape (e,)
        How many half-edges run from the lower to the higher vertex number, and the other way. A clean
        edge has one of each.
    """

    ends: IntArray
    of_half_edge: IntArray
    by_edge: IntArray
    forward: IntArray
    backward: IntArray

    @property
    def clean(self) -> NDArray[np.bool_]:
        """True where exactly two triangles meet that agree which side is outside, shape (e,)."""
        return np.asarray((self.forward == 1) & (self.backward == 1))

    @property
    def uses(self) -> IntArray:
        """Number of triangles at each edge, shape (e,)."""
        return self.forward + self.backward


def edge_table(faces: IntArray) -> EdgeTable:
    """Return the edges of the faces, shape (m, 3); corners are one where their vertex numbers are."""
    start = faces.reshape(-1)
    end = faces[:, [1, 2, 0]].reshape(-1)
    span = int(faces.max()) + 1 if len(faces) else 1
    key = np.minimum(start, end) * span + np.maximum(start, end)
    order = np.argsort(key)
    ordered = key[order]
    first = np.ones(len(key), np.bool_)
    first[1:] = ordered[1:] != ordered[:-1]
    of_half_edge = np.empty(len(key), np.int64)
    of_half_edge[order] = np.cumsum(first) - 1
    unique = ordered[first]
    ends = np.column_stack([unique // span, unique % span])
    rising = start <= end
    forward = np.bincount(of_half_edge[rising], minlength=len(unique))
    backward = np.bincount(of_half_edge[~rising], minlength=len(unique))
    return EdgeTable(ends, of_half_edge, order, forward, backward)


def linked_faces(edges: EdgeTable, *, across: NDArray[np.bool_]) -> IntArray:
    """Find which faces hang together.

    Parameters
    ----------
    edges : EdgeTable
        The edges.
    across : array of bool, shape (e,)
        The edges that link the faces beside them.

    Returns
    -------
    array of int, shape (m,)
        Number of the group that each face belongs to, counted from 0.
    """
    from scipy.sparse import csr_matrix
    from scipy.sparse.csgraph import connected_components

    count = len(edges.of_half_edge) // 3
    edge = edges.of_half_edge[edges.by_edge]
    linked = (edge[1:] == edge[:-1]) & across[edge[1:]]
    face = edges.by_edge // 3
    one, other = face[:-1][linked], face[1:][linked]
    graph = csr_matrix((np.ones(len(one), np.int8), (one, other)), shape=(count, count))
    return np.asarray(connected_components(graph, directed=False)[1], dtype=np.int64)


def _fingerprint(points: NDArray[_Float]) -> NDArray[np.uint64]:
    """Return one 64-bit number a point; equal points have equal numbers."""
    width = np.uint32 if points.dtype == np.float32 else np.uint64
    bits = np.ascontiguousarray(points).view(width).astype(np.uint64)
    mixed = np.zeros(len(points), np.uint64)
    with np.errstate(over="ignore"):
        for axis, factor in enumerate(_MIX):
            mixed ^= bits[:, axis]
            mixed *= np.uint64(factor)
            mixed ^= mixed >> np.uint64(31)
    return mixed


def welded_points(points: NDArray[_Float]) -> tuple[NDArray[_Float], IntArray]:
    """Merge points whose coordinates are exactly equal.

    Parameters
    ----------
    points : array of float32 or float64, shape (n, 3)
        The points; a negative zero equals zero.

    Returns
    -------
    unique : array, shape (k, 3)
        The different points, in the order in which they first come up.
    inverse : array of int, shape (n,)
        For every point its number in `unique`.

    Notes
    -----
    Sorting one mixed 64-bit number a point is several times faster than sorting rows. Should two different
    points ever share their number, the rows are sorted after all.
    """
    points = points.copy()
    points[points == 0.0] = 0.0  # a negative zero has other bits
    if not len(points):
        return points, np.zeros(0, np.int64)
    mark = _fingerprint(points)
    order = np.argsort(mark, kind="stable")
    ordered = mark[order]
    first = np.ones(len(points), np.bool_)
    first[1:] = ordered[1:] != ordered[:-1]
    group = np.empty(len(points), np.int64)
    group[order] = np.cumsum(first) - 1
    source = order[first]
    if not np.array_equal(points[source[group]], points):
        _, source, group = np.unique(points, axis=0, return_index=True, return_inverse=True)
        group = group.reshape(-1)
    rank = np.empty(len(source), np.int64)
    turn = np.argsort(source)
    rank[turn] = np.arange(len(source))
    return points[source[turn]], rank[group]


def welded_near(points: FloatArray, *, which: IntArray, reach_mm: float) -> IntArray:
    """Say which points to put in the place of others close by.

    Parameters
    ----------
    points : array, shape (n, 3)
        The points [mm].
    which : array of int
        Numbers of the points that may be merged with each other.
    reach_mm : float
        Points not farther apart than this are one; so are points linked through others [mm].

    Returns
    -------
    array of int, shape (n,)
        For every point the number of the point that stands for it: the lowest of its group.
    """
    from scipy.sparse import csr_matrix
    from scipy.sparse.csgraph import connected_components
    from scipy.spatial import cKDTree

    stand_in = np.arange(len(points))
    if not len(which):
        return stand_in
    which = np.sort(which)
    pairs = cKDTree(points[which]).query_pairs(reach_mm, output_type="ndarray")
    graph = csr_matrix(
        (np.ones(len(pairs), np.int8), (pairs[:, 0], pairs[:, 1])), shape=(len(which), len(which))
    )
    label = connected_components(graph, directed=False)[1]
    lowest = np.full(len(which), len(which))
    np.minimum.at(lowest, label, np.arange(len(which)))
    stand_in[which] = which[lowest[label]]
    return stand_in
