"""The airfoil section: two surfaces from the nose to the trailing edge, in unit chord."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from wingpath.core.arrays import FloatArray, frozen_floats
from wingpath.core.errors import InputError
from wingpath.geometry.curve import chord_stations, outline_curve

__all__ = ["Airfoil"]

NOSE_OVERHANG = 0.05
"""The equations of cambered sections put the nose a little aft of the foremost point; the most of any
section that :mod:`wingpath.geometry.naca` accepts is below this [chord]."""

LEAST_POINTS = 5
"""Fewest points a surface may have: the nose, the trailing edge and three that show a shape."""


@dataclass(frozen=True, slots=True, eq=False)
class Airfoil:
    """A section of unit chord: x aft, y up, read-only.

    Parameters
    ----------
    name : str
        Name for messages and reports.
    upper, lower : array_like, shape (n, 2)
        The surfaces from the nose to the trailing edge [chord]; both start at the same point, the
        nose. x never falls going aft, save for the overhang of a cambered section at the nose.
        The two may differ in the number of points; those of :meth:`sampled` do not.
    source : str
        Where the ordinates come from: a report, a file.

    Raises
    ------
    InputError
        When a surface has too few points or doubles back, or the surfaces do not share the nose.
    ValueError
        On a wrong shape or on values that are not finite.
    """

    name: str
    upper: FloatArray
    lower: FloatArray
    source: str = ""

    def __post_init__(self) -> None:
        for side in ("upper", "lower"):
            surface = frozen_floats(getattr(self, side), (None, 2), name=side)
            object.__setattr__(self, side, surface)
            _check_surface(surface, f"{self.name}: {side} surface")
        if not np.array_equal(self.upper[0], self.lower[0]):
            raise InputError(
                f"{self.name}: the upper surface starts at {_text(self.upper[0])}, the lower at "
                f"{_text(self.lower[0])}; both must start at the same point, the nose"
            )

    @property
    def nose(self) -> FloatArray:
        """First point of both surfaces, shape (2,)."""
        nose: FloatArray = self.upper[0]
        return nose

    @property
    def loop(self) -> FloatArray:
        """The outline counter-clockwise: lower surface aft, upper surface forward, the nose once.

        Shape (2 n - 1, 2). The base of the trailing edge is the step from point n - 1 to point n; the
        last point does not repeat the first.
        """
        return np.concatenate([self.lower, self.upper[:0:-1]])

    @property
    def trailing_edge_gap(self) -> float:
        """Height of the trailing edge, upper end over lower end [chord]."""
        return float(self.upper[-1, 1] - self.lower[-1, 1])

    @property
    def thickness(self) -> float:
        """Greatest thickness, measured at right angles to the chord [chord]."""
        x = np.union1d(_aft(self.upper)[:, 0], _aft(self.lower)[:, 0])
        depth = self._depth(x)
        best = int(np.argmax(depth))
        if 0 < best < len(x) - 1:
            # top of the parabola through the three deepest points; the polygon cuts it off
            (x0, x1, x2), (d0, d1, d2) = x[best - 1 : best + 2], depth[best - 1 : best + 2]
            before, after = (d1 - d0) / (x1 - x0), (d2 - d1) / (x2 - x1)
            bend = (after - before) / (x2 - x0)
            if bend < 0.0:
                at = 0.5 * (x0 + x1) - before / (2.0 * bend)
                if x0 < at < x2:
                    return float(d1 + (at - x1) * (before + bend * (at - x0)))
        return float(depth[best])

    def thickness_at(self, x: float) -> float:
        """Return the thickness at one station, straight between the points [chord].

        Parameters
        ----------
        x : float
            Distance aft along the chord [chord]. Ahead of the nose and behind the trailing edge the
            thickness there is given.
        """
        return float(self._depth(np.array([x]))[0])

    def sampled(self, points_per_side: int = 161) -> Airfoil:
        """Return the section with both surfaces resampled at the stations that every airfoil gets.

        Point i of each surface lies at the same fraction of the way from the foremost point of the
        outline to the end of that surface, close together at the nose; see
        :func:`~wingpath.geometry.curve.chord_stations`. The frame stays as it is. The points lie on
        one smooth curve through the given ones, or, where such a curve would overshoot coarse points,
        on a shape-preserving one; see :func:`~wingpath.geometry.curve.outline_curve`.

        Parameters
        ----------
        points_per_side : int
            Points of each surface with the nose and the trailing edge, at least 5.
        """
        if points_per_side < LEAST_POINTS:
            raise InputError(f"points_per_side: got {points_per_side}; allowed: {LEAST_POINTS} or more")
        curve = outline_curve(np.concatenate([self.upper[::-1], self.lower[1:]]))
        stations = chord_stations(points_per_side)
        return Airfoil(
            self.name, curve.surface("upper", stations), curve.surface("lower", stations), self.source
        )

    def with_trailing_edge(self, least: float) -> Airfoil:
        """Return the section with a trailing edge at least `least` high; never a thinner one.

        What is missing is added as a wedge that grows in proportion to the distance from the nose,
        half on each side, so that neither surface gets a corner.

        Parameters
        ----------
        least : float
            Wanted height [chord], 0 or more.
        """
        if not (np.isfinite(least) and least >= 0.0):
            raise InputError(f"least: got {least}; allowed: a height in chords, 0 or more")
        missing = least - self.trailing_edge_gap
        if missing <= 0.0:
            return self
        upper, lower = self.upper.copy(), self.lower.copy()
        upper[:, 1] += 0.5 * missing * _way_aft(self.upper)
        lower[:, 1] -= 0.5 * missing * _way_aft(self.lower)
        return Airfoil(self.name, upper, lower, self.source)

    def _depth(self, x: FloatArray) -> FloatArray:
        upper, lower = _aft(self.upper), _aft(self.lower)
        depth: FloatArray = np.interp(x, *upper.T) - np.interp(x, *lower.T)
        return depth


def _check_surface(surface: FloatArray, label: str) -> None:
    if len(surface) < LEAST_POINTS:
        raise InputError(f"{label}: got {len(surface)} points; allowed: {LEAST_POINTS} or more")
    x = surface[:, 0]
    foremost = int(np.argmin(x))
    steps = np.diff(x)
    wrong = np.flatnonzero(np.append(steps[:foremost] > 0.0, steps[foremost:] < 0.0))
    if len(wrong):
        raise InputError(
            f"{label}: doubles back in x at point {wrong[0] + 1}, {_text(surface[wrong[0] + 1])}"
        )
    if x[0] - x[foremost] > NOSE_OVERHANG:
        raise InputError(
            f"{label}: reaches {x[0] - x[foremost]:.4f} chord ahead of the nose; allowed: {NOSE_OVERHANG}"
        )


def _aft(surface: FloatArray) -> FloatArray:
    """Return the part of a surface from its foremost point aft, where x is a single-valued station."""
    return surface[int(np.argmin(surface[:, 0])) :]


def _way_aft(surface: FloatArray) -> FloatArray:
    """Return how far aft each point lies, 0 at the nose to 1 at the trailing edge."""
    x = surface[:, 0]
    way: FloatArray = np.clip((x - x[0]) / (x[-1] - x[0]), 0.0, 1.0)
    return way


def _text(point: FloatArray) -> str:
    return f"({point[0]:.6g}, {point[1]:.6g})"
