"""NACA four- and five-digit sections and their modified forms, from their equations.

Sources: four digits, E. N. Jacobs, K. E. Ward, R. M. Pinkerton, NACA Report 460 (1933); five digits,
E. N. Jacobs, R. M. Pinkerton, NACA Report 537 (1935); modified thickness, J. Stack, A. E. von
Doenhoff, NACA Report 492 (1934). All are collected in C. L. Ladson, C. W. Brooks, A. S. Hill,
D. W. Sproles, NASA TM 4741 (1996). The chord line of the equations stays the x axis: nothing is turned
or rescaled, so a cambered section reaches a little ahead of x = 0 and its trailing edge ends a little
before and behind x = 1, as in the reports. Authors and the year of Report 492 are from memory.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from wingpath.core.arrays import FloatArray
from wingpath.core.errors import InputError
from wingpath.geometry.airfoil import Airfoil
from wingpath.geometry.curve import chord_stations

__all__ = [
    "MEAN_LINES",
    "NacaCode",
    "is_naca",
    "naca_airfoil",
    "naca_ordinates",
    "parse_naca",
    "thickness_form",
]

MEAN_LINES: dict[str, tuple[float, float, float]] = {
    "210": (0.0580, 361.400, 0.0),
    "220": (0.1260, 51.640, 0.0),
    "230": (0.2025, 15.957, 0.0),
    "240": (0.2900, 6.643, 0.0),
    "250": (0.3910, 3.230, 0.0),
    "221": (0.1300, 51.990, 0.000764),
    "231": (0.2170, 15.793, 0.00677),
    "241": (0.3180, 6.520, 0.0303),
    "251": (0.4410, 3.191, 0.1355),
}
"""Constants r, k1 and k2/k1 of the five-digit mean lines for a design lift coefficient of 0.3, as
tabulated in NASA TM 4741. They are the definition: k1 of line 210 differs by 2.8 % from what its own
formula gives."""

_MAX_THICKNESS = 40
"""Thickest section taken [% chord]: no wing is thicker, and the nose of one is no nose any more."""

_TAIL_SLOPE = {2: 0.200, 3: 0.234, 4: 0.315, 5: 0.465, 6: 0.700}
"""d1 of the modified thickness form by the place of its maximum [tenths of the chord]; NASA TM 4741."""

_FORM = re.compile(r"(?P<digits>\d{4,5})(?:-(?P<nose>\d)(?P<place>\d))?")
_WRITTEN = re.compile(r"(?:naca)?[ _-]*(?P<rest>\d[\d-]*)", re.IGNORECASE)

_ALLOWED = (
    "four digits (2412), five digits (23012), either with a thickness suffix (0012-64); "
    "for any other section give a coordinate file"
)


@dataclass(frozen=True, slots=True)
class NacaCode:
    """What a designation stands for.

    Parameters
    ----------
    designation : str
        Digits and suffix, for example ``2412`` or ``0012-64``.
    thickness : float
        Greatest thickness [chord].
    camber, camber_place : float
        Of a four-digit mean line [chord]; both 0 otherwise.
    mean_line : str
        First three digits of a five-digit section; empty otherwise.
    nose_index, thickness_place : int
        Suffix of a modified section: nose radius index, place of the greatest thickness in tenths of
        the chord; both 0 otherwise.
    """

    designation: str
    thickness: float
    camber: float = 0.0
    camber_place: float = 0.0
    mean_line: str = ""
    nose_index: int = 0
    thickness_place: int = 0

    @property
    def name(self) -> str:
        """Name as reports write it, for example ``NACA 2412``."""
        return f"NACA {self.designation}"

    @property
    def source(self) -> str:
        """The report that defines the section."""
        if self.thickness_place:
            return "NACA Report 492 (1934), equations"
        return f"NACA Report {'537 (1935)' if self.mean_line else '460 (1933)'}, equations"


def is_naca(text: str) -> bool:
    """Whether a text is written like a NACA designation, possible or not."""
    return bool(_WRITTEN.fullmatch(text.strip()))


def parse_naca(designation: str) -> NacaCode:
    """Read a designation such as ``naca2412``, ``NACA 23012`` or ``0012-64``.

    Raises
    ------
    InputError
        When there is no such section; the message says what is allowed.
    """
    text = designation.strip()
    written = _WRITTEN.fullmatch(text)
    form = _FORM.fullmatch(written["rest"]) if written else None
    shown = text if len(text) <= 40 else f"{text[:40]}..."
    if form is None:
        raise InputError(
            f'airfoil "{shown}": got no NACA designation that has equations; allowed: {_ALLOWED}'
        )
    digits = form["digits"]
    percent = int(digits[-2:])
    if not 1 <= percent <= _MAX_THICKNESS:
        raise InputError(
            f'airfoil "{shown}": the last two digits are the thickness in per cent; got {percent}; '
            f"allowed: 01 to {_MAX_THICKNESS}"
        )
    nose_index, place = int(form["nose"] or 0), int(form["place"] or 0)
    if form["place"] is not None and place not in _TAIL_SLOPE:
        raise InputError(
            f'airfoil "{shown}": the last digit of the suffix is the place of the greatest thickness in '
            f"tenths of the chord; got {place}; allowed: {min(_TAIL_SLOPE)} to {max(_TAIL_SLOPE)}"
        )
    code = NacaCode(
        f"{digits}-{form['nose']}{place}" if form["place"] else digits,
        percent / 100.0,
        nose_index=nose_index,
        thickness_place=place,
    )
    return _with_five(code, digits, shown) if len(digits) == 5 else _with_four(code, digits, shown)


def _with_four(code: NacaCode, digits: str, shown: str) -> NacaCode:
    camber, place = int(digits[0]), int(digits[1])
    if (camber == 0) != (place == 0):
        raise InputError(
            f'airfoil "{shown}": got {camber} % camber at {place} tenths of the chord; allowed: both 0 '
            f"(a symmetrical section, 00{digits[2:]}), or both from 1 to 9"
        )
    return NacaCode(
        code.designation,
        code.thickness,
        camber=camber / 100.0,
        camber_place=place / 10.0,
        nose_index=code.nose_index,
        thickness_place=code.thickness_place,
    )


def _with_five(code: NacaCode, digits: str, shown: str) -> NacaCode:
    lift, line = int(digits[0]), f"2{digits[1:3]}"
    if line not in MEAN_LINES or not 1 <= lift <= 6:
        raise InputError(
            f'airfoil "{shown}": there is no five-digit mean line {digits[:3]}; allowed: '
            f"{', '.join(sorted(MEAN_LINES))}, and the same with a first digit of 1 to 6 for another "
            "design lift"
        )
    return NacaCode(
        code.designation,
        code.thickness,
        mean_line=digits[:3],
        nose_index=code.nose_index,
        thickness_place=code.thickness_place,
    )


def _mean_line(code: NacaCode, x: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return height and slope of the mean line at stations x [chord]."""
    if code.mean_line:
        r, k1, ratio = MEAN_LINES[f"2{code.mean_line[1:]}"]
        # design lift is 0.15 times the first digit, and the line scales with it (TM 4741, from memory)
        factor = k1 / 6.0 * int(code.mean_line[0]) / 2.0
        fore = x < r
        if ratio == 0.0:
            height = np.where(fore, x**3 - 3.0 * r * x**2 + r**2 * (3.0 - r) * x, r**3 * (1.0 - x))
            slope = np.where(fore, 3.0 * x**2 - 6.0 * r * x + r**2 * (3.0 - r), -(r**3))
        else:
            bend = np.where(fore, 1.0, ratio)
            height = bend * (x - r) ** 3 - ratio * (1.0 - r) ** 3 * x - r**3 * x + r**3
            slope = 3.0 * bend * (x - r) ** 2 - ratio * (1.0 - r) ** 3 - r**3
        return factor * height, factor * slope
    m, p = code.camber, code.camber_place
    if m == 0.0:
        return np.zeros_like(x), np.zeros_like(x)
    fore = x <= p
    height = np.where(
        fore, m / p**2 * (2.0 * p * x - x**2), m / (1.0 - p) ** 2 * (1.0 - 2.0 * p + 2.0 * p * x - x**2)
    )
    slope = np.where(fore, 2.0 * m / p**2, 2.0 * m / (1.0 - p) ** 2) * (p - x)
    return height, slope


def thickness_form(x: ArrayLike, *, thickness: float, closed: bool = False) -> FloatArray:
    """Return the half thickness of the four- and five-digit sections.

    Parameters
    ----------
    x : array_like
        Stations on the mean line, 0 to 1 [chord].
    thickness : float
        Greatest thickness t [chord].
    closed : bool
        End the section in a point: last coefficient 0.1036 instead of 0.1015.

    Notes
    -----
    ``y = 5 t (0.2969 sqrt(x) - 0.1260 x - 0.3516 x^2 + 0.2843 x^3 - 0.1015 x^4)``, NACA Report 460.
    The nose radius is 1.1019 t^2; the open trailing edge is 0.021 t high.
    """
    at = np.asarray(x, dtype=np.float64)
    tail = 0.1036 if closed else 0.1015
    series = 0.2969 * np.sqrt(at) + at * (-0.1260 + at * (-0.3516 + at * (0.2843 - tail * at)))
    # closed, the series leaves -5e-17 at x = 1
    return np.asarray(5.0 * thickness * np.maximum(series, 0.0))


def _modified_form(code: NacaCode, x: FloatArray, closed: bool) -> FloatArray:
    """Return the half thickness of a modified section; NACA Report 492, constants solved for here.

    For t = 0.2: ahead of the greatest thickness at m, ``a0 sqrt(x) + a1 x + a2 x^2 + a3 x^3``; behind
    it ``0.002 + d1 e + d2 e^2 + d3 e^3`` with e = 1 - x. At m: y = 0.1, y' = 0, and one curvature.
    Index 9 stands for three times the normal nose radius (NASA TM 4741, from memory). The closed
    trailing edge is our own: a wedge taken off in proportion to x.
    """
    m = code.thickness_place / 10.0
    d1 = _TAIL_SLOPE[code.thickness_place]
    e = 1.0 - m
    d2, d3 = np.linalg.solve([[e**2, e**3], [2.0 * e, 3.0 * e**2]], [0.098 - d1 * e, -d1])
    index = 6.0 * np.sqrt(3.0) if code.nose_index == 9 else float(code.nose_index)
    a0 = 0.296904 * index / 6.0
    a1, a2, a3 = np.linalg.solve(
        [[m, m**2, m**3], [1.0, 2.0 * m, 3.0 * m**2], [0.0, 2.0, 6.0 * m]],
        [0.1 - a0 * np.sqrt(m), -0.5 * a0 / np.sqrt(m), 2.0 * d2 + 6.0 * d3 * e + 0.25 * a0 * m**-1.5],
    )
    fore = a0 * np.sqrt(x) + x * (a1 + x * (a2 + x * a3))
    aft = 0.002 + (1.0 - x) * (d1 + (1.0 - x) * (d2 + (1.0 - x) * d3))
    half = np.where(x < m, fore, aft) - (0.002 * x if closed else 0.0)
    return np.asarray(half * code.thickness / 0.2)


def naca_ordinates(designation: str, x: ArrayLike, *, closed: bool = False) -> tuple[FloatArray, FloatArray]:
    """Return the points of both surfaces that belong to stations of the mean line.

    Parameters
    ----------
    designation : str
        See :func:`parse_naca`.
    x : array_like, shape (k,)
        Stations on the mean line, 0 to 1 [chord].
    closed : bool
        End the section in a point; as defined in the reports it is open.

    Returns
    -------
    upper, lower : array, shape (k, 2)
        Points [chord]. The thickness is laid off at right angles to the mean line, so their x differ
        from `x` where that is inclined.

    Raises
    ------
    InputError
        When there is no such section, or a station is not between 0 and 1.
    """
    code = parse_naca(designation)
    at = np.atleast_1d(np.asarray(x, dtype=np.float64))
    if not bool(((at >= 0.0) & (at <= 1.0)).all()):
        raise InputError("x: got a station outside the chord; allowed: 0 to 1")
    half = (
        _modified_form(code, at, closed)
        if code.thickness_place
        else thickness_form(at, thickness=code.thickness, closed=closed)
    )
    height, slope = _mean_line(code, at)
    across = half / np.hypot(1.0, slope)
    upper = np.column_stack([at - slope * across, height + across])
    lower = np.column_stack([at + slope * across, height - across])
    return upper, lower


def naca_airfoil(designation: str, *, points_per_side: int = 161, closed: bool = False) -> Airfoil:
    """Return a NACA section from its equations.

    Parameters
    ----------
    designation : str
        ``naca2412``, ``NACA 2412``, ``2412``, ``23012``, ``23112`` (reflexed), ``0012-64`` and the like.
    points_per_side : int
        Points of each surface with the nose and the trailing edge, at least 5, at the stations of
        :func:`~wingpath.geometry.curve.chord_stations` on the mean line.
    closed : bool
        End the section in a point; as defined in the reports it is open.

    Raises
    ------
    InputError
        When there is no such section, or its mean line bends more sharply than it is thick, so that a
        surface would fold over itself.
    """
    code = parse_naca(designation)
    if points_per_side < 5:
        raise InputError(f"points_per_side: got {points_per_side}; allowed: 5 or more")
    # folds are narrow: looked for on a fine grid, whatever the number of points wanted
    _refuse_folds(code, *naca_ordinates(code.designation, chord_stations(801), closed=closed))
    upper, lower = naca_ordinates(code.designation, chord_stations(points_per_side), closed=closed)
    return Airfoil(code.name, upper, lower, code.source)


def _refuse_folds(code: NacaCode, upper: FloatArray, lower: FloatArray) -> None:
    for side, surface in (("upper", upper), ("lower", lower)):
        x = surface[:, 0]
        foremost = int(np.argmin(x))
        if bool((np.diff(x[: foremost + 1]) > 0.0).any() or (np.diff(x[foremost:]) < 0.0).any()):
            raise InputError(
                f'airfoil "{code.designation}": the {side} surface folds over itself, because the mean line '
                f"bends more sharply than {100.0 * code.thickness:.0f} % of thickness can follow; allowed: "
                "less thickness, less camber, or camber farther aft"
            )
