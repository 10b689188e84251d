"""Moves: what a G-code program makes the nozzle do, and whether that is one unbroken bead."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from wingpath.core.arrays import BoolArray, FloatArray, IntArray, frozen_floats, frozen_ints
from wingpath.core.findings import Finding, sort_findings

__all__ = ["Moves", "judge_moves"]

LEAST_MOVE_MM = 0.005
"""Shorter moves are rounding of the program's digits [mm]."""

LEAST_FILAMENT_MM = 1e-9
"""Less filament than this is none [mm]."""

GAP_SHARE = 0.2
"""A move with less than this share of the usual filament per millimetre leaves a gap."""

GAP_MM = 1.0
"""Such a stretch counts from this length on: shorter ones are closed by the beads at both ends [mm]."""

FALL_MM = 0.005
"""The nozzle may sink by this much, which is rounding [mm]."""

MOST_PER_CODE = 25
"""Findings of one code that are listed one by one; the rest are counted in the last of them."""


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
    jumps : tuple of (int, str)
        Lines that set the place of the nozzle anew, or home, with the words.
    odd : tuple of (int, str)
        Lines that are not understood, with a reason.
    lines : int
        Lines of the file.
    """

    source: str
    start: FloatArray
    end: FloatArray
    length_mm: FloatArray
    filament_mm: FloatArray
    line: IntArray
    jumps: tuple[tuple[int, str], ...] = ()
    odd: tuple[tuple[int, str], ...] = ()
    lines: int = 0

    def __post_init__(self) -> None:
        count = len(self.line)
        for field in ("start", "end"):
            object.__setattr__(self, field, frozen_floats(getattr(self, field), (count, 3), name=field))
        for field in ("length_mm", "filament_mm"):
            object.__setattr__(self, field, frozen_floats(getattr(self, field), (count,), name=field))
        object.__setattr__(self, "line", frozen_ints(self.line, (count,), name="line"))

    def __len__(self) -> int:
        return len(self.line)

    @property
    def extruding(self) -> BoolArray:
        """Which moves lay filament while the nozzle moves sideways, shape (n,)."""
        return np.asarray((self.filament_mm > LEAST_FILAMENT_MM) & (self.length_mm > LEAST_MOVE_MM))

    @property
    def bead(self) -> slice:
        """The moves from the first bead to the last."""
        rows = np.flatnonzero(self.extruding)
        return slice(int(rows[0]), int(rows[-1]) + 1) if len(rows) else slice(0, 0)

    @property
    def path_mm(self) -> float:
        """Length of all bead [mm]."""
        return float(self.length_mm[self.extruding].sum())


def judge_moves(moves: Moves, *, room: FloatArray | None = None) -> tuple[Finding, ...]:
    """Ask whether a program lays one bead without a break, from its first bead to its last.

    Parameters
    ----------
    moves : Moves
        The program. What it does before the first bead and after the last is not asked about; lines that
        fill the nozzle apart from everything else come before the first bead.
    room : ndarray, shape (2, 3), optional
        Lower and upper corner of what the printer reaches [mm].
    """
    bead = _after_priming(moves)
    report = _Report(moves, bead)
    if bead.stop == bead.start:
        report.add_one(
            "extrusion-gap",
            "error",
            None,
            "no move of this file lays filament",
            "check that it is G-code for a printer",
        )
        return report.findings()
    length, filament = moves.length_mm[bead], moves.filament_mm[bead]
    rise = (moves.end - moves.start)[bead, 2]
    sideways = length > LEAST_MOVE_MM
    back = filament < -LEAST_FILAMENT_MM
    dry = np.abs(filament) <= LEAST_FILAMENT_MM
    report.each(
        "travel",
        sideways & ~(filament > LEAST_FILAMENT_MM),
        length,
        lambda found: f"the nozzle travels {found:.2f} mm without extruding",
        "lay this stretch as bead, or leave the filament out of it: foaming melt oozes on every travel",
        limit=0.0,
    )
    report.each(
        "retraction",
        back,
        -filament,
        lambda found: f"{found:.3f} mm of filament are drawn back",
        "turn drawing back off: foaming melt that goes up the barrel jams it",
        limit=0.0,
    )
    report.each(
        "falling",
        rise < -FALL_MM,
        -rise,
        lambda found: f"the nozzle goes down by {found:.3f} mm",
        "print each height once, from the bed up",
        limit=FALL_MM,
    )
    thin, usual = _thin(length, filament, sideways & ~back & ~dry)
    report.each(
        "extrusion-gap",
        thin,
        filament / np.maximum(length, LEAST_MOVE_MM),
        lambda found: f"{found:.4f} mm of filament per mm; the path usually gets {usual:.4f}",
        "give this stretch as much filament as the rest",
        limit=GAP_SHARE * usual,
        unit="mm/mm",
        severity="warning",
    )
    if room is not None:
        end = moves.end[bead]
        over = np.maximum(room[0] - end, end - room[1]).max(axis=1)
        report.each(
            "off-bed",
            over > FALL_MM,
            over,
            lambda found: f"the path leaves the printer by {found:.2f} mm",
            "place or turn the part so that it lies on the bed, or choose the printer that it is for",
            limit=0.0,
        )
    first, last = int(moves.line[bead.start]), int(moves.line[bead.stop - 1])
    for line, words in moves.jumps:
        if first < line < last:
            report.add_one(
                "jump",
                "error",
                line,
                f"{words} between the first bead and the last: where the nozzle goes from here is not known",
                "keep one set of coordinates from the first bead to the last",
            )
    for line, words in moves.odd:
        report.add_one("odd-line", "warning", line, words, "check this line by hand")
    return report.findings()


def _after_priming(moves: Moves) -> slice:
    """Return the moves from the first bead to the last, without lines that fill the nozzle elsewhere."""
    bead = moves.bead
    laid = moves.extruding
    while bead.stop > bead.start:
        dry = np.flatnonzero(~laid[bead])
        if not len(dry):
            break
        stop = bead.start + int(dry[0])
        rest = np.flatnonzero(laid[stop : bead.stop])
        begin = stop + int(rest[0])
        first, later = moves.end[bead.start : stop, :2], moves.end[begin : bead.stop, :2]
        apart = (first.max(axis=0) < later.min(axis=0)) | (later.max(axis=0) < first.min(axis=0))
        if not apart.any():
            break
        bead = slice(begin, bead.stop)
    return bead


def _thin(length: FloatArray, filament: FloatArray, real: BoolArray) -> tuple[BoolArray, float]:
    """Find the moves in stretches that get far less filament than usual, and what is usual."""
    ratio = filament / np.maximum(length, LEAST_MOVE_MM)
    order = np.argsort(ratio[real])
    weight = np.cumsum(length[real][order])
    middle = int(np.searchsorted(weight, 0.5 * weight[-1])) if len(weight) else 0
    usual = float(ratio[real][order][middle]) if len(weight) else 0.0
    thin = real & (ratio < GAP_SHARE * usual)
    edges = np.flatnonzero(np.diff(np.concatenate([[False], thin, [False]]).astype(np.int8)))
    sums = np.append(0.0, np.cumsum(length))
    for low, high in zip(edges[::2].tolist(), edges[1::2].tolist(), strict=True):
        if sums[high] - sums[low] < GAP_MM:
            thin[low:high] = False
    return thin, usual


class _Report:
    """Collects findings about moves, each with its line."""

    def __init__(self, moves: Moves, bead: slice) -> None:
        self._moves, self._bead = moves, bead
        self._found: list[Finding] = []

    def add_one(self, code: str, severity: str, line: int | None, message: str, remedy: str) -> None:
        self._found.append(
            Finding(code, severity, message, remedy, panel=self._moves.source, line=line)  # type: ignore[arg-type]
        )

    def each(
        self,
        code: str,
        mask: BoolArray,
        found: FloatArray,
        words: Callable[[float], str],
        remedy: str,
        *,
        limit: float,
        unit: str = "mm",
        severity: str = "error",
    ) -> None:
        """Report every move of a mask, the first ones one by one."""
        rows = np.flatnonzero(mask)
        for number, row in enumerate(rows[:MOST_PER_CODE].tolist(), start=1):
            at = self._bead.start + row
            text = words(float(found[row]))
            if number == MOST_PER_CODE and len(rows) > MOST_PER_CODE:
                last = int(self._moves.line[self._bead.start + int(rows[-1])])
                text += f"; and {len(rows) - MOST_PER_CODE} more such moves, the last in line {last}"
            x, y, z = (float(value) for value in self._moves.start[at])
            self._found.append(
                Finding(
                    code,
                    severity,  # type: ignore[arg-type]
                    text,
                    remedy,
                    panel=self._moves.source,
                    z_mm=z,
                    x_mm=x,
                    y_mm=y,
                    found=float(found[row]),
                    limit=limit,
                    unit=unit,
                    line=int(self._moves.line[at]),
                )
            )

    def findings(self) -> tuple[Finding, ...]:
        return sort_findings(self._found)
