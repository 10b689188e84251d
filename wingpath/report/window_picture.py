"""The picture of slot windows: a bar a nozzle, and the chosen bead drawn to scale."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely

from wingpath.core.arrays import FloatArray
from wingpath.report.canvas import Canvas, PngCanvas, polygon_rings, shortened, wrapped
from wingpath.report.colours import AXIS, BEAD, CENTRE, FUSED, INK, SOLID
from wingpath.report.frame import round_step
from wingpath.report.svg_canvas import SvgCanvas
from wingpath.tune.window import SlotWindow

__all__ = ["window_picture", "window_svg"]

WIDTH_PX, TEXT_PX = 1200, 16.0
"""Width of the picture, size of its text [px]."""

LEFT_PX, RIGHT_PX, TOP_PX, ROW_PX, BAR_PX = 250.0, 40.0, 96.0, 44.0, 18.0
"""Layout of the bars [px]."""

SKETCH_PX = 360.0
"""Height of the sketches below [px]."""

STACKED = 6
"""Beads in the leaning wall that is sketched."""


def window_picture(windows: Sequence[SlotWindow], chosen: SlotWindow, *, title: str) -> bytes:
    """Draw slot windows as a PNG.

    Parameters
    ----------
    windows : sequence of SlotWindow
        A bar each.
    chosen : SlotWindow
        The one that is marked and sketched.
    title : str
        What they belong to.
    """
    canvas = PngCanvas(WIDTH_PX, _height(windows))
    _draw(canvas, windows, chosen, title)
    return canvas.png()


def window_svg(windows: Sequence[SlotWindow], chosen: SlotWindow, *, title: str) -> str:
    """Draw slot windows as SVG text; see :func:`window_picture`."""
    canvas = SvgCanvas(WIDTH_PX, _height(windows), title=title)
    _draw(canvas, windows, chosen, title)
    return canvas.svg()


def _height(windows: Sequence[SlotWindow]) -> int:
    return round(TOP_PX + ROW_PX * len(windows) + 70.0 + SKETCH_PX)


def _draw(canvas: Canvas, windows: Sequence[SlotWindow], chosen: SlotWindow, title: str) -> None:
    canvas.text((30.0, 36.0), shortened(title, size=22.0, width=WIDTH_PX - 60.0), INK, size=22.0)
    _legend(canvas)
    most = max(max(window.widest_high_mm, window.least_mm) for window in windows) * 1.05
    scale = (WIDTH_PX - LEFT_PX - RIGHT_PX) / most
    bottom = TOP_PX + ROW_PX * len(windows)
    _axis(canvas, most, scale, bottom)
    for row, window in enumerate(windows):
        _bar(canvas, window, TOP_PX + (row + 0.5) * ROW_PX, scale, marked=window is chosen)
    _pair(canvas, chosen, bottom + 70.0)
    _stack(canvas, chosen, bottom + 70.0)
    _neck(canvas, chosen, bottom + 70.0)


def _legend(canvas: Canvas) -> None:
    x = LEFT_PX
    for colour, words in (
        (BEAD, "fuses, by the filament's values"),
        (FUSED, "suggested width"),
        (None, "where the widest one may lie (95 per cent)"),
    ):
        if colour is None:
            _whisker(canvas, x, x + 22.0, 64.0)
        else:
            canvas.area([_box(x, 56.0, x + 22.0, 72.0)], colour)
            canvas.line(_box(x, 56.0, x + 22.0, 72.0), AXIS, width=1.0, closed=True)
        canvas.text((x + 30.0, 70.0), words, INK, size=TEXT_PX)
        x += 44.0 + 8.6 * len(words)


def _whisker(canvas: Canvas, left: float, right: float, y: float) -> None:
    canvas.line(np.array([[left, y], [right, y]]), INK, width=1.6)
    for x in (left, right):
        canvas.line(np.array([[x, y - 4.0], [x, y + 4.0]]), INK, width=1.6)


def _box(left: float, top: float, right: float, bottom: float) -> FloatArray:
    return np.array([[left, top], [right, top], [right, bottom], [left, bottom]])


def _axis(canvas: Canvas, most: float, scale: float, bottom: float) -> None:
    step = round_step(most, 10.0)
    for number in range(int(most / step) + 1):
        x = LEFT_PX + number * step * scale
        canvas.line(np.array([[x, TOP_PX], [x, bottom]]), SOLID, width=1.0)
        canvas.text((x, bottom + 20.0), f"{number * step:g}", INK, size=TEXT_PX, anchor="middle")
    canvas.line(np.array([[LEFT_PX, bottom], [LEFT_PX + most * scale, bottom]]), AXIS, width=1.2)
    canvas.text((WIDTH_PX - RIGHT_PX, bottom + 42.0), "slot width [mm]", INK, size=TEXT_PX, anchor="end")


def _bar(canvas: Canvas, window: SlotWindow, y: float, scale: float, *, marked: bool) -> None:
    text = f"nozzle {window.nozzle_mm:g}, bead {window.bead_mm:g} x {window.layer_mm:g}"
    canvas.text((LEFT_PX - 14.0, y + 6.0), text, INK, size=TEXT_PX, anchor="end")
    if marked:
        canvas.text((18.0, y + 6.0), ">", INK, size=TEXT_PX)
    top, bottom = y - 0.5 * BAR_PX, y + 0.5 * BAR_PX

    def at(width: float) -> float:
        return LEFT_PX + width * scale

    least = window.least_mm
    low, high = window.widest_low_mm, window.widest_high_mm
    with canvas.group("window", nozzle_mm=f"{window.nozzle_mm:g}", widest_mm=f"{window.widest_mm:.4f}"):
        _whisker(canvas, at(low), at(high), bottom + 6.0)
        if window.empty:
            canvas.text((LEFT_PX + 8.0, y + 2.0), "no window", INK, size=TEXT_PX)
            return
        canvas.area([_box(at(least), top, at(window.widest_mm), bottom)], BEAD)
        canvas.line(_box(at(least), top, at(window.widest_mm), bottom), CENTRE, width=1.0, closed=True)
        if window.suggested_mm is not None:
            x = at(window.suggested_mm)
            canvas.area([_box(x - 3.0, top - 5.0, x + 3.0, bottom + 5.0)], FUSED)


def _bead(x: float, y: float, width: float, height: float) -> object:
    """Return the section of a bead: a rectangle with half-round ends."""
    flat = max(1e-6, 0.5 * (width - height))
    return shapely.buffer(shapely.LineString([(x - flat, y), (x + flat, y)]), 0.5 * height, quad_segs=16)


def _shape(canvas: Canvas, shape: object, to_px: tuple[float, float, float]) -> None:
    left, base, scale = to_px
    for ring in polygon_rings(shape):
        points = np.column_stack([left + ring[:, 0] * scale, base - ring[:, 1] * scale])
        canvas.area([points], BEAD, alpha=0.8)
        canvas.line(points, CENTRE, width=1.2, closed=True)


def _words(canvas: Canvas, x: float, y: float, text: str, width: float) -> None:
    for number, line in enumerate(wrapped(text, size=TEXT_PX, width=0.9 * width)):
        canvas.text((x, y + 21.0 * number), line, INK, size=TEXT_PX)


def _pair(canvas: Canvas, window: SlotWindow, top: float) -> None:
    """Sketch the two beads of a slot as wide as they become."""
    gap = window.suggested_mm if window.suggested_mm is not None else window.least_mm
    wide = 2.0 * max(window.real_bead_mm, window.bead_mm) + 2.0 * gap
    scale = min(330.0 / wide, 205.0 / (3.0 * window.layer_mm))
    middle = 205.0
    for side in (-1.0, 1.0):
        for layer in range(3):
            centre = side * 0.5 * (window.bead_mm + gap)
            bead = _bead(centre, (layer + 0.5) * window.layer_mm, window.real_bead_mm, window.layer_mm)
            _shape(canvas, bead, (middle, top + 225.0, scale))
    for edge in (-0.5 * gap, 0.5 * gap):
        x = middle + edge * scale
        canvas.line(np.array([[x, top + 12.0], [x, top + 236.0]]), INK, width=1.0, dash=4.0)
    _words(
        canvas,
        40.0,
        top + 260.0,
        f"Two beads of {window.bead_mm:g} mm beside a slot of {gap:.3g} mm (dashed), each grown to "
        f"{window.real_bead_mm:.2f} mm: they "
        + ("do not touch." if window.empty else f"fuse up to {window.widest_mm:.3f} mm."),
        340.0,
    )


def _stack(canvas: Canvas, window: SlotWindow, top: float) -> None:
    """Sketch a wall that leans by 45 degrees."""
    width = window.bead_mm + STACKED * window.layer_mm
    scale = min(230.0 / width, 210.0 / (STACKED * window.layer_mm))
    for layer in range(STACKED):
        bead = _bead(
            0.5 * window.bead_mm + layer * window.layer_mm,
            (layer + 0.5) * window.layer_mm,
            window.bead_mm,
            window.layer_mm,
        )
        _shape(canvas, bead, (460.0, top + 225.0, scale))
    _words(
        canvas,
        440.0,
        top + 260.0,
        f"At 45 degrees each layer steps out by its height; {100.0 * window.overlap_share(45.0):.0f} per "
        "cent of the bead lies on the one below.",
        330.0,
    )


def _neck(canvas: Canvas, window: SlotWindow, top: float) -> None:
    """Sketch the end of a slot seen from above: its two beads, the neck and the skin."""
    bead, neck = window.bead_mm, window.neck_mm[1]
    gap = window.suggested_mm or window.least_mm
    scale = 200.0 / (2.4 * bead + neck)
    left, base = 850.0, top + 20.0
    reach = 2.6 * bead
    solid = shapely.box(-reach, -(neck + 1.8 * bead), reach, 0.0)
    slot = shapely.box(-0.5 * gap, -9.0, 0.5 * gap, -neck)
    region = shapely.difference(solid, slot)
    for ring in polygon_rings(region):
        points = np.column_stack([left + 130.0 + ring[:, 0] * scale, base - ring[:, 1] * scale])
        canvas.area([points], SOLID)
    inner = shapely.buffer(
        shapely.difference(shapely.box(-9.0, -9.0, 9.0, 0.0), slot),
        -0.5 * bead,
        join_style="mitre",
        mitre_limit=1.0,
    )
    runs = shapely.intersection(shapely.boundary(inner), solid)
    beads = shapely.intersection(shapely.buffer(runs, 0.5 * bead, cap_style="flat"), solid)
    _shape(canvas, beads, (left + 130.0, base, scale))
    _words(
        canvas,
        850.0,
        top + 260.0,
        f"Neck between slot and skin, from above: over {window.neck_mm[0]:.2f}, under "
        f"{window.neck_mm[2]:.2f} mm; {neck:.2f} suggested. Thinnest section with a rib: "
        f"{window.least_thickness_mm:.2f} mm.",
        330.0,
    )
