"""Support: which part of a layer's path has no bead under it, and where the path steps."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely

from wingpath.build.layers import GeometryArray, Layers, straightened
from wingpath.core.arrays import BoolArray, FloatArray

__all__ = ["Support", "carried_mm", "path_starts", "support_of_layers"]

AIRBORNE_SPREAD = 0.2
"""A bead still lies on the one below when their flanks miss each other by this share of a bead: foamed
beads spread, and the strip between two crossing ribs comes back one slot width beside its neighbours."""

STEEP_SLACK = 0.05
"""Walls that lean by exactly the overhang limit are not reported for rounding: five per cent on top."""

PLAIN_MM = 0.005
"""Paths are straightened by this much before they are held against each other [mm], which makes that four
times quicker."""

STEEP_SLACK_MM = 0.015
"""The same for very thin layers [mm]: what both paths and their outlines are straightened by."""

LEAST_PIECE_BEADS = 1.5
"""A piece of bead hardly longer than it is wide hangs on both its ends and is not counted."""

HELD_SHARE = 0.6
"""A bead whose centre line is closer than this share of its width to a supported bead lies on that one."""

SAME_LINE_MM = 1e-4
"""Room for rounding when a piece is taken out of the line that it is part of [mm]."""

ALONG_MM = 0.2
"""Step along a steep piece at which its distance from the path below is asked [mm]."""

CHUNK_LAYERS = 256
"""Layers handled at once, to bound memory."""

SLIDE_BEADS = 0.5
"""How far a start may move along the path from layer to layer, in bead widths."""

NEAR_EDGE_MM = 5.0
"""A start that has passed the trailing edge by less than this goes straight back to it [mm]."""

QUARTER_SIDES = 4
"""Corners in a quarter turn of the zone that a bead supports."""


@dataclass(frozen=True, slots=True, eq=False)
class Support:
    """What lies under each layer's path.

    Parameters
    ----------
    steep_mm, airborne_mm : ndarray, shape (n,)
        Length of path beyond the overhang limit, and of path with no bead under it [mm].
    piece_mm : ndarray, shape (n,)
        Longest airborne piece [mm].
    piece_at : ndarray, shape (n, 2)
        Middle of that piece, or else of a steep piece; NaN without one [mm].
    """

    steep_mm: FloatArray
    airborne_mm: FloatArray
    piece_mm: FloatArray
    piece_at: FloatArray


def carried_mm(*, bead_mm: float, bond_mm: float) -> float:
    """Return how far a bead may miss the one below and still lie on it [mm].

    Parameters
    ----------
    bead_mm, bond_mm : float
        Bead width, widest gap that beads bridge sideways [mm].
    """
    return max(AIRBORNE_SPREAD * bead_mm, bond_mm)


def support_of_layers(layers: Layers, *, overhang_deg: float, bond_mm: float) -> Support:
    """Hold each layer's path against the path below it.

    Parameters
    ----------
    layers : Layers
        The layers; the first lies on the bed. Crowded ones, and those on them, are not asked.
    overhang_deg : float
        Steepest lean from the vertical that prints well [deg].
    bond_mm : float
        Widest gap that the bead bridges sideways [mm]; it bridges as much downward.
    """
    count = len(layers)
    steep, airborne, piece = np.zeros(count), np.zeros(count), np.zeros(count)
    at = np.full((count, 2), np.nan)
    bead = layers.bead_mm
    lean = layers.layer_mm * np.tan(np.deg2rad(overhang_deg)) * (1 + STEEP_SLACK) + STEEP_SLACK_MM
    miss = bead + carried_mm(bead_mm=bead, bond_mm=bond_mm)
    # a crowded layer is not asked, nor the one above it
    paths = straightened(np.where(layers.crowded, shapely.Polygon(), layers.paths), PLAIN_MM)
    on_crowd = np.append(False, layers.crowded[:-1])
    borders = np.where(on_crowd, shapely.LineString(), shapely.boundary(paths))
    for first in range(1, count, CHUNK_LAYERS):
        here = np.arange(first, min(first + CHUNK_LAYERS, count))
        below = paths[here - 1]
        beyond = _outside(borders[here], below, min(lean, miss))
        rows = np.flatnonzero(~shapely.is_empty(beyond))
        if not len(rows):
            continue
        length, _, middle = _pieces(beyond[rows], bead)
        steep[here[rows]], at[here[rows]] = length, middle
        rows = rows[length > 0]
        rows = rows[_reaches(beyond[rows], below[rows], miss)]
        hanging = _outside(beyond[rows], below[rows], miss)
        hanging = _not_held(hanging, borders[here[rows]], bead)
        length, longest, middle = _pieces(hanging, bead)
        airborne[here[rows]], piece[here[rows]] = length, longest
        found = length > 0
        at[here[rows][found]] = middle[found]
    return Support(steep, airborne, piece, at)


def _outside(lines: GeometryArray, paths: GeometryArray, reach: float) -> GeometryArray:
    """Parts of `lines` farther than `reach` from the border of `paths`.

    That zone is the region grown less the region shrunk, which is five times quicker than growing its
    border.
    """
    grown = shapely.buffer(paths, reach, quad_segs=QUARTER_SIDES)
    core = shapely.buffer(paths, -reach, quad_segs=QUARTER_SIDES)
    out, inside = shapely.difference(lines, grown), shapely.intersection(lines, core)
    return np.asarray(shapely.union(out, inside))


def _reaches(lines: GeometryArray, paths: GeometryArray, reach: float) -> BoolArray:
    """Whether any part of `lines` may be farther than `reach` from the border of `paths`, shape (k,).

    Asked at points along the lines, which is cheap, so that the zone is made for few layers only. Between
    points a line is farther away by no more than half a step, and the zone's round corners are inscribed.
    """
    surely = reach * np.cos(np.pi / (4 * QUARTER_SIDES)) - 0.5 * ALONG_MM
    borders = shapely.boundary(paths)
    shapely.prepare(borders)
    places, owner = shapely.get_coordinates(shapely.segmentize(lines, ALONG_MM), return_index=True)
    away = ~shapely.dwithin(borders[owner], shapely.points(places), surely)
    return np.bincount(owner, weights=away, minlength=len(lines)) > 0


def _not_held(hanging: GeometryArray, borders: GeometryArray, bead: float) -> GeometryArray:
    """Leave out bead that overlaps a supported bead of its own layer by two fifths of its width or more.

    So does the inner bead of a strip that comes back between two ribs: both of its sides lie on nearly
    the same line, and one of them has its support below.
    """
    rows = np.flatnonzero(~shapely.is_empty(hanging))
    held = hanging.copy()
    if len(rows):
        carried = shapely.difference(borders[rows], shapely.buffer(hanging[rows], SAME_LINE_MM))
        held[rows] = shapely.difference(
            hanging[rows], shapely.buffer(carried, HELD_SHARE * bead, cap_style="flat")
        )
    return held


def _pieces(lines: GeometryArray, bead: float) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Total and longest length of the pieces that count, and the middle of the longest."""
    total, longest = np.zeros(len(lines)), np.zeros(len(lines))
    middle = np.full((len(lines), 2), np.nan)
    parts, owner = shapely.get_parts(shapely.line_merge(lines), return_index=True)
    length = shapely.length(parts)
    real = length > LEAST_PIECE_BEADS * bead
    parts, owner, length = parts[real], owner[real], length[real]
    if len(parts):
        np.add.at(total, owner, length)
        np.maximum.at(longest, owner, length)
        top = length == longest[owner]
        half = shapely.line_interpolate_point(parts[top], 0.5, normalized=True)
        middle[owner[top]] = np.column_stack([shapely.get_x(half), shapely.get_y(half)])
    return total, longest, middle


def path_starts(layers: Layers) -> tuple[FloatArray, FloatArray]:
    """Choose where each layer's loop starts and ends, and how far the next start lies from there.

    Traced from the top layer down, because there the path is shortest: each start is the point of its
    own path nearest to the start above, moved along the upper skin towards the trailing edge by at most
    half a bead. So starts gather at the trailing edge and the nozzle rises nearly in place, also where
    a closed tip draws the trailing edge forward by several millimetres a layer.

    Returns
    -------
    starts : ndarray, shape (n, 2)
        Start points [mm]; NaN on layers without a path.
    step_mm : ndarray, shape (n,)
        Distance from the end of the layer below to the start [mm]; 0 on the first layer.
    """
    count = len(layers)
    starts = np.full((count, 2), np.nan)
    above = None
    for index in range(count - 1, -1, -1):
        path = layers.paths[index]
        if path.is_empty:
            continue
        ring = max(shapely.get_parts(path), key=shapely.area).exterior
        points = shapely.get_coordinates(ring)
        edge = ring.project(shapely.Point(points[np.argmax(points[:, 0])]))
        place = edge
        if above is not None:
            place = ring.project(above)
            # the upper skin runs from the nose to the trailing edge against the sense of the ring
            sense = -1.0 if ring.is_ccw else 1.0
            ahead = (sense * (edge - place)) % ring.length
            back = ring.length - ahead
            if back < ahead and back < NEAR_EDGE_MM:
                sense, ahead = -sense, back
            place += sense * min(ahead, SLIDE_BEADS * layers.bead_mm)
        above = ring.interpolate(place % ring.length)
        starts[index] = above.x, above.y
    known = np.flatnonzero(~np.isnan(starts[:, 0]))
    step = np.zeros(count)
    step[known[1:]] = np.linalg.norm(np.diff(starts[known], axis=0), axis=1)
    return starts, step
