"""Conversion factors; inside, everything is mm, g, s, N, MPa and degrees."""

from __future__ import annotations

__all__ = ["GRAVITY_M_S2", "MM2_PER_DM2", "MM3_PER_CM3", "MM_PER_UNIT", "N_M2_PER_N_MM2", "S_PER_MIN"]

MM_PER_UNIT: dict[str, float] = {
    "micron": 1e-3,
    "millimeter": 1.0,
    "centimeter": 10.0,
    "inch": 25.4,
    "foot": 304.8,
    "meter": 1000.0,
}
"""Millimetres in one of each length unit that a 3MF file may name."""

GRAVITY_M_S2 = 9.80665
"""Standard acceleration of free fall (3rd General Conference on Weights and Measures, 1901) [m/s2]."""

MM2_PER_DM2 = 10_000.0
MM3_PER_CM3 = 1000.0
N_M2_PER_N_MM2 = 1e-6
S_PER_MIN = 60.0
