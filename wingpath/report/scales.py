"""Scales of diagrams: ranges with margins, round numbers along them, and free room for words."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from wingpath.report.canvas import Box, text_width
from wingpath.report.frame import round_step

__all__ = ["Names", "Scale", "drawable", "far_apart", "round_ticks"]

MARGIN = 0.08
"""Share of the range that axes go beyond the points."""

LEAST_SPREAD = 0.02
"""Least range of an axis, as a share of its largest number: four digits tell its ticks apart."""

DECADES = 1.7
"""Values that spread over more powers of ten than this get an axis of powers."""

TINIEST, HUGEST = 1e-99, 1e99
"""Sizes of number that can be drawn: beyond them margins overflow, and nothing that is built is so large."""

FEW_DECADES = 3.0
"""An axis of fewer powers of ten has numbers at 2 and 5 times a power as well."""


@dataclass(frozen=True, slots=True)
class Scale:
    """A range of numbers laid along a stretch of the picture.

    Parameters
    ----------
    low, high : float
        Its ends, in the unit of the numbers.
    start_px, end_px : float
        Where they lie [px].
    powers : bool
        Whether equal factors, not equal steps, lie equally far apart.
    """

    low: float
    high: float
    start_px: float
    end_px: float
    powers: bool = False

    @classmethod
    def around(cls, numbers: Sequence[float], start_px: float, end_px: float, *, powers: bool) -> Scale:
        """Return the scale that shows all `numbers`, with a margin."""
        low, high = min(numbers), max(numbers)
        if powers:
            low, high = (10.0**power for power in _widened(math.log10(low), math.log10(high)))
        else:
            low, high = _widened(low, high)
        return cls(low, high, start_px, end_px, powers)

    def px(self, value: float) -> float:
        """Return the place of a value [px]."""
        share = (self._at(value) - self._at(self.low)) / (self._at(self.high) - self._at(self.low))
        return self.start_px + share * (self.end_px - self.start_px)

    def shows(self, value: float) -> bool:
        """Whether a value lies in the range."""
        return self.low <= value <= self.high

    def _at(self, value: float) -> float:
        return math.log10(value) if self.powers else value


def drawable(number: float) -> bool:
    """Whether an axis can show a number."""
    return number == 0.0 or TINIEST < abs(number) < HUGEST


def far_apart(values: Sequence[float]) -> bool:
    """Whether values need an axis of powers."""
    return min(values) > 0.0 and math.log10(max(values)) - math.log10(min(values)) > DECADES


def _widened(low: float, high: float) -> tuple[float, float]:
    size = max(abs(low), abs(high)) or 1.0
    spread = max(high - low, LEAST_SPREAD * size)
    middle = 0.5 * (low + high)
    half = (0.5 + MARGIN) * spread
    return middle - half, middle + half


def round_ticks(scale: Scale, room_px: float, *, size: float) -> list[float]:
    """Return the round numbers of a scale.

    Each has `room_px`; along x it has its own width, where that is more, as text of `size` [px].
    """
    along_x = scale.end_px > scale.start_px
    length = abs(scale.end_px - scale.start_px)
    if scale.powers:
        low, high = math.log10(scale.low), math.log10(scale.high)
        decades = math.ceil(round_step(high - low, length / room_px))
        leads = (1.0, 2.0, 5.0) if high - low < FEW_DECADES else (1.0,)
        powers = range(decades * math.floor(low / decades), math.floor(high) + 1, decades)
        values = [float(f"{lead}e{power}") for power in powers for lead in leads]
        return [value for value in values if scale.shows(value)]
    step = round_step(scale.high - scale.low, length / room_px)
    wide = max(text_width(f"{number:.4g}", size) for number in (scale.low, scale.high)) + size
    if along_x and wide > room_px:
        step = round_step(scale.high - scale.low, length / wide)
    first, last = math.ceil(scale.low / step - 1e-9), math.floor(scale.high / step + 1e-9)
    # rounded to the step, so that 0.30000000000000004 is written as 0.3
    return [float(f"{number * step:.12g}") for number in range(first, last + 1)]


class Names:
    """Free room for words among the symbols of a box; the words' text is of `size` [px]."""

    def __init__(self, box: Box, *, size: float) -> None:
        self.box = box
        self.size = size
        self._kept: list[tuple[float, float, float, float, float]] = []

    def keep_clear(self, px: float, py: float, half_px: float, weight: float) -> None:
        """Keep a square free; of two that cannot both be kept the one of less `weight` is covered."""
        self._kept.append((px - half_px, py - half_px, px + half_px, py + half_px, weight))

    def place(self, text: str, places: Sequence[tuple[float, float]]) -> tuple[float, float]:
        """Return the first of `places` (left end of the base line, [px]) that covers least; it is taken."""
        width = text_width(text, self.size)
        kept = np.array(self._kept).reshape(-1, 5)
        left, top, right, bottom = self.box
        best, least = (0.0, 0.0, 0.0, 0.0), math.inf
        for px, base in places:
            # a word that leaves the axes is moved back inside
            px = min(max(px, left + 5.0), right - 5.0 - width)
            base = min(max(base, top + self.size + 2.0), bottom - 6.0)
            room = (px - 2.0, base - 0.8 * self.size, px + width + 2.0, base + 0.28 * self.size)
            over = (kept[:, 0] < room[2]) & (room[0] < kept[:, 2])
            over &= (kept[:, 1] < room[3]) & (room[1] < kept[:, 3])
            cost = float(kept[over, 4].sum())
            if cost < least:
                best, least = room, cost
        # two words one above the other stay told apart
        self._kept.append((best[0] - 6.0, best[1] - 4.0, best[2] + 6.0, best[3] + 4.0, 1000.0))
        return best[0] + 2.0, best[3] - 0.28 * self.size
