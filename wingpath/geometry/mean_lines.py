"""Two families of sections of our own, made of the NACA thickness form and a mean line derived here.

They fill gaps that the numbered families leave for model wings: a lower surface that lies flat on a
building board or a print bed, and a section for tailless wings that needs no washout to balance.
"""

from __future__ import annotations

import re

import numpy as np

from wingpath.core.arrays import FloatArray
from wingpath.core.errors import InputError
from wingpath.geometry.airfoil import Airfoil
from wingpath.geometry.curve import chord_stations
from wingpath.geometry.naca import naca_airfoil, thickness_form

__all__ = ["flat_bottomed", "reflexed", "section"]

FLAT_FROM = 0.30
"""Where the flat of a flat-bottomed section starts: the thickness form has its maximum there, so that
the curve in front of it meets the flat without a corner [chord]."""

FLAT_DEPTH = 0.25
"""How far the flat lies below the nose, before the section is sheared onto its chord [thickness]. Deeper,
the lower surface would bulge below the flat in front of it; shallower, the nose would droop."""

BALANCE = 7.0 / 8.0
"""Where the mean line of a reflexed section crosses its chord [chord]; see :func:`reflexed`."""

_OWN = re.compile(r"(flat|reflex)-(\d{1,2})")


def section(name: str, *, points_per_side: int = 161) -> Airfoil:
    """Return a section from its name: ``flat-12``, ``reflex-8``, or a NACA designation.

    Parameters
    ----------
    name : str
        The number of our own families is the thickness in per cent; see :func:`flat_bottomed` and
        :func:`reflexed`.
    points_per_side : int
        Points of each surface, at least 5.

    Raises
    ------
    InputError
        When there is no such section.
    """
    own = _OWN.fullmatch(name.strip().lower())
    if own is None:
        return naca_airfoil(name, points_per_side=points_per_side)
    thickness = int(own[2]) / 100.0
    if own[1] == "flat":
        return flat_bottomed(thickness, points_per_side=points_per_side)
    return reflexed(thickness, points_per_side=points_per_side)


def _stations(thickness: float, points_per_side: int) -> FloatArray:
    if not 0.02 <= thickness <= 0.25:
        raise InputError(f"thickness: got {thickness}; allowed: 0.02 to 0.25 chord")
    if points_per_side < 5:
        raise InputError(f"points_per_side: got {points_per_side}; allowed: 5 or more")
    return chord_stations(points_per_side)


def flat_bottomed(thickness: float, *, points_per_side: int = 161) -> Airfoil:
    """Return a section whose lower surface is straight from 30 % of the chord aft.

    Parameters
    ----------
    thickness : float
        Greatest thickness t [chord], 0.02 to 0.25.
    points_per_side : int
        Points of each surface, at least 5.

    Notes
    -----
    Derived here. Half thickness y_t of the four-digit sections, laid off upright, on the mean line ::

        y_c = (y_t(p) - h) (1 - (1 - x / p)^3)    x <= p = 0.3
        y_c = y_t(x) - h                          x >= p, h = 0.25 t

    so that the lower surface y_c - y_t is -h behind p. The cube has no curvature at p, so that the
    lower surface is rounded outward right up to the flat. Then ``(h - y_t(1)) x`` is added, which
    brings the middle of the trailing edge onto the x axis and keeps the flat straight.
    """
    x = _stations(thickness, points_per_side)
    half = thickness_form(x, thickness=thickness)
    depth = FLAT_DEPTH * thickness
    rise = float(thickness_form(FLAT_FROM, thickness=thickness)) - depth
    mean = np.where(x < FLAT_FROM, rise * (1.0 - (1.0 - np.minimum(x / FLAT_FROM, 1.0)) ** 3), half - depth)
    mean = mean + (depth - half[-1]) * x
    return Airfoil(
        f"flat-{100.0 * thickness:.3g}",
        np.column_stack([x, mean + half]),
        np.column_stack([x, mean - half]),
        "equation of wingpath: NACA four-digit thickness on a flat lower surface",
    )


def reflexed(thickness: float, *, points_per_side: int = 161) -> Airfoil:
    """Return a section with an upswept tail that has no pitching moment about its quarter chord.

    Parameters
    ----------
    thickness : float
        Greatest thickness t [chord], 0.02 to 0.25; the greatest camber is 0.2 t.
    points_per_side : int
        Points of each surface, at least 5.

    Notes
    -----
    Derived here. Half thickness of the four-digit sections, laid off at right angles to the mean line
    ``y_c = a x (1 - x) (b - x)``. In thin-airfoil theory, with x = (1 - cos u) / 2 and
    ``dy_c/dx = A_0 + A_1 cos u + A_2 cos 2u``, here A_1 = a (b - 1/2) and A_2 = 3 a / 8. The moment about
    the quarter chord goes with A_2 - A_1, so that it is nought for b = 7/8.
    """
    x = _stations(thickness, points_per_side)
    half = thickness_form(x, thickness=thickness)
    # foremost root of d/dx [x (1 - x) (b - x)] = 3 x^2 - 2 (1 + b) x + b
    top = (1.0 + BALANCE - np.sqrt((1.0 + BALANCE) ** 2 - 3.0 * BALANCE)) / 3.0
    factor = 0.2 * thickness / (top * (1.0 - top) * (BALANCE - top))
    mean = factor * x * (1.0 - x) * (BALANCE - x)
    slope = factor * (3.0 * x**2 - 2.0 * (1.0 + BALANCE) * x + BALANCE)
    across = half / np.hypot(1.0, slope)
    return Airfoil(
        f"reflex-{100.0 * thickness:.3g}",
        np.column_stack([x - slope * across, mean + across]),
        np.column_stack([x + slope * across, mean - across]),
        "equation of wingpath: NACA four-digit thickness on a cubic mean line without pitching moment",
    )
