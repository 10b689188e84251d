"""The closed tip: the last section shrinks inward by its own rise until it is gone.

Each point of the cap stands as high above the cap's base as it is far from the outline (never higher),
so no wall leans more than 45 degrees and the tip prints without support. It ends where two beads side
by side close it. The cap lies inside the span that the spec gives.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely

from wingpath.core.arrays import FloatArray, frozen_floats
from wingpath.core.tolerances import GEOMETRY_EPS_MM
from wingpath.geometry.outline import lower_surface, upper_surface
from wingpath.model.wing import Wing

__all__ = ["TipCap", "tip_cap"]

FLAT_TOP_BEADS = 0.75
"""Half width of the flat end of the cap in bead widths: the last layer is still wider than one bead."""

BASE_ROUNDS = 60
"""Rounds of the search for the section that the cap begins on; it settles in a few unless the wing
thickens steeply towards its tip."""


@dataclass(frozen=True, slots=True, eq=False)
class TipCap:
    """The cap on the last section.

    Parameters
    ----------
    base_mm, top_mm : float
        Where along the span it begins and ends [mm].
    rim : ndarray, shape (2 n - 1, 2)
        The outline at its base [mm].
    ridge : ndarray, shape (n - 2, 2)
        Middle points between upper and lower surface, nose and trailing edge left out [mm].
    rise : ndarray, shape (n - 2,)
        How far each ridge point would stand above the base [mm]; cut off flat at `top_mm`.
    """

    base_mm: float
    top_mm: float
    rim: FloatArray
    ridge: FloatArray
    rise: FloatArray

    def __post_init__(self) -> None:
        object.__setattr__(self, "rim", frozen_floats(self.rim, (None, 2), name="rim"))
        object.__setattr__(self, "ridge", frozen_floats(self.ridge, (None, 2), name="ridge"))
        object.__setattr__(self, "rise", frozen_floats(self.rise, (None,), name="rise"))

    def section(self, z_mm: float) -> FloatArray:
        """Return the ring of the cap at height `z_mm`, counter-clockwise, shape (k, 2) [mm]."""
        height = z_mm - self.base_mm
        if height <= 0.0:
            return self.rim
        lower, upper = lower_surface(self.rim)[1:-1], upper_surface(self.rim)[1:-1]
        standing = np.flatnonzero(self.rise > height)
        if not len(standing):
            return np.empty((0, 2))
        first, last = int(standing[0]), int(standing[-1])
        share = (height / self.rise[first : last + 1])[:, None]
        middle = self.ridge[first : last + 1]
        low = lower[first : last + 1] * (1 - share) + middle * share
        high = upper[first : last + 1] * (1 - share) + middle * share
        front = self._crossing(first - 1, first, height)
        rear = self._crossing(last + 1, last, height)
        return np.vstack([front, low, rear, high[::-1]])

    def _crossing(self, outside: int, inside: int, height: float) -> FloatArray:
        """Where the ridge line passes `height` between two neighbouring ridge points."""
        if outside < 0:
            start, low = self.rim[0], 0.0
        elif outside >= len(self.ridge):
            points = (len(self.rim) + 1) // 2
            start, low = 0.5 * (self.rim[points - 1] + self.rim[points]), 0.0
        else:
            start, low = self.ridge[outside], float(self.rise[outside])
        share = (height - low) / (self.rise[inside] - low)
        return np.asarray(start + share * (self.ridge[inside] - start))[None, :]


def tip_cap(wing: Wing, *, bead_mm: float, layer_mm: float) -> TipCap | None:
    """Return the cap that closes the tip, or None where the tip is so thin that its beads close it."""
    end = wing.semi_span_mm

    def rise_at(z_mm: float) -> tuple[FloatArray, FloatArray, FloatArray]:
        rim = wing.loops(z_mm)[0]
        ridge = 0.5 * (lower_surface(rim) + upper_surface(rim))[1:-1]
        border = shapely.linearrings(rim)
        return rim, ridge, np.asarray(shapely.distance(shapely.points(ridge), border))

    bay = wing.stations[-2].span_mm
    base = end
    for _ in range(BASE_ROUNDS):
        # the section where the cap begins decides how high the cap stands
        height = float(rise_at(base)[2].max()) - FLAT_TOP_BEADS * bead_mm
        base, before = max(end - height, bay + layer_mm), base
        if abs(base - before) < GEOMETRY_EPS_MM:
            break
    if end - base <= 2.0 * layer_mm:
        return None
    rim, ridge, rise = rise_at(base)
    stands = base + float(rise.max()) - FLAT_TOP_BEADS * bead_mm
    return TipCap(base_mm=base, top_mm=min(end, stands), rim=rim, ridge=ridge, rise=rise)
