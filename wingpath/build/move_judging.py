"""Judging moves: whether a G-code program lays one bead without a break, and where it does not."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np

from wingpath.build.moves import LEAST_FILAMENT_MM, LEAST_MOVE_MM, Moves
from wingpath.core.arrays import BoolArray, FloatArray, runs_of
from wingpath.core.findings import Finding, sort_findings

__all__ = ["judge_moves", "part_of"]

GAP_SHARE = 0.2
"""A move with less than this share of the usual filament per millimetre leaves a gap."""

BRIDGE_MM = 5.0
"""A longer gap is an error: no bead beside or below makes up for it, as for bead in the air [mm]."""

GAP_MM = 1.0
"""Such a stretch counts from this length on: shorter ones are closed by the beads at both ends [mm]."""

FALL_MM = 0.005
"""The nozzle may sink by this much, which is rounding [mm]."""

PRIMING_SHARE = 0.2
"""Lines that fill the nozzle are flat and together no longer than this share of the bead that follows."""

MOST_PRIMING = 20
"""So many stretches of bead are looked at, to find the last that only fills the nozzle."""

MOST_PER_CODE = 25
"""Findings of one code that are listed one by one; the rest are counted in the last of them."""


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
    bead = part_of(moves)
    report = _Report(moves, bead)
    for line, words in moves.odd:
        report.add_one("odd-line", "warning", line, words, "check this line by hand")
    if bead.stop == bead.start:
        report.add_one(
            "extrusion-gap",
            "error",
            None,
            "no move of this file lays filament",
            "check that it is G-code for a printer",
        )
        return report.findings()
    if moves.cut_short:
        height = float(moves.end[bead][-1, 2])
        report.add_one(
            "cut-short",
            "error",
            moves.lines,
            "the file marks where its path begins and not where it ends: it stops at a height of "
            f"{height:.2f} mm",
            "part of it is lost: copy it once more from where it was written",
        )
    length, filament = moves.length_mm[bead], moves.filament_mm[bead]
    travel, back = moves.travel_mm[bead], moves.drawn_back_mm[bead]
    report.each(
        "travel",
        travel > 0.0,
        travel,
        lambda found: f"the nozzle travels {found:.2f} mm without extruding",
        "lay this stretch as bead, or shape the part so that each layer is one loop: foaming melt oozes on "
        "every travel",
        limit=0.0,
    )
    report.each(
        "retraction",
        back > 0.0,
        back,
        lambda found: f"{found:.3f} mm of filament are drawn back",
        "turn drawing back off: foaming melt that goes up the barrel jams it",
        limit=0.0,
    )
    report.several(
        "retraction",
        [(line, "the machine draws filament back by a length of its own") for line in moves.withdrawals],
        "turn drawing back off: foaming melt that goes up the barrel jams it",
    )
    fall = _falls(moves.start[bead, 2], moves.end[bead, 2])
    report.each(
        "falling",
        fall > 0.0,
        fall,
        lambda found: f"the nozzle goes down by {found:.3f} mm",
        "print each height once, from the bed up",
        limit=FALL_MM,
    )
    thin, usual = _thin(length, filament)
    for severity, mask in (
        ("error", thin > BRIDGE_MM),
        ("warning", (thin > 0.0) & (thin <= BRIDGE_MM)),
    ):
        report.each(
            "extrusion-gap",
            mask,
            filament / np.maximum(length, LEAST_MOVE_MM),
            lambda found: f"{found:.4f} mm of filament per mm; the path usually gets {usual:.4f}",
            "give this stretch as much filament as the rest",
            limit=GAP_SHARE * usual,
            unit="mm/mm",
            severity=severity,
        )
    if room is not None:
        low, high = moves.reach(bead)
        low[0], high[0] = np.minimum(low[0], moves.start[bead][0]), np.maximum(high[0], moves.start[bead][0])
        over = np.maximum(room[0] - low, high - room[1]).max(axis=1)
        report.each(
            "off-bed",
            over > FALL_MM,
            over,
            lambda found: f"the path leaves the printer by {found:.2f} mm",
            "place or turn the part so that it lies on the bed, or choose the printer that it is for",
            limit=0.0,
        )
    report.several(
        "jump",
        [
            (
                line,
                f"{words} between the first bead and the last: where the nozzle goes from here is not known",
            )
            for line, words in moves.jumps
        ],
        "keep one set of coordinates from the first bead to the last",
    )
    return report.findings()


def part_of(moves: Moves) -> slice:
    """Return the moves from the first bead to the last, without lines that fill the nozzle elsewhere.

    Such lines are flat, short, and apart from everything that comes after them.
    """
    bead = moves.bead
    laid, start = moves.extruding[bead], moves.start[bead]
    low, high = moves.reach(bead)
    begins, stops = runs_of(laid)
    behind = low[::-1], high[::-1]
    later_low = np.minimum.accumulate(behind[0])[::-1]
    later_high = np.maximum.accumulate(behind[1])[::-1]
    sums = np.append(0.0, np.cumsum(np.where(laid, moves.length_mm[bead], 0.0)))
    heights = np.concatenate([start[:, 2:], moves.end[bead, 2:]], axis=1)[laid]
    at = 0
    for stop, begin in zip(stops[:MOST_PRIMING].tolist(), begins[1:].tolist(), strict=False):
        height = heights[: int(laid[:stop].sum())]
        flat = height.max() - height.min() <= FALL_MM
        if not flat or sums[stop] > PRIMING_SHARE * (sums[-1] - sums[begin]):
            break
        first_low = np.minimum(low[at:stop].min(axis=0), start[at])[:2]
        first_high = np.maximum(high[at:stop].max(axis=0), start[at])[:2]
        rest_low = np.minimum(later_low[begin], start[begin])[:2]
        rest_high = np.maximum(later_high[begin], start[begin])[:2]
        if ((first_high < rest_low) | (rest_high < first_low)).any():
            at = begin
    return slice(bead.start + at, bead.stop)


def _falls(before: FloatArray, after: FloatArray) -> FloatArray:
    """Return how far each move goes below what was reached since the last fall [mm], 0 for others."""
    found = np.zeros(len(before))
    top = -np.inf
    rows = np.flatnonzero(after < before)
    for row, high, low in zip(rows.tolist(), before[rows].tolist(), after[rows].tolist(), strict=True):
        top = max(top, high)
        # many small steps down are one fall
        if top - low > FALL_MM:
            found[row], top = top - low, low
    return found


def _thin(length: FloatArray, filament: FloatArray) -> tuple[FloatArray, float]:
    """Return how long the stretch of far too little filament is that each move is part of, and what is usual.

    The length is 0 for moves that get enough, and for stretches that are too short to count [mm].
    """
    # moves straight up and moves too short to count end no stretch
    count, rows = len(length), np.flatnonzero(length > LEAST_MOVE_MM)
    length, filament = length[rows], filament[rows]
    laid = filament > LEAST_FILAMENT_MM
    ratio = filament / length
    order = np.argsort(ratio[laid])
    # half of the filament is laid at least this thickly: a path that is mostly too thin is seen as such
    weight = np.cumsum(filament[laid][order])
    middle = int(np.searchsorted(weight, 0.5 * weight[-1]))
    usual = float(ratio[laid][order][middle])
    sums = np.append(0.0, np.cumsum(length))
    thin = laid & (ratio < GAP_SHARE * usual)
    low, high = runs_of(thin)
    stretch = np.zeros(len(length))
    for a, b in zip(low.tolist(), high.tolist(), strict=True):
        whole = float(sums[b] - sums[a])
        stretch[a:b] = whole if whole >= GAP_MM else 0.0
    found = np.zeros(count)
    found[rows] = stretch
    return found, usual


class _Report:
    """Collects findings about moves, each with its line."""

    def __init__(self, moves: Moves, bead: slice) -> None:
        self._moves, self._bead = moves, bead
        self._found: list[Finding] = []

    def add_one(self, code: str, severity: str, line: int | None, message: str, remedy: str) -> None:
        self._found.append(
            Finding(code, severity, message, remedy, panel=self._moves.source, line=line)  # type: ignore[arg-type]
        )

    def several(self, code: str, items: Sequence[tuple[int, str]], remedy: str) -> None:
        """Report lines that make no move, where they stand between the first bead and the last."""
        first, last = (int(self._moves.line[row]) for row in (self._bead.start, self._bead.stop - 1))
        inside = [(line, words) for line, words in items if first < line < last]
        for number, (line, words) in enumerate(inside[:MOST_PER_CODE], start=1):
            text = words
            if number == MOST_PER_CODE and len(inside) > MOST_PER_CODE:
                text += (
                    f"; and {len(inside) - MOST_PER_CODE} more such lines, the last in line {inside[-1][0]}"
                )
            self.add_one(code, "error", line, text, remedy)

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
