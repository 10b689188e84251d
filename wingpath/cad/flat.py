"""Planes: walls of slots and bays, ends of panels, and every facet."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from wingpath.core.arrays import FloatArray, frozen_floats

__all__ = ["Flat"]


@dataclass(frozen=True, slots=True, eq=False)
class Flat:
    """A plane.

    Parameters
    ----------
    origin : ndarray, shape (3,)
        A point of it [mm].
    normal : ndarray, shape (3,)
        Its outward unit normal.
    """

    origin: FloatArray
    normal: FloatArray

    def __post_init__(self) -> None:
        object.__setattr__(self, "origin", frozen_floats(self.origin, (3,), name="origin"))
        object.__setattr__(self, "normal", frozen_floats(self.normal, (3,), name="normal"))

    def offsets(self, points: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return signed distances from the plane, outside positive, and unit gradients."""
        off = (points - self.origin) @ self.normal
        return np.asarray(off), np.broadcast_to(self.normal, points.shape)

    def layer_mm(self, within: float) -> float | None:
        """Return the height of a plane that lies in a layer, or None for any other."""
        return float(self.origin[2]) if abs(abs(self.normal[2]) - 1.0) < within else None
