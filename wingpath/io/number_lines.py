"""Lines of words and numbers, many at once: text from columns of numbers without formatting one by one."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from wingpath.core.arrays import BoolArray, FloatArray, IntArray

__all__ = ["NumberLines", "Word", "number_lines"]

ZERO, POINT, MINUS = ord("0"), ord("."), ord("-")


@dataclass(frozen=True, slots=True, eq=False)
class Word:
    """One word of every line: some letters and a number in plain decimal notation.

    Parameters
    ----------
    letters : str
        What stands before the number, ASCII, for example `` X``.
    values : ndarray, shape (n,)
        The numbers; below 9e18 when the decimal point is taken out.
    decimals : int
        Digits after the point; 0 for none and no point.
    shown : ndarray of bool, shape (n,), optional
        The lines that have this word; by default all.
    """

    letters: str
    values: FloatArray | IntArray
    decimals: int
    shown: BoolArray | None = None


@dataclass(frozen=True, slots=True, eq=False)
class NumberLines:
    """Lines as one text, and where each begins in it."""

    text: bytes
    begin: IntArray

    def between(self, first: int, last: int) -> str:
        """Return lines `first` to `last`, the latter not included."""
        return self.text[self.begin[first] : self.begin[last]].decode("ascii")


def number_lines(head: str, words: Sequence[Word]) -> NumberLines:
    """Return a line for every row of the words, each ended by a line feed.

    Numbers are rounded to their digits, halves away from zero; the point and the digits after it are
    always written, an exponent never.

    Parameters
    ----------
    head : str
        What every line begins with.
    words : sequence of Word
        One or more, of equal length.
    """
    count = len(words[0].values)
    blocks: list[NDArray[np.uint8]] = [_letters(head, count)]
    kept: list[BoolArray] = [np.ones((count, len(head)), bool)]
    for word in words:
        text, keep = _word(word, count)
        blocks.append(text)
        kept.append(keep)
    blocks.append(_letters("\n", count))
    kept.append(np.ones((count, 1), bool))
    keep = np.concatenate(kept, axis=1)
    joined = bytes(np.concatenate(blocks, axis=1)[keep].tobytes())
    begin = np.zeros(count + 1, np.int64)
    np.cumsum(keep.sum(axis=1), out=begin[1:])
    return NumberLines(joined, begin)


def _letters(text: str, count: int) -> NDArray[np.uint8]:
    return np.broadcast_to(np.frombuffer(text.encode("ascii"), np.uint8), (count, len(text)))


def _word(word: Word, count: int) -> tuple[NDArray[np.uint8], BoolArray]:
    steps = np.floor(np.abs(word.values) * 10.0**word.decimals + 0.5).astype(np.int64)
    if steps.max(initial=0) <= np.iinfo(np.int32).max:
        steps = steps.astype(np.int32)
    whole = max(1, len(str(int(steps.max(initial=0)))) - word.decimals)
    head = len(word.letters)
    width = head + 1 + whole + (1 + word.decimals if word.decimals else 0)
    text = np.empty((count, width), np.uint8)
    keep = np.ones((count, width), bool)
    text[:, :head] = _letters(word.letters, count)
    text[:, head] = MINUS
    keep[:, head] = (word.values < 0) & (steps > 0)
    rest = steps
    if word.decimals:
        for column in range(width - 1, width - 1 - word.decimals, -1):
            rest, text[:, column] = _split(rest)
        text[:, width - 1 - word.decimals] = POINT
    units = head + whole
    for column in range(units, head, -1):
        # zeros before the number are left out, the one before the point stays
        keep[:, column] = (rest > 0) if column < units else True
        rest, text[:, column] = _split(rest)
    if word.shown is not None:
        keep &= word.shown[:, None]
    return text, keep


def _split(steps: Any) -> tuple[Any, Any]:
    """Take the last digit off whole numbers: the rest, and the digit as a letter."""
    # dividing by a constant is quick, dividing with remainder is not
    rest = steps // 10
    return rest, steps - 10 * rest + ZERO
