"""Moves: what a G-code program makes the nozzle do."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from wingpath.core.arrays import BoolArray, FloatArray, IntArray, frozen_floats, frozen_ints, runs_of

__all__ = ["LEAST_FILAMENT_MM", "LEAST_MOVE_MM", "Moves"]

LEAST_MOVE_MM = 0.005
"""Shorter moves are rounding of the program's digits [mm]."""

LEAST_FILAMENT_MM = 1e-9
"""Less filament than this is none [mm]."""

LEAST_TURN_RAD = 1e-9
"""Directions closer than this are one [rad]."""


@dataclass(frozen=True, slots=True, eq=False)
class Moves:
    """The moves of a program, in order.

    Parameters
    ----------
    source : str
        The file.
    start, end : ndarray, shape (n, 3)
        Places of the nozzle before and after each move [mm].
    length_mm : ndarray, shape (n,)
        Length of each move seen from above, along the arc of an arc [mm].
    filament_mm : ndarray, shape (n,)
        Filament pushed out, negative when drawn back [mm].
    line : ndarray of int, shape (n,)
        Line of each move, counted from 1.
    arc_at : ndarray of int, shape (m,)
        Rows of the moves that are arcs.
    arcs : ndarray, shape (m, 3)
        Their centre seen from above, and how far they turn, anticlockwise positive [mm, mm, rad].
    jumps : tuple of (int, str)
        Lines that set the place of the nozzle anew, or home, or send it nobody knows where, with the words.
    withdrawals : tuple of int
        Lines in which the machine draws filament back by a length of its own.
    odd : tuple of (int, str)
        Lines that are not understood, with a reason.
    lines : int
        Lines of the file.
    cut_short : bool
        Whether the file marks where its path begins and not where it ends.
    """

    source: str
    start: FloatArray
    end: FloatArray
    length_mm: FloatArray
    filament_mm: FloatArray
    line: IntArray
    arc_at: IntArray = field(default_factory=lambda: np.zeros(0, np.int64))
    arcs: FloatArray = field(default_factory=lambda: np.zeros((0, 3)))
    jumps: tuple[tuple[int, str], ...] = ()
    withdrawals: tuple[int, ...] = ()
    odd: tuple[tuple[int, str], ...] = ()
    lines: int = 0
    cut_short: bool = False

    def __post_init__(self) -> None:
        count = len(self.line)
        for name in ("start", "end"):
            object.__setattr__(self, name, frozen_floats(getattr(self, name), (count, 3), name=name))
        for name in ("length_mm", "filament_mm"):
            object.__setattr__(self, name, frozen_floats(getattr(self, name), (count,), name=name))
        object.__setattr__(self, "line", frozen_ints(self.line, (count,), name="line"))
        object.__setattr__(self, "arc_at", frozen_ints(self.arc_at, (None,), name="arc_at"))
        arcs = frozen_floats(self.arcs, (len(self.arc_at), 3), name="arcs")
        object.__setattr__(self, "arcs", arcs)

    def __len__(self) -> int:
        return len(self.line)

    @property
    def extruding(self) -> BoolArray:
        """Which moves lay filament while the nozzle moves sideways, shape (n,)."""
        return np.asarray((self.filament_mm > LEAST_FILAMENT_MM) & (self.length_mm > LEAST_MOVE_MM))

    @property
    def travel_mm(self) -> FloatArray:
        """Length of each travel [mm], shape (n,): of moves sideways that lay nothing; 0 for others.

        Where such moves are each too short to count, the first of a row of them stands for all.
        """
        dry = ~(self.filament_mm > LEAST_FILAMENT_MM)
        long = self.length_mm > LEAST_MOVE_MM
        found = np.where(dry & long, self.length_mm, 0.0)
        low, high = runs_of(dry)
        counts = np.append(0, np.cumsum(long))
        sums = np.append(0.0, np.cumsum(np.where(dry, self.length_mm, 0.0)))
        short = (counts[high] == counts[low]) & (sums[high] - sums[low] > LEAST_MOVE_MM)
        found[low[short]] = (sums[high] - sums[low])[short]
        return found

    @property
    def drawn_back_mm(self) -> FloatArray:
        """Filament that each move draws back [mm], shape (n,); 0 for others."""
        return np.where(self.filament_mm < -LEAST_FILAMENT_MM, -self.filament_mm, 0.0)

    @property
    def bead(self) -> slice:
        """The moves from the first bead to the last."""
        rows = np.flatnonzero(self.extruding)
        return slice(int(rows[0]), int(rows[-1]) + 1) if len(rows) else slice(0, 0)

    def withdrawals_in(self, part: slice) -> tuple[int, ...]:
        """Lines of the withdrawals between the first and the last of some moves."""
        if part.stop == part.start:
            return ()
        first, last = int(self.line[part.start]), int(self.line[part.stop - 1])
        return tuple(line for line in self.withdrawals if first < line < last)

    def reach(self, part: slice) -> tuple[FloatArray, FloatArray]:
        """Lowest and highest place that each of some moves gets to, its begin left out, shape (n, 3)."""
        low, high = self.end[part].copy(), self.end[part].copy()
        mine = (self.arc_at >= part.start) & (self.arc_at < part.stop)
        centre, turn = self.arcs[mine, :2], self.arcs[mine, 2]
        rows = self.arc_at[mine]
        away = self.start[rows, :2] - centre
        begin = np.arctan2(away[:, 1], away[:, 0])
        radius = np.hypot(away[:, 0], away[:, 1])
        # an arc is farthest to the right, back, left, front where it passes these directions
        for quarter, (axis, sign) in enumerate(((0, 1.0), (1, 1.0), (0, -1.0), (1, -1.0))):
            ahead = np.sign(turn) * (0.5 * np.pi * quarter - begin) % (2.0 * np.pi)
            passed = (ahead > LEAST_TURN_RAD) & (ahead < np.abs(turn))
            at = rows[passed] - part.start
            value = (centre[:, axis] + sign * radius)[passed]
            low[at, axis] = np.minimum(low[at, axis], value)
            high[at, axis] = np.maximum(high[at, axis], value)
        return low, high

    @property
    def path_mm(self) -> float:
        """Length of all bead [mm]."""
        return float(self.length_mm[self.extruding].sum())
