"""From anyone's G-code to findings: whether it is one bead without a break."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from wingpath.build.move_judging import judge_moves, part_of
from wingpath.build.moves import Moves
from wingpath.core.arrays import BoolArray, FloatArray, IntArray
from wingpath.core.errors import InputError
from wingpath.core.findings import Finding
from wingpath.io.gcode_reader import read_gcode
from wingpath.io.profile_store import load_printer
from wingpath.pipeline.progress import Progress, silent

__all__ = ["ProgramJudgement", "bead_run", "check_program", "program_document"]


WHOLE_CODES = ("falling", "off-bed")
"""Errors that leave the bead unbroken."""

ARC_STEP_RAD = np.deg2rad(4.0)
"""Arcs are drawn in chords that turn by this much at most [rad]."""

LEAST_CHORD_MM = 0.02
"""Chords of small arcs are no shorter: a twentieth of a bead's width [mm]."""

MOST_CHORDS = 2_000_000
"""About so many chords are drawn in all; with more arcs they get longer."""


@dataclass(frozen=True, slots=True, eq=False)
class ProgramJudgement:
    """A G-code program, judged."""

    source: str
    moves: Moves
    findings: tuple[Finding, ...]

    @property
    def unbroken(self) -> bool:
        """Whether one bead runs from the first to the last extruding move.

        Such a bead may still leave the bed or go down into what is printed.
        """
        return not any(f.severity == "error" and f.code not in WHOLE_CODES for f in self.findings)


def check_program(
    path: str | Path, *, printer: str | None = None, progress: Progress = silent
) -> ProgramJudgement:
    """Judge any G-code file: whether it extrudes without a break from its first bead to its last.

    Parameters
    ----------
    path : path
        The file.
    printer : str, optional
        Name or path of a printer profile; the path is then also held against its bed and height.
    progress : callable
        Told what is being done and how far it is.

    Raises
    ------
    MeshFileError
        When the file is no program.
    FileAccessError
        When it cannot be read.
    SpecError
        When there is no such printer.
    """
    room = None
    if printer is not None:
        profile = load_printer(printer, key="--printer", allow_outside=True)
        middle = np.array(profile.centre_mm)
        half = 0.5 * np.array([profile.bed_x_mm, profile.bed_y_mm])
        room = np.array([[*(middle - half), 0.0], [*(middle + half), profile.height_mm]])
    moves = read_gcode(Path(path), progress=lambda words, share: progress(words, 0.85 * share))
    progress("judging the moves", 0.9)
    findings = judge_moves(moves, room=room)
    progress("done", 1.0)
    return ProgramJudgement(str(path), moves, findings)


def program_document(one: ProgramJudgement) -> dict[str, Any]:
    """Return what there is to say about one program as plain data."""
    moves, bead = one.moves, part_of(one.moves)
    reached = np.concatenate([moves.start[bead][:1], *moves.reach(bead)])
    low, high = (reached.min(axis=0), reached.max(axis=0)) if len(reached) else (np.zeros(3), np.zeros(3))
    return {
        "file": one.source,
        "unbroken": one.unbroken,
        "lines": moves.lines,
        "moves": len(moves),
        "bead_moves": int(moves.extruding[bead].sum()),
        "path_m": round(moves.path_mm / 1000.0, 4),
        "filament_mm": round(float(moves.filament_mm[bead].sum()), 4),
        "low_mm": [round(float(value), 4) for value in low],
        "high_mm": [round(float(value), 4) for value in high],
        "travels": int((moves.travel_mm[bead] > 0.0).sum()),
        "retractions": int((moves.drawn_back_mm[bead] > 0.0).sum()) + len(moves.withdrawals_in(bead)),
    }


def bead_run(one: ProgramJudgement) -> tuple[FloatArray, IntArray, BoolArray, float]:
    """Return the program as a run that can be drawn.

    Returns
    -------
    points : ndarray, shape (n + 1, 3)
        Places of the nozzle from the first bead to the last, arcs in short chords [mm].
    layer : ndarray of int, shape (n,)
        Layer of each chord or move, by its height over that of the first bead.
    dry : ndarray of bool, shape (n,)
        Which of them lay nothing.
    layer_mm : float
        Height of the first bead over the bed [mm].

    Raises
    ------
    InputError
        When no move lays filament.
    """
    moves, bead = one.moves, part_of(one.moves)
    if bead.stop == bead.start:
        raise InputError(f"{one.source}: no move of this file lays filament, so there is nothing to draw")
    end, laid = moves.end[bead], moves.extruding[bead]
    layer_mm = max(0.02, float(end[laid, 2].min()))
    layer = np.maximum.accumulate(np.ceil(end[:, 2] / layer_mm - 1e-3).astype(np.int64) - 1)
    points, of_move = _chords(moves, bead)
    return points, np.maximum(layer, 0)[of_move], ~laid[of_move], layer_mm


def _chords(moves: Moves, bead: slice) -> tuple[FloatArray, IntArray]:
    """Return the places along some moves, arcs in short chords, and the move that each chord belongs to."""
    start, end = moves.start[bead], moves.end[bead]
    turn, centre = np.zeros(len(end)), np.zeros((len(end), 2))
    mine = (moves.arc_at >= bead.start) & (moves.arc_at < bead.stop)
    rows = moves.arc_at[mine] - bead.start
    turn[rows], centre[rows] = moves.arcs[mine, 2], moves.arcs[mine, :2]
    most = max(1, MOST_CHORDS // max(1, len(rows)))
    seen = np.maximum(np.ceil(moves.length_mm[bead] / LEAST_CHORD_MM), 1)
    counts = np.maximum(np.ceil(np.abs(turn) / ARC_STEP_RAD), 1)
    counts = np.minimum(np.minimum(counts, seen), most).astype(np.int64)
    of_move = np.repeat(np.arange(len(end)), counts)
    share = (np.arange(len(of_move)) - np.repeat(np.cumsum(counts) - counts, counts) + 1.0) / counts[of_move]
    points = start[of_move] + share[:, None] * (end - start)[of_move]
    bent = np.flatnonzero(turn[of_move])
    row = of_move[bent]
    away, angle = start[row, :2] - centre[row], share[bent] * turn[row]
    points[bent, 0] = centre[row, 0] + np.cos(angle) * away[:, 0] - np.sin(angle) * away[:, 1]
    points[bent, 1] = centre[row, 1] + np.sin(angle) * away[:, 0] + np.cos(angle) * away[:, 1]
    points[np.cumsum(counts) - 1] = end
    return np.concatenate([start[:1], points]), of_move
