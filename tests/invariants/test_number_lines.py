"""Laws of the fast writer of numbers: it says what Python's own formatting says."""

from __future__ import annotations

import math
from fractions import Fraction

import numpy as np
import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from wingpath.io.number_lines import NumberLines, Word, number_lines

MOST = 1e9
"""Larger numbers stand in no program; with eight digits they still fit into 64 bits."""

numbers = st.one_of(
    st.floats(-MOST, MOST),
    st.floats(-500.0, 500.0),
    # so small that nothing is left of them, or just one step
    st.floats(-2e-3, 2e-3),
    # written with few digits, so that halves and nines come up
    st.integers(-(10**7), 10**7).map(lambda steps: steps / 2000.0),
    st.sampled_from([0.0, -0.0, 5e-324, -1e-300, 0.9995, 9.9995, 99.9999999, -0.0005, 1000.0, 1e6]),
)
digits = st.integers(0, 8)


@st.composite
def columns(draw: st.DrawFn) -> tuple[int, list[Word]]:
    count = draw(st.integers(1, 12))
    words = []
    for letter in draw(st.lists(st.sampled_from("XYZEFIJ"), min_size=1, max_size=5, unique=True)):
        values = np.array(draw(st.lists(numbers, min_size=count, max_size=count)))
        mask = draw(st.none() | st.lists(st.booleans(), min_size=count, max_size=count).map(np.array))
        words.append(Word(f" {letter}", values, draw(digits), shown=mask))
    return count, words


def rows_of(made: NumberLines) -> list[list[str]]:
    text = made.text.decode("ascii")
    assert text.endswith("\n")
    return [line.split(" ") for line in text[:-1].split("\n")]


def held(text: str, value: float, decimals: int) -> None:
    """Hold a text against Python's formatting, and where a half may go either way, against the number."""
    theirs = f"{value:.{decimals}f}"
    if theirs.strip("-0.") == "":
        theirs = theirs.lstrip("-")
    if text == theirs:
        return
    # as many digits, and no farther away than half a step and the rounding of a product
    assert len(text.partition(".")[2]) == decimals
    step = Fraction(1, 10**decimals)
    off = abs(Fraction(text) - Fraction(value))
    half_way = abs(Fraction(value) / step % 1 - Fraction(1, 2)) * step
    noise = Fraction(abs(value)) * Fraction(2, 2**53) + Fraction(1, 10**20)
    assert off <= step / 2 + noise, (text, theirs)
    assert half_way <= noise, (text, theirs)


@given(columns())
@example((1, [Word(" X", np.array([-0.0004]), 3)]))
# the greatest that 32 bits hold, and one more
@example((1, [Word(" X", np.array([-2147483.647]), 3)]))
@example((1, [Word(" X", np.array([2147483.648]), 3)]))
@example((2, [Word(" X", np.array([0.0, 12345.678]), 3), Word(" Y", np.array([-1.0, 1.0]), 0)]))
def test_numbers_are_those_of_pythons_formatting(case: tuple[int, list[Word]]) -> None:
    count, words = case
    made = number_lines("G1", words)
    rows = rows_of(made)
    assert len(rows) == count
    for at, row in enumerate(rows):
        shown = [word for word in words if word.shown is None or word.shown[at]]
        assert row[0] == "G1"
        assert len(row) == 1 + len(shown)
        for text, word in zip(row[1:], shown, strict=True):
            assert text[0] == word.letters[-1]
            held(text[1:], float(word.values[at]), word.decimals)


@given(columns())
def test_no_number_has_an_exponent_a_lonely_point_or_a_zero_too_many(case: tuple[int, list[Word]]) -> None:
    for row in rows_of(number_lines("G1", case[1])):
        for text in row[1:]:
            whole, point, rest = text[1:].lstrip("-").partition(".")
            assert whole.isdigit()
            assert whole == "0" or whole[0] != "0"
            assert rest.isdigit() == bool(point)
            # nothing is less than nothing
            assert not (text[1] == "-" and float(text[1:]) == 0.0)


@given(columns(), st.data())
def test_lines_begin_where_they_are_said_to(case: tuple[int, list[Word]], data: st.DataObject) -> None:
    count, words = case
    made = number_lines("G1", words)
    lines = made.text.decode("ascii").splitlines(keepends=True)
    assert made.begin.tolist() == [sum(len(line) for line in lines[:at]) for at in range(count + 1)]
    first = data.draw(st.integers(0, count))
    last = data.draw(st.integers(first, count))
    assert made.between(first, last) == "".join(lines[first:last])


@given(columns(), st.integers(1, 11))
def test_a_line_does_not_depend_on_its_neighbours(case: tuple[int, list[Word]], cut: int) -> None:
    count, words = case
    cut = min(cut, count)
    parts = [
        [
            Word(w.letters, w.values[part], w.decimals, None if w.shown is None else w.shown[part])
            for w in words
        ]
        for part in (slice(None, cut), slice(cut, None))
    ]
    assert b"".join(number_lines("G1", part).text for part in parts) == number_lines("G1", words).text


@given(st.lists(st.integers(-(10**12), 10**12), min_size=1, max_size=20))
def test_whole_numbers_are_written_as_they_are(values: list[int]) -> None:
    made = number_lines("", [Word("F", np.array(values, dtype=np.int64), 0)])
    assert made.text.decode("ascii") == "".join(f"F{value}\n" for value in values)


@given(st.lists(st.floats(-1e4, 1e4), min_size=2, max_size=30), st.integers(3, 8))
def test_sums_of_steps_are_kept(values: list[float], decimals: int) -> None:
    """Numbers that lie on the grid of their digits are written without loss, which filament relies on."""
    grid = np.round(np.array(values), decimals)
    made = number_lines("G1", [Word(" E", grid, decimals)])
    back = [float(row[1][1:]) for row in rows_of(made)]
    assert back == pytest.approx(grid.tolist(), rel=0.0, abs=1e-15)
    assert math.fsum(back) == pytest.approx(math.fsum(grid), rel=0.0, abs=1e-12)


def test_no_lines_are_no_text() -> None:
    made = number_lines("G1", [Word(" X", np.empty(0), 3)])
    assert made.text == b""
    assert made.begin.tolist() == [0]
    assert made.between(0, 0) == ""
