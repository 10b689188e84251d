"""The picture of mass against stiffness: what a search for lighter wings found, beside the drawn one."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Literal

import numpy as np

from wingpath.core.arrays import FloatArray
from wingpath.report.canvas import Box, Canvas, PngCanvas, shortened, text_width
from wingpath.report.colours import AXIS, BEAD, CUT, FUSED, GHOST, INK, SOLID, WHITE
from wingpath.report.scales import Names, Scale, drawable, far_apart, round_ticks
from wingpath.report.svg_canvas import SvgCanvas

__all__ = ["FrontPanel", "FrontPoint", "Mark", "front_picture", "front_svg"]

Mark = Literal["drawn", "lightest", "front", "met", "missed"]

WIDTH_PX, TEXT_PX = 1200, 16.0
"""Width of the picture, size of its text [px]."""

HEAD_PX, PANEL_PX = 92.0, 400.0
"""Height of title and legend, and of a row of panels [px]."""

LEFT_PX, RIGHT_PX, TOP_PX, BOTTOM_PX = 84.0, 26.0, 44.0, 58.0
"""What a panel keeps free round its axes [px]."""

X_TICK_PX, Y_TICK_PX = 80.0, 48.0
"""Least room for a number along the axes [px]."""

MOST_PANELS = 4

LEGEND: tuple[tuple[Mark, str], ...] = (
    ("drawn", "as drawn"),
    ("lightest", "lightest that holds"),
    ("front", "lightest for its value"),
    ("met", "meets the targets"),
    ("missed", "misses a target"),
)


ORDER: tuple[Mark, ...] = ("missed", "met", "front", "drawn", "lightest")
"""What is drawn over what: the lightest's diamond leaves the corners of the drawn one's square visible."""

NAMES: dict[Mark, str] = {"drawn": "as drawn", "lightest": "lightest"}

CLEAR: dict[Mark, tuple[float, float]] = {
    "drawn": (11.0, 100.0),
    "lightest": (12.0, 100.0),
    "front": (7.0, 10.0),
    "met": (6.0, 5.0),
    "missed": (5.0, 3.0),
}
"""Half of the square that a symbol needs [px], and how much it counts that no word covers it."""


@dataclass(frozen=True, slots=True)
class FrontPoint:
    """One wing.

    Parameters
    ----------
    mass_g : float
        Mass of a half wing [g].
    value : float
        Its stiffness number, in the unit of the panel.
    mark : str
        One of :data:`Mark`.
    """

    mass_g: float
    value: float
    mark: Mark


@dataclass(frozen=True, slots=True)
class FrontPanel:
    """One stiffness number of all wings.

    Parameters
    ----------
    title, unit : str
        What it is.
    better : {"less", "more"}
        Which way is stiffer.
    target : float or None
        What is asked for.
    points : tuple of FrontPoint
        The wings.
    """

    title: str
    unit: str
    better: Literal["less", "more"]
    target: float | None
    points: tuple[FrontPoint, ...]


def front_picture(panels: Sequence[FrontPanel], *, title: str) -> bytes:
    """Draw mass against stiffness as a PNG.

    Parameters
    ----------
    panels : sequence of FrontPanel
        Four at most.
    title : str
        What they belong to.
    """
    canvas = PngCanvas(WIDTH_PX, _height(panels))
    _draw(canvas, panels, title)
    return canvas.png()


def front_svg(panels: Sequence[FrontPanel], *, title: str) -> str:
    """Draw mass against stiffness as SVG text; see :func:`front_picture`."""
    canvas = SvgCanvas(WIDTH_PX, _height(panels), title=title)
    _draw(canvas, panels, title)
    return canvas.svg()


def _height(panels: Sequence[FrontPanel]) -> int:
    rows = max(1, -(-min(len(panels), MOST_PANELS) // 2))
    return round(HEAD_PX + rows * PANEL_PX)


def _draw(canvas: Canvas, panels: Sequence[FrontPanel], title: str) -> None:
    canvas.text((30.0, 36.0), shortened(title, size=22.0, width=WIDTH_PX - 60.0), INK, size=22.0)
    x = 34.0
    for mark, words in LEGEND:
        _symbol(canvas, mark, (x, 66.0))
        canvas.text((x + 16.0, 71.5), words, INK, size=TEXT_PX)
        x += 50.0 + text_width(words, TEXT_PX)
    shown = panels[:MOST_PANELS]
    if not shown:
        canvas.text((30.0, HEAD_PX + 40.0), "no numbers", INK, size=TEXT_PX)
    for number, panel in enumerate(shown):
        row, column = divmod(number, 2)
        wide = WIDTH_PX if len(shown) == 1 else WIDTH_PX / 2
        left, top = column * wide, HEAD_PX + row * PANEL_PX
        _panel(canvas, panel, (left, top, left + wide, top + PANEL_PX))


def _panel(canvas: Canvas, panel: FrontPanel, room: Box) -> None:
    left, top, right, bottom = room
    box = (left + LEFT_PX, top + TOP_PX, right - RIGHT_PX, bottom - BOTTOM_PX)
    canvas.text((left + 30.0, top + 26.0), _heading(panel, box[2] - left - 30.0), INK, size=TEXT_PX)
    points = [p for p in panel.points if drawable(p.mass_g) and drawable(p.value)]
    if not points:
        canvas.text((box[0], box[1] + 40.0), "no numbers", INK, size=TEXT_PX)
        return
    x, y = _scales(panel, points, box)
    shown = [p for p in points if _shown(p, x, y, box)]
    with canvas.group("panel", title=panel.title, better=panel.better):
        _shade(canvas, panel, y, box)
        _axes(canvas, x, y, box)
        target = _target(canvas, panel, y, box)
        line = _front_line(panel, shown, x, y)
        with canvas.group("front"):
            canvas.line(line, FUSED, width=1.6, alpha=0.6)
        for mark in ORDER:
            for point in (p for p in shown if p.mark == mark):
                facts = {"mass_g": f"{point.mass_g:.6g}", "value": f"{point.value:.6g}"}
                with canvas.group("point", mark=mark, **facts):
                    _symbol(canvas, mark, (x.px(point.mass_g), y.px(point.value)))
        names = Names(box, size=TEXT_PX)
        for point in shown:
            names.keep_clear(x.px(point.mass_g), y.px(point.value), *CLEAR[point.mark])
        for spot in _along(line):
            names.keep_clear(*spot, 2.0, 1.0)
        _write_names(canvas, names, [p for p in shown if p.mark in NAMES], target, (x, y))
        if len(shown) < len(points):
            text = f"{len(points) - len(shown)} more outside"
            canvas.text((box[0], box[3] + 44.0), text, AXIS, size=TEXT_PX)


def _shown(point: FrontPoint, x: Scale, y: Scale, box: Box) -> bool:
    """Whether a point's symbol lies inside the axes."""
    if not (x.shows(point.mass_g) and y.shows(point.value)):
        return False
    px, py, edge = x.px(point.mass_g), y.px(point.value), CLEAR[point.mark][0]
    return box[0] + edge <= px <= box[2] - edge and box[1] + edge <= py <= box[3] - edge


def _heading(panel: FrontPanel, width: float) -> str:
    """Return title and unit; of the two, the title is shortened first."""
    unit = f" [{panel.unit}]" if panel.unit else ""
    room = max(0.5 * width, width - text_width(unit, TEXT_PX))
    return shortened(shortened(panel.title, size=TEXT_PX, width=room) + unit, size=TEXT_PX, width=width)


def _scales(panel: FrontPanel, points: Sequence[FrontPoint], box: Box) -> tuple[Scale, Scale]:
    """Return the axes: as far as what matters reaches; what misses targets by far is left outside."""
    main = [point for point in points if point.mark != "missed"] or list(points)
    masses = [point.mass_g for point in main]
    values = [point.value for point in main]
    target = panel.target
    if target is not None and drawable(target):
        # a target that no axis of powers can show must not flatten values that need one
        values += [target] if target > 0.0 or not far_apart(values) else []
    x = Scale.around(masses, box[0], box[2], powers=False)
    return x, Scale.around(values, box[3], box[1], powers=far_apart(values))


def _target_px(panel: FrontPanel, y: Scale) -> float | None:
    shown = panel.target is not None and drawable(panel.target) and y.shows(panel.target)
    return y.px(panel.target) if shown and panel.target is not None else None


def _shade(canvas: Canvas, panel: FrontPanel, y: Scale, box: Box) -> None:
    """Shade the side that misses the target: above it where less is better."""
    at = _target_px(panel, y)
    if at is not None:
        top, bottom = (box[1], at) if panel.better == "less" else (at, box[3])
        shade = np.array([[box[0], top], [box[2], top], [box[2], bottom], [box[0], bottom]])
        canvas.area([shade], CUT, alpha=0.35)


def _target(canvas: Canvas, panel: FrontPanel, y: Scale, box: Box) -> float | None:
    """Draw the target over the grid, where a line of the grid may lie at the same height; return where."""
    at = _target_px(panel, y)
    if at is not None:
        with canvas.group("target", value=f"{panel.target:.6g}"):
            canvas.line(np.array([[box[0], at], [box[2], at]]), INK, width=1.4, dash=7.0)
    return at


def _front_line(panel: FrontPanel, shown: Sequence[FrontPoint], x: Scale, y: Scale) -> FloatArray:
    """Return the line through the front [px]; the lightest wing is on it where no front wing beats it."""
    front = [p for p in shown if p.mark == "front"]
    sign = 1.0 if panel.better == "more" else -1.0
    for point in (p for p in shown if p.mark == "lightest"):
        if not any(f.mass_g <= point.mass_g and sign * f.value > sign * point.value for f in front):
            front.append(point)
    pairs = sorted((p.mass_g, sign * p.value) for p in front)
    return np.array([[x.px(mass), y.px(sign * value)] for mass, value in pairs]).reshape(-1, 2)


def _along(line: FloatArray) -> list[tuple[float, float]]:
    """Return places along a line, close enough that no word fits between them [px]."""
    places: list[tuple[float, float]] = []
    for one, other in pairwise(line):
        count = max(2, int(np.hypot(*(other - one)) / 6.0))
        places += [(float(px), float(py)) for px, py in np.linspace(one, other, count)]
    return places


def _axes(canvas: Canvas, x: Scale, y: Scale, box: Box) -> None:
    left, top, right, bottom = box
    for value in round_ticks(x, X_TICK_PX, size=TEXT_PX):
        at = x.px(value)
        with canvas.group("tick", axis="x", value=f"{value:g}"):
            canvas.line(np.array([[at, top], [at, bottom]]), SOLID, width=1.0)
            canvas.text((at, bottom + 21.0), f"{value:g}", INK, size=TEXT_PX, anchor="middle")
    for value in round_ticks(y, Y_TICK_PX, size=TEXT_PX):
        at, words = y.px(value), f"{value:g}"
        size = min(TEXT_PX, TEXT_PX * (LEFT_PX - 14.0) / text_width(words, TEXT_PX))
        with canvas.group("tick", axis="y", value=words):
            canvas.line(np.array([[left, at], [right, at]]), SOLID, width=1.0)
            canvas.text((left - 8.0, at + 0.35 * size), words, INK, size=size, anchor="end")
    border = np.array([[left, top], [right, top], [right, bottom], [left, bottom]])
    canvas.line(border, AXIS, width=1.2, closed=True)
    canvas.text((right, bottom + 44.0), "mass of a half wing [g]", INK, size=TEXT_PX, anchor="end")


def _write_names(
    canvas: Canvas,
    names: Names,
    points: Sequence[FrontPoint],
    target_px: float | None,
    scales: tuple[Scale, Scale],
) -> None:
    """Write the names of the wings that matter and of the target where they cover least."""
    if target_px is not None:
        for px in np.arange(names.box[0], names.box[2], 8.0).tolist():
            names.keep_clear(px, target_px, 1.0, 0.6)
    for point in points:
        text = NAMES[point.mark]
        width = text_width(text, TEXT_PX)
        at, base = scales[0].px(point.mass_g), scales[1].px(point.value) + 0.35 * TEXT_PX
        places = []
        for away in (14.0, 18.0, 23.0, 29.0, 36.0):
            sides = (at + away, at - away - width)
            places += [(side, base + up * away) for up in (-0.8, 0.8, 0.0, -0.4, 0.4) for side in sides]
            places += [
                (at - part * width, base + up * (away + 6.0))
                for up in (-1.0, 1.0)
                for part in (0.5, 0.1, 0.9)
            ]
        with canvas.group("name", of=point.mark):
            canvas.text(names.place(text, places), text, INK, size=TEXT_PX)
    if target_px is not None:
        along = np.linspace(names.box[0] + 8.0, names.box[2] - 8.0 - text_width("target", TEXT_PX), 9)
        places = [(px, target_px + up) for up in (-7.0, 17.0) for px in along.tolist()]
        with canvas.group("name", of="target"):
            canvas.text(names.place("target", places), "target", INK, size=TEXT_PX)


def _symbol(canvas: Canvas, mark: Mark, spot: tuple[float, float]) -> None:
    """Draw a mark: shape and filling tell it without colour."""
    if mark == "drawn":
        canvas.area([_corners(spot, 4, 14.0, 45.0)], INK)
    elif mark == "lightest":
        canvas.area([_corners(spot, 4, 12.5, 0.0)], WHITE)
        canvas.area([_corners(spot, 4, 11.0, 0.0)], FUSED)
    elif mark == "front":
        canvas.area([_corners(spot, 24, 5.5, 0.0)], FUSED)
    elif mark == "met":
        canvas.area([_corners(spot, 24, 4.0, 0.0)], BEAD)
        canvas.circle(spot, 4.0, FUSED, width=1.0)
    else:
        canvas.circle(spot, 3.4, GHOST, width=1.3)


def _corners(spot: tuple[float, float], count: int, radius: float, turned_deg: float) -> FloatArray:
    turn = np.deg2rad(turned_deg) + np.linspace(0.0, 2.0 * np.pi, count + 1)[:-1]
    return np.asarray(spot) + radius * np.column_stack([np.cos(turn), np.sin(turn)])
