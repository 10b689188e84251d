"""One smooth curve through the points of an airfoil, from one trailing edge over the nose to the other.

The nose is round only when both surfaces are one curve: two curves that meet there have a kink or a
flat. So the points are taken as one open line (upper trailing edge, nose, lower trailing edge), and
the base of a blunt trailing edge stays out of it, so that its corners cannot make the curve ring.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike

from wingpath.core.arrays import FloatArray, frozen_floats

__all__ = ["OutlineCurve", "Side", "chord_stations", "outline_curve"]

Side = Literal["upper", "lower"]

STATION_SPREAD = 0.8
"""Part of the half circle that the stations are projected from: 1 would crowd as many points at the
trailing edge, where nothing curves, as at the nose; 0.8 leaves 0.5 % chord there with 161 points."""

FAITHFUL = 2e-3
"""A curve may leave the polygon through its points by this much [chord]: 0.4 mm on a 200 mm chord,
about half a bead. More is allowed only where the points themselves turn, as around a coarse nose."""

BULGE_SLACK = 1.5
"""How much more a curve may bulge than the circular arc that turns as its two ends do: the curvature
of a nose changes by about that much from one interval to the next."""

BACKWARD = 1e-4
"""A curve may run back toward the nose by this much [chord]: 0.02 mm on a 200 mm chord."""

CROSSING = 5e-4
"""The lower surface may lie above the upper one by this much [chord]: rounding in a closed trailing
edge, which opening it to two bead widths more than makes good."""

SAMPLES = 8
"""Places looked at in each interval; a cubic has at most two extremes there."""

_HALVINGS = 46
"""Bisection steps: an interval of 0.2 chord shrinks to the spacing of double precision numbers."""


def chord_stations(count: int) -> FloatArray:
    """Return `count` chordwise stations, 0 at the nose to 1 at the trailing edge, close at the nose.

    Notes
    -----
    Projections of equal steps on a circle: ``x = (1 - cos b) / (1 - cos B)``, b = 0..B with B = 0.8 pi.
    Near the nose x grows with the square of the step, and the arc length of a round nose with its
    root, so that points follow each other there at equal distances.
    """
    angle = np.linspace(0.0, STATION_SPREAD * np.pi, count)
    stations = (1.0 - np.cos(angle)) / (1.0 - np.cos(angle[-1]))
    stations[-1] = 1.0
    return frozen_floats(stations, (count,), name="stations")


@dataclass(frozen=True, slots=True, eq=False)
class OutlineCurve:
    """A piecewise cubic curve from the upper trailing edge over the nose to the lower one.

    Parameters
    ----------
    knots : array_like, shape (m,)
        Parameter at the points: length of the polygon through them [chord].
    pieces : array_like, shape (4, m - 1, 2)
        Coefficients of x and y in each interval, highest power first.
    nose : float
        Parameter of the foremost point.
    kind : {"smooth", "shape-preserving", "straight"}
        Continuous curvature; continuous direction without overshoot; the polygon itself.
    """

    knots: FloatArray
    pieces: FloatArray
    nose: float
    kind: Literal["smooth", "shape-preserving", "straight"]

    def __post_init__(self) -> None:
        knots = frozen_floats(self.knots, (None,), name="knots")
        object.__setattr__(self, "knots", knots)
        object.__setattr__(self, "pieces", frozen_floats(self.pieces, (4, len(knots) - 1, 2), name="pieces"))

    def at(self, parameter: ArrayLike) -> FloatArray:
        """Return the points at parameters within the knots, shape (k, 2)."""
        s = np.atleast_1d(np.asarray(parameter, dtype=np.float64))
        index = np.clip(np.searchsorted(self.knots, s, side="right") - 1, 0, len(self.knots) - 2)
        c3, c2, c1, c0 = self.pieces[:, index]
        t = (s - self.knots[index])[:, None]
        points: FloatArray = ((c3 * t + c2) * t + c1) * t + c0
        return points

    @property
    def nose_point(self) -> FloatArray:
        """The foremost point, shape (2,)."""
        point: FloatArray = self.at(self.nose)[0]
        return point

    def surface(self, side: Side, stations: ArrayLike) -> FloatArray:
        """Return points of one surface at given fractions of its own way aft.

        Parameters
        ----------
        side : {"upper", "lower"}
            Which surface.
        stations : array_like, shape (k,)
            Fractions of the x distance from the nose to the trailing edge of that surface, 0 to 1.

        Returns
        -------
        array, shape (k, 2)
        """
        fractions = np.asarray(stations, dtype=np.float64)
        if side == "upper":
            knots = np.append(self.nose, self.knots[self.knots < self.nose][::-1])
        else:
            knots = np.append(self.nose, self.knots[self.knots > self.nose])
        corners = self.at(knots)
        reach = np.maximum.accumulate(corners[:, 0])
        aims = reach[0] + fractions * (corners[-1, 0] - reach[0])
        index = np.clip(np.searchsorted(reach, aims, side="right") - 1, 0, len(knots) - 2)
        near, far = knots[index], knots[index + 1]
        piece = np.clip(
            np.searchsorted(self.knots, 0.5 * (near + far), side="right") - 1, 0, len(self.knots) - 2
        )
        start = self.knots[piece]
        c3, c2, c1, c0 = self.pieces[:, piece, 0]
        for _ in range(_HALVINGS):
            middle = 0.5 * (near + far)
            t = middle - start
            short = ((c3 * t + c2) * t + c1) * t + c0 < aims
            near, far = np.where(short, middle, near), np.where(short, far, middle)
        points = self.at(0.5 * (near + far))
        points[:, 0] = aims
        points[fractions <= 0.0] = corners[0]
        points[fractions >= 1.0] = corners[-1]
        return points


def outline_curve(points: ArrayLike) -> OutlineCurve:
    """Return the smoothest curve through the points that does not stray from them.

    A cubic spline over the polygon's length comes first. Where it overshoots (coarse or uneven
    points, corners), a shape-preserving cubic takes its place, and the polygon itself at the worst.

    Parameters
    ----------
    points : array_like, shape (m, 2)
        From the upper trailing edge over the nose to the lower trailing edge, at least five [chord].

    Raises
    ------
    ValueError
        On fewer than five different points.
    """
    line = frozen_floats(points, (None, 2), name="points")
    steps = np.hypot(*np.diff(line, axis=0).T)
    line = line[np.append(True, steps > 0.0)]
    if len(line) < 5:
        raise ValueError(f"points: got {len(line)} different points, expected at least 5")
    curve = None
    for curve in _candidates(line):
        if _is_faithful(curve, line):
            break
    assert curve is not None  # the polygon is always among the candidates
    return curve


def _candidates(line: FloatArray) -> Iterator[OutlineCurve]:
    """Yield the curves through the points, smoothest first."""
    from scipy.interpolate import CubicSpline, PchipInterpolator

    steps = np.hypot(*np.diff(line, axis=0).T)
    knots = np.append(0.0, np.cumsum(steps))
    smooth = np.asarray(CubicSpline(knots, line, axis=0).c, dtype=np.float64)
    yield OutlineCurve(knots, smooth, _foremost(knots, smooth), "smooth")
    # over all but vanishing slopes it divides; the slope at the knot then comes out as 0, as it should
    with np.errstate(over="ignore"):
        steady = np.asarray(PchipInterpolator(knots, line, axis=0).c, dtype=np.float64)
    yield OutlineCurve(knots, steady, _foremost(knots, steady), "shape-preserving")
    straight = np.zeros((4, len(knots) - 1, 2))
    straight[2] = np.diff(line, axis=0) / steps[:, None]
    straight[3] = line[:-1]
    yield OutlineCurve(knots, straight, float(knots[np.argmin(line[:, 0])]), "straight")


def _within(knots: FloatArray) -> FloatArray:
    """Return the places looked at, shape (m - 1, SAMPLES): the start of each interval and inside it."""
    places: FloatArray = knots[:-1, None] + np.diff(knots)[:, None] * (np.arange(SAMPLES) / SAMPLES)
    return places


def _foremost(knots: FloatArray, pieces: FloatArray) -> float:
    """Return the parameter of the least x."""
    t = _within(knots) - knots[:-1, None]
    c3, c2, c1, c0 = pieces[:, :, 0, None]
    x = ((c3 * t + c2) * t + c1) * t + c0
    piece, sample = np.unravel_index(int(np.argmin(x)), x.shape)
    best, place = float(x[piece, sample]), float(knots[piece] + t[piece, sample])
    for k in {max(int(piece) - 1, 0), int(piece)}:
        a3, a2, a1, a0 = (float(c) for c in pieces[:, k, 0])
        root = a2 * a2 - 3.0 * a3 * a1
        if root <= 0.0:
            continue
        # dx/dt = 0, in the form that does not cancel; the second root is the one with x'' > 0
        away = a2 + float(np.sqrt(root))
        at = -a1 / away if away > 0.0 else (-a2 + float(np.sqrt(root))) / (3.0 * a3) if a3 else 0.0
        value = ((a3 * at + a2) * at + a1) * at + a0
        if 0.0 <= at <= knots[k + 1] - knots[k] and value < best:
            best, place = value, float(knots[k] + at)
    return place


def _is_faithful(curve: OutlineCurve, line: FloatArray) -> bool:
    """Whether the curve keeps to the points, runs aft on both surfaces and does not cross itself."""
    if curve.kind == "straight":
        return True
    if not curve.knots[1] <= curve.nose <= curve.knots[-2]:
        return False
    places = np.append(_within(curve.knots).ravel(), curve.knots[-1])
    walk = curve.at(places)
    if curve.kind == "smooth" and not _keeps_to(walk[:-1], line):
        return False
    upper, lower = walk[places <= curve.nose][::-1], walk[places >= curve.nose]
    return _runs_aft(upper) and _runs_aft(lower) and _is_open(upper, lower)


def _keeps_to(walk: FloatArray, line: FloatArray) -> bool:
    """Whether the curve bulges from no side of the polygon more than the polygon's turns explain."""
    chords = np.diff(line, axis=0)
    lengths = np.hypot(*chords.T)
    away = walk.reshape(len(chords), SAMPLES, 2) - line[:-1, None]
    off = np.abs(chords[:, None, 0] * away[..., 1] - chords[:, None, 1] * away[..., 0]).max(axis=1) / lengths
    if float(off.max()) <= FAITHFUL:
        return True
    heading = np.unwrap(np.arctan2(chords[:, 1], chords[:, 0]))
    turns = np.abs(np.diff(heading))
    first, last = np.append(turns[0], turns), np.append(turns, turns[-1])
    # beside a corner only one end turns: the smaller turn counts, at most doubled
    turn = np.minimum(np.minimum(first, last) * 2.0, np.maximum(first, last))
    arc = 0.5 * lengths * np.tan(np.minimum(turn, np.pi / 2) / 4.0)
    return bool((off <= np.maximum(FAITHFUL, BULGE_SLACK * arc)).all())


def _runs_aft(surface: FloatArray) -> bool:
    x = surface[:, 0]
    return float((np.maximum.accumulate(x) - x).max()) <= BACKWARD


def _is_open(upper: FloatArray, lower: FloatArray) -> bool:
    """Whether the lower surface stays below the upper one; behind the end of either does not count."""
    end = min(upper[-1, 0], lower[-1, 0])
    top, bottom = (np.column_stack([np.maximum.accumulate(s[:, 0]), s[:, 1]]) for s in (upper, lower))
    x = np.concatenate([top[:, 0], bottom[:, 0]])
    x = x[x <= end]
    return float((np.interp(x, *top.T) - np.interp(x, *bottom.T)).min()) >= -CROSSING
