"""Parts of a drawing at true size: crosses, dimensions, leaders, tables, notes."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import shapely

from wingpath.report.true_size import MM_PER_POINT, Area, Item, Stroke, Words, bounds_of

__all__ = ["NOTE_PT", "below", "cross", "dimension", "notes", "table", "tucked"]

NOTE_PT, NOTE_LETTERS = 8.0, 122
"""Size of notes and tables [pt], letters in a line: some 170 mm, which an upright page holds."""

ROW_MM = 4.2
"""Pitch of rows of text [mm]."""

TICK_MM, PAST_MM = 1.2, 1.5
"""Half length of the slanting tick at the end of a dimension, how far its help lines run past it [mm]."""

CLEAR_MM = 0.9
"""Room between a dimension's line and its figures [mm]."""

BOLD_SHARE = 1.12
"""Bold letters are wider by this."""

CELL_MM = 3.0
"""Room between columns of a table [mm]."""


def cross(u_mm: float, v_mm: float, *, half_mm: float) -> tuple[Stroke, Stroke]:
    """Return an upright cross at a centre, `half_mm` to every side [mm]."""
    return (
        Stroke(np.array([(u_mm - half_mm, v_mm), (u_mm + half_mm, v_mm)]), "axis"),
        Stroke(np.array([(u_mm, v_mm - half_mm), (u_mm, v_mm + half_mm)]), "axis"),
    )


def dimension(
    start_mm: tuple[float, float], end_mm: tuple[float, float], *, aside_mm: float, text: str
) -> tuple[Item, ...]:
    """Return a dimension line beside two points, with help lines from them.

    Parameters
    ----------
    start_mm, end_mm : tuple of float
        The points u, v, apart [mm].
    aside_mm : float
        How far to the left of the way from one to the other the line lies; negative for the right [mm].
    text : str
        Its figures.
    """
    start, end = np.array(start_mm, float), np.array(end_mm, float)
    along = (end - start) / np.hypot(*(end - start))
    left = np.array([-along[1], along[0]])
    a, b = start + aside_mm * left, end + aside_mm * left
    past = np.copysign(PAST_MM, aside_mm) * left
    slant = TICK_MM * (along + left) / np.sqrt(2.0)
    turn = float(np.rad2deg(np.arctan2(along[1], along[0])))
    middle = 0.5 * (a + b) + CLEAR_MM * left
    return (
        Stroke(np.stack([a, b]), "dimension"),
        Stroke(np.stack([start, a + past]), "dimension"),
        Stroke(np.stack([end, b + past]), "dimension"),
        Stroke(np.stack([a - slant, a + slant]), "dimension"),
        Stroke(np.stack([b - slant, b + slant]), "dimension"),
        Words(float(middle[0]), float(middle[1]), text, NOTE_PT, "middle", turn_deg=turn),
    )


def table(u_mm: float, v_mm: float, rows: Sequence[Sequence[str]]) -> tuple[Item, ...]:
    """Return a table whose top left corner is given; the first row is its head.

    Parameters
    ----------
    u_mm, v_mm : float
        The corner [mm].
    rows : sequence of sequence of str
        Its cells, as many in every row.
    """
    widths = [
        CELL_MM
        + max(
            float(np.ptp(Words(0.0, 0.0, cell, NOTE_PT).extent[:, 0])) * (BOLD_SHARE if number == 0 else 1.0)
            for number, cell in enumerate(column)
        )
        for column in zip(*rows, strict=True)
    ]
    lefts = u_mm + np.concatenate([[0.0], np.cumsum(widths)])
    items: list[Item] = []
    for number, row in enumerate(rows):
        base = v_mm - (number + 1) * ROW_MM + 0.3 * NOTE_PT * MM_PER_POINT
        for left, cell in zip(lefts, row, strict=False):
            if cell:
                items.append(Words(float(left) + 0.3 * CELL_MM, base, cell, NOTE_PT, bold=number == 0))
    for number in (0, 1, len(rows)):
        height = v_mm - number * ROW_MM
        items.append(Stroke(np.array([(lefts[0], height), (lefts[-1], height)]), "grid"))
    return tuple(items)


def notes(u_mm: float, v_mm: float, texts: Sequence[str]) -> tuple[Words, ...]:
    """Return paragraphs below a place, broken into lines.

    Parameters
    ----------
    u_mm, v_mm : float
        Top left corner [mm].
    texts : sequence of str
        The paragraphs.
    """
    lines: list[Words] = []
    for text in texts:
        for line in textwrap.wrap(text, NOTE_LETTERS, initial_indent="- ", subsequent_indent="  "):
            indent = 2.0 if line.startswith("  ") else 0.0
            lines.append(Words(u_mm + indent, v_mm - (len(lines) + 1) * ROW_MM, line.strip(), NOTE_PT))
    return tuple(lines)


def below(items: Sequence[Item], gap_mm: float) -> float:
    """Return the height that lies `gap_mm` under everything drawn so far [mm]."""
    return float(bounds_of(items)[0, 1]) - gap_mm


def moved(items: Sequence[Item], u_mm: float, v_mm: float) -> tuple[Item, ...]:
    """Return lines and words moved by a distance [mm]."""
    return tuple(
        replace(item, u_mm=item.u_mm + u_mm, v_mm=item.v_mm + v_mm)
        if isinstance(item, Words)
        else replace(item, points=item.points + np.array([u_mm, v_mm]))
        for item in items
        if not isinstance(item, Area)
    )


def tucked(block: Sequence[Item], items: Sequence[Item], gap_mm: float) -> tuple[Item, ...]:
    """Return a block of words moved under a drawing, at its left or its right end, where it comes higher.

    Parameters
    ----------
    block : sequence of Item
        The block, anywhere; lines and words.
    items : sequence of Item
        The drawing.
    gap_mm : float
        Room between them [mm].
    """
    bounds, size = bounds_of(items), bounds_of(block)
    wide = float(size[1, 0] - size[0, 0])
    places = []
    for left in (float(bounds[0, 0]), max(float(bounds[0, 0]), float(bounds[1, 0]) - wide)):
        over = shapely.box(left - gap_mm, bounds[0, 1] - 1.0, left + wide + gap_mm, bounds[1, 1] + 1.0)
        lows = [
            float(shapely.bounds(shapely.intersection(_outline(item), over))[1])
            for item in items
            if shapely.intersects(_outline(item), over)
        ]
        places.append((min(lows, default=float(bounds[0, 1])), left))
    height, left = max(places, key=lambda place: (round(place[0], 6), -place[1]))
    return moved(block, left - float(size[0, 0]), height - gap_mm - float(size[1, 1]))


def _outline(item: Item) -> shapely.Geometry:
    if isinstance(item, Stroke):
        ends = item.points[:1] if item.closed else item.points[:0]
        return shapely.linestrings(np.vstack([item.points, ends]))
    return shapely.box(*item.extent.ravel())
