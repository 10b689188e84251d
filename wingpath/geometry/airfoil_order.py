"""The order of the points of a coordinate file: one loop, or two runs, brought into one line.

One loop goes from the trailing edge over the nose and back, or starts at the nose; two runs give each
surface by itself, from the nose or from the trailing edge. Either surface may come first.
"""

from __future__ import annotations

from typing import NoReturn

import numpy as np

from wingpath.core.arrays import FloatArray, IntArray
from wingpath.core.errors import AirfoilFileError
from wingpath.geometry.airfoil import LEAST_POINTS

__all__ = ["LEAST_TOTAL", "THICKEST", "in_order", "is_whole", "refuse"]

LEAST_TOTAL = 2 * LEAST_POINTS
"""Fewest points of a file; the coarsest sections in circulation have 16."""

GREATEST_VALUE = 1e6
"""A greater ordinate is no length in any unit that a chord is given in."""

TURN = 0.05
"""A run of points turns when x goes back by this part of the chord; less is a flaw of one surface."""

JUMP = 0.5
"""Between the end of one run and the start of the next, x jumps by at least this part of the chord."""

CUT_SHORT = 0.03
"""The surfaces may end this far apart in x [chord]: trailing edges are cut square to the mean line."""

BASE_STEEPNESS = 3.0
"""Steeper end segments than this, beside a segment flatter than 1, are the base of a blunt edge."""

BASE_LENGTH = 0.005
"""x that a base may cover [chord]."""

THICKEST = 0.8
"""Greatest thickness [chord]: the thickest sections in circulation have under 0.5."""


def refuse(source: str, line: int | None, reason: str) -> NoReturn:
    """Raise an :class:`AirfoilFileError`."""
    raise AirfoilFileError(source, None if line is None else int(line), reason)


def in_order(points: FloatArray, lines: IntArray, source: str) -> tuple[FloatArray, IntArray]:
    """Return the points as one line from one trailing edge over the nose to the other.

    Parameters
    ----------
    points : array, shape (n, 2)
        In the order of the file, in any unit.
    lines : array of int, shape (n,)
        Line of the file that each point stands in.
    source : str
        Name of the file.

    Returns
    -------
    points : array, shape (m, 2)
        Without repeated points and without those that draw the base of a blunt trailing edge. Which
        surface comes first is left open.
    lines : array of int, shape (m,)
        Their lines.

    Raises
    ------
    AirfoilFileError
        When the points are too few, have no chord, are no two surfaces, or one surface is cut short.
    """
    points, lines, width = _sized(source, points, lines)
    order = _one_line(source, points[:, 0], lines, width)
    points, lines = _without_base(points[order], lines[order], width)
    _refuse_cut_short(source, points, lines, width)
    return points, lines


def _sized(source: str, points: FloatArray, lines: IntArray) -> tuple[FloatArray, IntArray, float]:
    """Drop repeated points, and refuse what is too few, too large or has no chord."""
    large = np.flatnonzero(np.abs(points).max(axis=1, initial=0.0) > GREATEST_VALUE)
    if len(large):
        value = np.abs(points[large[0]]).max()
        refuse(source, lines[large[0]], f"the ordinate {value:g} is too large; expected parts of the chord")
    keep = np.append(True, (np.diff(points, axis=0) != 0.0).any(axis=1))
    points, lines = points[keep[: len(points)]], lines[keep[: len(points)]]
    if len(points) < LEAST_TOTAL:
        refuse(source, None, f"got {len(points)} points; expected {LEAST_TOTAL} or more")
    width, height = (float(size) for size in np.ptp(points, axis=0))
    if not width > 1e-3:
        refuse(source, None, f"all x lie within {width:g}; expected x to run along the chord")
    if height > THICKEST * width:
        refuse(
            source,
            lines[int(np.argmax(np.abs(points[:, 1] - np.median(points[:, 1]))))],
            f"the section is {height / width:.2f} chords high; expected x along the chord and less "
            f"than {THICKEST}",
        )
    return points, lines, width


def _one_line(source: str, x: FloatArray, lines: IntArray, width: float) -> IntArray:
    """Return the order of the points from one trailing edge over the nose to the other."""
    heading, turns = _turns(x, TURN * width)
    if not turns:
        refuse(source, None, "x runs one way only: the file holds one surface; expected both")
    jump = _jump(x, turns, width)
    index = np.arange(len(x))
    if jump is not None:
        first, second = index[: jump + 1], index[jump + 1 :]
        if heading < 0:
            first, second = first[::-1], second[::-1]
        if abs(x[first[0]] - x[second[0]]) > CUT_SHORT * width:
            late = max(first[0], second[0], key=lambda i: x[i])
            refuse(
                source,
                lines[late],
                f"this surface starts at x = {x[late]:g}, the other ahead of it; expected both from the nose",
            )
        return np.append(first[::-1], second)
    if len(turns) == 1:
        if heading < 0:
            return index
        return np.append(index[turns[0] :: -1], index[: turns[0] - 1 : -1])
    nose = min(turns, key=lambda i: float(x[i]))
    wrong = next(i for i in turns if i != nose) if heading < 0 else turns[1]
    refuse(
        source,
        lines[wrong],
        f"x turns back at {x[wrong]:g}, so that a surface doubles back; expected one loop from the "
        "trailing edge over the nose, or two runs from the nose, of one section",
    )


def _refuse_cut_short(source: str, points: FloatArray, lines: IntArray, width: float) -> None:
    first, last = float(points[0, 0]), float(points[-1, 0])
    if abs(first - last) > CUT_SHORT * width:
        short = 0 if first < last else -1
        refuse(
            source,
            lines[short],
            f"this surface ends at x = {min(first, last):g}, the other at {max(first, last):g}; expected "
            "both to reach the trailing edge",
        )


def is_whole(points: FloatArray) -> bool:
    """Whether the points have two surfaces that both reach the trailing edge, right or wrong otherwise."""
    try:
        in_order(points, np.arange(len(points)), "")
    except AirfoilFileError:
        return False
    return True


def _turns(x: FloatArray, least: float) -> tuple[int, list[int]]:
    """Return the first heading (+1 aft, -1 forward) and the points at which x turns by `least` or more."""
    values = x.tolist()
    first = heading = low = high = 0
    turns: list[int] = []
    for i, value in enumerate(values):
        if value > values[high]:
            high = i
        if value < values[low]:
            low = i
        if heading >= 0 and value < values[high] - least:
            if heading > 0:
                turns.append(high)
            heading, low = -1, i
            first = first or -1
        elif heading <= 0 and value > values[low] + least:
            if heading < 0:
                turns.append(low)
            heading, high = 1, i
            first = first or 1
    return first, turns


def _jump(x: FloatArray, turns: list[int], width: float) -> int | None:
    """Return the last point of the first of two runs, or None when the points are no two runs."""
    if len(turns) != 2:
        return None
    steps = np.abs(np.diff(x[turns[0] : turns[1] + 1]))
    most = int(np.argmax(steps))
    if steps[most] < JUMP * width or float(steps.sum() - steps[most]) > TURN * width:
        return None
    return turns[0] + most


def _without_base(points: FloatArray, lines: IntArray, width: float) -> tuple[FloatArray, IntArray]:
    """Drop the points that draw the base of a blunt trailing edge: they belong to neither surface."""

    def base(run: FloatArray) -> int:
        step = np.abs(np.diff(run[: min(len(run), 12)], axis=0))
        steep = step[:, 1] > BASE_STEEPNESS * step[:, 0]
        count = int(np.argmin(steep)) if not steep.all() else 0
        corner = count and step[count, 1] < step[count, 0]
        return count if corner and step[:count, 0].sum() < BASE_LENGTH * width else 0

    kept = slice(base(points), len(points) - base(points[::-1]))
    return points[kept], lines[kept]
