"""From triangles and planes to ordered chains of points; the words are explained in :mod:`.slicing`."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from wingpath.core.arrays import FloatArray, IntArray
from wingpath.geometry.mesh import Mesh
from wingpath.geometry.welding import EdgeTable, edge_table, linked_faces

__all__ = ["Chains", "Cutter"]

Int32Array = NDArray[np.int32]
BoolArray = NDArray[np.bool_]

SEGMENTS_AT_ONCE = 100_000
"""Planes are cut in groups of about so many segments, which stay in the processor's cache and bound the
memory however many planes there are. A quarter and four times this were slower where it was chosen."""

_JOIN_ROUNDS = 30
"""Loose ends that are each other's nearest are joined, round by round; what is left after so many stays."""


@dataclass(frozen=True, slots=True, eq=False)
class Chains:
    """Chains of a group of planes.

    The fields are those of :class:`~wingpath.build.slicing.Slices`, and `bridge`, shape (c,): the longest
    line put into each chain to join loose ends [mm].
    """

    points: FloatArray
    offsets: IntArray
    plane: IntArray
    closed: BoolArray
    bridge: FloatArray


class Cutter:
    """What is known of a mesh and its planes before the first plane is cut.

    Parameters
    ----------
    mesh : Mesh
        The mesh.
    planes : array, shape (p,)
        Increasing heights [mm].
    """

    def __init__(self, mesh: Mesh, planes: FloatArray) -> None:
        self.planes = planes
        vertices = mesh.vertices
        edges = edge_table(mesh.faces)
        rank = np.searchsorted(planes, vertices[:, 2], side="right").astype(np.int32)
        one, other = edges.ends[:, 0], edges.ends[:, 1]
        swap = rank[one] > rank[other]
        low, high = np.where(swap, other, one), np.where(swap, one, other)
        self.edge_from, self.edge_to = rank[low], rank[high]
        crossed = self.edge_from < self.edge_to
        drop = vertices[high, 2] - vertices[low, 2]
        drop[~crossed] = 1.0
        slope = (vertices[low, :2] - vertices[high, :2]) / drop[:, None]
        # Measured down from the upper end: a plane through a vertex gives the vertex itself, to the last bit.
        self.edge_line = np.asfortranarray(np.column_stack([vertices[high], slope]))
        self._pieces(rank[mesh.faces], edges.of_half_edge.astype(np.int32).reshape(-1, 3))
        self.soiled = self._soiled(edges)

    def _pieces(self, rank: Int32Array, half: Int32Array) -> None:
        r0, r1, r2 = rank.T
        low = np.where(r1 < r0, 1, 0)
        low = np.where(r2 < np.minimum(r0, r1), 2, low)
        high = np.where(r1 > r0, 1, 0)
        high = np.where(r2 > np.maximum(r0, r1), 2, high)
        bottom, top = np.minimum(np.minimum(r0, r1), r2), np.maximum(np.maximum(r0, r1), r2)
        middle = r0 + r1 + r2 - bottom - top
        under = np.flatnonzero(bottom < middle)
        over = np.flatnonzero(middle < top)
        # Below the middle corner the triangle is entered on the way down to its lowest corner and left on
        # the way up from it; above, on the way down from its highest corner and on the way up to it.
        entry = [half[under, (low[under] + 2) % 3], half[over, high[over]]]
        leave = [half[under, low[under]], half[over, (high[over] + 2) % 3]]
        self.piece_entry, self.piece_exit = np.concatenate(entry), np.concatenate(leave)
        self.piece_from = np.concatenate([bottom[under], middle[over]])
        self.piece_to = np.concatenate([middle[under], top[over]])
        self.piece_face = np.concatenate([under, over])

    def _soiled(self, edges: EdgeTable) -> BoolArray | None:
        """Return the edges where links have to be looked for, or None for a clean closed mesh."""
        crossed = self.edge_from < self.edge_to
        soiled = ~edges.clean
        if not np.any(soiled & crossed):
            return None
        self.piece_body = linked_faces(edges, across=edges.clean)[self.piece_face]
        return soiled

    def groups(self) -> list[tuple[int, int]]:
        """Return the first plane and the one after the last of each group of planes to cut together."""
        count = len(self.planes)
        size = max(SEGMENTS_AT_ONCE, len(self.piece_face) // 4)
        begun = np.bincount(self.piece_from, minlength=count + 1)
        ended = np.bincount(self.piece_to, minlength=count + 1)
        total = np.concatenate([[0], np.cumsum(np.cumsum(begun - ended)[:count])])
        groups, first = [], 0
        while first < count:
            last = int(np.searchsorted(total, total[first] + size, side="right")) - 1
            last = min(max(last, first + 1), count)
            groups.append((first, last))
            first = last
        return groups

    def cut(self, first: int, last: int, *, join_mm: float) -> Chains:
        """Return the chains of the planes `first` up to `last`, which itself is not cut."""
        edge = np.flatnonzero((self.edge_from < last) & (self.edge_to > first))
        begin = np.maximum(self.edge_from[edge], first)
        count = np.minimum(self.edge_to[edge], last) - begin
        offset = _offsets(count)
        nodes = int(offset[-1])
        plane = (np.arange(nodes) + np.repeat(begin - offset[:-1], count)).astype(np.int32)
        x, y, z, x_slope, y_slope = (np.repeat(self.edge_line[edge, i], count) for i in range(5))
        z -= self.planes[plane]
        xy = np.empty((nodes, 2))
        np.multiply(x_slope, z, out=xy[:, 0])
        np.multiply(y_slope, z, out=xy[:, 1])
        xy[:, 0] += x
        xy[:, 1] += y

        piece = np.flatnonzero((self.piece_from < last) & (self.piece_to > first))
        start = np.maximum(self.piece_from[piece], first)
        length = np.minimum(self.piece_to[piece], last) - start
        base = np.zeros(len(self.edge_from), np.int64)
        base[edge] = offset[:-1] - begin
        gone = _offsets(length)
        walk = np.arange(gone[-1])
        shift = start - gone[:-1]
        entry = (walk + np.repeat(base[self.piece_entry[piece]] + shift, length)).astype(np.int32)
        leave = (walk + np.repeat(base[self.piece_exit[piece]] + shift, length)).astype(np.int32)
        if self.soiled is None:
            following = np.empty(nodes, np.int32)
            following[entry] = leave
            order, offsets = _ordered(following, plane, np.empty(0, np.int64))
            count_of = len(offsets) - 1
            here = plane[order[offsets[:-1]]].astype(np.int64)
            chains = Chains(xy[order], offsets, here, np.ones(count_of, np.bool_), np.zeros(count_of))
        else:
            source = np.repeat(piece, length)
            chains = self._linked(
                xy, plane, entry, leave, source, edge=np.repeat(edge, count), join_mm=join_mm
            )
        return _without_repeats(chains)

    def _linked(
        self,
        xy: FloatArray,
        plane: Int32Array,
        entry: Int32Array,
        leave: Int32Array,
        piece: IntArray,
        *,
        edge: IntArray,
        join_mm: float,
    ) -> Chains:
        """Link the segments of a mesh with open or shared edges, as far as they can be."""
        assert self.soiled is not None
        count = len(entry)
        at_node = np.full(len(xy), -1, np.int32)
        at_node[entry] = np.arange(count, dtype=np.int32)
        following = at_node[leave]
        soiled = self.soiled[edge]
        starting, ending = np.flatnonzero(soiled[entry]), np.flatnonzero(soiled[leave])
        following[ending] = -1
        # Within each body, so that bodies which touch along an edge stay two loops. Ends at one place that
        # are left over are joined below.
        body = self.piece_body[piece]
        a, b = _matched((leave[ending], body[ending]), (entry[starting], body[starting]))
        following[ending[a]] = starting[b]
        ending, starting = np.delete(ending, a), np.delete(starting, b)
        here = plane[entry]
        a, b, gap = _joined((xy[leave[ending]], here[ending]), (xy[entry[starting]], here[starting]), join_mm)
        following[ending[a]] = starting[b]
        bridge = np.zeros(count)
        bridge[ending[a]] = gap
        # Where a chain ends or a gap is bridged, the last point is not the first of what follows.
        two_points = np.zeros(count, np.bool_)
        two_points[ending] = True
        ending, starting = np.delete(ending, a), np.delete(starting, b)
        # Loose ends are tied to loose ends of the same plane, to walk all in one go, and parted again after.
        following[ending[np.argsort(here[ending], kind="stable")]] = starting[
            np.argsort(here[starting], kind="stable")
        ]
        order, offsets = _ordered(following, here, starting)
        head = order[offsets[:-1]]
        is_start = np.zeros(count, np.bool_)
        is_start[starting] = True
        spread = _offsets(1 + two_points[order])
        points = np.empty((spread[-1], 2))
        points[spread[:-1]] = xy[entry[order]]
        extra = np.flatnonzero(two_points[order])
        points[spread[extra] + 1] = xy[leave[order[extra]]]
        longest = np.maximum.reduceat(bridge[order], offsets[:-1]) if count else np.zeros(0)
        return Chains(points, spread[offsets], here[head].astype(np.int64), ~is_start[head], longest)


def _offsets(count: NDArray[Any]) -> IntArray:
    """Return the running total that begins with 0."""
    total = np.zeros(len(count) + 1, np.int64)
    np.cumsum(count, out=total[1:])
    return total


def _matched(
    one: tuple[NDArray[Any], NDArray[Any]], other: tuple[NDArray[Any], NDArray[Any]]
) -> tuple[IntArray, IntArray]:
    """Pair entries with equal keys, each used once; return their numbers on both sides."""
    sides = []
    for first, second in (one, other):
        order = np.lexsort((second, first))
        a, b = first[order].astype(np.int64), second[order].astype(np.int64)
        fresh = np.ones(len(a), np.bool_)
        fresh[1:] = (a[1:] != a[:-1]) | (b[1:] != b[:-1])
        place = np.arange(len(a))
        turn = place - np.maximum.accumulate(np.where(fresh, place, 0))
        sides.append((order, np.column_stack([a, b, turn])))
    (order_a, keys_a), (order_b, keys_b) = sides
    both = np.concatenate([keys_a, keys_b])
    order = np.lexsort(both.T[::-1])
    pair = np.flatnonzero(np.all(both[order[1:]] == both[order[:-1]], axis=1))
    # The sort is stable, so the first of two equal keys is the one of the first side.
    return order_a[order[pair]], order_b[order[pair + 1] - len(keys_a)]


def _joined(
    tails: tuple[FloatArray, Int32Array], heads: tuple[FloatArray, Int32Array], reach_mm: float
) -> tuple[IntArray, IntArray, FloatArray]:
    """Pair loose ends with loose starts on the same plane, nearest first, within reach.

    Each side is given as points and planes. Returned are the numbers on both sides, and the distances.
    """
    from scipy.spatial import cKDTree

    tail_left, head_left = np.arange(len(tails[0])), np.arange(len(heads[0]))
    one, other, gap = [tail_left[:0]], [head_left[:0]], [np.zeros(0)]
    if len(tail_left) and len(head_left):
        widest = float(np.ptp(np.concatenate([tails[0], heads[0]]), axis=0).sum())
        reach_mm = min(reach_mm, widest)
        storey = 2.0 * widest + 1.0  # planes lie farther apart than any two ends on one of them
        tail_at = np.column_stack([tails[0], tails[1] * storey])
        head_at = np.column_stack([heads[0], heads[1] * storey])
    for _ in range(_JOIN_ROUNDS):
        if not len(tail_left) or not len(head_left):
            break
        distance, head = (np.asarray(a) for a in cKDTree(head_at[head_left]).query(tail_at[tail_left]))
        tail = np.asarray(cKDTree(tail_at[tail_left]).query(head_at[head_left])[1])
        mutual = np.flatnonzero((tail[head] == np.arange(len(tail_left))) & (distance <= reach_mm))
        if not len(mutual):
            break
        one.append(tail_left[mutual])
        other.append(head_left[head[mutual]])
        gap.append(distance[mutual])
        tail_left, head_left = np.delete(tail_left, mutual), np.delete(head_left, head[mutual])
    return np.concatenate(one), np.concatenate(other), np.concatenate(gap)


def _walked(following: Int32Array, heads: IntArray) -> IntArray:
    """Return the elements of the cycles through `heads`, cycle after cycle in the order given.

    The cycles are opened and tied into one long one, so that a single walk in compiled code visits all.
    """
    from scipy.sparse import csr_matrix
    from scipy.sparse.csgraph import breadth_first_order

    count = len(following)
    before = np.empty(count, np.int32)
    before[following] = np.arange(count, dtype=np.int32)
    tied = following.copy()
    tied[before[heads]] = np.roll(heads, -1)
    graph = csr_matrix((np.ones(count), tied, np.arange(count + 1, dtype=np.int32)), shape=(count, count))
    order = breadth_first_order(graph, heads[0], directed=True, return_predecessors=False)
    return np.asarray(order, dtype=np.int64)


def _first_of(label: NDArray[Any], count: int) -> IntArray:
    """Return for each label the first place where it stands, -1 for none."""
    first = np.full(count, -1, np.int64)
    first[label[::-1]] = np.arange(len(label))[::-1]
    return first


def _ordered(following: Int32Array, plane: Int32Array, starts: IntArray) -> tuple[IntArray, IntArray]:
    """Put the elements of a permutation in walking order.

    Parameters
    ----------
    following : array of int, shape (n,)
        The element after each element; every element comes after exactly one.
    plane : array of int, shape (n,)
        Plane of each element.
    starts : array of int
        Elements where an open chain begins: the walk is parted there.

    Returns
    -------
    order : array of int, shape (n,)
        All elements, chain by chain, planes in order.
    offsets : array of int, shape (c + 1,)
        Where in `order` each chain begins.
    """
    from scipy.sparse import csr_matrix
    from scipy.sparse.csgraph import connected_components

    count = len(following)
    if not count:
        return np.empty(0, np.int64), np.zeros(1, np.int64)
    # One cycle a plane is the usual case, and needs no search for cycles.
    head = _first_of(plane, int(plane.max()) + 1)
    head[plane[starts]] = starts
    heads = [head[head >= 0]]
    order = _walked(following, heads[0])
    if len(order) < count:
        seen = np.zeros(count, np.bool_)
        seen[order] = True
        rest = np.flatnonzero(~seen)
        number = np.empty(count, np.int32)
        number[rest] = np.arange(len(rest), dtype=np.int32)
        inner = number[following[rest]]
        graph = csr_matrix(
            (np.ones(len(rest)), inner, np.arange(len(rest) + 1, dtype=np.int32)), shape=(len(rest),) * 2
        )
        cycles, label = connected_components(graph, directed=True, connection="strong")
        head = _first_of(label, cycles)
        late = number[starts[~seen[starts]]]
        head[label[late]] = late
        order = np.concatenate([order, rest[_walked(inner, head)]])
        heads.append(rest[head])
    is_head = np.zeros(count, np.bool_)
    is_head[starts] = True
    for some in heads:
        is_head[some] = True
    begin = np.flatnonzero(is_head[order])
    if len(heads) == 1:
        return order, np.append(begin, count)
    length = np.diff(np.append(begin, count))
    turn = np.argsort(plane[order[begin]], kind="stable")
    offsets = _offsets(length[turn])
    source = np.arange(count) + np.repeat(begin[turn] - offsets[:-1], length[turn])
    return order[source], offsets


def _without_repeats(chains: Chains) -> Chains:
    """Drop points equal to the one before them, and chains left with less than a line or a triangle."""
    points, offsets = chains.points, chains.offsets
    if not len(points):
        return chains
    begin, end = offsets[:-1], offsets[1:]
    keep = np.ones(len(points), np.bool_)
    x, y = points.T
    keep[1:] = (x[1:] != x[:-1]) | (y[1:] != y[:-1])
    keep[begin] = True
    round_trip = chains.closed & (end - begin > 1) & np.all(points[end - 1] == points[begin], axis=1)
    keep[begin[round_trip]] = False
    left = np.add.reduceat(keep, begin, dtype=np.int64)
    stays = left >= np.where(chains.closed, 3, 2)
    if keep.all() and stays.all():
        return chains
    keep &= np.repeat(stays, end - begin)
    return Chains(
        points[keep], _offsets(left[stays]), chains.plane[stays], chains.closed[stays], chains.bridge[stays]
    )
