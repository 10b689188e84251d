"""Is this mesh a solid? What was found, and a copy that can be judged layer by layer.

The repairs made here serve the judging only. Nothing of them is written back to the maker's file.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from wingpath.build.mesh_bodies import Bodies, disagreeing_faces, mesh_bodies, overlapping_pairs
from wingpath.core.arrays import IntArray
from wingpath.core.errors import MeshFileError
from wingpath.core.findings import Finding
from wingpath.core.tolerances import WELD_MM
from wingpath.core.units import MM_PER_UNIT
from wingpath.geometry.mesh import Mesh
from wingpath.geometry.welding import EdgeTable, edge_table, welded_near, welded_points

__all__ = ["MeshState", "inspect_mesh", "prepared_mesh"]

SMALLEST_LIKELY_MM = 5.0
LARGEST_LIKELY_MM = 3000.0
"""A printed wing part lies between these extents; outside them the file is probably in another unit.
Judgement: 5 mm is a wing of 127 mm in inches, 3 m is longer than any printer's bed by far [mm]."""


@dataclass(frozen=True, slots=True)
class MeshState:
    """What a mesh is like, before anything is done to it.

    Parameters
    ----------
    open_edges : int
        Edges with one triangle only.
    nonmanifold_edges : int
        Edges with more than two triangles.
    flipped_edges : int
        Edges whose two triangles disagree which side is outside.
    bodies : int
        Groups of triangles that hang together by their edges; a closed cavity counts as one.
    cavities : int
        Closed bodies that face inward and lie inside another.
    overlapping_pairs : int
        Pairs of bodies, cavities aside, whose bounding boxes overlap.
    volume_mm3 : float
        Signed volume, by the divergence theorem [mm3].
    inside_out : bool
        True when the volume is negative: the surface faces inward.
    degenerate_faces : int
        Triangles with no area: a corner twice, or three corners on one line.
    duplicate_faces : int
        Triangles with the same three corners as one before them, whichever way they face.
    first_open_mm : tuple of float or None
        Middle of the lowest open edge: x, y, z [mm].
    """

    open_edges: int
    nonmanifold_edges: int
    flipped_edges: int
    bodies: int
    cavities: int
    overlapping_pairs: int
    volume_mm3: float
    inside_out: bool
    degenerate_faces: int
    duplicate_faces: int
    first_open_mm: tuple[float, float, float] | None

    @property
    def watertight(self) -> bool:
        """True when every edge has exactly two triangles that agree which side is outside."""
        return not (self.open_edges or self.nonmanifold_edges or self.flipped_edges)


def inspect_mesh(mesh: Mesh) -> MeshState:
    """Say what a mesh is like.

    Parameters
    ----------
    mesh : Mesh
        The mesh; corners at the same place should be one vertex, as the readers leave them.

    Raises
    ------
    MeshFileError
        When it has no triangles.
    """
    _must_have_faces(mesh)
    edges = edge_table(mesh.faces)
    return _state(mesh, edges, mesh_bodies(mesh, edges, np.ones(len(mesh.faces))))


def prepared_mesh(mesh: Mesh) -> tuple[Mesh, MeshState, tuple[Finding, ...]]:
    """Make a mesh that can be judged, and say what was the matter with the one given.

    Parameters
    ----------
    mesh : Mesh
        Any mesh with at least one triangle.

    Returns
    -------
    mesh : Mesh
        Corners at one place welded, triangles without three corners and repeated triangles dropped, all
        facing outward as far as that can be told. The same object when there was nothing to do.
    state : MeshState
        What the mesh was like after welding and before anything else.
    findings : tuple of Finding
        With the codes ``open-mesh``, ``inside-out``, ``overlapping-solids`` and ``odd-scale``.

    Raises
    ------
    MeshFileError
        When no triangle is left, because all of them are lines or points, or cancel each other.

    Notes
    -----
    Triangles whose three corners lie on one line are kept: they carry the edges of their neighbours, and
    without them a closed mesh would open. Of triangles with the same corners, one is left when more face one
    way than the other, and none when as many face each way: that is where two bodies touch.
    """
    _must_have_faces(mesh)
    welded, edges = _welded(mesh)
    bodies = mesh_bodies(welded, edges, np.ones(len(welded.faces)))
    state = _state(welded, edges, bodies)
    ready = _without_spoilt_faces(welded, state)
    if not len(ready.faces):
        raise MeshFileError(
            f"{mesh.name}: got triangles that enclose nothing; a mesh of a solid is needed. "
            "Export the part as a solid body, not as a single sheet."
        )
    if ready is not welded:
        edges = edge_table(ready.faces)
    same = ready is welded and not state.flipped_edges
    ready, turned = _facing_outward(ready, edges, bodies if same else None)
    return ready, state, _findings(ready, state, turned)


def _must_have_faces(mesh: Mesh) -> None:
    if not len(mesh.faces):
        raise MeshFileError(
            f"{mesh.name}: got no triangles; at least four are needed for a solid. Export it again."
        )


def _state(mesh: Mesh, edges: EdgeTable, bodies: Bodies) -> MeshState:
    uses = edges.uses
    open_edge = np.flatnonzero(uses == 1)
    place = None
    if len(open_edge):
        middle = mesh.vertices[edges.ends[open_edge]].mean(axis=1)
        x, y, z = middle[np.argmin(middle[:, 2])]
        place = (float(x), float(y), float(z))
    volume = float(bodies.volume.sum())
    a, b, c = (mesh.vertices[mesh.faces[:, i]] for i in range(3))
    return MeshState(
        open_edges=len(open_edge),
        nonmanifold_edges=int(np.count_nonzero(uses > 2)),
        flipped_edges=int(np.count_nonzero((uses == 2) & ~edges.clean)),
        bodies=len(bodies.volume),
        cavities=int(np.count_nonzero(bodies.cavity)),
        overlapping_pairs=overlapping_pairs(bodies),
        volume_mm3=volume,
        inside_out=volume < 0.0,
        degenerate_faces=int(np.count_nonzero(~np.any(np.cross(b - a, c - a), axis=1))),
        duplicate_faces=_duplicates(mesh.faces),
        first_open_mm=place,
    )


def _duplicates(faces: IntArray) -> int:
    """Count the faces with the corners of one before them."""
    mark = np.sort(_corner_marks(faces))
    if not np.any(mark[1:] == mark[:-1]):
        return 0
    return len(faces) - len(np.unique(np.sort(faces, axis=1), axis=0))


def _corner_marks(faces: IntArray) -> NDArray[np.uint64]:
    """Return one number a face that does not depend on the order of its corners."""
    mixed = faces.astype(np.uint64) + np.uint64(1)
    with np.errstate(over="ignore"):
        for factor in (0x9E3779B97F4A7C15, 0xC2B2AE3D27D4EB4F):  # odd, with well spread bits
            mixed *= np.uint64(factor)
            mixed ^= mixed >> np.uint64(29)
        return np.asarray(mixed[:, 0] + mixed[:, 1] + mixed[:, 2])


def _welded(mesh: Mesh) -> tuple[Mesh, EdgeTable]:
    """Merge vertices at one place, then those on open edges that lie within the weld distance."""
    points, inverse = welded_points(mesh.vertices)
    faces = inverse[mesh.faces]
    edges = edge_table(faces)
    loose = np.unique(edges.ends[edges.uses == 1])
    # Only where the mesh is open: elsewhere close corners are detail, and merging them would tear it.
    stand_in = welded_near(points, which=loose, reach_mm=WELD_MM)
    moved = np.any(stand_in != np.arange(len(points)))
    if len(points) == len(mesh.vertices) and not moved:
        return mesh, edges
    if moved:
        faces = stand_in[faces]
        edges = edge_table(faces)
    return Mesh(points, faces, mesh.surfaces, mesh.name), edges


def _without_spoilt_faces(mesh: Mesh, state: MeshState) -> Mesh:
    if not (state.degenerate_faces or state.duplicate_faces):
        return mesh
    faces = mesh.faces
    proper = (faces[:, 0] != faces[:, 1]) & (faces[:, 1] != faces[:, 2]) & (faces[:, 2] != faces[:, 0])
    rows, group = np.unique(np.sort(faces, axis=1), axis=0, return_inverse=True)
    group = group.reshape(-1)
    # Every order of three corners is a turn of the sorted one or of its reverse.
    index = np.arange(len(faces))
    after_lowest = faces[index, (np.argmin(faces, axis=1) + 1) % 3]
    sense = np.where(after_lowest == rows[group, 1], 1, -1)
    balance = np.bincount(group, weights=sense).astype(np.int64)
    candidates = np.flatnonzero(proper & (sense == np.sign(balance)[group]))
    keep = np.full(len(rows), len(faces))
    np.minimum.at(keep, group[candidates], candidates)
    keep = np.sort(keep[keep < len(faces)])
    surfaces = None if mesh.surfaces is None else mesh.surfaces[keep]
    return Mesh(mesh.vertices, faces[keep], surfaces, mesh.name)


def _facing_outward(mesh: Mesh, edges: EdgeTable, bodies: Bodies | None) -> tuple[Mesh, int]:
    """Turn triangles so that neighbours agree and bodies face outward; return how many were turned."""
    if bodies is None:
        sense = np.where(disagreeing_faces(edges), -1.0, 1.0)
        bodies = mesh_bodies(mesh, edges, sense)
    else:
        sense = np.ones(len(mesh.faces))
    if bodies.volume.sum() < 0.0:
        sense, bodies = -sense, replace(bodies, volume=-bodies.volume)
    # A sheet encloses next to nothing, and which side is outside cannot be told.
    room = np.prod(bodies.high - bodies.low, axis=1)
    wrong = (bodies.volume < -1e-6 * room) & ~bodies.cavity
    sense[wrong[bodies.of_face]] *= -1.0
    count = int(np.count_nonzero(sense < 0.0))
    if not count:
        return mesh, 0
    faces = np.where(sense[:, None] < 0.0, mesh.faces[:, ::-1], mesh.faces)
    return Mesh(mesh.vertices, faces, mesh.surfaces, mesh.name), count


def _findings(mesh: Mesh, state: MeshState, turned: int) -> tuple[Finding, ...]:
    found = []
    if state.open_edges:
        assert state.first_open_mm is not None
        x, y, z = state.first_open_mm
        found.append(
            Finding(
                code="open-mesh",
                severity="warning",
                message=f"the mesh is not watertight: {_many(state.open_edges, 'edge')} with a triangle on "
                f"one side only, the lowest at x {x:.2f}, y {y:.2f}, z {z:.2f} mm; layers that cut "
                "an open edge are judged as far as their outlines close",
                remedy="export the part as one solid, or close the hole in the program that made it",
                panel=mesh.name,
                x_mm=x,
                y_mm=y,
                z_mm=z,
                found=float(state.open_edges),
                limit=0.0,
            )
        )
    if turned:
        whole = turned == len(mesh.faces)
        message = (
            "the whole surface faces inward, as if the part were a hole"
            if whole
            else f"{_many(turned, 'triangle')} of {len(mesh.faces)} face the wrong way"
        )
        found.append(
            Finding(
                code="inside-out",
                severity="warning",
                message=f"{message}; turned for the check, the file is as it was",
                remedy="recalculate or flip the normals before printing; a mirrored copy is the usual cause",
                panel=mesh.name,
                found=float(turned),
                limit=0.0,
            )
        )
    if state.overlapping_pairs or state.nonmanifold_edges:
        parts = []
        if state.overlapping_pairs:
            parts.append(
                f"{_many(state.bodies - state.cavities, 'separate body', 'separate bodies')}, "
                f"{_many(state.overlapping_pairs, 'pair')} of them in each other's way"
            )
        if state.nonmanifold_edges:
            parts.append(f"{_many(state.nonmanifold_edges, 'edge')} with more than two triangles")
        found.append(
            Finding(
                code="overlapping-solids",
                severity="warning",
                message=f"the mesh holds {' and '.join(parts)}; judged as if united into one solid",
                remedy="unite the bodies before exporting, so that what is printed is what is judged here",
                panel=mesh.name,
                found=float(state.overlapping_pairs + state.nonmanifold_edges),
                limit=0.0,
            )
        )
    extent = float(np.max(np.ptp(mesh.bounds, axis=0)))
    if extent < SMALLEST_LIKELY_MM or extent > LARGEST_LIKELY_MM:
        small = extent < SMALLEST_LIKELY_MM
        inch, metre = MM_PER_UNIT["inch"], MM_PER_UNIT["meter"]
        found.append(
            Finding(
                code="odd-scale",
                severity="warning",
                message=f"the part is {extent:.4g} mm across, which is {'small' if small else 'large'} "
                "for a part of a wing",
                remedy=(
                    f"a file in metres needs --scale {metre:g}, one in inches --scale {inch:g}"
                    if small
                    else "a file in micrometres needs --scale 0.001; "
                    f"if it was scaled already, leave out --scale {inch:g} or --scale {metre:g}"
                ),
                panel=mesh.name,
                found=extent,
                limit=SMALLEST_LIKELY_MM if small else LARGEST_LIKELY_MM,
                unit="mm",
            )
        )
    return tuple(found)


def _many(count: int, one: str, several: str = "") -> str:
    return f"{count} {one if count == 1 else several or one + 's'}"
