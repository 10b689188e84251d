"""What layers are held against."""

from __future__ import annotations

from dataclasses import dataclass

__all__ = ["Limits"]


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
