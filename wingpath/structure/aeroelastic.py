"""Twist by air loads: divergence, and what it takes from the ailerons, by strip theory."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy import linalg

from wingpath.core.arrays import FloatArray, frozen_floats
from wingpath.core.errors import InputError
from wingpath.structure.atmosphere import SEA_LEVEL
from wingpath.structure.planform import Planform, strip_integrals
from wingpath.structure.strip_loads import Axis, axis_at_mm
from wingpath.structure.thin_airfoil import THIN_LIFT_SLOPE, FlapEffect
from wingpath.structure.typical_section import PA_PER_MPA, speed_of_pressure_m_s

__all__ = [
    "AeroStrips",
    "aero_strips",
    "aileron_effectiveness",
    "covered_shares",
    "divergence_speed_m_s",
    "reversal_speed_m_s",
    "torsion_flexibility_deg_per_n_mm",
]

REAL_SHARE = 1e-6
"""An eigenvalue is real when its imaginary part is below this share of the greatest one: rounding makes
pairs of less, flutter-like pairs have more."""

NOTHING_SHARE = 1e-12
"""Eigenvalues below this share of the greatest possible are rounding: no speed belongs to them."""


@dataclass(frozen=True, slots=True, eq=False)
class AeroStrips:
    """Strips of a half wing on which air acts, each stiff in itself.

    Parameters
    ----------
    z_mm : array_like, shape (k,)
        Where along the span each strip's lift acts [mm].
    area_mm2, chord_mm : array_like, shape (k,)
        Their areas [mm2] and their chords, area-weighted [mm].
    arm_mm : array_like, shape (k,)
        How far ahead of the twist axis the quarter chord lies, negative behind it [mm].
    """

    z_mm: FloatArray
    area_mm2: FloatArray
    chord_mm: FloatArray
    arm_mm: FloatArray

    def __post_init__(self) -> None:
        z = frozen_floats(self.z_mm, (None,), name="z_mm")
        object.__setattr__(self, "z_mm", z)
        for name in ("area_mm2", "chord_mm", "arm_mm"):
            object.__setattr__(self, name, frozen_floats(getattr(self, name), z.shape, name=name))


def aero_strips(planform: Planform, edges_mm: ArrayLike, axis_mm: Axis) -> AeroStrips:
    """Return the strips of a planform.

    Parameters
    ----------
    planform : Planform
        The half wing.
    edges_mm : array_like, shape (k + 1,)
        Edges of the strips [mm].
    axis_mm : float or callable
        Place of the twist axis aft of the root's leading edge, or a function of z that gives it [mm].

    Raises
    ------
    InputError
        When a strip has no area.
    """
    area = planform.strip_areas_mm2(edges_mm)
    if (area <= 0.0).any():
        raise InputError("edges_mm: got a strip without area; allowed: strips with a chord; end them sooner")
    z = planform.strip_moments_mm3(edges_mm) / area
    squares = strip_integrals(edges_mm, planform.z_mm, lambda at: planform.chord_at_mm(at) ** 2)
    arm = axis_at_mm(axis_mm, z) - planform.quarter_chord_at_mm(z)
    return AeroStrips(z_mm=z, area_mm2=area, chord_mm=squares / area, arm_mm=arm)


def covered_shares(planform: Planform, edges_mm: ArrayLike, *, from_mm: float, to_mm: float) -> FloatArray:
    """Return how much of each strip's area lies between two places, shape (k,).

    Parameters
    ----------
    planform : Planform
        The half wing.
    edges_mm : array_like, shape (k + 1,)
        Edges of the strips [mm].
    from_mm, to_mm : float
        Ends of the stretch [mm].
    """
    breaks = np.concatenate([planform.z_mm, [from_mm, to_mm]])

    def chord(z: FloatArray) -> FloatArray:
        return np.where((z > from_mm) & (z < to_mm), planform.chord_at_mm(z), 0.0)

    inside = strip_integrals(edges_mm, breaks, chord)
    area = planform.strip_areas_mm2(edges_mm)
    return np.divide(inside, area, out=np.zeros_like(area), where=area > 0.0)


def torsion_flexibility_deg_per_n_mm(
    z_mm: ArrayLike, station_mm: ArrayLike, gj_n_mm2: ArrayLike
) -> FloatArray:
    """Return how a wing clamped at the root twists, shape (k, k) [deg/(N mm)].

    Entry i, j is the twist at place i for a unit couple at place j: the integral of ``1 / GJ`` from the root
    to the nearer of the two. Any other stiffness model may give such an array instead.

    Parameters
    ----------
    z_mm : array_like, shape (k,)
        Places along the span [mm].
    station_mm, gj_n_mm2 : array_like, shape (n,)
        Places from the root outward [mm], and the torsional stiffness there [N mm2]; straight between,
        constant beyond the ends.

    Raises
    ------
    InputError
        When the stations do not rise or a stiffness is not over 0.
    """
    place = frozen_floats(station_mm, (None,), name="station_mm")
    stiffness = frozen_floats(gj_n_mm2, place.shape, name="gj_n_mm2")
    if (np.diff(place) <= 0.0).any() or (stiffness <= 0.0).any():
        raise InputError("GJ: got stations that do not rise or a stiffness of 0; allowed: rising, over 0")
    z = frozen_floats(z_mm, (None,), name="z_mm")
    ends = np.union1d(np.union1d(place, z), [0.0])
    at_ends = np.interp(ends, place, stiffness)
    lower, step = at_ends[:-1], np.diff(at_ends)
    # integral of 1/GJ for a straight GJ: length x ln(1 + r) / r / GJ, where r is its rise over itself
    rise = step / lower
    bent = np.abs(rise) > 1e-8
    mean = np.divide(np.log1p(rise), rise, out=1.0 - 0.5 * rise, where=bent)
    way = np.concatenate([[0.0], np.cumsum(np.diff(ends) / lower * mean)])
    way = way - np.interp(0.0, ends, way)
    twist = np.interp(z, ends, way)
    return np.asarray(np.degrees(np.minimum.outer(twist, twist)))


def divergence_speed_m_s(
    strips: AeroStrips,
    flexibility_deg_per_n_mm: ArrayLike,
    *,
    slope_per_rad: float = THIN_LIFT_SLOPE,
    density_kg_m3: float = SEA_LEVEL.density_kg_m3,
) -> float:
    """Return the speed at which the wing twists off [m/s]; infinite when there is none.

    Parameters
    ----------
    strips : AeroStrips
        The strips.
    flexibility_deg_per_n_mm : array_like, shape (k, k)
        Twist of strip i for a unit nose-up couple on strip j [deg/(N mm)].
    slope_per_rad : float
        Lift slope a of the strips; the plane one gives the lowest speed [1/rad].
    density_kg_m3 : float
        Density of the air [kg/m3].

    Notes
    -----
    A twist ``t`` makes the couples ``q a S e t``, and these the twist ``C q a S e t``: the wing can hold any
    twist when ``1/q`` is an eigenvalue of ``C diag(a S e)``; the greatest real one above 0 gives the lowest
    speed. Plane flow, unswept, an elastic axis that stays straight. On the safe side: Hildebrand and Reissner
    (NACA; abstract) found that a finite span raises the speed by up to 17 to 40 per cent.
    """
    softness = _softness(strips, flexibility_deg_per_n_mm)
    return _lowest_speed(softness * (slope_per_rad * strips.area_mm2 * strips.arm_mm), density_kg_m3)


def aileron_effectiveness(
    strips: AeroStrips,
    flexibility_deg_per_n_mm: ArrayLike,
    *,
    covered: ArrayLike,
    flap: FlapEffect,
    speed_m_s: float,
    slope_per_rad: float = THIN_LIFT_SLOPE,
    density_kg_m3: float = SEA_LEVEL.density_kg_m3,
) -> float:
    """Return the rolling moment of an aileron on the wing that twists, as a share of that on a stiff one.

    Parameters
    ----------
    strips : AeroStrips
        The strips.
    flexibility_deg_per_n_mm : array_like, shape (k, k)
        Twist of strip i for a unit nose-up couple on strip j [deg/(N mm)].
    covered : array_like, shape (k,)
        Share of each strip that has the aileron, 0 to 1; see :func:`covered_shares`.
    flap : FlapEffect
        What the aileron does to its section.
    speed_m_s : float
        Speed, below that of divergence [m/s].
    slope_per_rad, density_kg_m3 : float
        Lift slope [1/rad] and density of the air [kg/m3].

    Raises
    ------
    InputError
        When no strip has the aileron, or the wing has twisted off at that speed.

    Notes
    -----
    Each radian of aileron makes the couples ``b = q S (cl e + cm c)``; the twist is
    ``(1 - C q a S e)^-1 C b`` and adds its own lift. Moment about the root, with the arms z.
    """
    softness = _softness(strips, flexibility_deg_per_n_mm)
    lift, couple = _per_radian(strips, covered, flap)
    limit = divergence_speed_m_s(
        strips, flexibility_deg_per_n_mm, slope_per_rad=slope_per_rad, density_kg_m3=density_kg_m3
    )
    if not speed_m_s < limit:
        raise InputError(
            f"speed: got {speed_m_s:g} m/s; allowed: below the speed of divergence, {limit:.4g} m/s"
        )
    pressure = 0.5 * density_kg_m3 * speed_m_s**2 / PA_PER_MPA
    own = slope_per_rad * strips.area_mm2
    system = np.eye(len(own)) - pressure * softness * (own * strips.arm_mm)
    twist = np.linalg.solve(system, pressure * softness @ couple)
    return 1.0 + float(strips.z_mm @ (own * twist)) / float(strips.z_mm @ lift)


def reversal_speed_m_s(
    strips: AeroStrips,
    flexibility_deg_per_n_mm: ArrayLike,
    *,
    covered: ArrayLike,
    flap: FlapEffect,
    slope_per_rad: float = THIN_LIFT_SLOPE,
    density_kg_m3: float = SEA_LEVEL.density_kg_m3,
) -> float:
    """Return the speed at which an aileron no longer rolls the wing [m/s]; infinite when there is none.

    Parameters
    ----------
    strips, flexibility_deg_per_n_mm, covered, flap, slope_per_rad, density_kg_m3
        As for :func:`aileron_effectiveness`.

    Raises
    ------
    InputError
        When no strip has the aileron.

    Notes
    -----
    The effectiveness ``1 + q w (1 - q C D)^-1 C b / w_0`` is 0 where ``1 - q (C D - C b w / w_0)`` has no
    inverse (the determinant of a sum with a product of two vectors), so that ``1/q`` is an eigenvalue again.
    The speed of divergence may be the lower one.
    """
    softness = _softness(strips, flexibility_deg_per_n_mm)
    lift, couple = _per_radian(strips, covered, flap)
    own = slope_per_rad * strips.area_mm2
    rolled = own * strips.z_mm / float(strips.z_mm @ lift)
    return _lowest_speed(softness @ (np.diag(own * strips.arm_mm) - np.outer(couple, rolled)), density_kg_m3)


def _softness(strips: AeroStrips, flexibility_deg_per_n_mm: ArrayLike) -> FloatArray:
    """Return the flexibility in radians, shape (k, k) [rad/(N mm)]."""
    count = len(strips.z_mm)
    return np.radians(frozen_floats(flexibility_deg_per_n_mm, (count, count), name="flexibility"))


def _per_radian(strips: AeroStrips, covered: ArrayLike, flap: FlapEffect) -> tuple[FloatArray, FloatArray]:
    """Return lift and couple about the axis of each strip, per radian of aileron and unit pressure."""
    area = strips.area_mm2 * frozen_floats(covered, strips.z_mm.shape, name="covered")
    lift = flap.lift_per_rad * area
    if not float(strips.z_mm @ lift) > 0.0:
        raise InputError("aileron: got none that lifts; allowed: strips covered by one, with a lift over 0")
    return lift, lift * strips.arm_mm + flap.moment_per_rad * area * strips.chord_mm


def _lowest_speed(matrix: FloatArray, density_kg_m3: float) -> float:
    """Return the lowest speed whose pressure is one over a real eigenvalue above 0."""
    values = linalg.eigvals(matrix)
    size = float(np.abs(values).max())
    real = values.real[np.abs(values.imag) <= REAL_SHARE * size]
    noise = NOTHING_SHARE * float(np.linalg.norm(matrix))
    greatest = float(real.max(initial=0.0))
    if greatest <= noise:
        return math.inf
    return speed_of_pressure_m_s(1.0 / greatest, density_kg_m3)
