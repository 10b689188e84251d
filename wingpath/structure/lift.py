"""How the lift of a half wing is spread along the span, by Schrenk's rule."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike

from wingpath.core.arrays import FloatArray, frozen_floats
from wingpath.core.errors import InputError
from wingpath.core.tolerances import GEOMETRY_EPS_MM
from wingpath.structure.planform import Planform, strip_integrals
from wingpath.structure.strip_loads import StripLoads
from wingpath.structure.thin_airfoil import THIN_LIFT_SLOPE, FlapEffect

__all__ = [
    "SCHRENK_HALF",
    "aileron_lift",
    "basic_lift",
    "lift_loads",
    "moment_couples",
    "schrenk_share",
]

SCHRENK_HALF = 0.5
"""Schrenk takes half of what plane flow would give and half of a smooth spread: O. Schrenk, *A simple
approximation method for obtaining the spanwise lift distribution*, NACA TM 948 (1940)."""

N_MM2_PER_PA = 1e-6


def schrenk_share(planform: Planform, edges_mm: ArrayLike) -> tuple[FloatArray, FloatArray]:
    """Return how much of the half wing's lift each strip bears, and where.

    Parameters
    ----------
    planform : Planform
        The half wing.
    edges_mm : array_like, shape (k + 1,)
        Edges of strips from the root, 0, to the tip [mm].

    Returns
    -------
    share : ndarray, shape (k,)
        Shares, which add up to 1.
    z_mm : ndarray, shape (k,)
        Where along the span the resultant of each strip's lift acts [mm].

    Raises
    ------
    InputError
        When the strips do not reach from the root to the tip.

    Notes
    -----
    The load at each place is the mean of a load that goes with the chord and of half an ellipse with the
    same total: Schrenk, as above; the idea was read in the abstract. Both are integrated exactly, with
    ``t = z / semi span``::

        integral of 4/pi sqrt(1 - t^2) dt   = 2/pi (t sqrt(1 - t^2) + asin t)
        integral of 4/pi sqrt(1 - t^2) t dt = -4/(3 pi) (1 - t^2)^(3/2)

    The rule knows no aspect ratio and is not for strong sweep.
    """
    edges = _whole_wing(planform, edges_mm)
    semi_span = planform.semi_span_mm
    areas = planform.strip_areas_mm2(edges)
    by_chord = areas / areas.sum()
    chord_moment = planform.strip_moments_mm3(edges) / areas.sum()
    # the last edge may be over the tip by a rounding
    place = np.clip(edges / semi_span, 0.0, 1.0)
    height = np.sqrt(1.0 - place**2)
    by_ellipse = np.diff(2.0 / math.pi * (place * height + np.arcsin(place)))
    ellipse_moment = semi_span * np.diff(-4.0 / (3.0 * math.pi) * height**3)
    share = SCHRENK_HALF * (by_chord + by_ellipse)
    z = SCHRENK_HALF * (chord_moment + ellipse_moment) / share
    return share, np.clip(z, edges[:-1], edges[1:])


def lift_loads(planform: Planform, edges_mm: ArrayLike, *, half_lift_n: float) -> StripLoads:
    """Return the lift of an untwisted half wing on strips, at the quarter chord.

    Parameters
    ----------
    planform : Planform
        The half wing.
    edges_mm : array_like, shape (k + 1,)
        Edges of strips from root to tip; stations should be among them, so that the quarter chord is
        straight in each strip [mm].
    half_lift_n : float
        Lift of the half wing [N].
    """
    share, z = schrenk_share(planform, edges_mm)
    nothing = np.zeros(len(share))
    return StripLoads(
        np.asarray(edges_mm, dtype=np.float64),
        half_lift_n * share,
        z,
        planform.quarter_chord_at_mm(z),
        nothing,
    )


def basic_lift(
    planform: Planform,
    edges_mm: ArrayLike,
    incidence_deg: ArrayLike,
    *,
    dynamic_pressure_pa: float,
    slope_per_rad: float = THIN_LIFT_SLOPE,
) -> StripLoads:
    """Return the lift that twist takes from one part of the wing and gives to another; its sum is 0.

    Parameters
    ----------
    planform : Planform
        The half wing.
    edges_mm : array_like, shape (k + 1,)
        Edges of strips from root to tip [mm].
    incidence_deg : array_like, shape (n,)
        At the stations of the planform, twist less zero-lift angle of the section; straight between [deg].
    dynamic_pressure_pa : float
        ``rho V^2 / 2`` [Pa].
    slope_per_rad : float
        Lift slope of the sections [1/rad].

    Notes
    -----
    ``q c a / 2 (incidence - mean incidence)`` for each length of span, the mean taken over the area: the
    usual rule after Schrenk, from memory. A crude one: J. C. Sivells, NACA TN 2282, calls its weight of the
    twist arbitrary.
    """
    edges = _whole_wing(planform, edges_mm)
    angles = np.radians(frozen_floats(incidence_deg, planform.z_mm.shape, name="incidence_deg"))
    area = planform.strip_areas_mm2(edges).sum()

    def turned(z: FloatArray) -> FloatArray:
        return np.asarray(planform.chord_at_mm(z) * np.interp(z, planform.z_mm, angles))

    mean = strip_integrals(edges, planform.z_mm, turned).sum() / area
    factor = SCHRENK_HALF * slope_per_rad * dynamic_pressure_pa * N_MM2_PER_PA

    def per_length(z: FloatArray) -> FloatArray:
        return np.asarray(factor * (turned(z) - mean * planform.chord_at_mm(z)))

    force = strip_integrals(edges, planform.z_mm, per_length)
    moment = strip_integrals(edges, planform.z_mm, lambda z: z * per_length(z))
    return _at_area_centroids(planform, edges, force, moment, np.zeros(len(force)))


def aileron_lift(
    planform: Planform,
    edges_mm: ArrayLike,
    *,
    from_mm: float,
    to_mm: float,
    deflection_deg: float,
    flap: FlapEffect,
    dynamic_pressure_pa: float,
) -> StripLoads:
    """Return what a deflected aileron adds to the lift of its half wing, and its couple.

    Parameters
    ----------
    planform : Planform
        The half wing.
    edges_mm : array_like, shape (k + 1,)
        Edges of strips from root to tip [mm].
    from_mm, to_mm : float
        Ends of the aileron along the span, on the wing [mm].
    deflection_deg : float
        How far its trailing edge goes down; negative for up [deg].
    flap : FlapEffect
        Lift and moment of the section with the flap.
    dynamic_pressure_pa : float
        ``rho V^2 / 2`` [Pa].

    Raises
    ------
    InputError
        When the aileron is not on the wing.

    Notes
    -----
    Half the lift step of plane flow, as for twist, and no change where there is no aileron; the couple about
    the quarter chord is that of plane flow in full. The other half wing does the opposite, so the sum over
    the aircraft is 0, not that over this half. Judgement: the full step would be an upper bound.
    """
    edges = _whole_wing(planform, edges_mm)
    if not -GEOMETRY_EPS_MM <= from_mm < to_mm <= planform.semi_span_mm + GEOMETRY_EPS_MM:
        raise InputError(
            f"aileron: got {from_mm:g} to {to_mm:g} mm; allowed: a stretch of the wing, "
            f"0 to {planform.semi_span_mm:g} mm"
        )
    breaks = np.concatenate([planform.z_mm, [from_mm, to_mm]])
    pressure = dynamic_pressure_pa * N_MM2_PER_PA * math.radians(deflection_deg)

    def chord(z: FloatArray) -> FloatArray:
        return np.where((z > from_mm) & (z < to_mm), planform.chord_at_mm(z), 0.0)

    step = SCHRENK_HALF * flap.lift_per_rad * pressure
    force = step * strip_integrals(edges, breaks, chord)
    moment = step * strip_integrals(edges, breaks, lambda z: z * chord(z))
    couple = flap.moment_per_rad * pressure * strip_integrals(edges, breaks, lambda z: chord(z) ** 2)
    return _at_area_centroids(planform, edges, force, moment, couple)


def moment_couples(
    planform: Planform, edges_mm: ArrayLike, moment_coefficient: ArrayLike, *, dynamic_pressure_pa: float
) -> StripLoads:
    """Return the couples of the sections about their quarter chords, without force.

    Parameters
    ----------
    planform : Planform
        The half wing.
    edges_mm : array_like, shape (k + 1,)
        Edges of strips from root to tip [mm].
    moment_coefficient : array_like, shape (n,)
        About the quarter chord at the stations of the planform, nose-up positive; straight between.
    dynamic_pressure_pa : float
        ``rho V^2 / 2`` [Pa].

    Notes
    -----
    ``q c_m c^2`` for each length of span, integrated exactly.
    """
    edges = _whole_wing(planform, edges_mm)
    given = frozen_floats(moment_coefficient, planform.z_mm.shape, name="moment_coefficient")

    def per_length(z: FloatArray) -> FloatArray:
        return np.asarray(np.interp(z, planform.z_mm, given) * planform.chord_at_mm(z) ** 2)

    couple = dynamic_pressure_pa * N_MM2_PER_PA * strip_integrals(edges, planform.z_mm, per_length)
    nothing = np.zeros(len(couple))
    return _at_area_centroids(planform, edges, nothing, nothing, couple)


def _whole_wing(planform: Planform, edges_mm: ArrayLike) -> FloatArray:
    edges = frozen_floats(edges_mm, (None,), name="edges_mm")
    tip = planform.semi_span_mm
    if len(edges) < 2 or abs(edges[0]) > GEOMETRY_EPS_MM or abs(edges[-1] - tip) > GEOMETRY_EPS_MM:
        raise InputError(f"edges_mm: got strips that do not cover the wing; allowed: from 0 to {tip:g} mm")
    return edges


def _at_area_centroids(
    planform: Planform, edges: FloatArray, force: FloatArray, moment: FloatArray, couple: FloatArray
) -> StripLoads:
    """Return loads at the quarter chord, placed at the resultant where that lies in the strip.

    Where it does not, because the load changes sign, they stand at the centroid of the strip's area.
    """
    areas = planform.strip_areas_mm2(edges)
    middle = 0.5 * (edges[1:] + edges[:-1])
    centre = np.divide(planform.strip_moments_mm3(edges), areas, out=middle, where=areas > 0.0)
    acting = np.abs(force) > 0.0
    place = np.divide(moment, force, out=centre.copy(), where=acting)
    # written so that a place which is not a number is not inside
    inside = (place >= edges[:-1]) & (place <= edges[1:])
    z = np.where(inside, place, np.clip(centre, edges[:-1], edges[1:]))
    return StripLoads(edges, force, z, planform.quarter_chord_at_mm(z), couple, moment - force * z)
