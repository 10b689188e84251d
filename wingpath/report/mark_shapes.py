"""The shapes of marks: rings around places, and badges that carry a finding's number."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from wingpath.core.findings import Severity
from wingpath.report.canvas import Box, Canvas
from wingpath.report.colours import SEVERITY_COLOURS, WHITE
from wingpath.report.frame import Frame
from wingpath.report.marks import Mark

__all__ = ["BADGES", "draw_badge", "draw_marks"]

BADGES: dict[Severity, tuple[int, float, float]] = {
    "error": (4, 0.82, 45.0),
    "warning": (3, 1.0, -90.0),
    "note": (32, 0.66, 0.0),
}
"""Corners of a badge, its radius in text sizes and its turn [deg]: the shape tells the severity to those
who do not see the colour."""


def draw_marks(canvas: Canvas, marks: Sequence[Mark], frame: Frame, *, radius: float, size: float) -> None:
    """Ring every marked place; dashed where the worst of it lies on another layer.

    The rings have the given `radius`, the numbers beside them the text `size` [px].
    """
    taken: list[tuple[float, float]] = []
    for mark in marks:
        if mark.place is None or not frame.shows(*mark.place):
            continue
        spot = frame.spot(*mark.place)
        colour = SEVERITY_COLOURS[mark.finding.severity]
        badge = _free_place(spot, radius + size, frame.box, taken)
        taken.append(badge)
        dash = 0.0 if mark.here else 0.3 * size
        with canvas.group("mark", number=str(mark.number), code=mark.finding.code):
            canvas.circle(spot, radius, WHITE, width=0.34 * size)
            canvas.circle(spot, radius, colour, width=0.18 * size, dash=dash)
            draw_badge(canvas, mark, badge, size)


def _free_place(
    spot: tuple[float, float], distance: float, box: Box, taken: Sequence[tuple[float, float]]
) -> tuple[float, float]:
    """Return a place beside `spot` inside `box`, as far from the `taken` ones as can be had."""
    turn = np.deg2rad([-45.0, -135.0, 45.0, 135.0, -90.0, 90.0, 0.0, 180.0])
    places = np.asarray(spot) + distance * np.column_stack([np.cos(turn), np.sin(turn)])
    low, high = np.array(box[:2]) + 0.5 * distance, np.array(box[2:]) - 0.5 * distance
    outside = ((places < low) | (places > high)).any(axis=1)
    room = np.full(len(places), 2.0 * distance)
    for other in taken:
        room = np.minimum(room, np.linalg.norm(places - np.asarray(other), axis=1))
    x, y = places[np.argmax(room - 4.0 * distance * outside)].tolist()
    return x, y


def draw_badge(canvas: Canvas, mark: Mark, middle: tuple[float, float], size: float) -> None:
    """Draw its number on a square for an error, a triangle for a warning, a disc for a note."""
    colour = SEVERITY_COLOURS[mark.finding.severity]
    corners, radius, turned = BADGES[mark.finding.severity]
    turn = np.deg2rad(turned) + np.linspace(0.0, 2.0 * np.pi, corners + 1)[:-1]
    shape = np.asarray(middle) + radius * size * np.column_stack([np.cos(turn), np.sin(turn)])
    canvas.area([shape], colour)
    base = middle[1] + (0.36 if corners == 3 else 0.28) * size
    canvas.text((middle[0], base), str(mark.number), WHITE, size=0.8 * size, anchor="middle")
