"""Arcs: runs of a path's moves that lie on one circle."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from wingpath.build.toolpath import Toolpath
from wingpath.core.arrays import BoolArray, FloatArray, runs_of

__all__ = ["Arc", "arcs_of_path"]

LEAST_MOVES = 3
"""Fewer moves than this are not worth an arc."""

SMALLEST_MM, LARGEST_MM = 0.3, 500.0
"""Radii that are taken for arcs: rounder is a corner, flatter a straight run [mm]."""

MOST_TURN_DEG = 300.0
"""An arc goes no farther round, so that its two ends stay apart [deg]."""

SAME_RADIUS = 0.2
"""Neighbouring points belong to one arc when their own circles differ by no more than this share."""

EVEN_RISE_MM = 1e-4
"""An arc rises evenly; the moves that it stands for may differ from that by this much [mm]."""


@dataclass(frozen=True, slots=True)
class Arc:
    """Moves `first` to `last` (not included) of a path, on one circle about `centre` [mm]."""

    first: int
    last: int
    centre: tuple[float, float]
    radius_mm: float
    anticlockwise: bool


def arcs_of_path(toolpath: Toolpath, tolerance_mm: float) -> tuple[Arc, ...]:
    """Find the arcs of a path, in the order of its moves.

    An arc passes through its first and last point exactly; every point between lies within the tolerance
    of it, and the arc within twice the tolerance of every chord. It stays inside one layer, one speed and
    one flow.

    Parameters
    ----------
    toolpath : Toolpath
        The path.
    tolerance_mm : float
        See above [mm].
    """
    points = toolpath.points
    flat = points[:, :2]
    sign, radius = _turns(flat)
    same = _alike(toolpath, sign, radius)
    found: list[Arc] = []
    # a run of inner points that go together, and the moves before and after them
    for low, high in zip(*(ends.tolist() for ends in runs_of(same)), strict=True):
        # same[k] joins the inner points k and k + 1, so the run holds moves low to high + 2; the first of
        # them may be the last of the run before, and already part of its arc
        begin = max(low, found[-1].last) if found else low
        found += _fitted(points, begin, high + 2, tolerance_mm, float(sign[low]) > 0.0)
    return tuple(found)


def _turns(flat: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return the sense of the turn at every inner point and the radius through its neighbours."""
    before, after = flat[1:-1] - flat[:-2], flat[2:] - flat[1:-1]
    cross = before[:, 0] * after[:, 1] - before[:, 1] * after[:, 0]
    across = np.linalg.norm(before + after, axis=1)
    product = np.linalg.norm(before, axis=1) * np.linalg.norm(after, axis=1) * across
    radius = product / np.maximum(2.0 * np.abs(cross), 1e-12)
    return np.sign(cross), radius


def _alike(toolpath: Toolpath, sign: FloatArray, radius: FloatArray) -> BoolArray:
    """Return which pairs of neighbouring inner points may be part of one arc."""
    fit = (radius >= SMALLEST_MM) & (radius <= LARGEST_MM) & (sign != 0.0)
    for kept in (toolpath.layer, toolpath.speed_mm_s, toolpath.flow):
        fit &= kept[1:] == kept[:-1]
    close = np.abs(np.diff(radius)) <= SAME_RADIUS * np.minimum(radius[1:], radius[:-1])
    return np.asarray(fit[1:] & fit[:-1] & (sign[1:] == sign[:-1]) & close)


def _fitted(points: FloatArray, first: int, last: int, tolerance: float, anticlockwise: bool) -> list[Arc]:
    """Split moves `first` to `last` into arcs, the longest first; what fits none stays straight."""
    found, at = [], first
    while last - at >= LEAST_MOVES:
        end, best = last, None
        while end - at >= LEAST_MOVES and best is None:
            best = _arc(points, at, end, tolerance, anticlockwise)
            if best is None:
                end = at + max(LEAST_MOVES - 1, (end - at) * 3 // 4) if end - at > LEAST_MOVES else at
        if best is None:
            at += 1
            continue
        found.append(best)
        at = best.last
    return found


def _arc(points: FloatArray, first: int, last: int, tolerance: float, anticlockwise: bool) -> Arc | None:
    run = points[first : last + 1]
    a, m, b = run[0, :2], run[len(run) // 2, :2], run[-1, :2]
    centre = _circumcentre(a, m, b)
    if centre is None:
        return None
    radius = float(np.linalg.norm(a - centre))
    if not SMALLEST_MM <= radius <= LARGEST_MM:
        return None
    out = np.linalg.norm(run[:, :2] - centre, axis=1) - radius
    chord = np.linalg.norm(np.diff(run[:, :2], axis=0), axis=1)
    if chord.max() >= radius:
        return None
    sagitta = radius - np.sqrt(radius**2 - 0.25 * chord**2)
    turned = 2.0 * np.arcsin(0.5 * chord / radius)
    off = float(np.abs(out).max())
    if off > tolerance or off + sagitta.max() > 2.0 * tolerance:
        return None
    if turned.sum() > np.deg2rad(MOST_TURN_DEG):
        return None
    share = np.append(0.0, np.cumsum(turned)) / turned.sum()
    even = run[0, 2] + share * (run[-1, 2] - run[0, 2])
    if np.abs(run[:, 2] - even).max() > EVEN_RISE_MM:
        return None
    return Arc(first, last, (float(centre[0]), float(centre[1])), radius, anticlockwise)


def _circumcentre(a: FloatArray, b: FloatArray, c: FloatArray) -> FloatArray | None:
    ab, ac = b - a, c - a
    cross = 2.0 * (ab[0] * ac[1] - ab[1] * ac[0])
    if abs(cross) < 1e-12:
        return None
    square_b, square_c = float(ab @ ab), float(ac @ ac)
    offset = np.array([ac[1] * square_b - ab[1] * square_c, ab[0] * square_c - ac[0] * square_b])
    return np.asarray(a + offset / cross)
