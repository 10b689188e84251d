"""The machine that obeys a G-code program: what its words have set so far, and the moves that they made."""

from __future__ import annotations

import math
import re
from array import array
from dataclasses import dataclass, field

from wingpath.core.units import MM_PER_UNIT

__all__ = ["Machine"]

MOST_ODD = 25
"""Odd lines that are told one by one; the rest are counted in the last of them."""

FARTHEST_MM = 1e5
"""A place farther out than this is a slip of the pen [mm]."""

MOST_FILAMENT_MM = 1e7
"""A larger count of filament is one too: 30 kg of it [mm]."""

ARC_SLACK = 0.01
"""The radii at both ends of an arc may differ by this share, or by 0.05 mm, whichever is more."""

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


@dataclass(slots=True)
class Machine:
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
    begun: bool = False
    ended: bool = False

    def note_odd(self, number: int, reason: str) -> None:
        """Note a line that is not understood; many are told one by one, the rest counted."""
        if len(self.odd) < MOST_ODD:
            self.odd.append((number, f"line {number} {reason}"))
            return
        self.odd_more += 1
        self.odd_last = number

    def note_jump(self, number: int, words: str) -> None:
        """Note that nobody can tell where the nozzle is after a line."""
        if not self.jumps or self.jumps[-1][0] != number:
            self.jumps.append((number, words))

    def obey(self, codes: list[tuple[bytes, float]], values: dict[bytes, float], number: int) -> None:
        """Do what the words of one line say."""
        moves = self.motion if not codes else None
        if not codes and moves is None and not _MOVING.isdisjoint(values):
            self.note_odd(number, "goes to a place before any G word has said how")
        alone = not any(letter == b"G" and code in _TAKES_PLACES for letter, code in codes)
        for letter, code in codes:
            if letter == b"M":
                if code in (82.0, 83.0):
                    self.e_absolute = code == 82.0
                elif code in _SWAPS:
                    self.note_jump(number, f"M{code:g}")
            elif code in (0.0, 1.0, 2.0, 3.0):
                moves = self.motion = int(code)
            elif code == 92.0:
                self._set_place(values, number)
            elif code == 28.0:
                self._home(values, number)
            elif code in (10.0, 11.0) and b"P" not in values and b"L" not in values:
                # the machine draws filament back by itself, and pushes it out again
                if code == 10.0 and self.withdrawals[-1:] != [number]:
                    self.withdrawals.append(number)
            else:
                self._switch(code, values, number, alone=alone)
        if moves is not None and not (_TURNING if moves > 1 else _MOVING).isdisjoint(values):
            self._move(moves, values, number)

    def _switch(self, code: float, values: dict[bytes, float], number: int, *, alone: bool) -> None:
        """Obey a G word that sets how the others are meant, or note that it does something else."""
        if code in (90.0, 91.0):
            # open firmware lets M82 and M83, given later, decide about the filament alone
            self.absolute = self.e_absolute = code == 90.0
        elif code in (20.0, 21.0):
            self.unit = MM_PER_UNIT["inch"] if code == 20.0 else 1.0
        elif code in (18.0, 19.0):
            self.note_odd(number, f"turns arcs upright (G{code:g}); only those seen from above are read")
        if code in _BY_ITSELF or (alone and not _MOVING.isdisjoint(values)):
            self.note_jump(number, f"G{code:g}")
            if 5.0 <= code < 10.0:
                # curves end where they say
                for axis, letter in enumerate(_PLACES):
                    base = 0.0 if self.absolute else self.place[axis]
                    value = base + values.get(letter, math.inf) * self.unit
                    if abs(value) <= FARTHEST_MM:
                        self.place[axis] = value

    def _too_far(self, letter: bytes, value: float, number: int) -> bool:
        """Note a number that no machine reaches."""
        far = not abs(value) <= (MOST_FILAMENT_MM if letter == b"E" else FARTHEST_MM)
        if far:
            self.note_odd(
                number,
                f"has {letter.decode()} = {value:g} mm, which no machine reaches; it is passed over",
            )
        return far

    def _set_place(self, values: dict[bytes, float], number: int) -> None:
        set_to = {
            letter: values.get(letter, 0.0) * self.unit for letter in (*_PLACES, b"E") if letter in values
        }
        if not values:
            set_to = dict.fromkeys((*_PLACES, b"E"), 0.0)
        if any(self._too_far(letter, value, number) for letter, value in set_to.items()):
            return
        self.e = set_to.pop(b"E", self.e)
        for axis, letter in enumerate(_PLACES):
            self.place[axis] = set_to.get(letter, self.place[axis])
        if set_to:
            self.note_jump(number, f"G92 {b' '.join(set_to).decode()}")

    def _home(self, values: dict[bytes, float], number: int) -> None:
        self.note_jump(number, "G28")
        for axis, letter in enumerate(_PLACES):
            if letter in values or not any(key in values for key in _PLACES):
                self.place[axis] = 0.0

    def _move(self, code: int, values: dict[bytes, float], number: int) -> None:
        start = self.place
        end = list(start)
        for axis, letter in enumerate(_PLACES):
            value = values.get(letter)
            if value is not None:
                value *= self.unit
                end[axis] = value if self.absolute else start[axis] + value
                if self._too_far(letter, end[axis], number):
                    return
        filament = 0.0
        pushed = values.get(b"E")
        if pushed is not None:
            pushed *= self.unit
            if self._too_far(b"E", pushed, number):
                return
            filament = pushed - self.e if self.e_absolute else pushed
            self.e = pushed if self.e_absolute else self.e + pushed
        length = math.hypot(end[0] - start[0], end[1] - start[1])
        arc = self._arc(code, values, end, number) if code > 1 else None
        if arc is not None:
            length = math.hypot(start[0] - arc[0], start[1] - arc[1]) * abs(arc[2])
            self.arc_at.append(len(self.lines))
            self.arcs.extend(arc)
        self.rows.extend((*start, *end, length, filament))
        self.lines.append(number)
        self.place = end

    def move_as_usual(self, words: re.Match[bytes], number: int) -> None:
        """Do what :meth:`_move` does, for lines as most programs hold them."""
        code, *texts = words.groups()
        self.motion = int(code)
        x, y, z, e = (None if text is None else float(text) * self.unit for text in texts)
        if x is None and y is None and z is None and e is None:
            return
        left, front, low = self.place
        if self.absolute:
            right, back, high = left if x is None else x, front if y is None else y, low if z is None else z
        else:
            right, back, high = left + (x or 0.0), front + (y or 0.0), low + (z or 0.0)
        far = not max(abs(right), abs(back), abs(high)) <= FARTHEST_MM
        if far or not (e is None or abs(e) <= MOST_FILAMENT_MM):
            values = {
                letter: float(text) for letter, text in zip((*_PLACES, b"E"), texts, strict=True) if text
            }
            self._move(int(code), values, number)
            return
        filament = 0.0
        if e is not None:
            filament = e - self.e if self.e_absolute else e
            self.e = e if self.e_absolute else self.e + e
        self.rows.extend(
            (left, front, low, right, back, high, math.hypot(right - left, back - front), filament)
        )
        self.lines.append(number)
        self.place = [right, back, high]

    def _arc(
        self, code: int, values: dict[bytes, float], end: list[float], number: int
    ) -> tuple[float, float, float] | None:
        """Centre of an arc from where the machine is to `end`, and how far it turns, anticlockwise positive.

        None for nonsense, which is noted and taken as a straight move.
        """
        x, y = self.place[:2]
        across, along = end[0] - x, end[1] - y
        chord = math.hypot(across, along)
        sign = 1.0 if code == 3 else -1.0
        if any(not abs(values.get(letter, 0.0)) * self.unit <= FARTHEST_MM for letter in (b"I", b"J", b"R")):
            self.note_odd(number, "has an arc larger than any machine")
            return None
        if b"R" in values:
            radius = abs(values[b"R"]) * self.unit
            if chord == 0.0 or radius < 0.5 * chord * (1.0 - ARC_SLACK):
                self.note_odd(number, "has an arc whose radius does not lead from its begin to its end")
                return None
            angle = 2.0 * math.asin(min(1.0, 0.5 * chord / radius))
            # the centre lies left of the chord of a short arc that turns left
            side = math.sqrt(max(0.0, radius**2 - 0.25 * chord**2)) / chord * sign
            if values[b"R"] < 0.0:
                side, angle = -side, 2.0 * math.pi - angle
            return x + 0.5 * across - side * along, y + 0.5 * along + side * across, sign * angle
        away = values.get(b"I", 0.0) * self.unit, values.get(b"J", 0.0) * self.unit
        centre = x + away[0], y + away[1]
        radius, other = math.hypot(*away), math.hypot(end[0] - centre[0], end[1] - centre[1])
        if radius == 0.0 or abs(radius - other) > max(0.05, ARC_SLACK * radius):
            self.note_odd(number, "has an arc whose begin and end are not equally far from its centre")
            return None
        begin = math.atan2(y - centre[1], x - centre[0])
        stop = math.atan2(end[1] - centre[1], end[0] - centre[0])
        turn = sign * (stop - begin) % (2.0 * math.pi)
        # an arc that ends where it begins goes all the way round
        return *centre, sign * (turn if turn > 1e-9 else 2.0 * math.pi)
