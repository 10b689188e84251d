"""The strip that is bent: stiffness from the droop of a clamped strip under a mass hung on its end."""

from __future__ import annotations

import math

from scipy.optimize import brentq
from scipy.special import ellipe, ellipeinc, ellipk, ellipkinc

from wingpath.core.errors import InputError
from wingpath.core.units import GRAVITY_M_S2
from wingpath.model.measurements import MOST_DROOP_SHARE

__all__ = [
    "droop_share_of_load",
    "load_of_droop_share",
    "modulus_from_droop_mpa",
    "second_moment_mm4",
]

STEEPEST_RAD = math.radians(89.9)
"""Steepest slope of the strip's end that is looked for [rad]."""


def second_moment_mm4(*, height_mm: float, thickness_mm: float) -> float:
    """Return the second moment of area of a strip bent flatwise, ``b t^3 / 12`` [mm4].

    Parameters
    ----------
    height_mm, thickness_mm : float
        Width b of the strip across the bend, and its thickness t in the plane of the bend [mm].
    """
    return height_mm * thickness_mm**3 / 12.0


def _elastica(slope_rad: float) -> tuple[float, float]:
    """Return load and droop of a cantilever whose end slopes by `slope_rad`."""
    squared = 0.5 * (1.0 + math.sin(slope_rad))
    begin = math.asin(1.0 / math.sqrt(2.0 * squared))
    root = float(ellipk(squared) - ellipkinc(begin, squared))
    droop = 1.0 - 2.0 / root * float(ellipe(squared) - ellipeinc(begin, squared))
    return root**2, droop


def load_of_droop_share(share: float) -> float:
    """Return the load of a cantilever, ``F L^2 / (E I)``, at which its end droops by `share` of its length.

    Parameters
    ----------
    share : float
        Droop over free length, over 0 and at most a half, where the strip creeps and the clamp gives.

    Raises
    ------
    InputError
        Outside that range.

    Notes
    -----
    The exact curve of a thin strip that does not stretch, under an end load that stays vertical, by elliptic
    integrals: K. E. Bisshopp, D. C. Drucker, *Large deflection of cantilever beams*, Quarterly of Applied
    Mathematics 3 (1945) 272-275. For small droops it is ``3 x share``, the textbook's
    ``droop = F L^3 / (3 E I)``, which makes
    the strip 1 per cent too stiff at a share of 0.1 and 7 per cent at 0.25.
    """
    if not 0.0 < share <= MOST_DROOP_SHARE:
        raise InputError(
            f"droop: got {share:.3g} of the free length; allowed: over 0 to {MOST_DROOP_SHARE:g}. "
            "Hang a lighter mass, or clamp the strip shorter"
        )
    # under this the integrals cancel each other to rounding, and the small formula is exact
    if share < 1e-4:
        return 3.0 * share
    slope = brentq(lambda angle: _elastica(angle)[1] - share, 1e-6, STEEPEST_RAD, xtol=1e-14)
    return _elastica(slope)[0]


def droop_share_of_load(load: float) -> float:
    """Return droop over free length for a load ``F L^2 / (E I)`` of at most 10; see above."""
    if load < 3e-4:
        return load / 3.0
    slope = brentq(lambda angle: _elastica(angle)[0] - load, 1e-6, STEEPEST_RAD, xtol=1e-14)
    return _elastica(slope)[1]


def modulus_from_droop_mpa(
    *, mass_g: float, length_mm: float, droop_mm: float, height_mm: float, thickness_mm: float
) -> float:
    """Return the modulus of a strip [MPa].

    Parameters
    ----------
    mass_g : float
        Mass hung on the end [g].
    length_mm : float
        Free length from the clamp to the mass [mm].
    droop_mm : float
        How much lower the end hangs with the mass than without [mm].
    height_mm, thickness_mm : float
        Section of the strip, bent over its thickness [mm].

    Raises
    ------
    InputError
        When the droop is more than half the free length.

    Notes
    -----
    ``E = F L^2 / (a I)`` with ``F = m g``, ``I = b t^3 / 12`` and the load ``a`` of
    :func:`load_of_droop_share`; for small droops ``E = F L^3 / (3 I droop)``. Shear is left out: it adds
    ``3 E t^2 / (10 G L^2)``, under 0.1 per cent for the strip of the coupon.
    """
    force_n = mass_g * 1e-3 * GRAVITY_M_S2
    inertia = second_moment_mm4(height_mm=height_mm, thickness_mm=thickness_mm)
    return force_n * length_mm**2 / (load_of_droop_share(droop_mm / length_mm) * inertia)
