"""Reading a G-code program of any origin into moves.

Understood: G0, G1, G2, G3 (centre by I and J, or R), G10, G11, G20, G21, G28, G90, G91, G92, M82, M83; N
words, checksums, comments in round brackets and after a semicolon, small letters, blanks. What else moves the
nozzle, or may, is kept as a jump; everything else is passed over.
Sources: see :mod:`wingpath.io.gcode`.
"""

from __future__ import annotations

import math
import re
from array import array
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import BinaryIO

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

MOST_JUMPS = 100_000
"""More lines than this that jump, or that draw filament back, are refused, for memory."""

LONGEST_LINE = 10_000
"""A longer line, its comment left out, is no program [bytes]; one has 256 at most (NISTIR 6556, 3.3)."""

MOST_ODD = 25
"""Odd lines that are told one by one; the rest are counted in the last of them."""

FARTHEST_MM = 1e5
"""A place farther out than this is a slip of the pen [mm]."""

MOST_FILAMENT_MM = 1e7
"""A larger count of filament is one too: 30 kg of it [mm]."""

ARC_SLACK = 0.01
"""The radii at both ends of an arc may differ by this share, or by 0.05 mm, whichever is more."""

REPORT_EVERY = 50_000
"""Lines between two looks at how much has been read."""

REPORT_SHARE = 0.05
"""Share of the file between two reports of progress."""

# no two ways to match one text: a line of digits must not take for ever
_NUMBER = rb"([-+]?(?:\d+(?:\.\d*)?|\.\d+))"
_USUAL = re.compile(
    rb"G([01])(?: F[\d.]+)?(?: X%b)?(?: Y%b)?(?: Z%b)?(?: E%b)?(?: F[\d.]+)?\s*(?:;.*)?\Z"
    % (_NUMBER, _NUMBER, _NUMBER, _NUMBER),
    re.DOTALL,
)
"""The way most lines are written; they are read without looking at every word."""

_WORD = re.compile(rb"([A-Z])%b?" % _NUMBER)
_COMMENT = re.compile(rb"\([^)]*(?:\)|\Z)|;.*", re.DOTALL)
_LINE_NUMBER = re.compile(rb"N-?\d+")
_TOOL = re.compile(rb"T\d+")

_FREE_TEXT = (b"M117", b"M118", b"M23", b"M28", b"M30", b"M928", b"M115")
"""Words that may be followed by free text."""

_BY_ITSELF = frozenset(
    float(code)
    for code in b"12 27 29 30 34 38.2 38.3 38.4 38.5 52 53 54 55 56 57 58 59 61 92.1 92.2 92.3".split()
)
"""G words at which the machine wipes, parks, probes, goes back, or counts from elsewhere."""

_SWAPS = frozenset((125.0, 600.0, 701.0, 702.0))
"""M words at which the machine parks to change the filament."""

_TAKES_PLACES = frozenset((0.0, 1.0, 2.0, 3.0, 10.0, 11.0, 28.0, 92.0))
"""G words to which the places in a line belong."""

_PLACES = (b"X", b"Y", b"Z")
_MOVING = frozenset((*_PLACES, b"E"))
_TURNING = frozenset((*_MOVING, b"I", b"J", b"R"))


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
    tool: bytes = b"T0"
    rows: array[float] = field(default_factory=lambda: array("d"))
    lines: array[int] = field(default_factory=lambda: array("q"))
    arc_at: array[int] = field(default_factory=lambda: array("q"))
    arcs: array[float] = field(default_factory=lambda: array("d"))
    jumps: list[tuple[int, str]] = field(default_factory=list)
    withdrawals: list[int] = field(default_factory=list)
    odd: list[tuple[int, str]] = field(default_factory=list)
    odd_more: int = 0
    odd_last: int = 0


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
        When it is empty, not text, or too large.
    FileAccessError
        When it cannot be read.
    """
    machine, number, done, told = _Machine(), 0, 0, 0.0
    try:
        size = path.stat().st_size
        _refuse_too_much(path, size, machine)
        with path.open("rb") as stream:
            while raw := stream.readline(LONGEST_LINE + 1):
                number += 1
                done += len(raw)
                if len(raw) > LONGEST_LINE:
                    done += _rest_of_comment(stream, raw, f"{path}, line {number}")
                    _refuse_too_much(path, done, machine)
                if b"\0" in raw:
                    raise MeshFileError(
                        f"{path}, line {number}: got a zero byte; allowed: text; is it G-code?"
                    )
                if number == 1:
                    raw = raw.removeprefix(b"\xef\xbb\xbf")
                _line(machine, raw, number)
                if number % REPORT_EVERY == 0:
                    share = min(1.0, done / max(size, 1))
                    if share >= told + REPORT_SHARE:
                        progress("reading the program", share)
                        told = share
                    _refuse_too_much(path, max(size, done), machine)
    except OSError as error:
        raise FileAccessError(f"{path}: cannot be read ({error.strerror or error})") from error
    _refuse_too_much(path, max(size, done), machine)
    if not number:
        raise MeshFileError(f"{path}: is empty; give a file that holds G-code")
    if machine.odd_more:
        at, words = machine.odd[-1]
        more = f"; and {machine.odd_more} more such lines, the last in line {machine.odd_last}"
        machine.odd[-1] = (at, words + more)
    rows = np.frombuffer(machine.rows, dtype=np.float64).reshape(-1, 8)
    return Moves(
        source=path.name,
        start=rows[:, :3],
        end=rows[:, 3:6],
        length_mm=rows[:, 6],
        filament_mm=rows[:, 7],
        line=np.frombuffer(machine.lines, dtype=np.int64),
        arc_at=np.frombuffer(machine.arc_at, dtype=np.int64),
        arcs=np.frombuffer(machine.arcs, dtype=np.float64).reshape(-1, 3),
        jumps=tuple(machine.jumps),
        withdrawals=tuple(machine.withdrawals),
        odd=tuple(machine.odd),
        lines=number,
    )


def _rest_of_comment(stream: BinaryIO, raw: bytes, place: str) -> int:
    """Pass over the rest of a line that is a comment by now, and return its length."""
    if b";" not in raw:
        raise MeshFileError(
            f"{place}: got more than {LONGEST_LINE} characters; allowed: lines of a program, each "
            "with its end; is it G-code?"
        )
    passed = 0
    while not raw.endswith(b"\n") and passed <= MOST_BYTES and (raw := stream.readline(LONGEST_LINE)):
        passed += len(raw)
    return passed


def _refuse_too_much(path: Path, size: int, machine: _Machine) -> None:
    for count, most, what in (
        (size, MOST_BYTES, "bytes"),
        (len(machine.lines), MOST_MOVES, "moves"),
        (len(machine.jumps) + len(machine.withdrawals), MOST_JUMPS, "jumps and retractions"),
    ):
        if count > most:
            raise MeshFileError(
                f"{path}: got {count} {what}; allowed: up to {most}; check a part of the file"
            )


def _line(machine: _Machine, raw: bytes, number: int) -> None:
    if raw.isspace():
        return
    if b"\r" in raw and b"\r" in raw.rstrip():
        _odd(machine, number, "holds a carriage return inside; save the file with usual line ends")
        return
    usual = _USUAL.match(raw)
    if usual is not None:
        _usual_move(machine, usual, number)
        return
    text = _COMMENT.sub(_blank, raw) if b"(" in raw or b";" in raw else raw
    text = text.split(b"*", 1)[0].strip()
    if not text or text.startswith((b"%", b"/")):
        return
    squeezed = b"".join(text.upper().split())
    if squeezed.startswith(b"N"):
        squeezed = _LINE_NUMBER.sub(b"", squeezed, count=1)
    if _TOOL.fullmatch(squeezed):
        if squeezed != machine.tool:
            _jump(machine, number, _shown(squeezed))
        machine.tool = squeezed
        return
    if squeezed.startswith(_FREE_TEXT):
        return
    words = _WORD.findall(squeezed)
    codes = [(letter, float(value)) for letter, value in words if letter in b"GM" and value]
    odd = sum(len(letter) + len(value) for letter, value in words) != len(squeezed)
    if codes and squeezed.startswith(b"M") and (odd or all(letter == b"M" for letter, _ in codes)):
        # what follows are settings, in whatever form
        _obey(machine, codes[:1] if odd else codes, {}, number)
        return
    values: dict[bytes, float] = {}
    # words without a number are marks, which no motion takes
    marks = bool(codes) and not any(letter == b"G" and code < 4.0 for letter, code in codes)
    for letter, value in words:
        if letter in b"GM":
            odd = odd or not value
        elif letter in values or not (value or marks):
            odd = True
        else:
            values[letter] = float(value or 0.0)
    if odd:
        _odd(machine, number, f"is not words of a letter and a number, each once: {_shown(text)}")
        return
    _obey(machine, codes, values, number)


def _blank(comment: re.Match[bytes]) -> bytes:
    """Return what stands for a comment; a bracket that is never closed stays."""
    return b"(" if comment[0].startswith(b"(") and not comment[0].endswith(b")") else b" "


def _shown(text: bytes) -> str:
    return "".join(sign if sign.isprintable() else "?" for sign in text[:40].decode("ascii", "replace"))


def _odd(machine: _Machine, number: int, reason: str) -> None:
    if len(machine.odd) < MOST_ODD:
        machine.odd.append((number, f"line {number} {reason}"))
        return
    machine.odd_more += 1
    machine.odd_last = number


def _jump(machine: _Machine, number: int, words: str) -> None:
    if not machine.jumps or machine.jumps[-1][0] != number:
        machine.jumps.append((number, words))


def _obey(
    machine: _Machine, codes: list[tuple[bytes, float]], values: dict[bytes, float], number: int
) -> None:
    moves = machine.motion if not codes else None
    if not codes and moves is None and not _MOVING.isdisjoint(values):
        _odd(machine, number, "goes to a place before any G word has said how")
    alone = not any(letter == b"G" and code in _TAKES_PLACES for letter, code in codes)
    for letter, code in codes:
        if letter == b"M":
            if code in (82.0, 83.0):
                machine.e_absolute = code == 82.0
            elif code in _SWAPS:
                _jump(machine, number, f"M{code:g}")
        elif code in (0.0, 1.0, 2.0, 3.0):
            moves = machine.motion = int(code)
        elif code == 92.0:
            _set_place(machine, values, number)
        elif code == 28.0:
            _home(machine, values, number)
        elif code in (10.0, 11.0) and b"P" not in values and b"L" not in values:
            # the machine draws filament back by itself, and pushes it out again
            if code == 10.0 and machine.withdrawals[-1:] != [number]:
                machine.withdrawals.append(number)
        else:
            _switch(machine, code, values, number, alone=alone)
    if moves is not None and not (_TURNING if moves > 1 else _MOVING).isdisjoint(values):
        _move(machine, moves, values, number)


def _switch(machine: _Machine, code: float, values: dict[bytes, float], number: int, *, alone: bool) -> None:
    """Obey a G word that sets how the others are meant, or note that it does something else."""
    if code in (90.0, 91.0):
        # open firmware lets M82 and M83, given later, decide about the filament alone
        machine.absolute = machine.e_absolute = code == 90.0
    elif code in (20.0, 21.0):
        machine.unit = MM_PER_UNIT["inch"] if code == 20.0 else 1.0
    elif code in (18.0, 19.0):
        _odd(machine, number, f"turns arcs upright (G{code:g}); only those seen from above are read")
    if code in _BY_ITSELF or (alone and not _MOVING.isdisjoint(values)):
        _jump(machine, number, f"G{code:g}")
        if 5.0 <= code < 10.0:
            # curves end where they say
            for axis, letter in enumerate(_PLACES):
                base = 0.0 if machine.absolute else machine.place[axis]
                value = base + values.get(letter, math.inf) * machine.unit
                if abs(value) <= FARTHEST_MM:
                    machine.place[axis] = value


def _too_far(machine: _Machine, letter: bytes, value: float, number: int) -> bool:
    """Note a number that no machine reaches."""
    far = not abs(value) <= (MOST_FILAMENT_MM if letter == b"E" else FARTHEST_MM)
    if far:
        _odd(
            machine,
            number,
            f"has {letter.decode()} = {value:g} mm, which no machine reaches; it is passed over",
        )
    return far


def _set_place(machine: _Machine, values: dict[bytes, float], number: int) -> None:
    set_to = {
        letter: values.get(letter, 0.0) * machine.unit for letter in (*_PLACES, b"E") if letter in values
    }
    if not values:
        set_to = dict.fromkeys((*_PLACES, b"E"), 0.0)
    if any(_too_far(machine, letter, value, number) for letter, value in set_to.items()):
        return
    machine.e = set_to.pop(b"E", machine.e)
    for axis, letter in enumerate(_PLACES):
        machine.place[axis] = set_to.get(letter, machine.place[axis])
    if set_to:
        _jump(machine, number, f"G92 {b' '.join(set_to).decode()}")


def _home(machine: _Machine, values: dict[bytes, float], number: int) -> None:
    _jump(machine, number, "G28")
    for axis, letter in enumerate(_PLACES):
        if letter in values or not any(key in values for key in _PLACES):
            machine.place[axis] = 0.0


def _move(machine: _Machine, code: int, values: dict[bytes, float], number: int) -> None:
    start = machine.place
    end = list(start)
    for axis, letter in enumerate(_PLACES):
        value = values.get(letter)
        if value is not None:
            value *= machine.unit
            end[axis] = value if machine.absolute else start[axis] + value
            if _too_far(machine, letter, end[axis], number):
                return
    filament = 0.0
    pushed = values.get(b"E")
    if pushed is not None:
        pushed *= machine.unit
        if _too_far(machine, b"E", pushed, number):
            return
        filament = pushed - machine.e if machine.e_absolute else pushed
        machine.e = pushed if machine.e_absolute else machine.e + pushed
    length = math.hypot(end[0] - start[0], end[1] - start[1])
    arc = _arc(machine, code, values, end, number) if code > 1 else None
    if arc is not None:
        length = math.hypot(start[0] - arc[0], start[1] - arc[1]) * abs(arc[2])
        machine.arc_at.append(len(machine.lines))
        machine.arcs.extend(arc)
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
    far = not max(abs(right), abs(back), abs(high)) <= FARTHEST_MM
    if far or not (e is None or abs(e) <= MOST_FILAMENT_MM):
        values = {letter: float(text) for letter, text in zip((*_PLACES, b"E"), texts, strict=True) if text}
        _move(machine, int(code), values, number)
        return
    filament = 0.0
    if e is not None:
        filament = e - machine.e if machine.e_absolute else e
        machine.e = e if machine.e_absolute else machine.e + e
    machine.rows.extend(
        (left, front, low, right, back, high, math.hypot(right - left, back - front), filament)
    )
    machine.lines.append(number)
    machine.place = [right, back, high]


def _arc(
    machine: _Machine, code: int, values: dict[bytes, float], end: list[float], number: int
) -> tuple[float, float, float] | None:
    """Centre of an arc from where the machine is to `end`, and how far it turns, anticlockwise positive.

    None for nonsense, which is noted and taken as a straight move.
    """
    x, y = machine.place[:2]
    across, along = end[0] - x, end[1] - y
    chord = math.hypot(across, along)
    sign = 1.0 if code == 3 else -1.0
    if any(not abs(values.get(letter, 0.0)) * machine.unit <= FARTHEST_MM for letter in (b"I", b"J", b"R")):
        _odd(machine, number, "has an arc larger than any machine")
        return None
    if b"R" in values:
        radius = abs(values[b"R"]) * machine.unit
        if chord == 0.0 or radius < 0.5 * chord * (1.0 - ARC_SLACK):
            _odd(machine, number, "has an arc whose radius does not lead from its begin to its end")
            return None
        angle = 2.0 * math.asin(min(1.0, 0.5 * chord / radius))
        # the centre lies left of the chord of a short arc that turns left
        side = math.sqrt(max(0.0, radius**2 - 0.25 * chord**2)) / chord * sign
        if values[b"R"] < 0.0:
            side, angle = -side, 2.0 * math.pi - angle
        return x + 0.5 * across - side * along, y + 0.5 * along + side * across, sign * angle
    away = values.get(b"I", 0.0) * machine.unit, values.get(b"J", 0.0) * machine.unit
    centre = x + away[0], y + away[1]
    radius, other = math.hypot(*away), math.hypot(end[0] - centre[0], end[1] - centre[1])
    if radius == 0.0 or abs(radius - other) > max(0.05, ARC_SLACK * radius):
        _odd(machine, number, "has an arc whose begin and end are not equally far from its centre")
        return None
    begin = math.atan2(y - centre[1], x - centre[0])
    stop = math.atan2(end[1] - centre[1], end[0] - centre[0])
    turn = sign * (stop - begin) % (2.0 * math.pi)
    # an arc that ends where it begins goes all the way round
    return *centre, sign * (turn if turn > 1e-9 else 2.0 * math.pi)
