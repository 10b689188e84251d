"""What layers are held against."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from wingpath.core.arrays import BoolArray, FloatArray

__all__ = ["Limits"]

TOLD_MM = 5e-4
"""Widths are told to thousandths, so one that is typed as it was told may be this much larger [mm]."""


@dataclass(frozen=True, slots=True)
class Limits:
    """What layers are held against.

    Parameters
    ----------
    bond_mm : float
        Widest gap between two beads that they bridge [mm].
    overhang_deg : float
        Steepest lean from the vertical that prints well [deg].
    bridge_mm : float
        Longest piece of bead that may hang in the air [mm].
    """

    bond_mm: float
    overhang_deg: float = 45.0
    bridge_mm: float = 5.0

    def fuse(self, gap_mm: FloatArray | float) -> BoolArray:
        """Return whether beads so far apart fuse; the limit as it is told still does."""
        return np.asarray(np.asarray(gap_mm) <= self.bond_mm + TOLD_MM)
