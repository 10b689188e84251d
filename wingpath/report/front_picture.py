"""The picture of mass against stiffness: what a search for lighter wings found, beside the drawn one."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from wingpath.core.arrays import FloatArray
from wingpath.report.canvas import Box, Canvas, PngCanvas, shortened, text_width
from wingpath.report.colours import AXIS, BEAD, CUT, FUSED, GHOST, INK, SOLID, WHITE
from wingpath.report.frame import round_step
from wingpath.report.svg_canvas import SvgCanvas

__all__ = ["FrontPanel", "FrontPoint", "Mark", "front_picture", "front_svg"]

Mark = Literal["drawn", "lightest", "front", "met", "missed"]

WIDTH_PX, TEXT_PX = 1200, 16.0
"""Width of the picture, size of its text [px]."""

HEAD_PX, PANEL_PX = 92.0, 400.0
"""Height of title and legend, and of a row of panels [px]."""

LEFT_PX, RIGHT_PX, TOP_PX, BOTTOM_PX = 84.0, 26.0, 44.0, 58.0
"""What a panel keeps free round its axes [px]."""

MARGIN = 0.08
"""Share of the range that axes go beyond the points."""

DECADES = 1.7
"""Values that spread over more powers of ten than this get an axis of powers."""

MOST_PANELS = 4

LEGEND: tuple[tuple[Mark, str], ...] = (
    ("drawn", "as drawn"),
    ("lightest", "lightest that holds"),
    ("front", "lightest for its value"),
    ("met", "meets the targets"),
    ("missed", "misses a target"),
)


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


@dataclass(frozen=True, slots=True)
class _Scale:
    """A range of numbers laid along a stretch of the picture."""

    low: float
    high: float
    start_px: float
    end_px: float
    powers: bool = False

    def px(self, value: float) -> float:
        """Return the place of a value [px]."""
        share = (self._at(value) - self._at(self.low)) / (self._at(self.high) - self._at(self.low))
        return self.start_px + share * (self.end_px - self.start_px)

    def shows(self, value: float) -> bool:
        """Whether a value lies in the range."""
        return self.low <= value <= self.high

    def _at(self, value: float) -> float:
        return math.log10(value) if self.powers else value


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
    words = f"{panel.title} [{panel.unit}]" if panel.unit else panel.title
    width = box[2] - left - 30.0
    canvas.text((left + 30.0, top + 26.0), shortened(words, size=TEXT_PX, width=width), INK, size=TEXT_PX)
    points = [p for p in panel.points if math.isfinite(p.mass_g) and math.isfinite(p.value)]
    if not points:
        canvas.text((box[0], box[1] + 40.0), "no numbers", INK, size=TEXT_PX)
        return
    x, y = _scales(panel, points, box)
    with canvas.group("panel", title=panel.title, better=panel.better):
        _target(canvas, panel, x, y, box)
        _axes(canvas, x, y, box)
        front = sorted(
            (p.mass_g, p.value) for p in points if p.mark in ("front", "lightest") and _inside(p, x, y)
        )
        with canvas.clipped(box):
            if len(front) > 1:
                line = np.array([[x.px(mass), y.px(value)] for mass, value in front])
                canvas.line(line, FUSED, width=1.6, alpha=0.6)
        outside = 0
        for mark in ("missed", "met", "front", "lightest", "drawn"):
            for point in points:
                if point.mark != mark:
                    continue
                if not _inside(point, x, y):
                    outside += 1
                    continue
                spot = (x.px(point.mass_g), y.px(point.value))
                facts = {"mass_g": f"{point.mass_g:.6g}", "value": f"{point.value:.6g}"}
                with canvas.group("point", mark=mark, **facts):
                    _symbol(canvas, point.mark, spot)
        _names(canvas, [p for p in points if p.mark in ("drawn", "lightest")], x, y, box)
        if outside:
            text = f"{outside} more outside"
            canvas.text((box[2] - 6.0, box[3] - 8.0), text, AXIS, size=0.85 * TEXT_PX, anchor="end")


def _inside(point: FrontPoint, x: _Scale, y: _Scale) -> bool:
    return x.shows(point.mass_g) and y.shows(point.value)


def _scales(panel: FrontPanel, points: Sequence[FrontPoint], box: Box) -> tuple[_Scale, _Scale]:
    """Return the axes: as far as what matters reaches; what misses targets by far is left outside."""
    main = [point for point in points if point.mark != "missed"] or list(points)
    masses = [point.mass_g for point in main]
    values = [point.value for point in main]
    target = panel.target
    if target is not None and math.isfinite(target) and (target > 0.0 or min(values) <= 0.0):
        values.append(target)
    powers = min(values) > 0.0 and max(values) / min(values) > 10.0**DECADES
    low, high = _widened(min(masses), max(masses))
    if powers:
        bottom, top = 10.0 ** math.floor(math.log10(min(values))), 10.0 ** math.ceil(math.log10(max(values)))
        top = top if top > bottom else 10.0 * bottom
    else:
        bottom, top = _widened(min(values), max(values))
    return _Scale(low, high, box[0], box[2]), _Scale(bottom, top, box[3], box[1], powers)


def _widened(low: float, high: float) -> tuple[float, float]:
    size = max(abs(low), abs(high), 1e-12)
    spread = max(high - low, 0.02 * size)
    middle = 0.5 * (low + high)
    half = (0.5 + MARGIN) * spread
    return middle - half, middle + half


def _target(canvas: Canvas, panel: FrontPanel, x: _Scale, y: _Scale, box: Box) -> None:
    target = panel.target
    if target is None or not math.isfinite(target) or not y.shows(target):
        return
    at = y.px(target)
    # the side that misses it: above where less is better
    top, bottom = (box[1], at) if panel.better == "less" else (at, box[3])
    shade = np.array([[box[0], top], [box[2], top], [box[2], bottom], [box[0], bottom]])
    canvas.area([shade], CUT, alpha=0.35)
    with canvas.group("target", value=f"{target:.6g}"):
        canvas.line(np.array([[box[0], at], [box[2], at]]), INK, width=1.4, dash=7.0)
    high = at - 5.0 if at - box[1] > 24.0 else at + 16.0
    canvas.text((box[0] + 8.0, high), "target", INK, size=0.85 * TEXT_PX)


def _axes(canvas: Canvas, x: _Scale, y: _Scale, box: Box) -> None:
    left, top, right, bottom = box
    small = 0.85 * TEXT_PX
    step = round_step(x.high - x.low, 6.0)
    for value in _ticks(x, step):
        at = x.px(value)
        canvas.line(np.array([[at, top], [at, bottom]]), SOLID, width=1.0)
        canvas.text((at, bottom + 20.0), f"{value:g}", INK, size=small, anchor="middle")
    if y.powers:
        first, last = round(math.log10(y.low)), round(math.log10(y.high))
        values = [10.0**power for power in range(first, last + 1)]
    else:
        values = _ticks(y, round_step(y.high - y.low, 6.0))
    for value in values:
        at = y.px(value)
        canvas.line(np.array([[left, at], [right, at]]), SOLID, width=1.0)
        with canvas.group("tick", axis="y", value=f"{value:g}"):
            canvas.text((left - 8.0, at + 5.0), f"{value:g}", INK, size=small, anchor="end")
    border = np.array([[left, top], [right, top], [right, bottom], [left, bottom]])
    canvas.line(border, AXIS, width=1.2, closed=True)
    canvas.text((right, bottom + 42.0), "mass of a half wing [g]", INK, size=small, anchor="end")


def _ticks(scale: _Scale, step: float) -> list[float]:
    first, last = math.ceil(scale.low / step - 1e-9), math.floor(scale.high / step + 1e-9)
    # rounded to the step, so that 0.30000000000000004 is written as 0.3
    return [float(f"{number * step:.12g}") for number in range(first, last + 1)]


def _names(canvas: Canvas, points: Sequence[FrontPoint], x: _Scale, y: _Scale, box: Box) -> None:
    """Write names beside the two points that matter, away from each other and inside the axes."""
    names = {"drawn": "as drawn", "lightest": "lightest"}
    taken: list[Box] = []
    for point in sorted(points, key=lambda one: one.mark):
        if not _inside(point, x, y):
            continue
        text, size = names[point.mark], 0.9 * TEXT_PX
        width = text_width(text, size)
        at, base = x.px(point.mass_g), y.px(point.value)
        places = [(at + 13.0, base - 9.0), (at - 13.0 - width, base - 9.0)]
        places += [(at + 13.0, base + 19.0), (at - 13.0 - width, base + 19.0)]
        rooms = [(px, py - size, px + width, py + 3.0) for px, py in places]
        free = [
            room
            for room in rooms
            if room[0] > box[0]
            and room[2] < box[2]
            and room[1] > box[1]
            and room[3] < box[3]
            and not any(_overlap(room, other) for other in taken)
        ]
        room = free[0] if free else rooms[0]
        taken.append(room)
        canvas.text((room[0], room[3] - 3.0), text, INK, size=size)


def _overlap(one: Box, other: Box) -> bool:
    return one[0] < other[2] and other[0] < one[2] and one[1] < other[3] and other[1] < one[3]


def _symbol(canvas: Canvas, mark: Mark, spot: tuple[float, float]) -> None:
    """Draw a mark: shape and filling tell it without colour."""
    if mark == "drawn":
        canvas.area([_corners(spot, 4, 10.0, 45.0)], INK)
    elif mark == "lightest":
        canvas.area([_corners(spot, 4, 11.0, 0.0)], WHITE)
        canvas.area([_corners(spot, 4, 10.0, 0.0)], FUSED)
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
