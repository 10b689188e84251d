"""From the bare points of a coordinate file to an airfoil: frame, checks, nose.

Whatever is wrong with the points is reported with the line of the file at fault.
"""

from __future__ import annotations

import numpy as np

from wingpath.core.arrays import FloatArray, IntArray
from wingpath.geometry.airfoil import LEAST_POINTS, Airfoil
from wingpath.geometry.airfoil_order import LEAST_TOTAL, THICKEST, in_order, refuse
from wingpath.geometry.curve import CROSSING, OutlineCurve, outline_curve

__all__ = ["airfoil_from_points"]

NEAR_DUPLICATE = 5e-5
"""Points closer than this are one [chord]: 0.01 mm on a 200 mm chord, and the rounding of 4 decimals,
which gives so short a segment any direction."""

DOUBLING_BACK = 5e-4
"""A point that lies behind the one before it by less is rounding and is left out [chord]."""

SPIKE_DEG = 100.0
"""Sharpest turn of a surface away from its ends: a square step still passes, a wrong ordinate not."""

SPIKE_ENDS = 0.03
"""Ahead and behind of this distance from the ends, coarse noses and bases turn as sharply [chord]."""

SAME_SURFACE = 2e-3
"""Two surfaces nowhere farther apart than this are one and the same [chord]."""

OWN_NOSE = 0.005
OWN_TRAILING_EDGE_X = 0.01
OWN_TRAILING_EDGE_Y = 0.02
"""A file is in the frame of its own chord line when its nose lies this close to x = 0, and the middle of
its trailing edge this close to x = 1 and y = 0 [chord]. It then stays as it is: nothing moves. In per cent,
per mille or any other unit it is only scaled."""

NEAR_END = 0.02
"""Distance from both ends at which a nose is told from a trailing edge [chord]."""

OWN_OVERHANG = 0.03
"""With a point at (0, 0), the section may reach farther ahead: the equations of strongly cambered
sections put the end of their chord line behind the foremost point [chord]."""

_NOSE_SEARCH = 0.02
"""Foremost point of files without a nose point: the curve through the points finds the nose [chord]."""


def airfoil_from_points(points: FloatArray, *, lines: IntArray, name: str, source: str) -> Airfoil:
    """Return the airfoil that a list of points describes.

    Parameters
    ----------
    points : array, shape (n, 2)
        In the order of the file, in any unit.
    lines : array of int, shape (n,)
        Line of the file that each point stands in.
    name, source : str
        Name of the airfoil, and of the file.

    Returns
    -------
    Airfoil
        With the given points, and a nose point on the curve through them where they have none.

    Raises
    ------
    AirfoilFileError
        When the points are no section, with the line at fault.
    """
    points, lines = in_order(points, lines, source)
    scale = _scale(points)
    own = scale is not None
    points = _normalised(points, _farthest(points)) if scale is None else points / scale
    points, lines = _upper_first(points, lines)
    points, lines = _clean(source, points, lines)
    curve = outline_curve(points)
    if own and not (-OWN_OVERHANG <= curve.nose_point[0] <= OWN_NOSE):
        own, points = False, _normalised(points, _farthest(points))
        curve = outline_curve(points)
    if not own:
        # the farthest point of the curve is seldom one of the file's points
        points, lines = _clean(source, _normalised(points, _farthest_of(curve)), lines)
        curve = outline_curve(points)
    upper, lower = _split(points, curve)
    fewer = min(len(upper), len(lower))
    if fewer < LEAST_POINTS:
        refuse(source, None, f"one surface has only {fewer} points; expected {LEAST_POINTS} or more")
    return Airfoil(name, upper, lower, source)


def _clean(source: str, points: FloatArray, lines: IntArray) -> tuple[FloatArray, IntArray]:
    """Merge near-duplicates, leave out rounding, and refuse surfaces that make no section."""
    points, lines = _merged(points, lines)
    points, lines = _running_aft(source, points, lines)
    _refuse_spikes(source, points, lines)
    if len(points) < LEAST_TOTAL:
        refuse(source, None, f"only {len(points)} points differ; expected {LEAST_TOTAL} or more")
    _refuse_crossing(source, points, lines)
    return points, lines


def _running_aft(source: str, points: FloatArray, lines: IntArray) -> tuple[FloatArray, IntArray]:
    nose = int(np.argmin(points[:, 0]))
    keep = np.ones(len(points), dtype=bool)
    for side in (slice(nose, None, -1), slice(nose, None)):
        x = points[side, 0]
        back = np.maximum.accumulate(x) - x
        worst = int(np.argmax(back))
        if back[worst] > DOUBLING_BACK:
            refuse(
                source,
                lines[side][worst],
                f"x = {x[worst]:.6g} lies {back[worst]:.2g} chord ahead of a point nearer the nose: the "
                "surface doubles back; expected x to run one way from nose to trailing edge",
            )
        keep[side] &= back == 0.0
    # the trailing edge stays; what reaches behind it goes
    for end, inner in ((0, slice(1, nose)), (-1, slice(nose + 1, len(points) - 1))):
        if not keep[end]:
            keep[end] = True
            keep[inner] &= points[inner, 0] <= points[end, 0]
    return points[keep], lines[keep]


def _refuse_spikes(source: str, points: FloatArray, lines: IntArray) -> None:
    chords = np.diff(points, axis=0)
    ahead, behind = chords[:-1], chords[1:]
    cross = ahead[:, 0] * behind[:, 1] - ahead[:, 1] * behind[:, 0]
    turn = np.abs(np.rad2deg(np.arctan2(cross, (ahead * behind).sum(axis=1))))
    inner = points[1:-1, 0]
    sharp = np.flatnonzero((turn > SPIKE_DEG) & (inner > SPIKE_ENDS) & (inner < 1.0 - SPIKE_ENDS))
    if len(sharp):
        worst = sharp[int(np.argmax(turn[sharp]))]
        refuse(
            source,
            lines[worst + 1],
            f"the outline turns by {turn[worst]:.0f} degrees here; expected a smooth surface",
        )


def _refuse_crossing(source: str, points: FloatArray, lines: IntArray) -> None:
    nose = int(np.argmin(points[:, 0]))
    upper, lower = points[nose::-1], points[nose:]
    x = points[:, 0]
    depth = np.interp(x, *upper.T) - np.interp(x, *lower.T)
    if float(np.abs(depth).max()) < SAME_SURFACE:
        refuse(source, None, "both surfaces are the same; expected an upper and a lower surface")
    within = x <= min(upper[-1, 0], lower[-1, 0])
    worst = int(np.argmin(np.where(within, depth, np.inf)))
    if depth[worst] < -CROSSING:
        refuse(
            source,
            lines[worst],
            f"the surfaces cross: the lower one is {-depth[worst]:.2g} chord above the upper one at "
            f"x = {x[worst]:.4g}",
        )
    if float(depth.max()) > THICKEST:
        refuse(source, lines[int(np.argmax(depth))], f"the section is {depth.max():.2f} chords thick")
    near, far = float(x.min()) + NEAR_END, float(x.max()) - NEAR_END
    ends = np.interp([near, far], *upper.T) - np.interp([near, far], *lower.T)
    if max(ends[0], upper[-1, 1] - lower[-1, 1]) < 0.5 * ends[1]:
        refuse(
            source,
            None,
            f"the section is {ends[0]:.3f} chord thick near its nose and {ends[1]:.3f} near its trailing "
            "edge: it seems to point the other way; expected x = 0 at the nose",
        )


def _scale(points: FloatArray) -> float | None:
    """Return what to divide by to come to the frame of the chord line: None when that is not enough."""
    chord = 0.5 * float(points[0, 0] + points[-1, 0])
    units = (1.0, 100.0, 1000.0, chord) if chord > 0.0 else ()
    return next((unit for unit in units if _in_own_frame(points / unit)), None)


def _in_own_frame(points: FloatArray) -> bool:
    edge = 0.5 * (points[0] + points[-1])
    origin = float(np.hypot(*points.T).min()) <= NEAR_DUPLICATE
    return bool(
        -(OWN_OVERHANG if origin else OWN_NOSE) <= points[:, 0].min() <= _NOSE_SEARCH
        and abs(edge[0] - 1.0) <= OWN_TRAILING_EDGE_X
        and abs(edge[1]) <= OWN_TRAILING_EDGE_Y
    )


def _farthest(points: FloatArray) -> FloatArray:
    """Return the point farthest from the middle of the trailing edge."""
    away = points - 0.5 * (points[0] + points[-1])
    farthest: FloatArray = points[int(np.argmax((away**2).sum(axis=1)))]
    return farthest


def _farthest_of(curve: OutlineCurve) -> FloatArray:
    """Return the point of the curve farthest from the middle of its trailing edge."""
    knots = curve.knots
    edge = curve.at(knots[[0, -1]]).mean(axis=0)
    low, high = float(knots[0]), float(knots[-1])
    for _ in range(4):
        places = np.linspace(low, high, 257)
        most = int(np.argmax(((curve.at(places) - edge) ** 2).sum(axis=1)))
        low, high = places[max(most - 1, 0)], places[min(most + 1, 256)]
    farthest: FloatArray = curve.at(0.5 * (low + high))[0]
    return farthest


def _normalised(points: FloatArray, nose: FloatArray) -> FloatArray:
    """Move, turn and scale: `nose` to the origin, the middle of the trailing edge to (1, 0)."""
    aft = 0.5 * (points[0] + points[-1]) - nose
    turned = (points - nose) @ np.array([[aft[0], -aft[1]], [aft[1], aft[0]]])
    result: FloatArray = turned / float(aft @ aft)
    return result


def _upper_first(points: FloatArray, lines: IntArray) -> tuple[FloatArray, IntArray]:
    """Return the points so that they go round counter-clockwise: upper surface first."""
    x, y = points.T
    twice_area = float(x @ np.roll(y, -1) - y @ np.roll(x, -1))
    return (points, lines) if twice_area >= 0.0 else (points[::-1], lines[::-1])


def _merged(points: FloatArray, lines: IntArray) -> tuple[FloatArray, IntArray]:
    """Leave out points that lie on the one before them; the two ends stay."""
    if float(np.hypot(*np.diff(points, axis=0).T).min()) > NEAR_DUPLICATE:
        return points, lines
    keep = [0]
    for i in range(1, len(points)):
        if np.hypot(*(points[i] - points[keep[-1]])) > NEAR_DUPLICATE:
            keep.append(i)
    if keep[-1] != len(points) - 1:
        keep[-1] = len(points) - 1
    return points[keep], lines[keep]


def _split(points: FloatArray, curve: OutlineCurve) -> tuple[FloatArray, FloatArray]:
    """Return both surfaces from the foremost point of the curve, put in where no point is."""
    nose = curve.nose_point
    foremost = int(np.argmin(points[:, 0]))
    behind = int(np.searchsorted(curve.knots, curve.nose))
    if foremost not in (behind - 1, behind) or np.hypot(*(points[foremost] - nose)) <= NEAR_DUPLICATE:
        return points[foremost::-1], points[foremost:]
    return np.vstack([nose, points[behind - 1 :: -1]]), np.vstack([nose, points[behind:]])
