"""Loops: the path of every layer as a closed run of points that begins at its start."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely

from wingpath.build.layers import Layers
from wingpath.core.arrays import FloatArray, IntArray, frozen_floats, frozen_ints
from wingpath.core.tolerances import GEOMETRY_EPS_MM

__all__ = ["Loops", "loops_of_layers", "safe_tolerance_mm"]

LEAST_POINTS = 8
"""Loops of fewer points are left as they are: a scrap of a closing tip must not vanish."""

LEAST_TOLERANCE_MM = 0.002
"""Straightening by less than this saves no points: it is what the outlines were straightened by [mm]."""


@dataclass(frozen=True, slots=True, eq=False)
class Loops:
    """One closed loop a layer, all anticlockwise.

    Parameters
    ----------
    points : ndarray, shape (m, 2)
        Points of all loops, lowest layer first; each loop begins and ends with its start [mm].
    first : ndarray of int, shape (n + 1,)
        Where each loop begins in `points`; the last value is m.
    """

    points: FloatArray
    first: IntArray

    def __post_init__(self) -> None:
        object.__setattr__(self, "points", frozen_floats(self.points, (len(self.points), 2), name="points"))
        object.__setattr__(self, "first", frozen_ints(self.first, (len(self.first),), name="first"))

    def __len__(self) -> int:
        return len(self.first) - 1

    def loop(self, index: int) -> FloatArray:
        """Return the points of one loop, shape (k, 2) [mm]."""
        return self.points[self.first[index] : self.first[index + 1]]

    @property
    def length_mm(self) -> FloatArray:
        """Length of every loop, shape (n,) [mm]."""
        step = np.hypot(np.diff(self.points[:, 0]), np.diff(self.points[:, 1]))
        sums = np.concatenate([[0.0], np.cumsum(step)])
        return np.asarray(sums[self.first[1:] - 1] - sums[self.first[:-1]])


def safe_tolerance_mm(wanted_mm: float, *, slot_mm: float, bond_mm: float) -> float:
    """Return how far a path may be moved without parting the two beads of a rib [mm].

    The beads of a slot are `slot_mm` apart and fuse up to `bond_mm`; each of them may use half of what is
    left. Never less than what the outlines were straightened by anyway.

    Parameters
    ----------
    wanted_mm : float
        What would be taken otherwise [mm].
    slot_mm, bond_mm : float
        Width of the slots and widest gap that the beads bridge [mm].
    """
    return max(LEAST_TOLERANCE_MM, min(wanted_mm, 0.5 * (bond_mm - slot_mm)))


def loops_of_layers(layers: Layers, starts: FloatArray, *, tolerance_mm: float) -> Loops | None:
    """Turn the border of every layer's path into a loop from the layer's start round to it.

    Parameters
    ----------
    layers : Layers
        Layers of which each is one closed ring.
    starts : ndarray, shape (n, 2)
        Where each loop begins [mm], see :func:`wingpath.build.support.path_starts`.
    tolerance_mm : float
        No point of a loop lies farther than this from the layer's path, and no point of that path farther
        than this from the loop [mm]. Half of it goes into straightening, half into leaving out moves that
        are too short for a controller.

    Returns
    -------
    Loops or None
        None when there is no layer, or a layer that is not one ring.
    """
    if not len(layers) or np.any(layers.rings != 1):
        return None
    parts, owner = shapely.get_parts(shapely.orient_polygons(layers.paths), return_index=True)
    full = ~shapely.is_empty(parts)
    if not np.array_equal(owner[full], np.arange(len(layers))):
        return None
    points, ring = shapely.get_coordinates(shapely.get_exterior_ring(parts[full]), return_index=True)
    lines = _turned(points, ring, starts)
    plain = shapely.simplify(lines, 0.5 * tolerance_mm, preserve_topology=False)
    plain = np.where(shapely.get_num_coordinates(plain) >= LEAST_POINTS, plain, lines)
    points, ring = shapely.get_coordinates(plain, return_index=True)
    points, ring = _thinned(points, ring, 0.5 * tolerance_mm)
    return Loops(points, np.searchsorted(ring, np.arange(len(layers) + 1)))


def _turned(points: FloatArray, ring: IntArray, starts: FloatArray) -> np.ndarray:
    """Let every ring begin and end at the point nearest to its start."""
    begin, end = points[:-1], points[1:]
    same = ring[1:] == ring[:-1]
    way = end - begin
    square = np.maximum(np.einsum("ij,ij->i", way, way), 1e-30)
    share = np.clip(np.einsum("ij,ij->i", starts[ring[:-1]] - begin, way) / square, 0.0, 1.0)
    foot = begin + share[:, None] * way
    away = np.where(same, np.hypot(*(foot - starts[ring[:-1]]).T), np.inf)
    at_begin = np.abs(foot - begin).max(axis=1) <= GEOMETRY_EPS_MM
    at_end = np.abs(foot - end).max(axis=1) <= GEOMETRY_EPS_MM
    bounds = np.searchsorted(ring, np.arange(int(ring[-1]) + 2))
    pieces, lengths = [], []
    for low, high in zip(bounds[:-1].tolist(), bounds[1:].tolist(), strict=True):
        near = low + int(np.argmin(away[low : high - 1]))
        start = foot[near : near + 1]
        # a start on a corner is that corner, and a ring repeats its first point at its end
        ahead = near + (2 if at_end[near] else 1)
        behind = near + (0 if at_begin[near] else 1)
        run = (points[ahead : high - 1], points[low + max(0, ahead - high + 1) : behind])
        pieces += [start, *run, start]
        lengths.append(len(run[0]) + len(run[1]) + 2)
    return np.asarray(
        shapely.linestrings(np.concatenate(pieces), indices=np.repeat(np.arange(len(lengths)), lengths))
    )


def _thinned(points: FloatArray, ring: IntArray, least_mm: float) -> tuple[FloatArray, IntArray]:
    """Leave out points nearer than `least_mm` to a neighbour that stays."""
    step = np.hypot(np.diff(points[:, 0]), np.diff(points[:, 1]))
    inner = np.zeros(len(points), bool)
    inner[1:-1] = (ring[1:-1] == ring[:-2]) & (ring[1:-1] == ring[2:])
    inner &= (np.bincount(ring) >= LEAST_POINTS)[ring]
    near = inner & np.append(False, step < least_mm)
    short = np.flatnonzero(near)
    # of a run of near points every second one goes, so that what is left is near to what went
    run = np.flatnonzero(np.diff(short, prepend=-2) > 1)
    count = np.arange(len(short)) - np.repeat(run, np.diff(np.append(run, len(short))))
    gone = np.zeros(len(points), bool)
    gone[short[count % 2 == 0]] = True
    closing = np.append(ring[1:] != ring[:-1], True)
    gone[:-1] |= inner[:-1] & closing[1:] & (step < least_mm)
    return points[~gone], ring[~gone]
