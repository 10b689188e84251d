"""Print time: how long a run of moves takes a machine that speeds up and brakes at a constant rate."""

from __future__ import annotations

import numpy as np

from wingpath.core.arrays import FloatArray

__all__ = ["corner_speeds", "move_times"]


STRAIGHT = 1e-9
"""A change of direction under this is rounding [rad]."""


def corner_speeds(points: FloatArray, speed_mm_s: FloatArray, *, corner_mm_s: float) -> FloatArray:
    """Return how fast each point of a run may be passed, shape (n + 1,) [mm/s]; 0 at both ends.

    Parameters
    ----------
    points : ndarray, shape (n + 1, 2) or (n + 1, 3)
        The run [mm].
    speed_mm_s : ndarray, shape (n,)
        Wanted speed of each move [mm/s].
    corner_mm_s : float
        Sudden change of velocity that the machine takes [mm/s].

    Notes
    -----
    Turning by an angle t at speed v changes the velocity by ``2 v sin(t / 2)``; v is what makes that equal
    to `corner_mm_s`, and no more than the wanted speed of the moves before and after.
    """
    passed = np.zeros(len(points))
    if len(points) < 3:
        return passed
    way = np.diff(points, axis=0)
    way = way / np.maximum(np.linalg.norm(way, axis=1), 1e-300)[:, None]
    # 2 sin(t / 2) is the distance between the two unit vectors
    bend = np.linalg.norm(np.diff(way, axis=0), axis=1)
    wanted = np.minimum(speed_mm_s[:-1], speed_mm_s[1:])
    turning = bend > STRAIGHT
    passed[1:-1] = np.where(turning, np.minimum(wanted, corner_mm_s / np.where(turning, bend, 1.0)), wanted)
    return passed


def move_times(
    points: FloatArray, speed_mm_s: FloatArray, *, acceleration_mm_s2: float, corner_mm_s: float
) -> FloatArray:
    """Return how long each move of a run takes, shape (n,) [s].

    Parameters
    ----------
    points : ndarray, shape (n + 1, 2) or (n + 1, 3)
        The run [mm].
    speed_mm_s : ndarray, shape (n,)
        Wanted speed of each move [mm/s].
    acceleration_mm_s2 : float
        Rate at which the machine speeds up and brakes [mm/s2].
    corner_mm_s : float
        See :func:`corner_speeds`.

    Notes
    -----
    Assumed: one constant acceleration, unlimited look-ahead, instant changes of velocity at corners up to
    `corner_mm_s`, no limit by the rate of commands. On a move of length d, entered at u and left at w, the
    peak is ``p^2 = min(v^2, (u^2 + w^2) / 2 + a d)`` and the time ``(2 p - u - w) / a`` plus the rest of
    the way at the wanted speed v.
    """
    length = np.linalg.norm(np.diff(points, axis=0), axis=1)
    limit = corner_speeds(points, speed_mm_s, corner_mm_s=corner_mm_s) ** 2
    # v^2 may change by 2 a d along a move: both sweeps are running minima
    gain = np.append(0.0, np.cumsum(2.0 * acceleration_mm_s2 * length))
    ahead = np.minimum.accumulate(limit - gain) + gain
    both = (np.minimum.accumulate((ahead + gain)[::-1])[::-1] - gain).clip(0.0)
    enter, leave = both[:-1], both[1:]
    top = np.minimum(speed_mm_s**2, 0.5 * (enter + leave) + acceleration_mm_s2 * length)
    top = np.maximum(top, np.maximum(enter, leave))
    ramps = (2.0 * top - enter - leave) / (2.0 * acceleration_mm_s2)
    changing = (2.0 * np.sqrt(top) - np.sqrt(enter) - np.sqrt(leave)) / acceleration_mm_s2
    return np.asarray(changing + np.maximum(length - ramps, 0.0) / np.maximum(speed_mm_s, 1e-9))
