"""Written programs read back by an independent parser, as the moves that they make."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np
from gcodeparser import parse_gcode_lines

from wingpath import WingBuild
from wingpath.io.gcode import GcodeJob, gcode_chunks
from wingpath.pipeline.writing import gcode_job

PATH_BEGINS = "; the path: every move from here to the end of the last layer extrudes"
PATH_ENDS = "; the path ends here"

ROUND_MM = 5e-4
"""Half a step of the last digit of X and Y [mm]."""

ROUND_E_MM = 5e-6
"""Half a step of the last digit of a filament length [mm]."""


@dataclass(frozen=True)
class Program:
    """What a program does between its first move with filament and its last.

    `points` holds the places before and after every move; `filament_mm`, `speed_mm_s`, `length_mm` (seen
    from above), `line` (from 0) and `arc` (2, 3 or 0) one row a move; `count_mm` the last filament count
    that each move was written with.
    """

    text: str
    points: np.ndarray
    filament_mm: np.ndarray
    count_mm: np.ndarray
    speed_mm_s: np.ndarray
    length_mm: np.ndarray
    line: np.ndarray
    arc: np.ndarray

    @cached_property
    def lines(self) -> list[str]:
        return self.text.splitlines()

    @cached_property
    def body(self) -> list[str]:
        """Lines of the path alone."""
        lines = self.lines
        return lines[lines.index(PATH_BEGINS) + 1 : lines.index(PATH_ENDS)]

    @cached_property
    def header(self) -> dict[str, str]:
        """What stands after each word and colon above the first line that is no comment; cautions joined."""
        found: dict[str, str] = {}
        for line in self.lines:
            if not line.startswith(";"):
                break
            key, colon, text = line[2:].partition(": ")
            if colon:
                found[key] = f"{found[key]}\n{text}" if key in found else text
        return found

    @cached_property
    def layer(self) -> np.ndarray:
        """Layer of each move, from 0, by the comments; -1 for the brim, -2 for what fills the nozzle."""
        now, at = -3, []
        for line in self.lines:
            if line == "; fills the nozzle":
                now = -2
            elif line == "; brim":
                now = -1
            elif line.startswith("; layer "):
                now = int(line.split()[2]) - 1
            at.append(now)
        return np.array(at)[self.line]


@dataclass
class _Reader:
    place: dict[str, float] = field(default_factory=lambda: dict.fromkeys("XYZ", math.nan))
    feed: float = math.nan
    count: float = math.nan
    relative: bool | None = None


def arc_length_mm(start: np.ndarray, end: np.ndarray, centre: np.ndarray, *, anticlockwise: bool) -> float:
    """Length of an arc from start to end about a centre [mm]."""
    (ax, ay), (bx, by) = start - centre, end - centre
    turn = math.atan2(ax * by - ay * bx, ax * bx + ay * by) * (1.0 if anticlockwise else -1.0)
    return math.hypot(ax, ay) * (turn % (2.0 * math.pi))


def read_program(text: str) -> Program:
    """Run a program; only words that a fixed machine in millimetres knows count."""
    reader, points, rows = _Reader(), [], []
    for line in parse_gcode_lines(text):
        if line.command == ("M", 83) or line.command == ("M", 82):
            reader.relative = line.command == ("M", 83)
        if line.command == ("G", 92):
            reader.count = float(line.params["E"])
        letter, number = line.command
        if letter != "G" or number not in (0, 1, 2, 3):
            continue
        before = np.array([reader.place[axis] for axis in "XYZ"])
        reader.place |= {axis: float(line.params[axis]) for axis in "XYZ" if axis in line.params}
        reader.feed = float(line.params.get("F", reader.feed))
        after = np.array([reader.place[axis] for axis in "XYZ"])
        if "E" not in line.params:
            continue
        assert reader.relative is not None
        filament = float(line.params["E"])
        if not reader.relative:
            filament, reader.count = filament - reader.count, filament
        length = math.dist(before[:2], after[:2])
        if number in (2, 3):
            centre = before[:2] + np.array([float(line.params["I"]), float(line.params["J"])])
            length = arc_length_mm(before[:2], after[:2], centre, anticlockwise=number == 3)
        if not points:
            points.append(before)
        points.append(after)
        arc = number if number > 1 else 0
        rows.append(
            (filament, float(line.params["E"]), reader.feed / 60.0, length, float(line.line_index), arc)
        )
    filament_mm, count, speed, length_mm, index, arcs = np.array(rows).T
    return Program(
        text,
        np.array(points),
        filament_mm,
        count,
        speed,
        length_mm,
        index.astype(int),
        arcs.astype(int),
    )


def job_of(build: WingBuild, part: int = 0, hand: str = "left") -> GcodeJob:
    """What the file of a part holds."""
    job = gcode_job(build, build.parts[part], hand)
    assert job is not None
    return job


def program_of(build: WingBuild, part: int = 0, hand: str = "left") -> Program:
    """Write the file of a part and read it back."""
    return read_program("".join(gcode_chunks(job_of(build, part, hand))))
