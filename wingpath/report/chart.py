"""A diagram of numbers along the span: lines over one axis, told apart by width, dash and their names."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from wingpath.core.arrays import FloatArray, frozen_floats
from wingpath.report.canvas import Box, Canvas, shortened, text_width
from wingpath.report.colours import AXIS, BEAD, CUT, FUSED, INK, SOLID, Colour
from wingpath.report.scales import Scale, round_ticks

__all__ = ["Chart", "ChartLine", "draw_chart"]

LEFT_PX, RIGHT_PX, TOP_PX, BOTTOM_PX = 66.0, 18.0, 54.0, 44.0
"""What a diagram keeps free round its axes [px]."""

TEXT_PX, HEAD_PX = 14.0, 16.0
"""Size of numbers and of the heading [px]."""

X_TICK_PX, Y_TICK_PX = 70.0, 36.0
"""Least room for a number along the axes [px]."""

STYLES: tuple[tuple[Colour, float, float], ...] = ((FUSED, 2.6, 0.0), (INK, 1.8, 7.0), (BEAD, 3.6, 0.0))
"""Colour, width [px] and dash of the first, second and third line."""

HEADROOM = 1.06
"""The axis goes this much beyond the greatest number."""


@dataclass(frozen=True, slots=True, eq=False)
class ChartLine:
    """One line: numbers at places, or constant between edges; nan where there is none.

    Parameters
    ----------
    name : str
        What it is; empty when the heading says it.
    at_mm : ndarray, shape (n,) or (n + 1,)
        Places along the span, or edges of stretches, one more than numbers [mm].
    values : ndarray, shape (n,)
        Numbers in the unit of the diagram.
    """

    name: str
    at_mm: FloatArray
    values: FloatArray

    def __post_init__(self) -> None:
        at = frozen_floats(self.at_mm, (None,), name="at_mm")
        values = np.array(self.values, float)
        if values.ndim != 1 or len(at) - len(values) not in (0, 1):
            raise ValueError(
                f"values: got {values.shape} for {at.shape} places; allowed: as many, or one less"
            )
        values.setflags(write=False)
        object.__setattr__(self, "at_mm", at)
        object.__setattr__(self, "values", values)

    @property
    def points(self) -> FloatArray:
        """The line, shape (k, 2): a step at every edge."""
        if len(self.at_mm) == len(self.values):
            return np.column_stack([self.at_mm, self.values])
        return np.column_stack([np.repeat(self.at_mm, 2)[1:-1], np.repeat(self.values, 2)])


@dataclass(frozen=True, slots=True, eq=False)
class Chart:
    """What one diagram shows.

    Parameters
    ----------
    key : str
        Short name in files.
    title, unit : str
        Its heading.
    lines : tuple of ChartLine
        Three at most.
    span_mm : float
        End of the axis [mm].
    most : float
        Numbers above this are not shown; the axis goes no farther.
    floor : float, optional
        A value that must not be fallen below: what lies under it is shaded.
    missing : str
        What to say when there is no line.
    """

    key: str
    title: str
    unit: str
    lines: tuple[ChartLine, ...]
    span_mm: float
    most: float = float("inf")
    floor: float | None = None
    missing: str = "no numbers"

    @property
    def words(self) -> str:
        """The diagram in words."""
        if not self.lines:
            return f"{self.title}: {self.missing}."
        told = []
        for line in self.lines:
            values = line.values[np.isfinite(line.values)]
            if len(values):
                told.append(
                    f"{line.name or 'it'} goes from {values[0]:.3g} at the root to {values[-1]:.3g} at the "
                    f"tip, least {values.min():.3g}, most {values.max():.3g}"
                )
        unit = f" [{self.unit}]" if self.unit else ""
        return f"{self.title}{unit} along the span: {'; '.join(told) or self.missing}."


def draw_chart(canvas: Canvas, chart: Chart, room: Box) -> None:
    """Draw a diagram into a box of a canvas.

    The group ``chart`` carries the mapping in ``data-`` attributes: ``x_px = left + span * per_mm`` and
    ``y_px = bottom - (value - low) * per_unit``.

    Parameters
    ----------
    canvas : Canvas
        Where to.
    chart : Chart
        What.
    room : tuple of float
        Left, top, right, bottom [px].
    """
    left, top, right, bottom = room
    box = (left + LEFT_PX, top + TOP_PX, right - RIGHT_PX, bottom - BOTTOM_PX)
    heading = f"{chart.title} [{chart.unit}]" if chart.unit else chart.title
    canvas.text(
        (left + 12.0, top + 22.0),
        shortened(heading, size=HEAD_PX, width=right - left - 24.0),
        INK,
        size=HEAD_PX,
    )
    finite = [line.values[np.isfinite(line.values)] for line in chart.lines]
    values = np.concatenate(finite) if finite else np.zeros(0)
    if not len(values):
        canvas.text((box[0], box[1] + 30.0), chart.missing, AXIS, size=TEXT_PX)
        return
    low, high = min(0.0, float(values.min())), min(float(values.max()), chart.most)
    low, high = (HEADROOM * low, HEADROOM * high) if high > low else (low, low + 1.0)
    x = Scale(0.0, chart.span_mm, box[0], box[2])
    y = Scale(low, high, box[3], box[1])
    facts = {
        "key": chart.key,
        "left": repr(box[0]),
        "bottom": repr(box[3]),
        "low": repr(low),
        "per_mm": repr((box[2] - box[0]) / chart.span_mm),
        "per_unit": repr((box[3] - box[1]) / (high - low)),
    }
    with canvas.group("chart", **facts):
        _axes(canvas, chart, x, y, box)
        for line, (colour, width, dash) in zip(chart.lines, STYLES, strict=False):
            with canvas.group("line", of=line.name), canvas.clipped(box):
                for stretch in _stretches(line.points):
                    places = np.array([[x.px(at), y.px(value)] for at, value in stretch.tolist()])
                    canvas.line(places, colour, width=width, dash=dash)
        _names(canvas, chart, box)


def _stretches(points: FloatArray) -> list[FloatArray]:
    """Return the unbroken stretches of a line with gaps."""
    there = np.isfinite(points[:, 1])
    breaks = np.flatnonzero(np.diff(there)) + 1
    return [part for part in np.split(points, breaks) if len(part) > 1 and np.isfinite(part[0, 1])]


def _axes(canvas: Canvas, chart: Chart, x: Scale, y: Scale, box: Box) -> None:
    left, top, right, bottom = box
    if chart.floor is not None and y.low < chart.floor:
        at = y.px(chart.floor)
        shade = np.array([[left, at], [right, at], [right, bottom], [left, bottom]])
        canvas.area([shade], CUT, alpha=0.6)
    for value in round_ticks(x, X_TICK_PX, size=TEXT_PX):
        at = x.px(value)
        canvas.line(np.array([[at, top], [at, bottom]]), SOLID, width=1.0)
        canvas.text((at, bottom + 18.0), f"{value:g}", INK, size=TEXT_PX, anchor="middle")
    for value in round_ticks(y, Y_TICK_PX, size=TEXT_PX):
        at = y.px(value)
        canvas.line(np.array([[left, at], [right, at]]), SOLID, width=1.0)
        canvas.text((left - 7.0, at + 5.0), f"{value:.6g}", INK, size=TEXT_PX, anchor="end")
    border = np.array([[left, top], [right, top], [right, bottom], [left, bottom]])
    canvas.line(border, AXIS, width=1.2, closed=True)
    if chart.floor is not None and y.shows(chart.floor):
        at = y.px(chart.floor)
        canvas.line(np.array([[left, at], [right, at]]), INK, width=1.4)
    canvas.text((right, bottom + 36.0), "span [mm]", AXIS, size=TEXT_PX, anchor="end")


def _names(canvas: Canvas, chart: Chart, box: Box) -> None:
    """Write a legend in one row above the axes."""
    at, base = box[0], box[1] - 9.0
    for line, (colour, width, dash) in zip(chart.lines, STYLES, strict=False):
        if not line.name:
            continue
        canvas.line(np.array([[at, base - 5.0], [at + 24.0, base - 5.0]]), colour, width=width, dash=dash)
        canvas.text((at + 30.0, base), line.name, INK, size=TEXT_PX)
        at += 30.0 + 1.12 * text_width(line.name, TEXT_PX) + 20.0
