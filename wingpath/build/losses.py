"""Solid that no bead fits into: strips between crossing ribs, thin trailing edges."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely

from wingpath.build.layers import CORNER_MITRE_LIMIT, GeometryArray, Layers, opened_by, shrunk
from wingpath.build.runs import Reporter
from wingpath.core.arrays import FloatArray

__all__ = ["Losses", "judge_losses", "losses_of_layers"]

TIP_LOSS_MM2 = 1.0
"""Losing less than this at the thin end of a section is normal: no bead ends in a point [mm2]."""

SEEN_LOSS_MM2 = 0.05
"""A loss below this is not worth a word [mm2]: a bead end of 0.2 mm."""

TOUCH_MM, SIDE_SHARE = 0.03, 0.3
"""A lost part lies along a slot when this share of its border is no farther from the slot than that [mm]:
a long strip has nearly half of its border there."""

CLOSE_MM = 1.0
"""Two runs of the path closer than twice this lie beside one strip [mm]."""


@dataclass(frozen=True, slots=True, eq=False)
class Losses:
    """What of each layer no bead fits into.

    Parameters
    ----------
    lost_mm2, between_mm2, outside_mm2 : ndarray, shape (n,)
        Area in all, of strips between slots, and of thin ends [mm2].
    at_strip, at_end : ndarray, shape (n, 2)
        A point of each; NaN without one [mm].
    """

    lost_mm2: FloatArray
    between_mm2: FloatArray
    outside_mm2: FloatArray
    at_strip: FloatArray
    at_end: FloatArray


def losses_of_layers(layers: Layers) -> Losses:
    """Measure the thin places that the path drops."""
    asked = layers.orderly
    opened = opened_by(asked, layers.bead_mm)
    lost = np.maximum(shapely.area(asked) - shapely.area(opened), 0.0)
    rows = np.flatnonzero((lost > SEEN_LOSS_MM2) & (layers.rings > 0))
    between, outside = np.zeros(len(layers)), np.zeros(len(layers))
    at_strip, at_tip = np.full((len(layers), 2), np.nan), np.full((len(layers), 2), np.nan)
    if len(rows):
        gone = shapely.difference(layers.regions[rows], opened[rows])
        closed = _closed(opened[rows])
        strip, tip = shapely.intersection(gone, closed), shapely.difference(gone, closed)
        strip, tip = _beside_slots(layers.regions[rows], strip, tip)
        between[rows], outside[rows] = shapely.area(strip), shapely.area(tip)
        for at, geometry in ((at_strip, strip), (at_tip, tip)):
            full = ~shapely.is_empty(geometry)
            at[rows[full]] = _places(geometry[full])
    return Losses(np.asarray(lost), between, outside, at_strip, at_tip)


def judge_losses(report: Reporter, losses: Losses, *, closing_from_mm: float) -> None:
    """Report thin places that the path drops.

    Parameters
    ----------
    report : Reporter
        Where findings go.
    losses : Losses
        What is dropped of its layers.
    closing_from_mm : float
        Height from which the part closes to a tip, whose ends are thin by design [mm].
    """
    layers = report.layers
    closing = layers.z_mm > closing_from_mm
    between, outside = losses.between_mm2, losses.outside_mm2
    at_strip, at_tip = losses.at_strip, losses.at_end
    report.note(
        "thin-lost",
        between > TIP_LOSS_MM2,
        found=between,
        limit=TIP_LOSS_MM2,
        unit="mm2",
        at=at_strip,
        message="strips between two slots are thinner than a bead for a moment and are left out",
        remedy="normal where ribs cross: the strip comes back on its neighbours a layer or two higher",
    )
    report.warning(
        "thin-lost",
        (outside > TIP_LOSS_MM2) & ~closing,
        found=outside,
        limit=TIP_LOSS_MM2,
        unit="mm2",
        at=at_tip,
        message="{found:.1f} mm2 of a layer are thinner than a bead and are left out",
        remedy=f"make the thin place, often the trailing edge, at least {2 * layers.bead_mm:.2f} mm thick",
    )
    report.note(
        "thin-lost",
        (outside > SEEN_LOSS_MM2) & ((outside <= TIP_LOSS_MM2) | closing),
        found=outside,
        limit=TIP_LOSS_MM2,
        unit="mm2",
        at=at_tip,
        message="thin ends, up to {found:.2f} mm2 a layer, are left out",
        remedy="normal: no bead ends in a point",
    )


def _places(geometry: GeometryArray) -> FloatArray:
    """Return a point of each geometry, shape (k, 2) [mm].

    One without any area has none on its surface; then it is its first corner.
    """
    point = shapely.point_on_surface(geometry)
    bare = shapely.is_empty(point)
    corners, owner = shapely.get_coordinates(geometry[bare], return_index=True)
    first = corners[np.unique(owner, return_index=True)[1]]
    point[bare] = shapely.points(first)
    return np.column_stack([shapely.get_x(point), shapely.get_y(point)])


def _closed(regions: GeometryArray) -> GeometryArray:
    """Return regions with their narrow voids filled."""
    grown = shrunk(regions, -CLOSE_MM, limit=CORNER_MITRE_LIMIT)
    return shrunk(grown, CLOSE_MM, limit=CORNER_MITRE_LIMIT)


def _length_within(lines: GeometryArray, region: Any) -> FloatArray:
    """Return how much of each line lies within a region, whose pieces are looked up, shape (n,) [mm]."""
    pieces = shapely.get_parts(region)
    line, piece = shapely.STRtree(pieces).query(lines, predicate="intersects")
    length = shapely.length(shapely.intersection(lines[line], pieces[piece]))
    return np.asarray(np.bincount(line, weights=length, minlength=len(lines)), dtype=np.float64)


def _beside_slots(
    regions: GeometryArray, strip: GeometryArray, tip: GeometryArray
) -> tuple[GeometryArray, GeometryArray]:
    """Count what lies along a slot as a strip too, as between a rib and the wall of a bay it runs into."""
    strip, tip = strip.copy(), tip.copy()
    for row in np.flatnonzero(shapely.area(tip) > TIP_LOSS_MM2):
        near = _closed(regions[row : row + 1])[0].difference(regions[row]).buffer(TOUCH_MM)
        parts = shapely.get_parts(tip[row])
        beside = _length_within(shapely.boundary(parts), near)
        along = beside > SIDE_SHARE * shapely.length(parts)
        strip[row] = shapely.union_all([strip[row], *parts[along]])
        tip[row] = shapely.union_all(parts[~along])
    return strip, tip
