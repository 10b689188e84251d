"""Patches: the faces, edges and corners of an exact solid, read off its mesh.

Triangles of one curved surface that hang together are one patch, and so are triangles in one plane. What
two patches share from corner to corner is one edge.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from wingpath.build.surfaces import Facets, RoundWall, RuledStrip, SurfaceShape
from wingpath.cad.half_edges import HalfEdges
from wingpath.core.arrays import FloatArray, IntArray
from wingpath.core.errors import InputError
from wingpath.geometry.mesh import Mesh

__all__ = ["Chain", "Patch", "Patches", "patches_of_mesh"]

FLAT_MM = 1e-7
"""Triangles whose corners lie this close to a plane lie in it: mesh booleans are exact to 1e-9 [mm]."""

FACET, NEEDLE, CURVED = 1, 2, 10
"""Kinds of triangles: 0 in planes, facets, those without height, and on curved surfaces with their number."""

NEEDLES_IN_A_ROW = 5
"""Doublings of the way from needle to needle."""

STRAIGHT_MM = 1e-7
"""A point this close to the line between its neighbours is no corner of an edge between planes [mm]."""


@dataclass(frozen=True, slots=True)
class Patch:
    """One face to be.

    Parameters
    ----------
    surface : int or None
        Number of its curved surface; None for a plane.
    facet : bool
        Whether it is a piece of a surface that is not known exactly.
    body : int
        Which of the separate bodies it belongs to.
    triangles : ndarray of int
        Its triangles, largest first.
    loops : tuple of tuple of (int, bool)
        Its borders: edges in order, and whether each is run along from its start.
    """

    surface: int | None
    facet: bool
    body: int
    triangles: IntArray
    loops: tuple[tuple[tuple[int, bool], ...], ...]


@dataclass(frozen=True, slots=True)
class Chain:
    """One edge to be: mesh vertices from corner to corner, the patch on its left and on its right."""

    vertices: tuple[int, ...]
    left: int
    right: int


@dataclass(frozen=True, slots=True, eq=False)
class Patches:
    """All faces, edges and corners of a solid.

    Parameters
    ----------
    mesh : Mesh
        What they were read off.
    patches, chains : tuple
        Faces and edges.
    touching : dict of int to frozenset of int
        Patches that meet at each corner, by the number of its vertex.
    """

    mesh: Mesh
    patches: tuple[Patch, ...]
    chains: tuple[Chain, ...]
    touching: dict[int, frozenset[int]]


def patches_of_mesh(mesh: Mesh, shapes: Sequence[SurfaceShape | None]) -> Patches:
    """Read faces, edges and corners off a mesh.

    Parameters
    ----------
    mesh : Mesh
        A closed mesh in wing coordinates, a surface number on every triangle.
    shapes : sequence of SurfaceShape or None
        Shapes of the numbers, in wing coordinates; None for planes. An empty one makes every surface planes.

    Raises
    ------
    InputError
        When the mesh is not closed.
    """
    numbers = np.zeros(len(mesh.faces), np.int64) if mesh.surfaces is None else mesh.surfaces
    kinds = np.array([_kind(shape) for shape in shapes] or [0])
    kind = kinds[numbers] if len(shapes) else np.zeros(len(numbers), np.int64)
    key = np.where(kind == CURVED, CURVED + numbers, kind)
    half = HalfEdges(mesh.faces)
    home = _homes(mesh, half)
    label = _grown(mesh, np.where(home == np.arange(len(home)), key, NEEDLE), half)[home]
    key = key[home]
    own, count = half.groups(label, key)
    for _ in range(2):
        made = _read(mesh, key, half, own, count)
        wrapped = [
            number
            for number, patch in enumerate(made.patches)
            if patch.surface is not None
            and isinstance(shapes[patch.surface], RoundWall)
            and _goes_round(made, number, shapes[patch.surface])
        ]
        if not wrapped:
            return made
        own, count = _halved(mesh, half, own, count, wrapped, shapes, made)
    raise InputError(f"{mesh.name}: a bore closes on itself even when it is cut in two")


def _kind(shape: SurfaceShape | None) -> int:
    if shape is None or (isinstance(shape, RuledStrip) and _is_plane(shape)):
        return 0
    return FACET if isinstance(shape, Facets) else CURVED


def _is_plane(strip: RuledStrip) -> bool:
    """Whether the base of a trailing edge is flat: the section does not twist there."""
    if len(strip.near) > 2:
        return False
    near, far = strip.near[1] - strip.near[0], strip.far[1] - strip.far[0]
    size = float(np.linalg.norm(near) * np.linalg.norm(far))
    return abs(float(near[0] * far[1] - near[1] * far[0])) < FLAT_MM * size


def _homes(mesh: Mesh, half: HalfEdges) -> IntArray:
    """Return for each triangle itself, and for a needle without height the triangle across its longest side.

    A needle lies in every plane through its long side. With any other neighbour than this one it would stick
    out of its face as a spike.
    """
    corners = mesh.corners
    sides = np.roll(corners, -1, axis=1) - corners
    length = np.linalg.norm(sides, axis=2)
    longest = np.argmax(length, axis=1)
    height = np.linalg.norm(np.cross(sides[:, 0], sides[:, 1]), axis=1) / length.max(axis=1)
    home = np.arange(len(corners))
    needles = np.flatnonzero(height < FLAT_MM)
    home[needles] = half.twin[3 * needles + longest[needles]] // 3
    for _ in range(NEEDLES_IN_A_ROW):
        home = home[home]
    return home


def _grown(mesh: Mesh, key: IntArray, half: HalfEdges) -> IntArray:
    """Return a label for each triangle: that of its plane, or -1 on curved surfaces.

    Planes grow from large triangles to neighbours that lie in them, whatever their numbers.
    """
    corners = mesh.corners
    normal = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    size = np.linalg.norm(normal, axis=1)
    label = np.full(len(key), -1)
    flat = np.flatnonzero(key < NEEDLE)
    neighbours = (half.twin // 3).reshape(-1, 3)
    point, face = mesh.vertices, mesh.faces
    nearby = {int(t): neighbours[t].tolist() for t in flat}
    kinds = key.tolist()
    count = 0
    for seed in flat[np.argsort(-size[flat], kind="stable")].tolist():
        if label[seed] >= 0:
            continue
        label[seed] = count
        if size[seed] > 0.0:
            unit = normal[seed] / size[seed]
            level = float(unit @ corners[seed, 0])
            open_ones = [seed]
            while open_ones:
                near = [t for t in nearby[open_ones.pop()] if kinds[t] == kinds[seed] and label[t] < 0]
                for t in near:
                    inside = np.abs(point[face[t]] @ unit - level).max() < FLAT_MM
                    if inside and label[t] < 0 and normal[t] @ unit >= -FLAT_MM * FLAT_MM:
                        label[t] = count
                        open_ones.append(t)
        count += 1
    return label


def _read(mesh: Mesh, key: IntArray, half: HalfEdges, own: IntArray, count: int) -> Patches:
    border = half.border(own)
    after = half.next_on_border(border)
    start, end, owner = half.start, half.end, own[np.arange(len(half.start)) // 3]
    touching: dict[int, set[int]] = {}
    leaving: dict[int, int] = {}
    for h in np.flatnonzero(border).tolist():
        v = int(start[h])
        touching.setdefault(v, set()).add(int(owner[h]))
        touching.setdefault(int(end[h]), set()).add(int(owner[h]))
        leaving[v] = leaving.get(v, 0) + 1
    corners = {v for v, those in touching.items() if len(those) > 2 or leaving.get(v, 0) != 2}
    kind = np.empty(count, np.int64)
    kind[own] = key
    rings = _rings(np.flatnonzero(border).tolist(), after)
    for ring in rings:
        corners.update(_bends(mesh.vertices, ring, half, owner, kind))
    for ring in rings:
        # an edge that closes on itself gets two ends
        if not any(int(start[h]) in corners for h in ring):
            corners.update((int(start[ring[0]]), int(start[ring[len(ring) // 2]])))
    chains: list[Chain] = []
    by_half: dict[int, int] = {}
    loops: list[list[tuple[tuple[int, bool], ...]]] = [[] for _ in range(count)]
    for ring in rings:
        pieces = _pieces(ring, half, corners)
        loop: list[tuple[int, bool]] = []
        for piece in pieces:
            mate = by_half.get(int(half.twin[piece[-1]]))
            if mate is not None:
                loop.append((mate, False))
                continue
            by_half[piece[0]] = len(chains)
            loop.append((len(chains), True))
            vertices = (*(int(start[h]) for h in piece), int(end[piece[-1]]))
            left, right = int(owner[piece[0]]), int(owner[half.twin[piece[0]]])
            chains.append(Chain(vertices, left, right))
        loops[int(owner[ring[0]])].append(tuple(loop))
    body, _ = half.groups(np.full(len(own), -1), np.zeros(len(own), np.int64))
    area = np.linalg.norm(
        np.cross(mesh.corners[:, 1] - mesh.corners[:, 0], mesh.corners[:, 2] - mesh.corners[:, 0]), axis=1
    )
    order = np.lexsort((-area, own))
    firsts = np.searchsorted(own[order], np.arange(count + 1))
    patches = []
    for p in range(count):
        triangles = order[firsts[p] : firsts[p + 1]]
        patches.append(
            Patch(
                int(kind[p]) - CURVED if kind[p] >= CURVED else None,
                bool(kind[p] == FACET),
                int(body[triangles[0]]),
                triangles,
                tuple(loops[p]),
            )
        )
    held = {v: frozenset(touching[v]) for v in corners}
    return Patches(mesh, tuple(patches), tuple(chains), held)


def _rings(halves: list[int], after: dict[int, int]) -> list[list[int]]:
    rings, seen = [], set()
    for first in halves:
        if first in seen:
            continue
        ring, h = [], first
        while h not in seen:
            seen.add(h)
            ring.append(h)
            h = after[h]
        rings.append(ring)
    return rings


def _bends(point: FloatArray, ring: list[int], half: HalfEdges, owner: IntArray, kind: IntArray) -> list[int]:
    """Return vertices where a border between planes bends, and all where facets meet a curved surface."""
    before, here = np.roll(ring, 1), np.array(ring)
    mine = kind[owner[here]]
    other, other_before = kind[owner[half.twin[here]]], kind[owner[half.twin[before]]]
    a, b, c = point[half.start[before]], point[half.start[here]], point[half.end[here]]
    line = c - a
    length = np.linalg.norm(line, axis=1)
    off = np.linalg.norm(np.cross(b - a, line), axis=1) / np.where(length > 0.0, length, 1.0)
    planes = (mine < CURVED) & (other < CURVED) & (other_before < CURVED)
    # a line that turns back on itself is a corner too
    back = np.einsum("ij,ij->i", b - a, c - b) < 0.0
    bent = planes & ((off > STRAIGHT_MM) | back)
    chords = np.maximum(mine, other) >= CURVED
    chords &= np.minimum(mine, other) == FACET
    return [int(v) for v in half.start[here[bent | chords]]]


def _pieces(ring: list[int], half: HalfEdges, corners: set[int]) -> list[list[int]]:
    at = next(i for i, h in enumerate(ring) if int(half.start[h]) in corners)
    pieces: list[list[int]] = []
    for h in ring[at:] + ring[:at]:
        if int(half.start[h]) in corners:
            pieces.append([h])
        else:
            pieces[-1].append(h)
    return pieces


def _goes_round(made: Patches, number: int, wall: SurfaceShape | None) -> bool:
    """Return whether a border of a patch runs once round a bore."""
    from wingpath.cad.round import round_surface

    assert isinstance(wall, RoundWall)
    surface = round_surface(wall)
    for loop in made.patches[number].loops:
        angle = surface.angles(made.mesh.vertices[_loop_vertices(made, loop)])
        turns = np.diff(np.append(angle, angle[0]))
        total = float(np.sum((turns + np.pi) % (2.0 * np.pi) - np.pi))
        if abs(total) > np.pi:
            return True
    return False


def _loop_vertices(made: Patches, loop: tuple[tuple[int, bool], ...]) -> list[int]:
    """Return the vertices along a border, each once."""
    found: list[int] = []
    for edge, ahead in loop:
        vertices = made.chains[edge].vertices
        found += vertices[:-1] if ahead else vertices[:0:-1]
    return found


def _halved(
    mesh: Mesh,
    half: HalfEdges,
    own: IntArray,
    count: int,
    wrapped: list[int],
    shapes: Sequence[SurfaceShape | None],
    made: Patches,
) -> tuple[IntArray, int]:
    """Cut patches that go round their bore in two, along lines of the mesh."""
    from wingpath.cad.round import round_surface

    label = own.copy()
    for number in wrapped:
        patch = made.patches[number]
        wall = shapes[patch.surface] if patch.surface is not None else None
        assert isinstance(wall, RoundWall)
        middle = mesh.corners[patch.triangles].mean(axis=1)
        upper = round_surface(wall).angles(middle) > 0.0
        label[patch.triangles[upper]] = count
        count += 1
    return half.groups(label, np.zeros(len(own), np.int64))
