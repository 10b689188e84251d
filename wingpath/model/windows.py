"""Lightening windows: how deep the two halves of a rib stay between the places where ribs cross."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import ArrayLike

from wingpath.core.arrays import FloatArray

if TYPE_CHECKING:
    from wingpath.model.ribs import RibPlane

__all__ = ["LEAST_HALF_BEADS", "WHOLE_BEADS", "Windows", "crossing_distance_mm"]

WHOLE_BEADS = 2.0
"""A rib stays whole for this many beads of span to either side of a crossing: two ribs at 45 degrees part by
twice that along the chord, so the strip between them is wide enough for its own beads there."""

LEAST_HALF_BEADS = 4.0
"""Least depth in beads of either half of a rib that is cut from both skins: less is hardly deeper than
the bead that turns round its end."""


@dataclass(frozen=True, slots=True)
class Windows:
    """Windows that leave a stub on either skin and end on slopes.

    Parameters
    ----------
    stub_mm : float
        Depth of the stubs [mm].
    rise : float
        Slope of a window's ends: growth over span, the tangent of the overhang limit.
    whole_mm : float
        Span to either side of a crossing over which ribs are whole [mm].
    least_half_mm : float
        Least depth of either half of a rib that is worth cutting from both skins [mm].
    """

    stub_mm: float
    rise: float
    whole_mm: float
    least_half_mm: float

    def depth_mm(self, away_mm: ArrayLike, full_mm: ArrayLike) -> FloatArray:
        """Return how deep each half of a rib reaches into the wing [mm].

        Parameters
        ----------
        away_mm : array_like
            Span from the place to the nearest crossing [mm].
        full_mm : array_like
            Depth of a half that meets the other half [mm].
        """
        full = np.asarray(full_mm, float)
        slope = full - self.rise * np.maximum(np.asarray(away_mm, float) - self.whole_mm, 0.0)
        return np.asarray(np.minimum(full, np.maximum(self.stub_mm, slope)))

    def least_thickness_mm(self, neck_mm: float) -> float:
        """Return the thickness of a section below which ribs are cut from the lower skin only [mm]."""
        return 2.0 * min(self.stub_mm, self.least_half_mm) + neck_mm


def crossing_distance_mm(planes: Sequence[RibPlane], z_mm: ArrayLike) -> FloatArray:
    """Return the span from places on each plane to the nearest crossing with a rib of the other run.

    Parameters
    ----------
    planes : sequence of RibPlane
        Ribs and webs of the wing; ribs are straight.
    z_mm : array_like, shape (k,)
        Places along the span [mm].

    Returns
    -------
    ndarray, shape (len(planes), k)
        Distances [mm]; 0 on a web, which has no windows, infinite on a rib that no other crosses.
    """
    z = np.asarray(z_mm, float)
    away = np.zeros((len(planes), len(z)))
    for row, plane in enumerate(planes):
        others = [other for other in planes if {plane.run, other.run} == {"aft", "forward"}]
        if plane.run == "web":
            continue
        if not others:
            away[row] = np.inf
            continue
        start, slope = _line(plane)
        starts, slopes = np.array([_line(other) for other in others]).T
        places = np.sort((starts - start) / (slope - slopes))
        above = np.clip(np.searchsorted(places, z), 0, len(places) - 1)
        below = np.clip(above - 1, 0, len(places) - 1)
        away[row] = np.minimum(np.abs(places[above] - z), np.abs(places[below] - z))
    return away


def _line(plane: RibPlane) -> tuple[float, float]:
    """Return x at the root and how far a rib runs aft over the span."""
    z, x = plane.knots_z_mm, plane.knots_x_mm
    slope = float((x[-1] - x[0]) / (z[-1] - z[0]))
    return float(x[0]) - slope * float(z[0]), slope
