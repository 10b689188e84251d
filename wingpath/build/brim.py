"""Brim: the spiral round a part's first layer that runs inward into the part's own loop, and its lead-in."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely
import shapely.ops

from wingpath.core.arrays import FloatArray

__all__ = ["Brim", "brim_spiral", "brim_width_mm", "lead_in", "slenderness"]

STEADY_SLENDERNESS = 8.0
"""A part this many times as high as its base is wide stands without thought: judgement, no source."""

LEAST_BRIM_MM = 3.0
"""Width of a brim that is made at all: some seven beads hold the edges of a thin wall down [mm]."""

WIDEST_BRIM_MM = 12.0
"""A brim chosen by the program is no wider: it has to be cut off again [mm]."""

CLOSE_MM = 1.0
"""Slots and slits up to twice this wide are passed over by the brim [mm]."""

PLAIN_MM = 0.02
"""The brim's loops are straightened by this much [mm]."""

LEAD_IN_MM = (40.0, 30.0, 20.0, 10.0, 5.0)
"""Lengths of the straight run that fills the nozzle before the brim begins, the longest that fits [mm]."""

DIRECTIONS = 72
"""Directions that are tried for it."""


@dataclass(frozen=True, slots=True, eq=False)
class Brim:
    """A spiral round the first layer.

    Parameters
    ----------
    points : ndarray, shape (n, 2)
        From the outside in; the part's own loop begins after the last one [mm]. Empty without a brim.
    loops : int
        How many times it goes round.
    outline : shapely.Polygon
        All that the first layer and its brim cover.
    """

    points: FloatArray
    loops: int
    outline: Any


def slenderness(region: Any, *, height_mm: float, brim_mm: float = 0.0) -> float:
    """Return a part's height over the least width of what it stands on, brim included.

    Parameters
    ----------
    region : shapely geometry
        The first layer.
    height_mm, brim_mm : float
        Height of the part, width of its brim [mm].
    """
    corners = shapely.get_coordinates(shapely.minimum_rotated_rectangle(region))
    sides = np.linalg.norm(np.diff(corners, axis=0), axis=1)
    narrow = float(sides[:2].min()) if len(sides) >= 2 else 0.0
    return height_mm / max(narrow + 2.0 * brim_mm, 1e-6)


def brim_width_mm(region: Any, *, height_mm: float) -> float:
    """Return a width that keeps a part from tipping, in the limits of what is worth cutting off [mm].

    So wide that the part is no more than eight times as high as its base is wide, 3 mm at least, 12 mm at
    most.

    Parameters
    ----------
    region : shapely geometry
        The first layer.
    height_mm : float
        Height of the part [mm].
    """
    narrow = height_mm / slenderness(region, height_mm=height_mm)
    wanted = 0.5 * (height_mm / STEADY_SLENDERNESS - narrow)
    return float(np.clip(wanted, LEAST_BRIM_MM, WIDEST_BRIM_MM))


def brim_spiral(
    region: Any, start: FloatArray, *, width_mm: float, gap_mm: float, bead_mm: float, layer_mm: float
) -> Brim:
    """Lay a spiral round a part's first layer.

    Each turn goes round at one distance and steps in just before it closes, so that it neither crosses
    itself nor lifts. Its beads are as far apart as leaves no void between them.

    Parameters
    ----------
    region : shapely geometry
        The first layer.
    start : ndarray, shape (2,)
        Start of the part's own loop; all turns begin near it [mm].
    width_mm, gap_mm : float
        Width of the brim, 0 for none; gap between it and the part [mm].
    bead_mm, layer_mm : float
        Bead width and layer height [mm].

    Notes
    -----
    Void-free spacing of beads with round flanks: ``s = w - h (1 - pi / 4)``, derived from their section.
    """
    base = _filled(region)
    spacing = bead_mm - layer_mm * (1.0 - 0.25 * np.pi)
    count = max(1, round(width_mm / spacing)) if width_mm > 0.0 else 0
    if not count:
        return Brim(np.empty((0, 2)), 0, base)
    nearest = gap_mm + spacing - 0.5 * bead_mm
    turns = []
    for index in range(count - 1, -1, -1):
        ring = _filled(shapely.buffer(base, nearest + index * spacing), close_mm=0.0).exterior
        turns.append(_open_turn(shapely.simplify(ring, PLAIN_MM), start, spacing))
    outline = shapely.buffer(base, nearest + (count - 1) * spacing + 0.5 * bead_mm)
    return Brim(np.concatenate(turns), count, _filled(outline, close_mm=0.0))


def _filled(region: Any, *, close_mm: float = CLOSE_MM) -> Any:
    """Return the outer outline of a region, narrow inlets passed over."""
    if close_mm > 0.0:
        region = shapely.buffer(shapely.buffer(region, close_mm), -close_mm)
    part = max(shapely.get_parts(region), key=shapely.area)
    return shapely.orient_polygons(shapely.Polygon(part.exterior))


def _open_turn(ring: Any, start: FloatArray, spacing: float) -> FloatArray:
    """Return a ring from the point nearest to `start` round to one spacing before it."""
    place = ring.project(shapely.Point(start))
    length = ring.length
    ahead = shapely.get_coordinates(shapely.ops.substring(ring, place, length))
    back = shapely.get_coordinates(shapely.ops.substring(ring, 0.0, place))
    line = shapely.LineString(np.concatenate([ahead[:-1], back]))
    return np.asarray(
        shapely.get_coordinates(shapely.ops.substring(line, 0.0, max(0.5 * length, length - spacing)))
    )


def lead_in(start: FloatArray, outline: Any, room: Any, *, bead_mm: float) -> FloatArray:
    """Return where a straight run that ends at `start` may begin, shape (1, 2); empty when there is no room.

    It lies beside everything that is printed on the first layer and inside the bed, pointing away from
    the part as far as it can.

    Parameters
    ----------
    start : ndarray, shape (2,)
        Where the brim, or the part without one, begins [mm].
    outline : shapely geometry
        What the first layer covers.
    room : shapely geometry
        The bed inside its margins.
    bead_mm : float
        Bead width [mm].
    """
    angles = np.linspace(0.0, 2.0 * np.pi, DIRECTIONS, endpoint=False)
    away = np.column_stack([np.cos(angles), np.sin(angles)])
    inside = shapely.buffer(room, -0.5 * bead_mm)
    for length in LEAD_IN_MM:
        ends = start + length * away
        lines = shapely.linestrings(np.stack([np.broadcast_to(start, ends.shape), ends], axis=1))
        free = shapely.length(shapely.intersection(lines, outline)) <= 1.5 * bead_mm
        free &= shapely.contains_xy(inside, ends[:, 0], ends[:, 1])
        if free.any():
            far = np.where(free, shapely.distance(shapely.points(ends), outline), -1.0)
            return ends[[int(np.argmax(far))]]
    return np.empty((0, 2))
