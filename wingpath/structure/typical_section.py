"""The typical section: one stiff strip on a torsion spring, the textbook's wing."""

from __future__ import annotations

import math

from wingpath.core.errors import InputError
from wingpath.structure.thin_airfoil import THIN_LIFT_SLOPE, FlapEffect

__all__ = [
    "PA_PER_MPA",
    "section_divergence_m_s",
    "section_effectiveness",
    "section_reversal_m_s",
    "speed_of_pressure_m_s",
    "uniform_wing_divergence_m_s",
]

PA_PER_MPA = 1e6


def speed_of_pressure_m_s(pressure_mpa: float, density_kg_m3: float) -> float:
    """Return the speed with a dynamic pressure, ``sqrt(2 q / rho)`` [m/s]; infinite for an infinite one."""
    return math.sqrt(2.0 * pressure_mpa * PA_PER_MPA / density_kg_m3)


def section_divergence_m_s(
    *,
    stiffness_n_mm: float,
    area_mm2: float,
    arm_mm: float,
    density_kg_m3: float,
    slope_per_rad: float = THIN_LIFT_SLOPE,
) -> float:
    """Return the speed at which a section on a spring twists off, ``sqrt(2 K / (rho S e a))`` [m/s].

    Infinite when the lift acts on or behind the axis.

    Parameters
    ----------
    stiffness_n_mm : float
        Stiffness K of the spring against twist [N mm/rad].
    area_mm2, arm_mm : float
        Area S [mm2], and how far e ahead of the axis the lift acts [mm].
    density_kg_m3 : float
        Density of the air [kg/m3].
    slope_per_rad : float
        Lift slope a [1/rad].

    Notes
    -----
    T. H. G. Megson, *Aircraft Structures*, ch. 13 of the 3rd edition.
    """
    if arm_mm <= 0.0:
        return math.inf
    return speed_of_pressure_m_s(stiffness_n_mm / (area_mm2 * arm_mm * slope_per_rad), density_kg_m3)


def section_reversal_m_s(
    *,
    stiffness_n_mm: float,
    area_mm2: float,
    chord_mm: float,
    flap: FlapEffect,
    density_kg_m3: float,
    slope_per_rad: float = THIN_LIFT_SLOPE,
) -> float:
    """Return the speed at which an aileron on a section on a spring does nothing [m/s].

    Parameters
    ----------
    stiffness_n_mm : float
        Stiffness K of the spring against twist [N mm/rad].
    area_mm2, chord_mm : float
        Area S [mm2] and chord c [mm].
    flap : FlapEffect
        What the aileron does.
    density_kg_m3, slope_per_rad : float
        Density of the air [kg/m3] and lift slope a [1/rad].

    Raises
    ------
    InputError
        When the flap does not turn the section nose-down.

    Notes
    -----
    ``sqrt(-2 K cl / (rho S c cm a))``, wherever the axis is: Megson, as above, eqs. 13.15-13.22.
    """
    if flap.moment_per_rad >= 0.0 or flap.lift_per_rad <= 0.0:
        raise InputError(
            f"flap: got a lift of {flap.lift_per_rad:g} and a moment of {flap.moment_per_rad:g} per radian; "
            "allowed: a lift over 0 and a moment below 0"
        )
    softness = -area_mm2 * chord_mm * flap.moment_per_rad * slope_per_rad
    return speed_of_pressure_m_s(stiffness_n_mm * flap.lift_per_rad / softness, density_kg_m3)


def section_effectiveness(*, speed_m_s: float, divergence_m_s: float, reversal_m_s: float) -> float:
    """Return how much an aileron does on a section that twists, as a share of a stiff one's.

    Parameters
    ----------
    speed_m_s : float
        Speed, below that of divergence [m/s].
    divergence_m_s, reversal_m_s : float
        Speeds of divergence and of reversal [m/s].

    Raises
    ------
    InputError
        At and above the speed of divergence.

    Notes
    -----
    ``(1 - V^2/V_r^2) / (1 - V^2/V_d^2)``: Megson, as above.
    """
    if not speed_m_s < divergence_m_s:
        raise InputError(
            f"speed: got {speed_m_s:g} m/s; allowed: below the speed of divergence, {divergence_m_s:g} m/s"
        )
    return (1.0 - (speed_m_s / reversal_m_s) ** 2) / (1.0 - (speed_m_s / divergence_m_s) ** 2)


def uniform_wing_divergence_m_s(
    *,
    gj_n_mm2: float,
    semi_span_mm: float,
    chord_mm: float,
    arm_mm: float,
    density_kg_m3: float,
    slope_per_rad: float = THIN_LIFT_SLOPE,
) -> float:
    """Return the divergence speed of a wing of even chord and stiffness, by strip theory [m/s].

    Infinite when the lift acts on or behind the axis.

    Parameters
    ----------
    gj_n_mm2 : float
        Torsional stiffness [N mm2].
    semi_span_mm, chord_mm, arm_mm : float
        Half span s, chord c, and how far e ahead of the axis the lift acts [mm].
    density_kg_m3, slope_per_rad : float
        Density of the air [kg/m3] and lift slope a [1/rad].

    Notes
    -----
    ``sqrt(pi^2 GJ / (2 rho e c s^2 a))`` with the arm as a length: Megson, *Introduction to Aircraft
    Structural Analysis*, eq. 29.11.
    """
    if arm_mm <= 0.0:
        return math.inf
    pressure = (0.5 * math.pi / semi_span_mm) ** 2 * gj_n_mm2 / (arm_mm * chord_mm * slope_per_rad)
    return speed_of_pressure_m_s(pressure, density_kg_m3)
