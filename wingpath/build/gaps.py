"""Gaps: every void of a layer that is narrower than two millimetres, ours or a stranger's.

A region is closed by a millimetre (grown and shrunk again); what that fills is a gap. Its width says
whether the two beads beside it fuse, and the solid that follows its inner end says whether the rib
touches the far skin.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray

from wingpath.build.layers import CORNER_MITRE_LIMIT, shrunk, straightened
from wingpath.core.arrays import BoolArray, FloatArray, IntArray
from wingpath.core.tolerances import GEOMETRY_EPS_MM

__all__ = ["GapTable", "gaps_of_regions", "layers_to_probe"]

CLOSE_MM = 1.0
"""Half the width up to which a void counts as a gap [mm]."""

PLAIN_MM = 0.004
"""Regions are straightened by this much before they are closed: less than the narrowest slot [mm]."""

SLIVER_MM = 1e-5
"""The closed region is shrunk by this much more, so that rounding leaves no slivers along the skin [mm]."""

EVEN_SHARE = 0.75
"""What is left of a gap after shrinking it by this share of its mean width shows that it is no strip."""

LEAST_GAP_AREA_MM2 = 1e-3
"""What closing fills at a mere corner is smaller than this [mm2]."""

LEAST_FILL = 0.6
"""Share of its narrowest box that a gap fills; two slots that merge where ribs cross fill less."""

LEAST_SLENDERNESS = 2.0
"""A gap is longer than wide by this factor; a notch is not."""

PROBE_STEP_MM = 1.0
"""Between changes of a layer's shape one layer in this height is looked at [mm]."""

JUMP_MM = 2.0
"""The path of neighbouring layers differs by less than this unless the shape changes [mm]."""

AHEAD_MM = 200.0
"""How far ahead of a gap's inner end the next void is looked for: thicker than any wing [mm]."""

OPEN_END_MM = 0.05
"""Beyond the inner end of a slit there is a bore: no solid at this distance [mm]."""


@dataclass(frozen=True, slots=True, eq=False)
class GapTable:
    """The gaps of some layers, one row a gap.

    Parameters
    ----------
    layer : ndarray of int, shape (k,)
        Index of its layer.
    length_mm, width_mm : ndarray, shape (k,)
        Length and mean width [mm].
    neck_mm : ndarray, shape (k,)
        Solid between its inner end and the outside, or a gap that comes towards it [mm]; NaN where it opens
        into a hole.
    facing_mm : ndarray, shape (k,)
        Solid between its inner end and a gap that comes towards it; NaN without one [mm].
    x_mm, y_mm : ndarray, shape (k,)
        Its inner end [mm].
    probed : ndarray of int
        Indices of all layers that were looked at.
    """

    layer: IntArray
    length_mm: FloatArray
    width_mm: FloatArray
    neck_mm: FloatArray
    facing_mm: FloatArray
    x_mm: FloatArray
    y_mm: FloatArray
    probed: IntArray


def layers_to_probe(path_mm: FloatArray, contours: IntArray, rings: IntArray, layer_mm: float) -> IntArray:
    """Return the layers whose gaps need to be measured: at every change of shape and each millimetre."""
    count = len(path_mm)
    if count == 0:
        return np.empty(0, np.int64)
    changed = np.zeros(count, bool)
    jump = (np.abs(np.diff(path_mm)) > JUMP_MM) | (np.diff(contours) != 0) | (np.diff(rings) != 0)
    changed[1:] |= jump
    changed[:-1] |= jump
    changed[:: max(1, int(PROBE_STEP_MM / layer_mm))] = True
    changed[-1] = True
    return np.flatnonzero(changed)


def gaps_of_regions(regions: NDArray[Any], probe: IntArray) -> GapTable:
    """Measure the gaps of the layers `probe` of `regions`."""
    plain = straightened(regions[probe], PLAIN_MM)
    grown = shrunk(plain, -CLOSE_MM, limit=CORNER_MITRE_LIMIT)
    closed = shrunk(grown, CLOSE_MM + SLIVER_MM, limit=CORNER_MITRE_LIMIT)
    parts, owner = shapely.get_parts(shapely.difference(closed, plain), return_index=True)
    area = shapely.area(parts)
    real = area > LEAST_GAP_AREA_MM2
    parts, owner, area = parts[real], owner[real], area[real]
    boxes = shapely.oriented_envelope(parts)
    boxed = shapely.get_num_coordinates(boxes) == 5
    parts, owner, area, boxes = parts[boxed], owner[boxed], area[boxed], boxes[boxed]
    corners = shapely.get_coordinates(boxes).reshape(-1, 5, 2)
    sides = np.linalg.norm(np.diff(corners[:, :3], axis=1), axis=2)
    length, across = sides.max(axis=1), sides.min(axis=1)
    width = area / np.maximum(length, GEOMETRY_EPS_MM)
    length = length + SLIVER_MM
    strip = (length > LEAST_SLENDERNESS * width) & (width > LEAST_FILL * across)
    # a thin bore with its slit is filled too; it is no strip of even width
    even = shapely.is_empty(shapely.buffer(parts[strip], -EVEN_SHARE * width[strip]))
    strip[np.flatnonzero(strip)[~even]] = False
    owner, length, width = owner[strip], length[strip], width[strip]
    hulls = np.asarray(shapely.boundary(closed))[owner]
    ends, away, neck = _inner_ends(corners[strip], hulls)
    ahead = shapely.points(ends + OPEN_END_MM * away)
    blind = shapely.intersects(plain[owner], ahead)
    ahead, met_gap = _solid_ahead(plain[owner], hulls, ends, away, width)
    neck = np.where(blind, np.minimum(neck + SLIVER_MM, ahead), np.nan)
    return GapTable(
        layer=probe[owner],
        length_mm=length,
        width_mm=width,
        neck_mm=neck,
        facing_mm=np.where(blind & met_gap, ahead, np.nan),
        x_mm=ends[:, 0],
        y_mm=ends[:, 1],
        probed=probe,
    )


def _solid_ahead(
    plain: NDArray[Any], hulls: NDArray[Any], ends: FloatArray, away: FloatArray, width: FloatArray
) -> tuple[FloatArray, BoolArray]:
    """Solid between the inner end of each gap and the next void ahead [mm], and whether that is a gap too.

    It is looked for along both sides of the gap and its middle, as two slots that merge leave a sliver.
    """
    aside = 0.5 * width[:, None] * np.column_stack([-away[:, 1], away[:, 0]])
    rays = np.stack([ends + OPEN_END_MM * away, ends + AHEAD_MM * away], axis=1)
    lines = [shapely.linestrings(rays + share * aside[:, None, :]) for share in (-1.0, 0.0, 1.0)]
    beyond = shapely.difference(shapely.multilinestrings(np.column_stack(lines)), plain)
    met = shapely.get_point(shapely.shortest_line(shapely.points(ends), beyond), 1)
    ahead = np.asarray(shapely.distance(shapely.points(ends), met), np.float64)
    inside = shapely.distance(met, hulls) > OPEN_END_MM
    return np.where(np.isnan(ahead), np.inf, ahead), np.asarray(inside)


def _inner_ends(corners: FloatArray, hulls: NDArray[Any]) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Middle of the end of each gap that lies deeper inside, the way it points, and its depth."""
    first = np.linalg.norm(corners[:, 1] - corners[:, 0], axis=1)
    second = np.linalg.norm(corners[:, 2] - corners[:, 1], axis=1)
    along = (first >= second)[:, None]
    # the short sides of the box are the ends of the gap
    one = np.where(along, corners[:, 0] + corners[:, 3], corners[:, 0] + corners[:, 1]) / 2.0
    two = np.where(along, corners[:, 1] + corners[:, 2], corners[:, 2] + corners[:, 3]) / 2.0
    depth_one = shapely.distance(shapely.points(one), hulls)
    depth_two = shapely.distance(shapely.points(two), hulls)
    deeper = (depth_two > depth_one)[:, None]
    ends = np.where(deeper, two, one)
    away = ends - np.where(deeper, one, two)
    away /= np.maximum(np.linalg.norm(away, axis=1), GEOMETRY_EPS_MM)[:, None]
    return ends, away, np.maximum(depth_one, depth_two)
