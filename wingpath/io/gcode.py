"""G-code of one path: words of ISO 6983-1 and the M-codes that open printer firmware has in common.

Sources: ISO 6983-1 (from memory); Kramer, Proctor, Messina, *The NIST RS274NGC Interpreter - Version 3*,
NISTIR 6556, 2000, for lines, numbers and modal words. The word E, length of filament, and M82, M83, M104 are
a convention of printer firmware and stand in no standard.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path

import numpy as np

from wingpath.build.arcs import Arc
from wingpath.build.toolpath import BRIM, LEAD_IN, Toolpath
from wingpath.core.arrays import FloatArray, IntArray
from wingpath.core.errors import InputError
from wingpath.core.units import S_PER_MIN
from wingpath.io.number_lines import NumberLines, Word, number_lines
from wingpath.model.panels import BedPlace
from wingpath.model.printer_blocks import LONGEST_LINE, MILLIMETRES, block_words, plain_number

__all__ = ["GcodeJob", "gcode_chunks", "write_gcode"]

RESTART_MM = 1000.0
"""With absolute filament lengths the count starts again at a loop after this much: single precision, which
many controllers compute in, holds a micrometre no farther [mm]."""

CLEAR_MM = 5.0
"""Height at which the nozzle goes to the begin of the path [mm]."""

APPROACH_MM_S = 100.0
"""Speed of that move, if the machine does it [mm/s]."""

LOWERING_MM_S = 10.0
"""Speed at which the nozzle is lowered onto the bed [mm/s]."""

XY_DIGITS, Z_DIGITS = 3, 4
"""Digits of places: a micrometre, and a tenth of one for the height, which a helix gains little by little."""

STRETCH_MOVES = 20_000
"""About so many moves are turned into text at once."""

E_DIGITS = 5
"""Digits of filament lengths: a hundred-thousandth of a millimetre."""

FINE_E_DIGITS = 8
"""The same where moves are so short or thin that five digits would round them to nothing."""

LEAST_E_STEPS = 4.0
"""A move gets at least this many steps of the last digit, or the finer digits are taken."""


@dataclass(frozen=True, slots=True, eq=False)
class GcodeJob:
    """What one file holds.

    Parameters
    ----------
    toolpath : Toolpath
        The moves, in the frame of the left part.
    place : BedPlace
        How the left part lies on the bed.
    hand : {"left", "right"}
        The right part is the mirror image, and lies mirrored.
    centre_mm : tuple of float
        Middle of the bed in the printer's coordinates [mm].
    filament_area_mm2 : float
        Section of the filament [mm2].
    max_speed_mm_s : float
        Highest speed of the printer [mm/s].
    relative : bool
        Whether filament lengths are written move by move.
    arcs : sequence of Arc
        Arcs that are written for the moves that they stand for, in their order.
    header : sequence of str
        What a person reads at the top.
    start, end : str
        Blocks before and after the path, names filled in.
    """

    toolpath: Toolpath
    place: BedPlace
    hand: str
    centre_mm: tuple[float, float]
    filament_area_mm2: float
    max_speed_mm_s: float
    relative: bool
    arcs: Sequence[Arc]
    header: Sequence[str]
    start: str
    end: str

    def __post_init__(self) -> None:
        if self.hand not in ("left", "right"):
            raise InputError(f"hand: got {self.hand!r}; allowed: left or right")
        object.__setattr__(self, "header", tuple(self.header))
        object.__setattr__(self, "arcs", tuple(self.arcs))


def write_gcode(path: Path, job: GcodeJob) -> int:
    """Write one file and return its size [bytes].

    Parameters
    ----------
    path : Path
        The file; what is there is replaced.
    job : GcodeJob
        What it holds.
    """
    size = 0
    with path.open("wb") as stream:
        for chunk in gcode_chunks(job):
            size += stream.write(chunk.encode("ascii", "replace"))
    return size


def gcode_chunks(job: GcodeJob) -> Iterator[str]:
    """Yield the text of a file piece by piece, whole lines at a time."""
    tool = job.toolpath
    flat = job.place.on_bed(tool.points[:, :2])
    if job.hand == "right":
        flat = flat * [1.0, -1.0]
    places = np.column_stack([flat + job.centre_mm, tool.points[:, 2]])
    yield "".join(f"{line}\n" for line in _comments(job.header))
    if not any(MILLIMETRES in words for words in block_words(job.start)):
        yield "G21\n"
    yield _block(job.start)
    yield "; the path: every move from here to the end of the last layer extrudes\n"
    yield "G90\n" + ("M83\n" if job.relative else "M82\n") + "G92 E0\n"
    x, y, z = (plain_number(float(value)) for value in places[0])
    away, down = min(APPROACH_MM_S, job.max_speed_mm_s), min(LOWERING_MM_S, job.max_speed_mm_s)
    yield f"G0 Z{plain_number(max(CLEAR_MM, float(places[0, 2])))} F{S_PER_MIN * down:.0f}\n"
    yield f"G0 X{x} Y{y} F{S_PER_MIN * away:.0f}\nG0 Z{z} F{S_PER_MIN * down:.0f}\n"
    yield from _moves(job, places)
    yield "; the path ends here\n"
    yield _block(job.end)


def _comments(lines: Sequence[str]) -> Iterator[str]:
    for line in lines:
        # whatever somebody calls an aircraft stays a comment on one line
        text = " ".join("".join(sign if sign.isprintable() else " " for sign in line).split())
        yield f"; {text}"[:LONGEST_LINE].rstrip()


def _block(text: str) -> str:
    return "".join(f"{line.rstrip()}\n" for line in text.strip().splitlines())


def _moves(job: GcodeJob, places: FloatArray) -> Iterator[str]:
    """Write all moves, a stretch of whole layers at a time so that memory is bounded."""
    tool = job.toolpath
    grown = np.cumsum(tool.volume_mm3) / job.filament_area_mm2
    least = float(np.diff(grown, prepend=0.0).min(initial=1.0))
    digits = E_DIGITS if least > LEAST_E_STEPS * 10.0**-E_DIGITS else FINE_E_DIGITS
    # what is rounded off one move is made up for on the next, so that the sum is right
    total = np.append(0.0, np.round(grown, digits))
    bounds = np.append(np.flatnonzero(np.diff(tool.layer, prepend=tool.layer[0] - 1)), len(tool))
    base = total[:-1] if job.relative else _restarts(total, bounds)
    columns = _Columns(
        places,
        total[1:] - base,
        np.maximum(1, np.rint(S_PER_MIN * tool.speed_mm_s)).astype(np.int64),
        digits,
    )
    layer = 0
    while layer < len(bounds) - 1:
        end = int(np.searchsorted(bounds, bounds[layer] + STRETCH_MOVES))
        end = min(max(end, layer + 1), len(bounds) - 1)
        yield from _stretch(job, columns, base, bounds[layer : end + 1].tolist())
        layer = end


@dataclass(frozen=True, slots=True, eq=False)
class _Columns:
    """Places of the nozzle, shape (n + 1, 3); filament and feed of each move; digits of filament."""

    places: FloatArray
    filament: FloatArray
    feed: IntArray
    digits: int


def _restarts(total: FloatArray, bounds: IntArray) -> FloatArray:
    """Return for every move where the count of filament began, restarted at loops now and then."""
    base, now = np.zeros(len(total) - 1), 0.0
    for first, last in pairwise(bounds.tolist()):
        if total[first] - now > RESTART_MM:
            now = float(total[first])
        base[first:last] = now
    return base


def _stretch(job: GcodeJob, columns: _Columns, base: FloatArray, bounds: list[int]) -> Iterator[str]:
    """Write some whole layers."""
    tool = job.toolpath
    layers = len(tool.temperature_c)
    low, high = bounds[0], bounds[-1]
    straight = _straight(columns, low, high)
    for first, last in pairwise(bounds):
        layer = int(tool.layer[first])
        yield f"; {_name_of(layer, layers)}\n"
        if layer > 0 and tool.temperature_c[layer] != tool.temperature_c[layer - 1]:
            yield f"M104 S{plain_number(float(tool.temperature_c[layer]))}\n"
        if not job.relative and first and base[first] != base[first - 1]:
            yield "G92 E0\n"
        at = first
        for arc in job.arcs[_first_arc(job.arcs, first) : _first_arc(job.arcs, last)]:
            yield straight.between(at - low, arc.first - low) + _arc(job, columns, arc)
            at = arc.last
        yield straight.between(at - low, last - low)


def _name_of(layer: int, layers: int) -> str:
    if layer == LEAD_IN:
        return "fills the nozzle"
    return "brim" if layer == BRIM else f"layer {layer + 1} of {layers}"


def _first_arc(arcs: Sequence[Arc], move: int) -> int:
    return bisect_left(arcs, move, key=lambda arc: arc.first)


def _straight(columns: _Columns, low: int, high: int) -> NumberLines:
    x, y, z = columns.places[low + 1 : high + 1].T
    height = np.round(columns.places[low : high + 1, 2], Z_DIGITS)
    feed = columns.feed[low:high]
    before = columns.feed[low - 1] if low else -1
    return number_lines(
        "G1",
        (
            Word(" X", x, XY_DIGITS),
            Word(" Y", y, XY_DIGITS),
            Word(" Z", z, Z_DIGITS, shown=height[1:] != height[:-1]),
            Word(" E", columns.filament[low:high], columns.digits),
            Word(" F", feed, 0, shown=np.diff(feed, prepend=before) != 0),
        ),
    )


def _arc(job: GcodeJob, columns: _Columns, arc: Arc) -> str:
    """Write one arc; its centre counts from its begin."""
    centre = job.place.on_bed(np.array([arc.centre]))[0]
    anticlockwise = arc.anticlockwise
    if job.hand == "right":
        centre, anticlockwise = centre * [1.0, -1.0], not anticlockwise
    start, end = columns.places[arc.first], columns.places[arc.last]
    away = centre + job.centre_mm - start[:2]
    filament = columns.filament[arc.first : arc.last]
    length = float(filament.sum()) if job.relative else float(filament[-1])
    feed = int(columns.feed[arc.first])
    fresh = not arc.first or feed != int(columns.feed[arc.first - 1])
    return (
        f"{'G3' if anticlockwise else 'G2'} X{end[0]:.{XY_DIGITS}f} Y{end[1]:.{XY_DIGITS}f}"
        + (f" Z{end[2]:.{Z_DIGITS}f}" if round(end[2], Z_DIGITS) != round(start[2], Z_DIGITS) else "")
        + f" I{away[0]:.{Z_DIGITS}f} J{away[1]:.{Z_DIGITS}f} E{length:.{columns.digits}f}"
        + (f" F{feed}\n" if fresh else "\n")
    )
