"""The bodies of a mesh: what hangs together, which way it faces and what lies inside what."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from wingpath.core.arrays import FloatArray, IntArray
from wingpath.geometry.mesh import Mesh
from wingpath.geometry.welding import EdgeTable, linked_faces

__all__ = ["Bodies", "disagreeing_faces", "mesh_bodies", "overlapping_pairs"]

BODIES_COMPARED = 400
"""Of more bodies only the largest are compared with each other: the work grows with the square."""

CAVITIES_PROVEN = 50
"""So many inward bodies are proven to lie in solid; of the rest the bounding boxes have to do."""


@dataclass(frozen=True, slots=True, eq=False)
class Bodies:
    """Groups of faces that hang together by their edges.

    Parameters
    ----------
    of_face : array of int, shape (m,)
        Body of each face.
    volume : array, shape (b,)
        Signed volume of each body; of an open one, as seen from the middle of its box [mm3].
    low, high : array, shape (b, 3)
        Corners of each body's bounding box [mm].
    cavity : array of bool, shape (b,)
        True for a body that lies within another and faces the other way.
    """

    of_face: IntArray
    volume: FloatArray
    low: FloatArray
    high: FloatArray
    cavity: NDArray[np.bool_]


def mesh_bodies(mesh: Mesh, edges: EdgeTable, sense: FloatArray) -> Bodies:
    """Return the bodies of a mesh.

    Parameters
    ----------
    mesh : Mesh
        The mesh.
    edges : EdgeTable
        Its edges.
    sense : array, shape (m,)
        +1 for the faces to take as they are, -1 for those to take turned over.
    """
    of_face = linked_faces(edges, across=edges.uses >= 2)
    count = int(of_face.max()) + 1
    a, b, c = (mesh.vertices[mesh.faces[:, i]] for i in range(3))
    low, high = np.minimum(np.minimum(a, b), c), np.maximum(np.maximum(a, b), c)
    if count == 1:
        low, high = low.min(axis=0)[None], high.max(axis=0)[None]
        middle = 0.5 * (low + high)
    else:
        # Few bodies fit a short integer, which numpy sorts by counting.
        order = np.argsort(of_face.astype(np.uint16) if count < 65536 else of_face, kind="stable")
        begin = np.searchsorted(of_face[order], np.arange(count))
        low, high = (np.minimum.reduceat(low[order], begin), np.maximum.reduceat(high[order], begin))
        middle = (0.5 * (low + high))[of_face]
    a, b, c = a - middle, b - middle, c - middle
    parts = sense * np.einsum("ij,ij->i", a, np.cross(b, c)) / 6.0
    volume = np.asarray(np.bincount(of_face, weights=parts), dtype=np.float64)
    bodies = Bodies(of_face, volume, low, high, np.zeros(count, np.bool_))
    return replace(bodies, cavity=_cavities(mesh, bodies))


def _cavities(mesh: Mesh, bodies: Bodies) -> NDArray[np.bool_]:
    """Return the bodies that lie within another and face the other way; a mesh inside out as a whole too."""
    cavity = np.zeros(len(bodies.volume), np.bool_)
    volume = bodies.volume if bodies.volume.sum() >= 0.0 else -bodies.volume
    outward = np.flatnonzero(volume > 0.0)
    inward = np.flatnonzero(volume < 0.0)
    inward = inward[np.argsort(volume[inward], kind="stable")]
    for turn, number in enumerate(inward):
        low, high = bodies.low[number], bodies.high[number]
        around = outward[np.all((bodies.low[outward] <= low) & (bodies.high[outward] >= high), axis=1)]
        if not len(around):
            continue
        if turn < CAVITIES_PROVEN:
            start = mesh.vertices[mesh.faces[np.argmax(bodies.of_face == number), 0]]
            wall = mesh.vertices[mesh.faces[np.isin(bodies.of_face, around)]]
            cavity[number] = _winding(wall - start) > 0.5
        else:
            cavity[number] = True
    return cavity


def _winding(corners: FloatArray) -> float:
    """Return how often triangles, shape (m, 3, 3), wind around the origin, whichever way.

    The sum of their solid angles over 4 pi, each by the formula of van Oosterom and Strackee (IEEE
    Transactions on Biomedical Engineering 30, 1983): tan(angle / 2) = det(a, b, c) / (|a| |b| |c| + ...).
    """
    a, b, c = np.moveaxis(corners, 1, 0)
    la, lb, lc = (np.linalg.norm(side, axis=1) for side in (a, b, c))
    above = np.einsum("ij,ij->i", a, np.cross(b, c))
    below = (
        la * lb * lc
        + np.einsum("ij,ij->i", a, b) * lc
        + np.einsum("ij,ij->i", b, c) * la
        + np.einsum("ij,ij->i", c, a) * lb
    )
    return abs(float(np.sum(np.arctan2(above, below)))) / (2.0 * np.pi)


def overlapping_pairs(bodies: Bodies) -> int:
    """Count the pairs of bodies, cavities aside, whose boxes overlap."""
    solid = np.flatnonzero(~bodies.cavity)
    solid = solid[np.argsort(-np.abs(bodies.volume[solid]), kind="stable")[:BODIES_COMPARED]]
    low, high = bodies.low[solid], bodies.high[solid]
    meet = np.all((low[:, None] < high[None]) & (low[None] < high[:, None]), axis=2)
    return int(np.count_nonzero(np.triu(meet, 1)))


def disagreeing_faces(edges: EdgeTable) -> NDArray[np.bool_]:
    """Return the faces to turn so that all neighbours agree: as few as possible in each body.

    Every face is entered twice, as it is and turned. Neighbours that agree are linked as they are, those
    that disagree crosswise. The two halves of what hangs together are the two ways to face.
    """
    from scipy.sparse import csr_matrix
    from scipy.sparse.csgraph import connected_components

    count = len(edges.of_half_edge) // 3
    pair = edges.uses == 2
    if np.all(edges.clean[pair]):
        return np.zeros(count, np.bool_)
    half = edges.by_edge[pair[edges.of_half_edge[edges.by_edge]]]
    one, other = half[::2] // 3, half[1::2] // 3
    cross = ~edges.clean[edges.of_half_edge[half[::2]]]
    row = np.concatenate([one, one + count])
    col = np.concatenate([other + count * cross, other + count * ~cross])
    graph = csr_matrix((np.ones(len(row), np.int8), (row, col)), shape=(2 * count, 2 * count))
    label = connected_components(graph, directed=False)[1]
    straight, turned = label[:count], label[count:]
    # A group's two halves are two components; the one that holds more faces as they are stays.
    held = np.bincount(straight, minlength=int(label.max()) + 1)
    return np.asarray(
        (held[turned] > held[straight]) | ((held[turned] == held[straight]) & (turned < straight))
    )
