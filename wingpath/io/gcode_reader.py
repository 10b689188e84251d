"""Reading a G-code program of any origin into moves.

Understood: G0, G1, G2, G3 (centre by I and J, or R), G10, G11, G20, G21, G28, G90, G91, G92, M82, M83; N
words, checksums, comments in round brackets and after a semicolon, small letters, blanks. What else moves the
nozzle, or may, is kept as a jump; everything else is passed over.
Sources: see :mod:`wingpath.io.gcode`.
"""

from __future__ import annotations

import os
import re
from collections.abc import Callable
from pathlib import Path
from typing import BinaryIO

import numpy as np

from wingpath.build.moves import Moves
from wingpath.core.errors import FileAccessError, MeshFileError
from wingpath.io.gcode_machine import Machine
from wingpath.io.reading import open_plain

__all__ = ["GCODE_ENDINGS", "is_gcode", "moves_of_block", "read_gcode"]

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


REPORT_EVERY = 50_000
"""Lines between two looks at how much has been read."""

REPORT_SHARE = 0.05
"""Share of the file between two reports of progress."""

PATH_BEGINS, PATH_ENDS = b"; the path: every move from here", b"; the path ends here"
"""How programs of this package mark both ends of the path."""

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


def is_gcode(path: Path) -> bool:
    """Return whether a file is read as a program, by the ending of its name."""
    return path.suffix.lower() in GCODE_ENDINGS


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
    machine, number, done, told = Machine(), 0, 0, 0.0
    try:
        with open_plain(path) as stream:
            size = os.fstat(stream.fileno()).st_size
            _refuse_too_much(path, size, machine)
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
    return _moves(machine, source=path.name, lines=number)


def moves_of_block(block: str, *, begin_mm: tuple[float, float, float]) -> Moves:
    """Read a piece of a program, such as what a printer is sent before a print.

    Parameters
    ----------
    block : str
        Its text.
    begin_mm : tuple of float
        Where the nozzle is before it [mm].
    """
    machine, lines = Machine(place=list(begin_mm)), block.splitlines()
    for number, line in enumerate(lines, start=1):
        _line(machine, line.encode("utf-8", "replace"), number)
    return _moves(machine, source="block", lines=len(lines))


def _moves(machine: Machine, *, source: str, lines: int) -> Moves:
    rows = np.frombuffer(machine.rows, dtype=np.float64).reshape(-1, 8)
    return Moves(
        source=source,
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
        lines=lines,
        cut_short=machine.begun and not machine.ended,
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


def _refuse_too_much(path: Path, size: int, machine: Machine) -> None:
    for count, most, what in (
        (size, MOST_BYTES, "bytes"),
        (len(machine.lines), MOST_MOVES, "moves"),
        (len(machine.jumps) + len(machine.withdrawals), MOST_JUMPS, "jumps and retractions"),
    ):
        if count > most:
            raise MeshFileError(
                f"{path}: got {count} {what}; allowed: up to {most}; check a part of the file"
            )


def _line(machine: Machine, raw: bytes, number: int) -> None:
    if raw.isspace():
        return
    if b"\r" in raw and b"\r" in raw.rstrip():
        machine.note_odd(number, "holds a carriage return inside; save the file with usual line ends")
        return
    usual = _USUAL.match(raw)
    if usual is not None:
        machine.move_as_usual(usual, number)
        return
    if raw.startswith(b"; the path"):
        machine.begun |= raw.startswith(PATH_BEGINS)
        machine.ended |= raw.startswith(PATH_ENDS)
    text = _COMMENT.sub(_blank, raw) if b"(" in raw or b";" in raw else raw
    text = text.split(b"*", 1)[0].strip()
    if not text or text.startswith((b"%", b"/")):
        return
    squeezed = b"".join(text.upper().split())
    if squeezed.startswith(b"N"):
        squeezed = _LINE_NUMBER.sub(b"", squeezed, count=1)
    if _TOOL.fullmatch(squeezed):
        if squeezed != machine.tool:
            machine.note_jump(number, _shown(squeezed))
        machine.tool = squeezed
        return
    if squeezed.startswith(_FREE_TEXT):
        return
    words = _WORD.findall(squeezed)
    codes = [(letter, float(value)) for letter, value in words if letter in b"GM" and value]
    odd = sum(len(letter) + len(value) for letter, value in words) != len(squeezed)
    if codes and squeezed.startswith(b"M") and (odd or all(letter == b"M" for letter, _ in codes)):
        # what follows are settings, in whatever form
        machine.obey(codes[:1] if odd else codes, {}, number)
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
        machine.note_odd(number, f"is not words of a letter and a number, each once: {_shown(text)}")
        return
    machine.obey(codes, values, number)


def _blank(comment: re.Match[bytes]) -> bytes:
    """Return what stands for a comment; a bracket that is never closed stays."""
    return b"(" if comment[0].startswith(b"(") and not comment[0].endswith(b")") else b" "


def _shown(text: bytes) -> str:
    return "".join(sign if sign.isprintable() else "?" for sign in text[:40].decode("ascii", "replace"))
