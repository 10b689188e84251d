"""Reading a G-code program of any origin into moves.

Understood: G0, G1, G2, G3 (centre by I and J, or R), G20, G21, G90, G91, G92, G28, M82, M83; N words,
checksums, comments in round brackets and after a semicolon, small letters, blanks. Everything else is passed
over.
Sources: see :mod:`wingpath.io.gcode`.
"""

from __future__ import annotations

import math
import re
from array import array
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

from wingpath.build.moves import Moves
from wingpath.core.errors import FileAccessError, MeshFileError
from wingpath.core.units import MM_PER_UNIT

__all__ = ["GCODE_ENDINGS", "is_gcode", "read_gcode"]

GCODE_ENDINGS = (".gcode", ".gco", ".g", ".nc", ".ngc")
"""Endings of files that are read as programs."""

MOST_BYTES = 500_000_000
"""Larger files are refused: a day of printing is a tenth of that [bytes]."""

MOST_MOVES = 6_000_000
"""More moves than this are refused, for memory."""

LONGEST_LINE = 10_000
"""A longer line is no program [bytes]; a line of a program has 256 at most (NISTIR 6556, 3.3)."""

MOST_ODD = 50
"""Odd lines that are told."""

FARTHEST_MM = 1e6
"""A place farther out than this is a slip of the pen [mm]."""

ARC_SLACK = 0.01
"""The radii at both ends of an arc may differ by this share, or by 0.05 mm, whichever is more."""

REPORT_EVERY = 50_000
"""Lines between two reports of progress."""

_NUMBER = rb"([-+]?(?:\d+\.?\d*|\.\d+))"
_USUAL = re.compile(
    rb"G([01])(?: F[\d.]+)?(?: X%b)?(?: Y%b)?(?: Z%b)?(?: E%b)?(?: F[\d.]+)?\s*(?:;.*)?\Z"
    % (_NUMBER, _NUMBER, _NUMBER, _NUMBER),
    re.DOTALL,
)
"""The way most lines are written; they are read without looking at every word."""

_WORD = re.compile(rb"([A-Z])([-+]?(?:\d+\.?\d*|\.\d+))")
_COMMENT = re.compile(rb"\([^)]*\)")


def is_gcode(path: Path) -> bool:
    """Return whether a file is read as a program, by the ending of its name."""
    return path.suffix.lower() in GCODE_ENDINGS


@dataclass(slots=True)
class _Machine:
    """What the words so far have set."""

    place: list[float] = field(default_factory=lambda: [0.0, 0.0, 0.0])
    e: float = 0.0
    unit: float = 1.0
    absolute: bool = True
    e_absolute: bool = True
    motion: int | None = None
    rows: array[float] = field(default_factory=lambda: array("d"))
    lines: array[int] = field(default_factory=lambda: array("q"))
    jumps: list[tuple[int, str]] = field(default_factory=list)
    odd: list[tuple[int, str]] = field(default_factory=list)


def read_gcode(path: Path, *, progress: Callable[[str, float], None] = lambda _words, _share: None) -> Moves:
    """Read a program.

    Parameters
    ----------
    path : Path
        The file.
    progress : callable
        Told what is being done and how far it is, 0 to 1.

    Raises
    ------
    MeshFileError
        When it is not text, or too large.
    FileAccessError
        When it cannot be read.
    """
    machine, number, done = _Machine(), 0, 0
    try:
        size = path.stat().st_size
        if size > MOST_BYTES:
            raise MeshFileError(f"{path}: has {size} bytes; allowed: up to {MOST_BYTES}")
        with path.open("rb") as stream:
            while raw := stream.readline(LONGEST_LINE + 1):
                number += 1
                done += len(raw)
                if len(raw) > LONGEST_LINE:
                    raise MeshFileError(
                        f"{path}, line {number}: longer than {LONGEST_LINE} characters; is it G-code?"
                    )
                _line(machine, raw, number)
                if number % REPORT_EVERY == 0:
                    progress("reading the program", done / max(size, 1))
                    if len(machine.lines) > MOST_MOVES:
                        raise MeshFileError(f"{path}: has more than {MOST_MOVES} moves")
    except OSError as error:
        raise FileAccessError(f"{path}: cannot be read ({error.strerror or error})") from error
    rows = np.frombuffer(machine.rows, dtype=np.float64).reshape(-1, 8)
    return Moves(
        source=str(path),
        start=rows[:, :3],
        end=rows[:, 3:6],
        length_mm=rows[:, 6],
        filament_mm=rows[:, 7],
        line=np.frombuffer(machine.lines, dtype=np.int64),
        jumps=tuple(machine.jumps),
        odd=tuple(machine.odd),
        lines=number,
    )


def _line(machine: _Machine, raw: bytes, number: int) -> None:
    usual = _USUAL.match(raw)
    if usual is not None:
        _usual_move(machine, usual, number)
        return
    text = raw.split(b";", 1)[0]
    if b"(" in text:
        text = _COMMENT.sub(b" ", text)
    text = text.split(b"*", 1)[0].strip()
    if not text or text.startswith((b"%", b"/")):
        return
    squeezed = b"".join(text.upper().split())
    if squeezed.startswith(_FREE_TEXT):
        return
    words = _WORD.findall(squeezed)
    if sum(len(letter) + len(value) for letter, value in words) != len(squeezed):
        _odd(machine, number, f"is not words of a letter and a number: {_shown(text)}")
        return
    values: dict[bytes, float] = {}
    codes: list[tuple[bytes, float]] = []
    for letter, value in words:
        if letter in b"GM":
            codes.append((letter, float(value)))
        elif letter != b"N":
            values[letter] = float(value)
    _obey(machine, codes, values, number)


_FREE_TEXT = (b"M117", b"M118", b"M23", b"M28", b"M30", b"M928", b"T", b"M115")
"""Words that may be followed by free text."""


def _shown(text: bytes) -> str:
    return text[:40].decode("ascii", "replace")


def _odd(machine: _Machine, number: int, reason: str) -> None:
    if len(machine.odd) < MOST_ODD:
        machine.odd.append((number, f"line {number} {reason}"))


def _obey(
    machine: _Machine, codes: list[tuple[bytes, float]], values: dict[bytes, float], number: int
) -> None:
    moves: float | None = machine.motion if not codes else None
    for letter, code in codes:
        if letter == b"M":
            if code in (82.0, 83.0):
                machine.e_absolute = code == 82.0
        elif code in (0.0, 1.0, 2.0, 3.0):
            machine.motion = int(code)
            moves = code
        elif code in (90.0, 91.0):
            # open firmware lets M82 and M83, given later, decide about the filament alone
            machine.absolute = machine.e_absolute = code == 90.0
        elif code in (20.0, 21.0):
            machine.unit = MM_PER_UNIT["inch"] if code == 20.0 else 1.0
        elif code == 92.0:
            _set_place(machine, values, number)
        elif code == 28.0:
            _home(machine, values, number)
        elif code in (10.0, 11.0):
            _odd(machine, number, f"G{code:g} lets the machine draw filament back by itself")
    if moves is not None and any(letter in values for letter in (b"X", b"Y", b"Z", b"E")):
        _move(machine, int(moves), values, number)


def _set_place(machine: _Machine, values: dict[bytes, float], number: int) -> None:
    if b"E" in values or not values:
        machine.e = values.get(b"E", 0.0) * machine.unit
    for axis, letter in enumerate((b"X", b"Y", b"Z")):
        if letter in values or not values:
            machine.place[axis] = values.get(letter, 0.0) * machine.unit
            machine.jumps.append((number, f"G92 {letter.decode()}"))


def _home(machine: _Machine, values: dict[bytes, float], number: int) -> None:
    machine.jumps.append((number, "G28"))
    for axis, letter in enumerate((b"X", b"Y", b"Z")):
        if letter in values or not any(key in values for key in (b"X", b"Y", b"Z")):
            machine.place[axis] = 0.0


def _move(machine: _Machine, code: int, values: dict[bytes, float], number: int) -> None:
    start = machine.place
    end = list(start)
    for axis, letter in enumerate((b"X", b"Y", b"Z")):
        value = values.get(letter)
        if value is not None:
            value *= machine.unit
            end[axis] = value if machine.absolute else start[axis] + value
            if not abs(end[axis]) <= FARTHEST_MM:
                _odd(machine, number, f"goes to {letter.decode()} = {value:g}, which no machine reaches")
                return
    filament = 0.0
    pushed = values.get(b"E")
    if pushed is not None:
        pushed *= machine.unit
        filament = pushed - machine.e if machine.e_absolute else pushed
        machine.e = pushed if machine.e_absolute else machine.e + pushed
    length = math.hypot(end[0] - start[0], end[1] - start[1])
    if code in (2, 3):
        length = _arc_length(machine, code, values, end, number)
    machine.rows.extend((*start, *end, length, filament))
    machine.lines.append(number)
    machine.place = end


def _usual_move(machine: _Machine, words: re.Match[bytes], number: int) -> None:
    """Do what :func:`_move` does, for lines as most programs hold them."""
    code, *texts = words.groups()
    machine.motion = int(code)
    x, y, z, e = (None if text is None else float(text) * machine.unit for text in texts)
    if x is None and y is None and z is None and e is None:
        return
    left, front, low = machine.place
    if machine.absolute:
        right, back, high = left if x is None else x, front if y is None else y, low if z is None else z
    else:
        right, back, high = left + (x or 0.0), front + (y or 0.0), low + (z or 0.0)
    if not max(abs(right), abs(back), abs(high)) <= FARTHEST_MM:
        _odd(machine, number, "goes farther than any machine reaches")
        return
    filament = 0.0
    if e is not None:
        filament = e - machine.e if machine.e_absolute else e
        machine.e += filament
    machine.rows.extend(
        (left, front, low, right, back, high, math.hypot(right - left, back - front), filament)
    )
    machine.lines.append(number)
    machine.place = [right, back, high]


def _arc_length(
    machine: _Machine, code: int, values: dict[bytes, float], end: list[float], number: int
) -> float:
    """Length of an arc from where the machine is to `end`, seen from above."""
    x, y = machine.place[:2]
    chord = math.hypot(end[0] - x, end[1] - y)
    if b"R" in values:
        radius = abs(values[b"R"]) * machine.unit
        if radius < 0.5 * chord * (1.0 - ARC_SLACK) or radius == 0.0:
            _odd(machine, number, "has an arc whose radius does not reach from its begin to its end")
            return chord
        angle = 2.0 * math.asin(min(1.0, 0.5 * chord / radius))
        return radius * (2.0 * math.pi - angle if values[b"R"] < 0.0 else angle)
    away = values.get(b"I", 0.0) * machine.unit, values.get(b"J", 0.0) * machine.unit
    centre = x + away[0], y + away[1]
    radius, other = math.hypot(*away), math.hypot(end[0] - centre[0], end[1] - centre[1])
    if radius == 0.0 or abs(radius - other) > max(0.05, ARC_SLACK * radius):
        _odd(machine, number, "has an arc whose begin and end are not equally far from its centre")
        return chord
    begin = math.atan2(y - centre[1], x - centre[0])
    stop = math.atan2(end[1] - centre[1], end[0] - centre[0])
    turn = (stop - begin) if code == 3 else (begin - stop)
    turn %= 2.0 * math.pi
    # an arc that ends where it begins goes all the way round
    return radius * (turn if turn > 1e-9 else 2.0 * math.pi)
