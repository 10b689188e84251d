"""Thin-airfoil theory: lift, moment and flap effect of a section from its mean line."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from wingpath.core.arrays import FloatArray
from wingpath.core.errors import InputError
from wingpath.geometry.airfoil import Airfoil

__all__ = [
    "THIN_LIFT_SLOPE",
    "FlapEffect",
    "SectionLift",
    "flap_effect",
    "mean_line",
    "mean_line_lift",
    "section_lift",
]

THIN_LIFT_SLOPE = 2.0 * math.pi
"""Slope of the lift coefficient of a thin section with the incidence [1/rad]."""

SURFACE_POINTS = 161
"""Points of each surface on a smooth curve through the given ones, so that slopes mean something even where
these are few; as many as the stations of a wing have."""

MEAN_LINE_PIECES = 360
"""Straight pieces of the mean line, even in the angle of the theory: half a degree each."""


@dataclass(frozen=True, slots=True)
class SectionLift:
    """What a section does in a plane flow without friction.

    Parameters
    ----------
    zero_lift_deg : float
        Incidence of the x axis at which there is no lift; negative for a cambered section [deg].
    quarter_chord_moment : float
        Moment coefficient about the quarter point, nose-up positive, the same at every incidence.
    slope_per_rad : float
        Slope of the lift coefficient with the incidence [1/rad].
    """

    zero_lift_deg: float
    quarter_chord_moment: float
    slope_per_rad: float = THIN_LIFT_SLOPE


@dataclass(frozen=True, slots=True)
class FlapEffect:
    """What a plain flap adds for each radian that its trailing edge goes down.

    Parameters
    ----------
    lift_per_rad : float
        Lift coefficient of the section on the whole chord, at a fixed incidence [1/rad].
    moment_per_rad : float
        Moment coefficient about the quarter point, nose-up positive, so below 0 [1/rad].
    """

    lift_per_rad: float
    moment_per_rad: float


def mean_line(airfoil: Airfoil, *, pieces: int = MEAN_LINE_PIECES) -> FloatArray:
    """Return the mean line of a section, shape (pieces + 1, 2) [chord].

    Parameters
    ----------
    airfoil : Airfoil
        The section.
    pieces : int
        Straight pieces, even in the angle of the theory and so dense at both ends.

    Notes
    -----
    The line half way between the surfaces at equal x parts near the nose from the one that numbered sections
    lay their thickness off at right angles to, by ``y_t y_t' y_c'`` to first order in the slope, with the
    half thickness ``y_t``. That much is taken off. What stays, for NACA 23012, is 0.01 degrees of zero-lift
    angle and 0.0005 of moment; without it, four times as much.
    """
    fine = airfoil.sampled(SURFACE_POINTS)
    upper, lower = (surface[int(np.argmin(surface[:, 0])) :] for surface in (fine.upper, fine.lower))
    first = max(upper[0, 0], lower[0, 0])
    last = min(upper[-1, 0], lower[-1, 0])
    angle = np.linspace(0.0, math.pi, pieces + 1)
    x = first + (last - first) * 0.5 * (1.0 - np.cos(angle))
    above, below = np.interp(x, *upper.T), np.interp(x, *lower.T)
    middle, half = 0.5 * (above + below), 0.5 * (above - below)
    # y_t y_t' is half the slope of the square, which is smooth at a round nose
    y = middle - 0.5 * np.gradient(half**2, x) * np.gradient(middle, x)
    return np.column_stack([x, y])


def mean_line_lift(points: ArrayLike) -> SectionLift:
    """Return lift and moment of a mean line that is straight between points.

    Parameters
    ----------
    points : array_like, shape (n, 2)
        The mean line from the nose to the trailing edge, x rising [any unit].

    Raises
    ------
    InputError
        When x does not rise.

    Notes
    -----
    With ``x = (1 - cos u) / 2`` and ``dy/dx = s``::

        zero-lift angle = -1/pi  integral of s (cos u - 1) du
        A_n             =  2/pi  integral of s cos(n u) du
        c_m,c/4         =  pi/4 (A_2 - A_1)

    H. Glauert, *The Elements of Aerofoil and Airscrew Theory*; J. D. Anderson, *Fundamentals of
    Aerodynamics*, ch. 4, both from memory. Each straight piece is integrated exactly, so that nothing is
    singular at the nose or the trailing edge.
    """
    place = np.asarray(points, dtype=np.float64)
    x, y = place[:, 0], place[:, 1]
    if (np.diff(x) <= 0.0).any():
        raise InputError("mean line: x goes back somewhere; allowed: points whose x rises; sort them")
    slope = np.diff(y) / np.diff(x)
    angle = np.arccos(np.clip(1.0 - 2.0 * (x - x[0]) / (x[-1] - x[0]), -1.0, 1.0))
    zero_lift = -float(slope @ np.diff(np.sin(angle) - angle)) / math.pi
    first = 2.0 / math.pi * float(slope @ np.diff(np.sin(angle)))
    second = 2.0 / math.pi * float(slope @ np.diff(0.5 * np.sin(2.0 * angle)))
    return SectionLift(math.degrees(zero_lift), 0.25 * math.pi * (second - first))


def section_lift(airfoil: Airfoil) -> SectionLift:
    """Return lift and moment of a section; see :func:`mean_line` and :func:`mean_line_lift`."""
    return mean_line_lift(mean_line(airfoil))


def flap_effect(chord_ratio: float) -> FlapEffect:
    """Return what a plain flap does.

    Parameters
    ----------
    chord_ratio : float
        Chord of the flap over that of the section, over 0 and below 1.

    Raises
    ------
    InputError
        Outside that range.

    Notes
    -----
    With the hinge at the angle h of the theory, ``cos h = 2 E - 1``: ``dc_l/dd = 2 (pi - h + sin h)`` and
    ``dc_m/dd = -sin h (1 - cos h) / 2`` (Glauert, as above, from memory). Friction and the gap at the hinge
    take a good part of it at the Reynolds numbers of models; loads reckoned so are on the safe side.
    """
    if not 0.0 < chord_ratio < 1.0:
        raise InputError(f"chord_ratio: got {chord_ratio:g}; allowed: over 0 and below 1 of the chord")
    cosine = 2.0 * chord_ratio - 1.0
    hinge, sine = math.acos(cosine), math.sqrt(1.0 - cosine**2)
    return FlapEffect(2.0 * (math.pi - hinge + sine), -0.5 * sine * (1.0 - cosine))
