"""The air a model flies in, and what follows from it: stall speed, wing loading, Reynolds number."""

from __future__ import annotations

import math
from dataclasses import dataclass

from wingpath.core.errors import InputError
from wingpath.core.units import GRAVITY_M_S2, MM2_PER_DM2

__all__ = [
    "NEWTON_PER_G",
    "SEA_LEVEL",
    "Air",
    "reynolds_number",
    "stall_speed_m_s",
    "standard_air",
    "wing_loading_g_dm2",
]

NEWTON_PER_G = GRAVITY_M_S2 * 1e-3
"""Weight of a gram [N]."""

TEMPERATURE_K = 288.15
"""At sea level: ISO 2533, from memory; so are the six values below [K]."""

PRESSURE_PA = 101325.0
"""At sea level [Pa]."""

LAPSE_K_M = 6.5e-3
"""Fall of the temperature with height, up to 11 km [K/m]."""

GAS_J_KG_K = 287.05287
"""Gas constant of air [J/(kg K)]."""

HEAT_RATIO = 1.4
"""Ratio of the specific heats of air."""

SUTHERLAND_KG = 1.458e-6
"""Factor of Sutherland's law for air [kg/(m s sqrt(K))]."""

SUTHERLAND_K = 110.4
"""Temperature of Sutherland's law for air [K]."""

LOWEST_M = -1000.0
HIGHEST_M = 11_000.0
"""Geopotential heights between which the temperature falls evenly; the standard goes deeper [m]."""

M2_PER_MM2 = 1e-6
M_PER_MM = 1e-3


@dataclass(frozen=True, slots=True)
class Air:
    """Air at rest.

    Parameters
    ----------
    temperature_k, pressure_pa, density_kg_m3 : float
        Its state [K, Pa, kg/m3].
    viscosity_pa_s : float
        Dynamic viscosity [Pa s].
    sound_m_s : float
        Speed of sound [m/s].
    """

    temperature_k: float
    pressure_pa: float
    density_kg_m3: float
    viscosity_pa_s: float
    sound_m_s: float

    def dynamic_pressure_pa(self, speed_m_s: float) -> float:
        """Return ``rho V^2 / 2`` [Pa]."""
        return 0.5 * self.density_kg_m3 * speed_m_s**2


def standard_air(altitude_m: float = 0.0) -> Air:
    """Return the air of the International Standard Atmosphere.

    Parameters
    ----------
    altitude_m : float
        Geopotential height above sea level, -1000 to 11 000 [m].

    Raises
    ------
    InputError
        Outside that range.

    Notes
    -----
    ``T = 288.15 - 0.0065 h``, ``p = p0 (T / T0)^(g / (R 0.0065))``, ``rho = p / (R T)``, viscosity by
    Sutherland, ``mu = 1.458e-6 T^1.5 / (T + 110.4)``, ``a = sqrt(1.4 R T)``: ISO 2533 and US Standard
    Atmosphere 1976, which agree up to 11 km.
    """
    if not LOWEST_M <= altitude_m <= HIGHEST_M:
        raise InputError(
            f"altitude: got {altitude_m:g} m; allowed: {LOWEST_M:g} to {HIGHEST_M:g} m above sea level"
        )
    temperature = TEMPERATURE_K - LAPSE_K_M * altitude_m
    exponent = GRAVITY_M_S2 / (GAS_J_KG_K * LAPSE_K_M)
    pressure = PRESSURE_PA * (temperature / TEMPERATURE_K) ** exponent
    return Air(
        temperature_k=temperature,
        pressure_pa=pressure,
        density_kg_m3=pressure / (GAS_J_KG_K * temperature),
        viscosity_pa_s=SUTHERLAND_KG * temperature**1.5 / (temperature + SUTHERLAND_K),
        sound_m_s=math.sqrt(HEAT_RATIO * GAS_J_KG_K * temperature),
    )


SEA_LEVEL = standard_air(0.0)
"""Standard air at sea level."""


def stall_speed_m_s(
    *,
    mass_g: float,
    area_mm2: float,
    max_lift_coefficient: float,
    density_kg_m3: float = SEA_LEVEL.density_kg_m3,
) -> float:
    """Return the lowest speed at which the wing bears the aircraft, ``sqrt(2 m g / (rho S C_L))`` [m/s].

    Parameters
    ----------
    mass_g : float
        Mass of the whole aircraft [g]; times a load factor for the stall in a turn or a pull-up.
    area_mm2 : float
        Area of both half wings [mm2].
    max_lift_coefficient : float
        Lift coefficient at the stall.
    density_kg_m3 : float
        Density of the air [kg/m3].
    """
    weight = mass_g * NEWTON_PER_G
    return math.sqrt(2.0 * weight / (density_kg_m3 * area_mm2 * M2_PER_MM2 * max_lift_coefficient))


def wing_loading_g_dm2(*, mass_g: float, area_mm2: float) -> float:
    """Return mass over wing area, both halves [g/dm2]."""
    return mass_g / area_mm2 * MM2_PER_DM2


def reynolds_number(*, speed_m_s: float, chord_mm: float, air: Air = SEA_LEVEL) -> float:
    """Return the Reynolds number of a chord, ``rho V c / mu``.

    Parameters
    ----------
    speed_m_s : float
        Speed [m/s].
    chord_mm : float
        Chord [mm].
    air : Air
        The air.
    """
    return air.density_kg_m3 * speed_m_s * chord_mm * M_PER_MM / air.viscosity_pa_s
