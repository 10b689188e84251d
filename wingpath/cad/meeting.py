"""Where exact surfaces meet: corners moved onto all of their surfaces, edges sampled on both of theirs."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from scipy.interpolate import BSpline, make_interp_spline

from wingpath.build.surfaces import RoundWall, RuledStrip, SurfaceShape
from wingpath.cad.flat import Flat
from wingpath.cad.patches import Chain, Patch, Patches
from wingpath.cad.round import Round, round_surface
from wingpath.cad.ruled import Ruled, ruled_surfaces
from wingpath.core.arrays import FloatArray
from wingpath.core.errors import InputError

__all__ = ["EDGE_FIT_MM", "Edge", "Met", "Surface", "meet"]

Surface = Ruled | Round | Flat

AT_END_MM = 1e-6
"""A layer plane this close to the end of a skin is its end [mm]."""

LEVEL = 1e-9
"""A plane whose normal is this close to the build direction lies in a layer."""

ON_SURFACE_MM = 1e-7
"""Corners and points of edges lie on their surfaces within this [mm]."""

FARTHEST_MOVE_MM = 0.05
"""A corner that moves farther than this is not the one that the mesh meant: ten chord errors [mm]."""

EDGE_FIT_MM = 3e-6
"""The curve of an edge lies on both surfaces within this [mm]."""

LINE_MM = 2e-6
"""An edge that strays less than this from a straight line is one [mm]."""

FIRST_SAMPLES, MOST_SAMPLES = 5, 513
"""Points on a curved edge: doubled until it fits."""

ROUNDS = 12
"""Gauss-Newton steps: each squares the distance, so four are the rule."""

PARALLEL = 1e-7
"""Singular values smaller than this part of the largest stand for surfaces that touch and do not cross."""


@dataclass(frozen=True, slots=True)
class Edge:
    """The curve of an edge, from its first corner to its last.

    Parameters
    ----------
    start, stop : int
        Its corners.
    left, right : int
        Its patches.
    curve : BSpline or None
        Its curve over its own length; None for a straight line.
    nodes : ndarray or None
        Parameters at which its curve was made to lie on both surfaces [mm].
    section : tuple of (int, int) or None
        Curved surface and end of it, if it is a piece of that end's curve.
    """

    start: int
    stop: int
    left: int
    right: int
    curve: BSpline | None = None
    nodes: FloatArray | None = None
    section: tuple[int, int] | None = None


@dataclass(frozen=True, slots=True, eq=False)
class Met:
    """Exact surfaces, corners and edges of a solid.

    Parameters
    ----------
    patches : Patches
        Its topology.
    surfaces : tuple of Surface
        Surface of each patch.
    points : ndarray, shape (n, 3)
        Vertices of the mesh, corners moved onto their surfaces [mm].
    edges : tuple of Edge
        Its edges.
    move_mm : float
        How far the corner that moved most has moved [mm].
    """

    patches: Patches
    surfaces: tuple[Surface, ...]
    points: FloatArray
    edges: tuple[Edge, ...]
    move_mm: float


def meet(patches: Patches, shapes: Sequence[SurfaceShape | None]) -> Met:
    """Find exact corners and edges for the faces of a solid.

    Parameters
    ----------
    patches : Patches
        Its topology, in wing coordinates.
    shapes : sequence of SurfaceShape or None
        Shapes of the surface numbers.

    Raises
    ------
    InputError
        When surfaces do not meet where the mesh says.
    """
    used = {patch.surface for patch in patches.patches if patch.surface is not None}
    known = _surfaces({number: shapes[number] for number in sorted(used)})
    surfaces = tuple(_surface_of(patches, patch, known) for patch in patches.patches)
    points, move = _corners(patches, surfaces)
    edges: list[Edge] = []
    open_ones: list[int] = []
    for number, chain in enumerate(patches.chains):
        edge = Edge(chain.vertices[0], chain.vertices[-1], chain.left, chain.right)
        if not _straight(patches, surfaces, chain):
            section = _section(patches, surfaces, chain)
            if section is None:
                open_ones.append(number)
            edge = replace(edge, section=section)
        edges.append(edge)
    curves = _curves(patches, surfaces, points, open_ones)
    for number, found in curves.items():
        if found is not None:
            edges[number] = replace(edges[number], curve=found[0], nodes=found[1])
    return Met(patches, surfaces, points, tuple(edges), move)


def _surfaces(shapes: Mapping[int, SurfaceShape | None]) -> dict[int, Surface]:
    strips = {number: shape for number, shape in shapes.items() if isinstance(shape, RuledStrip)}
    walls = {number: shape for number, shape in shapes.items() if isinstance(shape, RoundWall)}
    known: dict[int, Surface] = {number: round_surface(wall) for number, wall in walls.items()}
    known.update(zip(strips, ruled_surfaces(list(strips.values())), strict=True))
    return known


def _surface_of(patches: Patches, patch: Patch, known: dict[int, Surface]) -> Surface:
    if patch.surface is None:
        corners = patches.mesh.vertices[patches.mesh.faces[patch.triangles]]
        normal = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]).sum(axis=0)
        size = float(np.linalg.norm(normal))
        if not size > 0.0:
            raise InputError(f"{patches.mesh.name}: a face has no area")
        # the middle of the largest triangle: sums over slivers and far corners only add rounding
        return Flat(corners[0].mean(axis=0), normal / size)
    surface = known[patch.surface]
    return _with_seam(patches, patch, surface) if isinstance(surface, Round) else surface


def _with_seam(patches: Patches, patch: Patch, surface: Round) -> Round:
    """Put the seam of a bore in the middle of what its face leaves open."""
    angles = surface.angles(patches.mesh.vertices[np.unique(patches.mesh.faces[patch.triangles])])
    steps = patches.mesh.faces[patch.triangles]
    place = {int(v): a for v, a in zip(np.unique(steps), angles, strict=True)}
    # each triangle covers the short way between its corners
    covered = []
    for triangle in steps.tolist():
        first = place[triangle[0]]
        turns = [(place[v] - first + np.pi) % (2.0 * np.pi) - np.pi for v in triangle]
        covered.append((first + min(turns), max(turns) - min(turns)))
    covered.sort(key=lambda span: span[0] % (2.0 * np.pi))
    starts = [span[0] % (2.0 * np.pi) for span in covered]
    widest, seam = 0.0, 0.0
    ends = [start + span[1] for start, span in zip(starts, covered, strict=True)]
    reach = max(ends) - 2.0 * np.pi
    for start, end in zip(starts, ends, strict=True):
        if start - reach > widest:
            widest, seam = start - reach, 0.5 * (start + reach)
        reach = max(reach, end)
    if widest <= 0.0:
        raise InputError(f"{patches.mesh.name}: a face of a bore leaves no room for its seam")
    return surface.with_seam(seam)


def _straight(patches: Patches, surfaces: Sequence[Surface], chain: Chain) -> bool:
    """Whether an edge is straight by its nature: between planes, or along the nose or the trailing edge."""
    one, other = surfaces[chain.left], surfaces[chain.right]
    if isinstance(one, Flat) and isinstance(other, Flat):
        return True
    if isinstance(one, Ruled) and isinstance(other, Ruled):
        return one.near_mm == other.near_mm
    facets = patches.patches[chain.left].facet or patches.patches[chain.right].facet
    return facets and not (isinstance(one, Ruled) or isinstance(other, Ruled))


def _section(patches: Patches, surfaces: Sequence[Surface], chain: Chain) -> tuple[int, int] | None:
    """Return patch and end of the skin if an edge is a piece of a skin's end."""
    pair = (chain.left, chain.right)
    strips = [p for p in pair if isinstance(surfaces[p], Ruled)]
    if not strips:
        return None
    other = pair[1] if strips[0] == pair[0] else pair[0]
    z = patches.mesh.vertices[list(chain.vertices), 2]
    strip = surfaces[strips[0]]
    assert isinstance(strip, Ruled)
    against = surfaces[other]
    level = isinstance(against, Ruled) or patches.patches[other].facet
    if isinstance(against, Flat):
        level = level or against.layer_mm(LEVEL) is not None
    if not level or np.ptp(z) > AT_END_MM:
        return None
    end = strip.end_at(float(z.mean()), AT_END_MM)
    return None if end is None else (strips[0], end)


def _corners(patches: Patches, surfaces: Sequence[Surface]) -> tuple[FloatArray, float]:
    """Move every corner onto all of its surfaces."""
    points = patches.mesh.vertices.copy()
    asked: list[tuple[int, list[Surface]]] = []
    for vertex, touching in patches.touching.items():
        held = _held(patches, surfaces, vertex, touching)
        if held is not None:
            asked.append((vertex, held))
    if not asked:
        return points, 0.0
    which = np.array([vertex for vertex, _ in asked])
    moved = _onto(points[which], [held for _, held in asked])
    move = float(np.linalg.norm(moved - points[which], axis=1).max())
    if move > FARTHEST_MOVE_MM:
        raise InputError(f"{patches.mesh.name}: a corner would move by {move:.3f} mm")
    points[which] = moved
    return points, move


def _held(
    patches: Patches, surfaces: Sequence[Surface], vertex: int, touching: frozenset[int]
) -> list[Surface] | None:
    """Return the surfaces that a corner has to lie on, or None where it stays as it is."""
    strips = [surface for p in touching if isinstance(surface := surfaces[p], Ruled)]
    rounds = [surface for p in touching if isinstance(surface := surfaces[p], Round)]
    if not strips and not rounds:
        return None
    held: list[Surface] = [surfaces[p] for p in touching if _plain(patches, surfaces, p)]
    z = float(patches.mesh.vertices[vertex, 2])
    if strips:
        facet = any(patches.patches[p].facet for p in touching)
        bays = {strip.near_mm for strip in strips}
        if len(bays) > 1 or facet:
            # two skins that go on into each other do not pin a corner down, their common layer does
            held.append(Flat(np.array([0.0, 0.0, z]), np.array([0.0, 0.0, 1.0])))
        first = strips[0].near_mm
        kept = list({id(strip): strip for strip in strips if strip.near_mm == first}.values())
        if len(kept) > 1 and _is_nose(kept):
            # both skins touch at the nose: there the mesh is exact, and planes cut it along the line
            return None
        held.extend(kept)
    held.extend(rounds)
    return held


def _plain(patches: Patches, surfaces: Sequence[Surface], patch: int) -> bool:
    return isinstance(surfaces[patch], Flat) and not patches.patches[patch].facet


def _is_nose(strips: Sequence[Ruled]) -> bool:
    """Whether two strips of a bay begin at the same point: they are both skins."""
    return all(np.array_equal(strip.near[0], strips[0].near[0]) for strip in strips)


def _onto(points: FloatArray, held: Sequence[Sequence[Surface]]) -> FloatArray:
    """Move points by least squares of movement until they lie on all their surfaces.

    Gauss-Newton with the pseudo-inverse, all points at once.
    """
    moved = points.copy()
    most = max(len(surfaces) for surfaces in held)
    rows: dict[int, list[tuple[int, int]]] = {}
    by_id: dict[int, Surface] = {}
    for i, surfaces in enumerate(held):
        for j, surface in enumerate(surfaces):
            rows.setdefault(id(surface), []).append((i, j))
            by_id[id(surface)] = surface
    places = {key: tuple(np.array(pairs).T) for key, pairs in rows.items()}
    off = np.zeros((len(points), most))
    steep = np.zeros((len(points), most, 3))
    for _ in range(ROUNDS):
        for key, (i, j) in places.items():
            off[i, j], steep[i, j] = by_id[key].offsets(moved[i])
        if float(np.abs(off).max(initial=0.0)) < 1e-3 * ON_SURFACE_MM:
            break
        moved -= np.einsum("nij,nj->ni", np.linalg.pinv(steep, rcond=PARALLEL), off)
    worst = float(np.abs(off).max(initial=0.0))
    if not worst < ON_SURFACE_MM:
        raise InputError(f"surfaces miss each other by {worst:.2g} mm at a corner")
    return moved


def _curves(
    patches: Patches, surfaces: Sequence[Surface], points: FloatArray, which: Sequence[int]
) -> dict[int, tuple[BSpline, FloatArray] | None]:
    """Return curves and nodes for edges on two surfaces, finer until they fit; None for straight ones."""
    made: dict[int, tuple[BSpline, FloatArray] | None] = {}
    todo, samples = list(which), FIRST_SAMPLES
    while todo:
        guesses = [_along(points[list(patches.chains[n].vertices)], samples) for n in todo]
        pairs = [[surfaces[patches.chains[n].left], surfaces[patches.chains[n].right]] for n in todo]
        exact = _onto(np.vstack(guesses), [pair for pair in pairs for _ in range(samples)])
        runs = exact.reshape(len(todo), samples, 3)
        middles = []
        for k, n in enumerate(todo):
            run = runs[k].copy()
            run[0], run[-1] = points[patches.chains[n].vertices[0]], points[patches.chains[n].vertices[-1]]
            line = run[-1] - run[0]
            length = float(np.linalg.norm(line))
            away = np.linalg.norm(np.cross(run - run[0], line), axis=1) / (length if length else 1.0)
            t = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(run, axis=0), axis=1))])
            curve = make_interp_spline(t, run, k=3)
            middles.append(curve(0.5 * (t[1:] + t[:-1])))
            made[n] = None if length > 0.0 and away.max() < LINE_MM else (curve, t)
        near = _onto(np.vstack(middles), [pair for pair in pairs for _ in range(samples - 1)])
        off = np.linalg.norm(near - np.vstack(middles), axis=1).reshape(len(todo), samples - 1).max(axis=1)
        coarse = [n for n, away in zip(todo, off, strict=True) if away > EDGE_FIT_MM]
        samples = 2 * samples - 1
        todo = coarse if samples <= MOST_SAMPLES else []
    return made


def _along(line: FloatArray, samples: int) -> FloatArray:
    t = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(line, axis=0), axis=1))])
    at = np.linspace(0.0, t[-1], samples)
    return np.column_stack([np.interp(at, t, line[:, axis]) for axis in range(3)])
