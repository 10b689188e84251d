"""The cases a wing is reckoned for: level flight, pull-up, gust, aileron, landing."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import ArrayLike

from wingpath.core.arrays import FloatArray, frozen_floats
from wingpath.core.errors import InputError
from wingpath.structure.atmosphere import NEWTON_PER_G, SEA_LEVEL, Air, stall_speed_m_s
from wingpath.structure.gust import gust_factor, wing_lift_slope
from wingpath.structure.lift import aileron_lift, basic_lift, lift_loads, moment_couples
from wingpath.structure.planform import Planform
from wingpath.structure.strip_loads import StripLoads, no_loads
from wingpath.structure.thin_airfoil import FlapEffect

__all__ = [
    "AileronThrow",
    "FlightLimits",
    "LoadCase",
    "LoadedWing",
    "flight_loads",
    "inertia_loads",
    "load_cases",
]

AILERON_FACTOR_SHARE = 2.0 / 3.0
"""Share of the limit load factor with the ailerons over: 14 CFR 23.349 (text of 2014), from memory."""

FAST_THROW_SHARE = 1.0 / 3.0
"""Share of the ailerons' throw at the highest speed: 14 CFR 23.455 (text of 2014), from memory."""


@dataclass(frozen=True, slots=True)
class FlightLimits:
    """What the aircraft is asked to bear.

    Parameters
    ----------
    all_up_mass_g : float
        Mass of the whole aircraft [g].
    load_factor : float
        Limit load factor, in multiples of the weight.
    max_speed_m_s : float
        Highest speed flown [m/s].
    max_lift_coefficient : float
        Lift coefficient at the stall.
    gust_m_s : float
        Speed of a sharp vertical gust at the highest speed [m/s].
    landing_factor : float
        Factor of a hard landing or a hand launch, in multiples of the weight.
    air : Air
        The air it flies in.
    """

    all_up_mass_g: float
    load_factor: float
    max_speed_m_s: float
    max_lift_coefficient: float
    gust_m_s: float
    landing_factor: float
    air: Air = SEA_LEVEL


@dataclass(frozen=True, slots=True)
class AileronThrow:
    """An aileron and how far it goes.

    Parameters
    ----------
    from_mm, to_mm : float
        Its ends along the span [mm].
    down_deg, up_deg : float
        Throw of its trailing edge down and up, both 0 or more [deg].
    flap : FlapEffect
        What it does to its section.
    """

    from_mm: float
    to_mm: float
    down_deg: float
    up_deg: float
    flap: FlapEffect


@dataclass(frozen=True, slots=True, eq=False)
class LoadedWing:
    """The half wing as the loads see it.

    Parameters
    ----------
    planform : Planform
        Its outline from above.
    edges_mm : array_like, shape (k + 1,)
        Edges of the strips from root to tip [mm].
    incidence_deg : array_like, shape (n,)
        At the stations of the planform, twist less zero-lift angle [deg].
    moment_coefficient : array_like, shape (n,)
        Of the sections there, about the quarter chord, nose-up positive.
    strip_mass_g, mass_z_mm, mass_x_mm : array_like, shape (k,)
        Mass of the half wing in each strip and its centre [g, mm].
    """

    planform: Planform
    edges_mm: FloatArray
    incidence_deg: FloatArray
    moment_coefficient: FloatArray
    strip_mass_g: FloatArray
    mass_z_mm: FloatArray
    mass_x_mm: FloatArray

    def __post_init__(self) -> None:
        edges = frozen_floats(self.edges_mm, (None,), name="edges_mm")
        object.__setattr__(self, "edges_mm", edges)
        for name in ("incidence_deg", "moment_coefficient"):
            shape = self.planform.z_mm.shape
            object.__setattr__(self, name, frozen_floats(getattr(self, name), shape, name=name))
        for name in ("strip_mass_g", "mass_z_mm", "mass_x_mm"):
            object.__setattr__(self, name, frozen_floats(getattr(self, name), (len(edges) - 1,), name=name))

    def inertia(self, factor: float) -> StripLoads:
        """Return what the wing's own mass does under a load factor; see :func:`inertia_loads`."""
        return inertia_loads(
            self.edges_mm, self.strip_mass_g, z_mm=self.mass_z_mm, x_mm=self.mass_x_mm, factor=factor
        )


@dataclass(frozen=True, slots=True, eq=False)
class LoadCase:
    """One case: what pulls the half wing up, and what holds it down.

    Parameters
    ----------
    name : str
        Which one it is.
    factor : float
        Load factor, in multiples of the weight.
    speed_m_s : float
        Speed; 0 on the ground [m/s].
    lift_coefficient : float
        Lift coefficient of the wing; over the greatest one, the wing stalls before it bears the case.
    lift : StripLoads
        Air loads without ailerons; they sum to half of factor x weight, or to 0 on the ground.
    inertia : StripLoads
        The wing's own mass under the factor.
    control : StripLoads
        What an aileron adds on this half wing.
    """

    name: str
    factor: float
    speed_m_s: float
    lift_coefficient: float
    lift: StripLoads
    inertia: StripLoads
    control: StripLoads = field(repr=False)

    @property
    def loads(self) -> StripLoads:
        """Everything together."""
        return self.lift.plus(self.control).plus(self.inertia)


def inertia_loads(
    edges_mm: ArrayLike, mass_g: ArrayLike, *, z_mm: ArrayLike, x_mm: ArrayLike, factor: float
) -> StripLoads:
    """Return the forces of a wing's own mass under a load factor: ``n m g`` downward.

    Parameters
    ----------
    edges_mm : array_like, shape (k + 1,)
        Edges of the strips [mm].
    mass_g : array_like, shape (k,)
        Mass in each strip, 0 or more [g].
    z_mm, x_mm : array_like, shape (k,)
        Where it is [mm].
    factor : float
        Load factor, upward positive.

    Raises
    ------
    InputError
        When a mass is below 0.
    """
    mass = np.asarray(mass_g, dtype=np.float64)
    if (mass < 0.0).any():
        raise InputError(f"mass_g: got {mass.min():g} g in a strip; allowed: 0 or more; check the masses")
    return StripLoads(
        np.asarray(edges_mm, dtype=np.float64),
        -factor * NEWTON_PER_G * mass,
        np.asarray(z_mm, dtype=np.float64),
        np.asarray(x_mm, dtype=np.float64),
        np.zeros(len(mass)),
    )


def flight_loads(
    wing: LoadedWing, *, all_up_mass_g: float, factor: float, speed_m_s: float, air: Air
) -> StripLoads:
    """Return the air loads of a half wing that bears half of a load factor times the weight.

    Parameters
    ----------
    wing : LoadedWing
        The half wing.
    all_up_mass_g, factor : float
        Mass of the whole aircraft [g] and load factor.
    speed_m_s : float
        Speed [m/s].
    air : Air
        The air.

    Notes
    -----
    Schrenk's spread, what twist moves along the span, and the couples of the sections. The tail is taken to
    bear nothing.
    """
    pressure = air.dynamic_pressure_pa(speed_m_s)
    half_lift = 0.5 * factor * all_up_mass_g * NEWTON_PER_G
    plan, edges = wing.planform, wing.edges_mm
    lift = lift_loads(plan, edges, half_lift_n=half_lift)
    twist = basic_lift(plan, edges, wing.incidence_deg, dynamic_pressure_pa=pressure)
    couples = moment_couples(plan, edges, wing.moment_coefficient, dynamic_pressure_pa=pressure)
    return lift.plus(twist).plus(couples)


def load_cases(
    wing: LoadedWing, limits: FlightLimits, ailerons: tuple[AileronThrow, ...] = ()
) -> tuple[LoadCase, ...]:
    """Return the cases of a half wing.

    Parameters
    ----------
    wing : LoadedWing
        The half wing.
    limits : FlightLimits
        What it is asked to bear.
    ailerons : tuple of AileronThrow
        Those of this half wing; none leaves their cases out.

    Returns
    -------
    tuple of LoadCase
        ``level``, ``limit`` at the highest speed, ``limit slow`` at the lowest speed that bears it if that
        is lower, ``gust up`` and ``gust down``, ``aileron down`` and ``aileron up``, the same ``fast`` if the
        lowest speed is lower, ``landing``.

    Notes
    -----
    At the highest speed the couples of the sections twist most, at the lowest the lift alone does: both
    ends of the limit are there. The ailerons go over fully at the latter, and by a third of their throw at
    the highest speed, both at two thirds of the limit load factor, as rules for full-size aircraft ask;
    nothing but the pilot keeps a model from more. Roll inertia and damping, which relieve, are left out.
    On landing the wing's own mass bends it down and there is no lift; a hand launch is the same with its own
    factor.
    """
    plan, air, fast = wing.planform, limits.air, limits.max_speed_m_s
    weight = limits.all_up_mass_g * NEWTON_PER_G
    nothing = no_loads(wing.edges_mm)

    def flown(name: str, factor: float, speed: float, control: StripLoads = nothing) -> LoadCase:
        lift = flight_loads(wing, all_up_mass_g=limits.all_up_mass_g, factor=factor, speed_m_s=speed, air=air)
        coefficient = factor * weight / (air.dynamic_pressure_pa(speed) * plan.area_mm2 * 1e-6)
        return LoadCase(name, factor, speed, coefficient, lift, wing.inertia(factor), control)

    cases = [flown("level", 1.0, fast), flown("limit", limits.load_factor, fast)]
    slow = stall_speed_m_s(
        mass_g=limits.load_factor * limits.all_up_mass_g,
        area_mm2=plan.area_mm2,
        max_lift_coefficient=limits.max_lift_coefficient,
        density_kg_m3=air.density_kg_m3,
    )
    if slow < fast:
        cases.append(flown("limit slow", limits.load_factor, slow))
    for name, gust in (("gust up", limits.gust_m_s), ("gust down", -limits.gust_m_s)):
        factor = gust_factor(
            mass_g=limits.all_up_mass_g,
            area_mm2=plan.area_mm2,
            chord_mm=plan.geometric_mean_chord_mm,
            slope_per_rad=wing_lift_slope(plan.aspect_ratio),
            speed_m_s=fast,
            gust_m_s=gust,
            density_kg_m3=air.density_kg_m3,
        )
        cases.append(flown(name, factor, fast))
    if ailerons:
        turned = AILERON_FACTOR_SHARE * limits.load_factor
        speeds = [("", 1.0, min(slow, fast))]
        if slow < fast:
            speeds.append((" fast", FAST_THROW_SHARE, fast))
        for tail, share, speed in speeds:
            down = _control(wing, ailerons, [share * throw.down_deg for throw in ailerons], air, speed)
            up = _control(wing, ailerons, [-share * throw.up_deg for throw in ailerons], air, speed)
            cases.append(flown(f"aileron down{tail}", turned, speed, down))
            cases.append(flown(f"aileron up{tail}", turned, speed, up))
    hard = limits.landing_factor
    cases.append(LoadCase("landing", hard, 0.0, 0.0, nothing, wing.inertia(hard), nothing))
    return tuple(cases)


def _control(
    wing: LoadedWing, ailerons: tuple[AileronThrow, ...], angles_deg: list[float], air: Air, speed_m_s: float
) -> StripLoads:
    loads = no_loads(wing.edges_mm)
    for throw, angle in zip(ailerons, angles_deg, strict=True):
        more = aileron_lift(
            wing.planform,
            wing.edges_mm,
            from_mm=throw.from_mm,
            to_mm=throw.to_mm,
            deflection_deg=angle,
            flap=throw.flap,
            dynamic_pressure_pa=air.dynamic_pressure_pa(speed_m_s),
        )
        loads = loads.plus(more)
    return loads
