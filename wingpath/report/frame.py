"""Frames: a window of a layer laid onto a box of a picture, both ways round, and its axes."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from wingpath.core.arrays import FloatArray
from wingpath.report.canvas import Box, Canvas
from wingpath.report.colours import AXIS, INK

__all__ = ["Frame", "centred", "draw_axes", "draw_scale_bar", "round_step"]

ROUND = (1.0, 2.0, 5.0, 10.0)
"""What a step of an axis may begin with."""

TICK = 6.0
"""Length of a tick [px]."""


@dataclass(frozen=True, slots=True)
class Frame:
    """A window of the layer's plane and the box that shows it.

    Parameters
    ----------
    box : tuple of float
        Left, top, right, bottom [px].
    left_mm, top_mm : float
        x and y of the layer at the box's upper left corner [mm].
    scale : float
        Magnification [px/mm].
    """

    box: Box
    left_mm: float
    top_mm: float
    scale: float

    def px(self, points: FloatArray) -> FloatArray:
        """Return points, shape (n, 2) [mm], as picture points [px]: y runs upward in a layer."""
        points = np.asarray(points, dtype=np.float64)
        x = self.box[0] + (points[:, 0] - self.left_mm) * self.scale
        y = self.box[1] + (self.top_mm - points[:, 1]) * self.scale
        return np.column_stack([x, y])

    def spot(self, x_mm: float, y_mm: float) -> tuple[float, float]:
        """Return one point [mm] as a picture point [px]."""
        x, y = self.px(np.array([[x_mm, y_mm]]))[0].tolist()
        return x, y

    @property
    def window_mm(self) -> Box:
        """Least x, least y, greatest x, greatest y that the box shows [mm]."""
        left, top, right, bottom = self.box
        return (
            self.left_mm,
            self.top_mm - (bottom - top) / self.scale,
            self.left_mm + (right - left) / self.scale,
            self.top_mm,
        )

    def shows(self, x_mm: float, y_mm: float) -> bool:
        """Whether a point lies in the window."""
        low_x, low_y, high_x, high_y = self.window_mm
        return low_x <= x_mm <= high_x and low_y <= y_mm <= high_y


def centred(box: Box, middle_mm: tuple[float, float], scale: float) -> Frame:
    """Return the frame that shows the point `middle_mm` in the middle of `box`."""
    left, top, right, bottom = box
    return Frame(
        box,
        middle_mm[0] - 0.5 * (right - left) / scale,
        middle_mm[1] + 0.5 * (bottom - top) / scale,
        scale,
    )


def round_step(span: float, pieces: float) -> float:
    """Return the round number nearest above ``span / pieces``: 1, 2 or 5 times a power of ten."""
    raw = span / pieces
    power = 10.0 ** np.floor(np.log10(raw))
    return float(next(lead for lead in ROUND if lead * power >= raw * (1.0 - 1e-9)) * power)


def draw_axes(canvas: Canvas, frame: Frame, *, size: float) -> None:
    """Draw the frame's border, ticks with numbers and the names of both axes; text `size` [px]."""
    left, top, right, bottom = frame.box
    low_x, low_y, high_x, high_y = frame.window_mm
    border = np.array([[left, top], [right, top], [right, bottom], [left, bottom]])
    canvas.line(border, AXIS, width=1.2, closed=True)
    step = round_step(high_x - low_x, max(2.0, (right - left) / (7.0 * size)))
    for value in _ticks(low_x, high_x, step):
        x = frame.spot(value, low_y)[0]
        canvas.line(np.array([[x, bottom], [x, bottom + TICK]]), AXIS, width=1.2)
        canvas.text((x, bottom + TICK + size), _label(value, step), INK, size=size, anchor="middle")
    step = round_step(high_y - low_y, max(2.0, (bottom - top) / (2.5 * size)))
    for value in _ticks(low_y, high_y, step):
        y = frame.spot(low_x, value)[1]
        canvas.line(np.array([[left - TICK, y], [left, y]]), AXIS, width=1.2)
        canvas.text((left - TICK - 3, y + 0.35 * size), _label(value, step), INK, size=size, anchor="end")
    canvas.text((right, bottom + TICK + 2.3 * size), "x [mm]", INK, size=size, anchor="end")
    canvas.text((left, top - 0.9 * size), "y [mm]", INK, size=size, anchor="middle")


def draw_scale_bar(canvas: Canvas, frame: Frame, right_px: float, base_px: float, *, size: float) -> None:
    """Draw a bar of a round length, ending at `right_px`, its foot on `base_px`; text `size` [px]."""
    low_x, _, high_x, _ = frame.window_mm
    length = round_step(high_x - low_x, 12.0)
    start = right_px - length * frame.scale
    ends = np.array([[start, base_px], [right_px, base_px]])
    with canvas.group("scale-bar", length_mm=f"{length:g}"):
        canvas.line(ends, INK, width=3.0)
        for x in (start, right_px):
            canvas.line(np.array([[x, base_px - TICK], [x, base_px + TICK]]), INK, width=2.0)
        canvas.text((start - TICK, base_px + 0.35 * size), f"{length:g} mm", INK, size=size, anchor="end")


def _ticks(low: float, high: float, step: float) -> list[float]:
    first, last = int(np.ceil(low / step - 1e-9)), int(np.floor(high / step + 1e-9))
    return [number * step for number in range(first, last + 1)]


def _label(value: float, step: float) -> str:
    digits = max(0, -int(np.floor(np.log10(step) + 1e-9)))
    return f"{value:.{digits}f}"
