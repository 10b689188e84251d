"""Triangles over the planform whose edges run along every wall: the plan of the shell of a wing.

The planform is laid out flat, with lengths as they are on the skins, and triangulated there (Delaunay). Where
a piece of a wall is not an edge, it is halved and the triangulation made anew, until all are.
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from scipy.spatial import Delaunay, cKDTree

from wingpath.core.arrays import BoolArray, FloatArray, IntArray, frozen_floats, frozen_ints
from wingpath.structure.skins import SkinSurfaces
from wingpath.structure.walls import CutOut, WallLine

__all__ = ["PlanformMesh", "planform_mesh"]

SNAP_SHARE = 0.3
"""Points nearer than this share of an edge are one."""

CLEAR_SHARE = 0.7
"""Points inside bays keep this share of an edge away from walls."""

LONGEST_SHARE = 0.5
"""Longest edge over the wing's length."""

ROW_SHARE = 0.9
"""Distance of rows of points inside bays, in edges: nearly that of equal-sided triangles."""

NOSE_CROWDING, NOSE_WIDTH = 1.5, 0.03
"""Edges are shorter by up to this at the nose, where the skin curves, over this share of the chord."""

ROUNDS = 14
"""Rounds of halving; a handful is enough."""

SHORTEST_SHARE = 0.1
"""A piece of a wall shorter than this share of an edge is not halved: another wall lies right beside it."""

ON_EDGE = 1e-6
"""A point this close to the leading or trailing edge, in sections, lies on it."""

SLIVER = 5e-5
"""A triangle smaller than this share of an edge squared lies outside a straight border."""


@dataclass(frozen=True, slots=True, eq=False)
class PlanformMesh:
    """The triangulated planform.

    Parameters
    ----------
    fraction, z_mm : ndarray, shape (p,)
        Places of the points along their section and along the span [mm].
    triangles : ndarray of int, shape (t, 3)
        Corners, all turning the same way.
    inside : ndarray of bool, shape (t,)
        Which triangles carry skins: those outside cut-outs.
    front, rear, root, tip : ndarray of int
        Points along the borders, root to tip and front to rear.
    lines : tuple of ndarray of int
        Points along each wall, in the order of the walls.
    """

    fraction: FloatArray
    z_mm: FloatArray
    triangles: IntArray
    inside: BoolArray
    front: IntArray
    rear: IntArray
    root: IntArray
    tip: IntArray
    lines: tuple[IntArray, ...]

    def __post_init__(self) -> None:
        count = len(self.z_mm)
        for name in ("fraction", "z_mm"):
            object.__setattr__(self, name, frozen_floats(getattr(self, name), (count,), name=name))
        object.__setattr__(self, "triangles", frozen_ints(self.triangles, (None, 3), name="triangles"))
        for name in ("front", "rear", "root", "tip"):
            object.__setattr__(self, name, frozen_ints(getattr(self, name), (None,), name=name))


class _Plan:
    """Points while they are gathered: nearby ones are one."""

    def __init__(self, skins: SkinSurfaces, edge_mm: float) -> None:
        self.skins, self.edge = skins, edge_mm
        self.near = SNAP_SHARE * edge_mm
        self.fraction: list[float] = []
        self.z: list[float] = []
        self.flat: list[tuple[float, float]] = []
        self.cells: dict[tuple[int, int], list[int]] = {}
        share = skins.fraction
        rise = 0.5 * (np.abs(np.diff(skins.upper_mm, axis=1)) + np.abs(np.diff(skins.lower_mm, axis=1)))
        length = (skins.rear_mm - skins.front_mm)[:, None]
        arc = np.hypot(np.diff(share), rise / length).mean(axis=0)
        middle = 0.5 * (share[1:] + share[:-1])
        arc = arc * (1.0 + NOSE_CROWDING * np.exp(-middle / NOSE_WIDTH))
        self.along = np.append(0.0, np.cumsum(arc))

    def flat_of(self, fraction: FloatArray, z: FloatArray) -> FloatArray:
        """Return places in the flat plan, shape (..., 2) [mm]."""
        arc = np.interp(fraction, self.skins.fraction, self.along)
        return np.stack([self.skins.front_at_mm(z) + arc * self.skins.length_at_mm(z), z], axis=-1)

    def fraction_at(self, flat: FloatArray) -> FloatArray:
        """Return places along the sections of points of the flat plan, shape (k, 2)."""
        z = flat[:, 1]
        arc = (flat[:, 0] - self.skins.front_at_mm(z)) / self.skins.length_at_mm(z)
        return np.asarray(np.interp(arc, self.along, self.skins.fraction))

    def add(self, fraction: float, z: float, place: tuple[float, float]) -> int:
        """Return the number of the point there, a new one unless one is near."""
        cell = (int(place[0] // self.near), int(place[1] // self.near))
        for i in (-1, 0, 1):
            for j in (-1, 0, 1):
                for other in self.cells.get((cell[0] + i, cell[1] + j), ()):
                    x, y = self.flat[other]
                    if (x - place[0]) ** 2 + (y - place[1]) ** 2 < self.near**2:
                        return other
        return self.put(fraction, z, place, cell)

    def put(
        self, fraction: float, z: float, place: tuple[float, float], cell: tuple[int, int] | None = None
    ) -> int:
        """Add a point even where one is near."""
        if cell is None:
            cell = (int(place[0] // self.near), int(place[1] // self.near))
        number = len(self.z)
        self.cells.setdefault(cell, []).append(number)
        self.fraction.append(fraction)
        self.z.append(z)
        self.flat.append(place)
        return number

    def add_all(self, fraction: FloatArray, z: FloatArray) -> list[int]:
        """Add points one after the other."""
        flat = self.flat_of(fraction, z)
        return [
            self.add(float(f), float(h), (float(p[0]), float(p[1])))
            for f, h, p in zip(fraction, z, flat, strict=True)
        ]

    def subdivided(self, keys: Sequence[int], x_of: Sequence[float] | None) -> list[int]:
        """Return a chain through key points with points at most about an edge apart between them.

        Straight seen from above where x of the key points is given, else straight in the sections.
        """
        chain = [keys[0]]
        for index, (a, b) in enumerate(itertools.pairwise(keys)):
            if a == b:
                continue
            fine = np.linspace(0.0, 1.0, 33)
            z = self.z[a] + fine * (self.z[b] - self.z[a])
            if x_of is None:
                fraction = self.fraction[a] + fine * (self.fraction[b] - self.fraction[a])
            else:
                x = x_of[index] + fine * (x_of[index + 1] - x_of[index])
                fraction = np.clip(self.skins.fraction_of(x, z), 0.0, 1.0)
            flat = self.flat_of(fraction, z)
            run = np.append(0.0, np.cumsum(np.linalg.norm(np.diff(flat, axis=0), axis=1)))
            pieces = max(1, round(run[-1] / self.edge))
            at = np.interp(np.linspace(0.0, run[-1], pieces + 1)[1:-1], run, fine)
            between = self.add_all(np.interp(at, fine, fraction), np.interp(at, fine, z))
            chain += [point for point in [*between, b] if point != chain[-1]]
        return chain


def planform_mesh(
    skins: SkinSurfaces,
    walls: Sequence[WallLine],
    cut_outs: Sequence[CutOut] = (),
    *,
    edge_mm: float,
    breaks_mm: Sequence[float] = (),
) -> PlanformMesh:
    """Triangulate a planform along its walls.

    Parameters
    ----------
    skins : SkinSurfaces
        The skins.
    walls : sequence of WallLine
        Walls; what reaches beyond the planform is cut off.
    cut_outs : sequence of CutOut
        Pieces without skins; their borders have to be walls.
    edge_mm : float
        Wanted length of edges [mm].
    breaks_mm : sequence of float
        Places along the span where the borders bend [mm].
    """
    end = skins.end_mm
    # edges longer than the wing would leave nothing between its borders to make triangles of
    plan = _Plan(skins, min(edge_mm, LONGEST_SHARE * end))
    corners = {(f, z): plan.add_all(np.array([f]), np.array([z]))[0] for f in (0.0, 1.0) for z in (0.0, end)}
    traces = [_clipped(wall, skins) for wall in walls]
    # walls that run square to the span meet root and tip nowhere but there
    ends = np.array([[0.0, 1.0], [0.0, 1.0]])
    sides = [np.column_stack([skins.x_of_mm(ends[0], np.full(2, z)), np.full(2, z)]) for z in (0.0, end)]
    knots = _crossings([*traces, *sides])
    paths = [*traces, *sides]
    keys: list[list[int]] = [[] for _ in paths]
    chains: list[list[int]] = [[] for _ in paths]

    def put_keys(number: int) -> None:
        place = _along(paths[number], knots[number])
        fraction = np.clip(skins.fraction_of(place[:, 0], place[:, 1]), 0.0, 1.0)
        keys[number] = plan.add_all(fraction, place[:, 1])

    def put_chain(number: int) -> None:
        if keys[number]:
            # where knots were joined to points that are there already, the line goes through those
            fraction, z = np.array(plan.fraction)[keys[number]], np.array(plan.z)[keys[number]]
            chains[number] = plan.subdivided(keys[number], skins.x_of_mm(fraction, z).tolist())

    # a tube lies along its slit: that has to stay straight, so other walls' points give way to its own
    straight = [number for number, wall in enumerate(walls) if wall.kind == "slit"]
    for number in straight:
        put_keys(number)
        put_chain(number)
    others = [number for number in range(len(paths)) if number not in set(straight)]
    for number in others:
        put_keys(number)
    rims = [_border(plan, side, corners[side, 0.0], corners[side, end], breaks_mm) for side in (0.0, 1.0)]
    for number in others:
        put_chain(number)
    root = [corners[0.0, 0.0], *chains[-2], corners[1.0, 0.0]]
    tip = [corners[0.0, end], *chains[-1], corners[1.0, end]]
    chains = [*chains[:-2], *rims, _without_repeats(root), _without_repeats(tip)]
    grid = _inside_points(plan)
    for share, flat in zip(plan.fraction_at(grid).tolist(), grid.tolist(), strict=True):
        plan.put(share, flat[1], (flat[0], flat[1]))
    triangles, chains = _triangulated(plan, chains)
    count = len(walls)
    front, rear, root, tip = chains[count : count + 4]
    fraction = np.array(plan.fraction)
    fraction[front], fraction[rear] = 0.0, 1.0
    z = np.array(plan.z)
    z[root], z[tip] = 0.0, end
    border = shapely.Polygon(np.array(plan.flat)[[*front, *tip[1:-1], *rear[::-1], *root[1:-1][::-1]]])
    shapely.prepare(border)
    centre = np.array(plan.flat)[triangles].mean(axis=1)
    triangles = triangles[shapely.contains_xy(border, centre[:, 0], centre[:, 1])]
    x = skins.x_of_mm(fraction, z)
    seen = np.column_stack([x, z])[triangles].mean(axis=1)
    inside = np.ones(len(triangles), bool)
    for cut in cut_outs:
        inside &= ~shapely.contains_xy(shapely.Polygon(cut.corners_mm), seen[:, 0], seen[:, 1])
    return PlanformMesh(
        fraction=fraction,
        z_mm=z,
        triangles=triangles,
        inside=inside,
        front=np.array(front, np.int64),
        rear=np.array(rear, np.int64),
        root=np.array(root, np.int64),
        tip=np.array(tip, np.int64),
        lines=tuple(np.array(chain, np.int64) for chain in chains[:count]),
    )


def _clipped(wall: WallLine, skins: SkinSurfaces) -> FloatArray:
    """Return the trace of a wall inside the planform, shape (k, 2): x and z; empty when nothing is left."""
    trace = np.column_stack([wall.x_mm, wall.z_mm])
    z = np.linspace(0.0, skins.end_mm, 400)
    outline = np.concatenate(
        [np.column_stack([skins.front_at_mm(z), z]), np.column_stack([skins.rear_at_mm(z), z])[::-1]]
    )
    left = shapely.intersection(shapely.LineString(trace), shapely.Polygon(outline).buffer(1e-6))
    parts = [part for part in shapely.get_parts(left) if part.geom_type == "LineString" and part.length > 0]
    if not parts:
        return np.empty((0, 2))
    found = shapely.get_coordinates(max(parts, key=lambda part: part.length))
    found[:, 1] = np.clip(found[:, 1], 0.0, skins.end_mm)
    return np.asarray(found)


def _along(trace: FloatArray, at: FloatArray) -> FloatArray:
    """Return points of a trace at knots numbered 0, 1, 2... and between them, shape (k, 2)."""
    if not len(trace):
        return np.empty((0, 2))
    numbers = np.arange(len(trace))
    return np.column_stack([np.interp(at, numbers, trace[:, axis]) for axis in (0, 1)])


def _crossings(traces: Sequence[FloatArray]) -> list[FloatArray]:
    """Return the knots of every trace, its crossings with the others among them, rising."""
    owner = np.concatenate([np.full(max(len(t) - 1, 0), i) for i, t in enumerate(traces)])
    number = np.concatenate([np.arange(max(len(t) - 1, 0)) for t in traces])
    start = np.concatenate([t[:-1] for t in traces if len(t)])
    way = np.concatenate([np.diff(t, axis=0) for t in traces if len(t)])
    found: list[list[FloatArray]] = [[np.arange(float(len(t)))] for t in traces]
    for index in range(len(owner)):
        cross = way[index, 0] * way[:, 1] - way[index, 1] * way[:, 0]
        gap = start - start[index]
        with np.errstate(divide="ignore", invalid="ignore"):
            here = (gap[:, 0] * way[:, 1] - gap[:, 1] * way[:, 0]) / cross
            there = (gap[:, 0] * way[index, 1] - gap[:, 1] * way[index, 0]) / cross
        slack = 1e-6
        hit = (np.abs(cross) > 1e-9) & (here > -slack) & (here < 1 + slack)
        hit &= (there > -slack) & (there < 1 + slack) & (owner != owner[index])
        found[owner[index]].append(number[index] + np.clip(here[hit], 0.0, 1.0))
    return [np.unique(np.concatenate(parts)) for parts in found]


def _border(plan: _Plan, side: float, first: int, last: int, breaks_mm: Sequence[float]) -> list[int]:
    """Return the chain along the leading or the trailing edge."""
    here = [n for n, f in enumerate(plan.fraction) if abs(f - side) < ON_EDGE and n not in (first, last)]
    end = plan.skins.end_mm
    inner = np.array([z for z in breaks_mm if 0.0 < z < end])
    here += plan.add_all(np.full(len(inner), side), inner)
    middle = sorted(set(here) - {first, last}, key=lambda n: plan.z[n])
    return plan.subdivided([first, *middle, last], None)


def _without_repeats(chain: Sequence[int]) -> list[int]:
    return [point for index, point in enumerate(chain) if index == 0 or point != chain[index - 1]]


def _inside_points(plan: _Plan) -> FloatArray:
    """Return points of the bays between the walls: a staggered grid that keeps clear of them."""
    edge, rows = plan.edge, []
    for number, z in enumerate(np.arange(0.5 * edge, plan.skins.end_mm, ROW_SHARE * edge)):
        front = float(plan.skins.front_at_mm(z))
        wide = plan.along[-1] * float(plan.skins.length_at_mm(z))
        x = front + np.arange((0.5 if number % 2 else 1.0) * edge, wide - 0.4 * edge, edge)
        rows.append(np.column_stack([x, np.full(len(x), z)]))
    grid = np.concatenate(rows)
    apart, _ = cKDTree(np.array(plan.flat)).query(grid)
    return np.asarray(grid[apart > CLEAR_SHARE * edge])


def _triangulated(plan: _Plan, chains: list[list[int]]) -> tuple[IntArray, list[list[int]]]:
    """Triangulate the points and halve pieces of chains until all of them are edges."""
    for _ in range(ROUNDS):
        flat = np.array(plan.flat)
        triangles = np.asarray(Delaunay(flat).simplices, np.int64)
        corner = flat[triangles]
        one, other = corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0]
        twice = one[:, 0] * other[:, 1] - one[:, 1] * other[:, 0]
        triangles = np.where((twice < 0.0)[:, None], triangles[:, ::-1], triangles)
        triangles = triangles[np.abs(twice) > 2.0 * SLIVER * plan.edge**2]
        sides = np.sort(np.concatenate([triangles[:, [0, 1]], triangles[:, [1, 2]], triangles[:, [2, 0]]]), 1)
        known = set((sides[:, 0] * len(flat) + sides[:, 1]).tolist())

        def apart(a: int, b: int, flat: FloatArray = flat) -> float:
            return float(np.linalg.norm(flat[a] - flat[b]))

        halved: dict[tuple[int, int], int] = {}
        for number, chain in enumerate(chains):
            fresh = chain[:1]
            for a, b in itertools.pairwise(chain):
                pair = (min(a, b), max(a, b))
                if pair[0] * len(flat) + pair[1] not in known and apart(a, b) > SHORTEST_SHARE * plan.edge:
                    # walls may share a piece, which is halved once
                    if pair not in halved:
                        halved[pair] = _halfway(plan, a, b)
                    fresh.append(halved[pair])
                fresh.append(b)
            chains[number] = fresh
        if not halved:
            break
    return triangles, chains


def _halfway(plan: _Plan, a: int, b: int) -> int:
    """Add the point halfway between two points, straight seen from above."""
    ends = [a, b]
    z = 0.5 * (plan.z[a] + plan.z[b])
    if plan.fraction[a] == plan.fraction[b]:
        fraction = plan.fraction[a]
    else:
        x = plan.skins.x_of_mm(np.array(plan.fraction)[ends], np.array(plan.z)[ends])
        fraction = float(np.clip(plan.skins.fraction_of(x.mean(), z), 0.0, 1.0))
    place = plan.flat_of(np.array([fraction]), np.array([z]))[0]
    return plan.put(fraction, z, (float(place[0]), float(place[1])))
