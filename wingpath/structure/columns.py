"""Nodes of a wing's shell above each point of the planform, parted where beads of a slot are not fused."""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from wingpath.core.arrays import FloatArray, IntArray
from wingpath.structure.planform_mesh import PlanformMesh
from wingpath.structure.skins import SkinSurfaces
from wingpath.structure.walls import MEET_MM, TubeLine, WallLine

__all__ = ["BeadGroups", "ColumnNodes", "Fusion", "bead_groups"]

WINDOW_ROWS = 4
"""Rows of elements where ribs have windows: the stub on either skin, and two between them."""

MOST_STUB_SHARE = 0.375
"""Most of the height that a row of stubs may take, so that those between keep an eighth each."""

LEAST_HEIGHT_MM = 1e-6
"""At edges the skins meet [mm]."""


@dataclass(frozen=True, slots=True)
class Fusion:
    """How the two beads beside slots hold together.

    A weld is one point of the mesh: with finer edges it is shorter, and the wing softer. So numbers for
    partly fused slots are bounds, not predictions.

    Parameters
    ----------
    weld_spacing_mm : float
        Distance along a slot between places where they are fused over the whole height; infinite: they are
        nowhere, and hang together where the slot ends only, before the far skin or the slot from there [mm].
    """

    weld_spacing_mm: float


@dataclass(frozen=True, slots=True)
class BeadGroups:
    """Which side of the slots every triangle lies on, at points where slots part a skin.

    Parameters
    ----------
    lower, upper : dict
        By (point, triangle): number of the side, from 0, for either skin. Points where nothing parts it are
        not in it.
    beside : dict
        By pair of points, smaller first: triangles of the skin on either side.
    split : frozenset of int
        Numbers of the walls whose beads lie apart.
    """

    lower: dict[tuple[int, int], int]
    upper: dict[tuple[int, int], int]
    beside: dict[tuple[int, int], list[int]]
    split: frozenset[int]


def bead_groups(
    plan: PlanformMesh,
    walls: Sequence[WallLine],
    chains: Sequence[IntArray],
    standing: Sequence[IntArray],
    fusion: Fusion | None,
) -> BeadGroups:
    """Find out what lies on which side of slots that are not fused.

    Parameters
    ----------
    plan : PlanformMesh
        The planform.
    walls, chains
        Walls and the points along each.
    standing : sequence of ndarray of int
        Rows of elements that each piece of each wall stands on the lower skin, and that it hangs from the
        upper one, shape (k - 1, 2); where there are none, the skin is whole.
    fusion : Fusion or None
        None: all beads are fused.
    """
    beside: dict[tuple[int, int], list[int]] = {}
    for number in np.flatnonzero(plan.inside).tolist():
        a, b, c = plan.triangles[number].tolist()
        for pair in ((a, b), (b, c), (c, a)):
            beside.setdefault((min(pair), max(pair)), []).append(number)
    if fusion is None:
        return BeadGroups({}, {}, beside, frozenset())
    split = frozenset(number for number, wall in enumerate(walls) if wall.split)
    found = []
    for skin in (0, 1):
        # a wall that only stands has no slot from above that its welds could close, nor the other way round
        stands = {
            number: standing[number][:, skin].tolist()
            for number in split
            if standing[number][:, skin].any() or not standing[number][:, 1 - skin].any()
        }
        found.append(_sides(plan, walls, chains, stands, beside, fusion))
    return BeadGroups(found[0], found[1], beside, split)


def _sides(
    plan: PlanformMesh,
    walls: Sequence[WallLine],
    chains: Sequence[IntArray],
    standing: Mapping[int, Sequence[int]],
    beside: dict[tuple[int, int], list[int]],
    fusion: Fusion,
) -> dict[tuple[int, int], int]:
    """Return the side of the slots in one skin that triangles lie on, by point and triangle."""
    parted: set[tuple[int, int]] = set()
    for number, stands in standing.items():
        parted.update(
            (min(a, b), max(a, b))
            for (a, b), rows in zip(_pairs(chains[number]), stands, strict=True)
            if rows
        )
    welded: set[int] = set()
    for number in standing:
        welded.update(_welds(plan, walls[number], chains[number], fusion.weld_spacing_mm))
    around: dict[int, list[int]] = {point: [] for pair in parted for point in pair if point not in welded}
    for number in np.flatnonzero(plan.inside).tolist():
        for point in plan.triangles[number].tolist():
            if point in around:
                around[point].append(number)
    side: dict[tuple[int, int], int] = {}
    for point, triangles in around.items():
        for count, group in enumerate(_connected(point, triangles, plan, beside, parted)):
            side.update(((point, triangle), count) for triangle in group)
    return side


def _pairs(chain: IntArray) -> Iterator[tuple[int, int]]:
    points = chain.tolist()
    return itertools.pairwise(points)


def _welds(plan: PlanformMesh, wall: WallLine, chain: IntArray, spacing_mm: float) -> list[int]:
    """Return the points of a slot that are nearest to its welds, half a spacing from its ends."""
    if not np.isfinite(spacing_mm) or len(chain) < 2:
        return []
    z = plan.z_mm[chain]
    if len(wall.z_mm) > 1 and np.ptp(wall.z_mm) > 0.0:
        x = np.interp(z, wall.z_mm, wall.x_mm)
    else:
        x = np.zeros(len(z))
    run = np.append(0.0, np.cumsum(np.hypot(np.diff(x), np.diff(z))))
    if spacing_mm <= 0.0:
        return [int(point) for point in chain]
    places = np.arange(0.5 * spacing_mm, run[-1], spacing_mm)
    return [int(chain[np.argmin(np.abs(run - place))]) for place in places]


def _connected(
    point: int,
    triangles: Sequence[int],
    plan: PlanformMesh,
    beside: dict[tuple[int, int], list[int]],
    parted: set[tuple[int, int]],
) -> list[list[int]]:
    """Return the triangles round a point in groups that hang together over sides that no slot parts."""
    left, groups = set(triangles), []
    for first in triangles:
        if first not in left:
            continue
        left.discard(first)
        group, waiting = [], [first]
        while waiting:
            triangle = waiting.pop()
            group.append(triangle)
            for other in plan.triangles[triangle].tolist():
                pair = (min(point, other), max(point, other))
                if other == point or pair in parted:
                    continue
                for neighbour in beside[pair]:
                    if neighbour in left:
                        left.discard(neighbour)
                        waiting.append(neighbour)
        groups.append(group)
    return groups


class ColumnNodes:
    """Nodes above the points of a planform while they are gathered.

    Row 0 is the lower skin, the last row the upper one. A point on the leading or trailing edge has one node.
    """

    def __init__(
        self,
        plan: PlanformMesh,
        skins: SkinSurfaces,
        *,
        upper: FloatArray,
        lower: FloatArray,
        rows: int,
        stub_mm: float | None = None,
    ) -> None:
        if stub_mm is not None:
            rows = WINDOW_ROWS
        self._plan, self._rows = plan, rows
        self._groups = BeadGroups({}, {}, {}, frozenset())
        self._x = skins.x_of_mm(plan.fraction, plan.z_mm)
        share = np.broadcast_to(np.linspace(0.0, 1.0, rows + 1), (len(self._x), rows + 1))
        if stub_mm is not None:
            # the outer rows are as deep as stubs, as far as that leaves something to the inner ones
            depth = np.minimum(stub_mm / np.maximum(upper - lower, LEAST_HEIGHT_MM), MOST_STUB_SHARE)
            half = np.full(len(depth), 0.5)
            share = np.column_stack([np.zeros(len(depth)), depth, half, 1.0 - depth, np.ones(len(depth))])
        self._share = share
        self._height = lower[:, None] + share * (upper - lower)[:, None]
        self._edge = np.zeros(len(self._x), bool)
        self._edge[plan.front] = self._edge[plan.rear] = True
        self._joined_from = np.full(len(self._x), rows)
        self._joined_to = np.zeros(len(self._x), np.int64)
        self._number: dict[tuple[int, int, int, int], int] = {}
        self._points: list[tuple[float, float, float]] = []
        self._middle = max(1, rows // 2)

    @property
    def points_mm(self) -> FloatArray:
        """All nodes so far, shape (n, 3) [mm]."""
        return np.array(self._points)

    def hold_axis(self, chain: IntArray, tube: TubeLine) -> None:
        """Put the middle row of a chain on the axis of a tube, whose bore holds both beads together."""
        y = tube.centre_mm(self._plan.z_mm[chain])[:, 1]
        low, high = self._height[chain, 0], self._height[chain, -1]
        spare = 0.05 * (high - low)
        y = np.clip(y, low + spare, high - spare)
        share = self._share[chain]
        axis = share[:, self._middle]
        for row in range(self._rows + 1):
            below = share[:, row] / axis
            above = (share[:, row] - axis) / (1.0 - axis)
            height = low + below * (y - low) if row <= self._middle else y + above * (high - y)
            self._height[chain, row] = height
        self._joined_from[chain] = self._middle
        self._joined_to[chain] = self._middle

    def standing(self, wall: WallLine, chain: IntArray) -> IntArray:
        """Return how many rows of each piece of a wall stand, and how many hang, shape (k - 1, 2)."""
        if len(chain) < 2:
            return np.zeros((0, 2), np.int64)
        height = 0.5 * (self._height[:, 1:] + self._height[:, :-1])
        middle = 0.5 * (height[chain[1:]] + height[chain[:-1]])
        z = 0.5 * (self._plan.z_mm[chain[1:]] + self._plan.z_mm[chain[:-1]])
        top, bottom = wall.top_mm(z), wall.hang_mm(z)
        stand = (middle <= top[:, None]).sum(axis=1)
        hang = (middle >= np.where(bottom <= top + MEET_MM, top, bottom)[:, None]).sum(axis=1)
        return np.column_stack([stand, np.minimum(hang, self._rows - stand)]).astype(np.int64)

    def part(self, groups: BeadGroups, chains: Sequence[IntArray], standing: Sequence[IntArray]) -> None:
        """Let beads lie apart as the groups say; where a slot ends, its bead turns round and joins both."""
        self._groups = groups
        for number in groups.split:
            for (a, b), (stand, hang) in zip(_pairs(chains[number]), standing[number].tolist(), strict=True):
                for point in (a, b):
                    if stand:
                        self._joined_from[point] = min(self._joined_from[point], stand)
                    if hang:
                        self._joined_to[point] = max(self._joined_to[point], self._rows - hang)

    def node(self, point: int, row: int, triangle: int | None) -> int:
        """Return the node of a point at a row, on the side of a triangle."""
        if self._edge[point]:
            key = (point, -1, 0, 0)
            row = 0
        else:
            # where slots from both skins cross at one height, they part it into as many as four
            below = above = 0
            if triangle is not None:
                if row < self._joined_from[point]:
                    below = self._groups.lower.get((point, triangle), 0)
                if row > self._joined_to[point]:
                    above = self._groups.upper.get((point, triangle), 0)
            key = (point, row, below, above)
        if key not in self._number:
            self._number[key] = len(self._points)
            self._points.append(
                (float(self._x[point]), float(self._height[point, row]), float(self._plan.z_mm[point]))
            )
        return self._number[key]

    @property
    def rows(self) -> int:
        """Number of the row of the upper skin."""
        return self._rows

    def many(self, triangles: IntArray, row: int, numbers: IntArray) -> IntArray:
        """Return the nodes of triangles of the plan, whose numbers are given, at one row, shape (t, 3)."""
        sides = numbers.tolist()
        found = [
            [self.node(point, row, side) for point in corners]
            for corners, side in zip(triangles.tolist(), sides, strict=True)
        ]
        return np.array(found, np.int64).reshape(-1, 3)

    def axis(self, chain: IntArray) -> IntArray:
        """Return the nodes in the middle row along a chain."""
        return np.array([self.node(int(point), self._middle, None) for point in chain], np.int64)

    def ring(self, tip: IntArray) -> IntArray:
        """Return the nodes round the tip: the upper skin aft, the lower skin back, each once."""
        beside: dict[int, int] = {}
        for number in np.flatnonzero(self._plan.inside).tolist():
            for point in self._plan.triangles[number].tolist():
                beside.setdefault(point, number)
        there = [int(point) for point in tip if int(point) in beside]
        up = [self.node(point, self._rows, beside[point]) for point in there]
        low = [self.node(point, 0, beside[point]) for point in there[::-1]]
        ring = [n for i, n in enumerate([*up, *low]) if i == 0 or n != [*up, *low][i - 1]]
        return np.array(ring[:-1] if ring[0] == ring[-1] else ring, np.int64)

    def wall(self, wall: WallLine, chain: IntArray, standing: IntArray) -> Iterator[tuple[IntArray, float]]:
        """Yield the triangles of a wall and their share of its thickness."""
        number_of_beads = 2 if self._is_split(wall) else 1
        found: list[tuple[int, int, int]] = []
        for (a, b), (stand, hang) in zip(_pairs(chain), standing.tolist(), strict=True):
            rows = [*range(stand), *range(self._rows - hang, self._rows)]
            sides = self._groups.beside.get((min(a, b), max(a, b)), [])
            if not sides or (self._edge[a] and self._edge[b]):
                continue
            for triangle in sides if number_of_beads == 2 else sides[:1]:
                found += self._column(a, b, triangle, rows)
        if found:
            yield np.array(found, np.int64), 1.0 / number_of_beads

    def _is_split(self, wall: WallLine) -> bool:
        return bool(self._groups.split) and wall.split

    def _column(self, a: int, b: int, triangle: int, rows: Sequence[int]) -> Iterator[tuple[int, int, int]]:
        """Yield the triangles of a wall between two points, in the rows that are there."""
        for row in rows:
            q = [
                self.node(a, row, triangle),
                self.node(b, row, triangle),
                self.node(b, row + 1, triangle),
                self.node(a, row + 1, triangle),
            ]
            halves = ((0, 1, 2), (0, 2, 3)) if (row + a) % 2 else ((0, 1, 3), (1, 2, 3))
            for i, j, k in halves:
                if len({q[i], q[j], q[k]}) == 3:
                    yield q[i], q[j], q[k]
