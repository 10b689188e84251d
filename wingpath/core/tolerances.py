"""Named tolerances: value, unit, reason. No other file invents one."""

from __future__ import annotations

__all__ = [
    "AREA_NOISE_MM2",
    "GEOMETRY_EPS_MM",
    "LAYER_SIMPLIFY_MM",
    "WELD_MM",
]

GEOMETRY_EPS_MM = 1e-6
"""Two lengths closer than this are the same: a thousandth of what any printer resolves [mm]."""

WELD_MM = 1e-5
"""Vertices of a stranger's mesh closer than this are one: float32 at 300 mm resolves 3e-5 [mm].
Only exact duplicates are merged in files we wrote ourselves."""

LAYER_SIMPLIFY_MM = 0.003
"""A layer outline may move by this much when collinear points are dropped: below the step of any
printer's motors, above the chord error of 161 points a side [mm]."""

AREA_NOISE_MM2 = 1e-4
"""A region smaller than this is rounding, not plastic: a bead end is a thousand times larger [mm2]."""
