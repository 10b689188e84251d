"""How much more lift a vertical gust brings, and the lift slope of a wing of finite span."""

from __future__ import annotations

import math

from wingpath.core.units import GRAVITY_M_S2
from wingpath.structure.atmosphere import NEWTON_PER_G
from wingpath.structure.thin_airfoil import THIN_LIFT_SLOPE

__all__ = ["gust_factor", "wing_lift_slope"]

GUST_ALLEVIATION = 0.88
"""Alleviation factor of a heavy aircraft in a gust: K. G. Pratt's formula, as in 14 CFR 23.341 (text of
2014), from memory; so is the next value."""

GUST_MASS_RATIO = 5.3
"""Mass ratio at which the alleviation is half that of a heavy aircraft."""


def wing_lift_slope(aspect_ratio: float, *, section_slope_per_rad: float = THIN_LIFT_SLOPE) -> float:
    """Return the lift slope of a straight wing [1/rad].

    Parameters
    ----------
    aspect_ratio : float
        Span squared over area.
    section_slope_per_rad : float
        That of its sections [1/rad].

    Notes
    -----
    ``a = a0 A / (sqrt(A^2 + (a0/pi)^2) + a0/pi)``, with a0 = 2 pi ``2 pi A / (2 + sqrt(A^2 + 4))``:
    H. B. Helmbold (1942), from memory; the DATCOM formula becomes the same without sweep and Mach number.
    """
    induced = section_slope_per_rad / math.pi
    return section_slope_per_rad * aspect_ratio / (math.hypot(aspect_ratio, induced) + induced)


def gust_factor(
    *,
    mass_g: float,
    area_mm2: float,
    chord_mm: float,
    slope_per_rad: float,
    speed_m_s: float,
    gust_m_s: float,
    density_kg_m3: float,
) -> float:
    """Return the load factor in a vertical gust.

    Parameters
    ----------
    mass_g : float
        Mass of the whole aircraft [g].
    area_mm2, chord_mm : float
        Area of both half wings [mm2] and their geometric mean chord [mm].
    slope_per_rad : float
        Lift slope of the wing [1/rad].
    speed_m_s, gust_m_s : float
        Speed, and that of the gust, upward positive [m/s].
    density_kg_m3 : float
        Density of the air [kg/m3].

    Notes
    -----
    ``n = 1 + K rho U V a S / (2 W)``, ``K = 0.88 m / (5.3 + m)``, ``m = 2 (W/S) / (rho c a g)``: Pratt's
    formula, 14 CFR 23.341 (text of 2014), from memory. It was made for full-size aircraft; a gust as wide as
    25 chords is a few metres here. Nothing says that the wing can bear so much lift before it stalls.
    """
    loading = mass_g * NEWTON_PER_G / (area_mm2 * 1e-6)
    ratio = 2.0 * loading / (density_kg_m3 * chord_mm * 1e-3 * slope_per_rad * GRAVITY_M_S2)
    alleviation = GUST_ALLEVIATION * ratio / (GUST_MASS_RATIO + ratio)
    return 1.0 + alleviation * density_kg_m3 * gust_m_s * speed_m_s * slope_per_rad / (2.0 * loading)
