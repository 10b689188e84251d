"""Airfoil coordinate files: read what people have, refuse what is damaged, with the line at fault.

The points are the first run of point lines that no line of text breaks; see
:mod:`wingpath.io.airfoil_rows` for what is which. Titles, counts, domains may stand before them, prose and
tables behind. A line of text that looks like a damaged point, or that breaks the points before they make
a whole section, is an error: to leave it out would change the section unnoticed.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from itertools import pairwise
from os import PathLike
from pathlib import Path
from typing import Literal

import numpy as np

from wingpath.core.arrays import FloatArray
from wingpath.core.errors import AirfoilFileError, FileAccessError
from wingpath.geometry.airfoil import Airfoil
from wingpath.geometry.airfoil_order import is_whole, refuse
from wingpath.geometry.airfoil_points import airfoil_from_points
from wingpath.io.airfoil_rows import (
    MAX_BYTES,
    Row,
    decoded,
    is_mistyped,
    is_not_finite,
    is_number,
    rows_of,
    short,
    value_of,
    words_of,
)
from wingpath.io.reading import open_plain

__all__ = ["MAX_BYTES", "MAX_POINTS", "airfoil_text", "parse_airfoil", "read_airfoil"]

MAX_POINTS = 20_000
"""More points than any section needs: the largest in circulation has 496."""

BESIDE = 0.15
"""A damaged point lies this close to its neighbour [chord]: coarse tables step by 0.1 at the ends."""

_NAME_LENGTH = 80


def read_airfoil(path: str | PathLike[str]) -> Airfoil:
    """Read an airfoil from a coordinate file.

    Parameters
    ----------
    path : path
        One loop from the trailing edge over the nose, or two runs, each surface by itself; see
        :func:`parse_airfoil`.

    Raises
    ------
    FileAccessError
        When the file cannot be opened or read.
    AirfoilFileError
        When it holds no airfoil, with the line at fault.
    """
    try:
        with open_plain(Path(path)) as stream:
            data = stream.read(MAX_BYTES + 1)
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise FileAccessError(f"{path}: could not be read: {reason}; check the name and the folder") from None
    return parse_airfoil(data, source=str(path))


def parse_airfoil(text_or_bytes: str | bytes, *, source: str) -> Airfoil:
    """Read an airfoil from the contents of a coordinate file.

    Parameters
    ----------
    text_or_bytes : str or bytes
        The contents. Bytes may be UTF-8, UTF-16 with its mark, or Latin-1, with any line ends.
    source : str
        Name of the file, for messages, and for the airfoil when there is no title.

    Returns
    -------
    Airfoil
        Named by the first line of text before the points. A file that is in the frame of its own chord
        line stays as it is, or is only scaled when it is given in per cent or another unit; any other
        is moved, turned and scaled so that the nose, the point farthest from the middle of the
        trailing edge, comes to (0, 0) and that middle to (1, 0).

    Raises
    ------
    AirfoilFileError
        When it holds no airfoil, with the line at fault.
    """
    text = decoded(text_or_bytes, source)
    rows = rows_of(text)
    first, last = _block(rows, source)
    titles = [row for row in rows[:first] if row.point is None]
    before = rows[first - 1] if first > 0 else None
    after = rows[last] if last < len(rows) else None
    points, title = _without_counts(rows[first:last], first == 0, source)
    if len(points) > MAX_POINTS:
        refuse(source, points[MAX_POINTS].line, f"got {len(points)} points; allowed: {MAX_POINTS} or fewer")
    named = next((row.text for row in titles if re.search(r"\w", row.text)), title)
    name = " ".join(named.split())[:_NAME_LENGTH] or Path(source).stem
    xy = _coordinates(points)
    endless = np.flatnonzero(~np.isfinite(xy).all(axis=1))
    if len(endless):
        refuse(
            source,
            points[endless[0]].line,
            "the ordinate is too large for a number; expected parts of the chord",
        )
    _refuse_damaged(rows, first, last, xy, source)
    try:
        return airfoil_from_points(
            xy, lines=np.array([row.line for row in points], dtype=np.int64), name=name, source=source
        )
    except AirfoilFileError as error:
        # a text line at either end of points that make no section is the likelier culprit
        for row in (after, before) if not is_whole(xy) else ():
            if row is not None and row.point is None and _is_culprit(row, rows[last:], after=row is after):
                refuse(
                    source,
                    row.line,
                    f'"{short(row.text)}" cannot be read as two numbers, and the points beside it alone are '
                    f"no airfoil ({error.reason})",
                )
        raise


def airfoil_text(
    airfoil: Airfoil,
    *,
    order: Literal["one loop", "two runs"] = "one loop",
    decimals: int = 6,
    notes: Sequence[str] = (),
) -> str:
    """Return the contents of a coordinate file.

    Parameters
    ----------
    airfoil : Airfoil
        What to write.
    order : {"one loop", "two runs"}
        From the trailing edge over the nose, or a line of counts and each surface from the nose.
    decimals : int
        Digits after the point.
    notes : sequence of str
        Comment lines put first.
    """
    width = decimals + 4

    def written(surface: FloatArray) -> list[str]:
        # + 0.0 turns the -0.0 of a nose into 0.0
        rounded = np.round(surface, decimals) + 0.0
        return [f"{x:{width}.{decimals}f} {y:{width}.{decimals}f}" for x, y in rounded]

    head = [*(f"# {note}".rstrip() for note in notes), airfoil.name]
    if order == "one loop":
        body = written(np.concatenate([airfoil.upper[::-1], airfoil.lower[1:]]))
    else:
        counts = f"{len(airfoil.upper):{width}d}. {len(airfoil.lower):{width}d}."
        body = [counts, "", *written(airfoil.upper), "", *written(airfoil.lower)]
    return "\n".join([*head, *body, ""])


def _coordinates(points: Sequence[Row]) -> FloatArray:
    """Return the points of rows that hold one, shape (n, 2)."""
    return np.array([row.point for row in points], dtype=np.float64).reshape(-1, 2)


def _block(rows: list[Row], source: str) -> tuple[int, int]:
    """Return the rows that hold the points: the first run of point rows, headers passed over."""
    blocks: list[tuple[int, int]] = []
    for i, row in enumerate(rows):
        if row.point is not None:
            if blocks and blocks[-1][1] == i:
                blocks[-1] = (blocks[-1][0], i + 1)
            else:
                blocks.append((i, i + 1))
    if not blocks:
        count = max(sum(map(is_number, words_of(row.text))) for row in rows) if rows else 0
        held = f"the fullest line holds {count}" if count > 2 else "no line holds just that"
        refuse(source, None, f"found no points; expected two numbers a line, and {held}")
    # one or two number pairs above a line of words are a header, unless the points go on from there
    for (first, last), (more_first, more_last) in pairwise(blocks):
        text = rows[last].text
        wordy = re.match(r"[^\W\d_]{2}", text) and not any(map(is_not_finite, words_of(text)))
        points = _coordinates(rows[last - 1 : last] + rows[more_first:more_last])
        with np.errstate(invalid="ignore"):  # ordinates such as 1e999 are refused later
            joined = (np.abs(points[1] - points[0]) < BESIDE * np.ptp(points[1:, 0])).all()
        if last - first > 2 or more_last - more_first < 8 or not wordy or joined:
            return first, last
    return blocks[-1]


def _without_counts(block: list[Row], opens_file: bool, source: str) -> tuple[list[Row], str]:
    """Return the points without a line of counts, and the title when a pair of numbers is one.

    A first pair of whole numbers holds counts when that many points follow, the nose counted once or
    twice. Far outside the points it is none of them: a title such as "63 412" when the file opens
    with it, else counts that do not agree.
    """
    head, rest = block[0], block[1:]
    assert head.point is not None
    first, second = head.point
    if not (rest and first >= 3 and second >= 3 and first.is_integer() and second.is_integer()):
        return block, ""
    if first + second in (len(rest), len(rest) + 1):
        return rest, ""
    reach = max(max(abs(row.point[0]), abs(row.point[1])) for row in rest if row.point is not None)
    if max(first, second) <= 1.5 * reach:
        return block, ""
    if not opens_file:
        refuse(
            source,
            head.line,
            f"the line of counts announces {first:.0f} and {second:.0f} points, but {len(rest)} follow; "
            "expected as many as it announces, or no such line",
        )
    return rest, head.text


def _refuse_damaged(rows: list[Row], first: int, last: int, points: FloatArray, source: str) -> None:
    """Refuse a text line beside the points that is a damaged point itself."""
    width = max(float(np.ptp(points[:, 0])), 1e-9) if len(points) else 1.0
    for at, near in ((first - 1, 0), (last, -1)):
        if not 0 <= at < len(rows):
            continue
        row = rows[at]
        follows = rows[last + 1].point if near and last + 1 < len(rows) else None
        goes_on = follows is not None and bool(
            (np.abs(np.array(follows) - points[-1]) < BESIDE * width).all() and follows[0] >= points[-1, 0]
        )
        if goes_on or _is_damaged(row.text, points[near], width, after=bool(near)):
            refuse(source, row.line, f'"{short(row.text)}" stands among the points; expected two numbers')


def _is_damaged(text: str, beside: FloatArray, width: float, *, after: bool) -> bool:
    """Whether a text looks like a point next to `beside` that lost an ordinate."""
    words = words_of(text)
    if len(words) < 2:
        return False
    if len(words) == 2 and (any(map(is_not_finite, words)) or is_mistyped(words[0])):
        return all(is_not_finite(word) or is_mistyped(word) or is_number(word) for word in words)
    if not is_number(words[0]) or abs(value_of(words[0]) - beside[0]) > BESIDE * width:
        return False
    if all(map(is_number, words)):
        # a point with a number too many; other tables have other first columns
        return after and len(words) == 3 and abs(value_of(words[1]) - beside[1]) < BESIDE * width
    tail = " ".join(words[1:])
    return not re.search(r"[^\W\d_]", tail) or (len(words) == 2 and "." in words[0])


def _is_culprit(row: Row, rest: list[Row], *, after: bool) -> bool:
    """Whether a text line may be what cut the points short."""
    if after and any(other.point is not None for other in rest):
        return True
    words = words_of(row.text)
    return len(words) <= 3 and any("." in word and is_number(word) for word in words)
