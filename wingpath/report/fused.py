"""Where two runs of one bead meet: the places that weld into a rib or into the skin."""

from __future__ import annotations

from typing import Any

import numpy as np
import shapely

from wingpath.core.arrays import FloatArray

__all__ = ["bead_runs", "fused_area"]

CORNER_DEG = 45.0
"""A path that turns more than this at one point starts a new run [deg]."""

BEND_DEG = 100.0
"""So does one that has turned this much in all: the two skins beside a nose are two runs [deg]."""

CORNER_REACH = 0.75
"""Two runs that follow each other overlap at their corner; within this share of the bead's width around
the corner that is the bead's own bend and no weld."""

QUARTER_SIDES = 4
"""Corners in a quarter turn around a joint."""


def bead_runs(ring: FloatArray) -> list[FloatArray]:
    """Cut a closed ring into runs that turn little.

    Parameters
    ----------
    ring : ndarray, shape (n, 2)
        Points in order, the last equal to the first [mm].

    Returns
    -------
    list of ndarray, shape (k, 2)
        Runs in order; each starts where the one before ends. The whole ring when it has no corner.
    """
    points = ring[:-1]
    away = np.diff(ring, axis=0)
    heading = np.arctan2(away[:, 1], away[:, 0])
    turn = np.rad2deg((heading - np.roll(heading, 1) + np.pi) % (2 * np.pi) - np.pi)
    # begin at the sharpest corner, so that the count of turns does not depend on where the ring starts
    first = int(np.argmax(np.abs(turn)))
    points, turn = np.roll(points, -first, axis=0), np.roll(turn, -first)
    cuts, bent = [0], 0.0
    for index in range(1, len(points)):
        bent += float(turn[index])
        if abs(turn[index]) > CORNER_DEG or abs(bent) > BEND_DEG:
            cuts.append(index)
            bent = 0.0
    points = np.vstack([points, points[:1]])
    return [points[a : b + 1] for a, b in zip(cuts, [*cuts[1:], len(points) - 1], strict=True)]


def fused_area(path: Any, reach_mm: float) -> Any:
    """Return the area in which two runs of a path lie on each other.

    Parameters
    ----------
    path : shapely geometry
        Polygon or polygons whose borders are the path [mm].
    reach_mm : float
        Width to which the bead spreads [mm]: two runs closer than this meet.

    Returns
    -------
    shapely geometry
        Polygons, empty where nothing meets.
    """
    runs: list[FloatArray] = []
    follows: set[tuple[int, int]] = set()
    for part in shapely.get_parts(path):
        if part.is_empty:
            continue
        for ring in (part.exterior, *part.interiors):
            first = len(runs)
            runs += bead_runs(shapely.get_coordinates(ring))
            last = len(runs) - 1
            follows |= {(k, k + 1) for k in range(first, last)} | {(first, last)}
    if len(runs) < 2:
        return shapely.MultiPolygon()
    lines = np.array([shapely.LineString(run) for run in runs])
    strips = shapely.buffer(lines, 0.5 * reach_mm, cap_style="flat", quad_segs=QUARTER_SIDES)
    one, two = shapely.STRtree(strips).query(strips, predicate="intersects")
    once = one < two
    one, two = one[once], two[once]
    if not len(one):
        return shapely.MultiPolygon()
    shared = shapely.intersection(strips[one], strips[two])
    for row, pair in enumerate(zip(one.tolist(), two.tolist(), strict=True)):
        if pair in follows:
            joint = shapely.intersection(lines[pair[0]], lines[pair[1]])
            bend = shapely.buffer(joint, CORNER_REACH * reach_mm, quad_segs=QUARTER_SIDES)
            shared[row] = shapely.difference(shared[row], bend)
    parts = shapely.get_parts(shared)
    return shapely.union_all(parts[shapely.area(parts) > 0.0])
