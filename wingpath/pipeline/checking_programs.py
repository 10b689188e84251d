"""From anyone's G-code to findings: whether it is one bead without a break."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from wingpath.build.moves import Moves, judge_moves
from wingpath.core.arrays import BoolArray, FloatArray, IntArray
from wingpath.core.errors import InputError
from wingpath.core.findings import Finding
from wingpath.io.gcode_reader import read_gcode
from wingpath.io.profile_store import load_printer
from wingpath.pipeline.progress import Progress, silent

__all__ = ["ProgramJudgement", "bead_run", "check_program", "program_document"]


@dataclass(frozen=True, slots=True, eq=False)
class ProgramJudgement:
    """A G-code program, judged."""

    source: str
    moves: Moves
    findings: tuple[Finding, ...]

    @property
    def unbroken(self) -> bool:
        """Whether one bead runs from the first to the last extruding move."""
        return not any(finding.severity == "error" for finding in self.findings)


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
    moves, bead = one.moves, one.moves.bead
    places = np.concatenate([moves.start[bead], moves.end[bead]])
    low, high = (places.min(axis=0), places.max(axis=0)) if len(places) else (np.zeros(3), np.zeros(3))
    codes = [finding.code for finding in one.findings]
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
        "travels": codes.count("travel"),
        "retractions": codes.count("retraction"),
    }


def bead_run(one: ProgramJudgement) -> tuple[FloatArray, IntArray, BoolArray, float]:
    """Return the program as a run that can be drawn.

    Returns
    -------
    points : ndarray, shape (n + 1, 3)
        Places of the nozzle from the first bead to the last [mm].
    layer : ndarray of int, shape (n,)
        Layer of each move, by its height over that of the first bead.
    dry : ndarray of bool, shape (n,)
        Moves that lay nothing.
    layer_mm : float
        Height of the first bead over the bed [mm].

    Raises
    ------
    InputError
        When no move lays filament.
    """
    moves, bead = one.moves, one.moves.bead
    if bead.stop == bead.start:
        raise InputError(f"{one.source}: no move of this file lays filament, so there is nothing to draw")
    start, end = moves.start[bead], moves.end[bead]
    points = np.concatenate([start[:1], end])
    laid = moves.extruding[bead]
    layer_mm = max(0.02, float(end[laid, 2].min()))
    layer = np.maximum.accumulate(np.ceil(end[:, 2] / layer_mm - 1e-3).astype(np.int64) - 1)
    return points, np.maximum(layer, 0), ~laid, layer_mm
