"""The drawings of the page on how single-path wings work, from layers of real builds."""

from __future__ import annotations

from itertools import pairwise
from typing import Any

import numpy as np
import shapely

import wingpath
from wingpath.core.arrays import FloatArray
from wingpath.report.canvas import PngCanvas, polygon_rings
from wingpath.report.colours import AXIS, BEAD, CENTRE, FUSED, INK, SOLID, Colour
from wingpath.report.frame import Frame, centred

__all__ = ["bead_picture", "crossing_picture", "growth_picture", "loop_picture", "neck_picture"]

SIZE = 22.0
"""Height of text [px]."""

ARROW_EVERY_MM = 17.0
"""Between arrow heads along a path [mm]."""

SWOLLEN = 0.099
"""How much wider the bead comes out than it is drawn, at 230 °C and flow 0.5 of the shipped filament [mm]."""


def _layer_at(build: wingpath.WingBuild, height_mm: float) -> tuple[Any, Any]:
    """Return solid and path of the layer nearest to a height of the first panel."""
    layers = build.panels[0].continuity.layers
    index = int(np.argmin(np.abs(layers.z_mm - height_mm)))
    return layers.regions[index], layers.paths[index]


def _draw(canvas: PngCanvas, frame: Frame, region: Any, path: Any, *, bead_mm: float = 0.45) -> None:
    low_x, low_y, high_x, high_y = frame.window_mm
    window = shapely.box(low_x - 3, low_y - 3, high_x + 3, high_y + 3)
    with canvas.clipped(frame.box):
        canvas.area([frame.px(ring) for ring in polygon_rings(shapely.intersection(region, window))], SOLID)
        for ring in polygon_rings(path):
            canvas.line(frame.px(ring), BEAD, width=bead_mm * frame.scale, alpha=0.75, closed=True)
        for ring in polygon_rings(path):
            canvas.line(frame.px(ring), CENTRE, width=2.0, closed=True)


def _arrow(
    canvas: PngCanvas, tip: FloatArray, heading: FloatArray, size: float, colour: Colour = INK
) -> None:
    heading = heading / max(float(np.hypot(*heading)), 1e-9)
    across = np.array([-heading[1], heading[0]])
    foot = tip - size * heading
    canvas.area([np.array([tip, foot + 0.4 * size * across, foot - 0.4 * size * across])], colour)


def _pointer(canvas: PngCanvas, start: tuple[float, float], end: tuple[float, float]) -> None:
    """Draw a thin line that ends in an arrow head [px]."""
    points = np.array([start, end], dtype=float)
    canvas.line(points, INK, width=2.0)
    _arrow(canvas, points[1], points[1] - points[0], 12.0)


def loop_picture(build: wingpath.WingBuild, height_mm: float) -> bytes:
    """Draw a layer with the way that the nozzle goes: one loop, in and out of every slot."""
    canvas = PngCanvas(1400, 420)
    region, path = _layer_at(build, height_mm)
    low_x, low_y, high_x, high_y = region.bounds
    frame = centred((20.0, 60.0, 1380.0, 360.0), ((low_x + high_x) / 2, (low_y + high_y) / 2), 8.2)
    _draw(canvas, frame, region, path)
    ring = max(shapely.get_parts(shapely.orient_polygons(path)), key=shapely.area).exterior
    for along in np.arange(0.4 * ARROW_EVERY_MM, ring.length, ARROW_EVERY_MM):
        here, ahead = ring.interpolate(along), ring.interpolate(along + 0.3)
        tip, on = frame.px(np.array([[here.x, here.y], [ahead.x, ahead.y]]))
        _arrow(canvas, tip, on - tip, 15.0)
    start = max((frame.spot(x, y) for x, y in ring.coords), key=lambda spot: spot[0])
    canvas.circle(start, 9.0, INK, width=5.0)
    canvas.text((start[0] - 4, start[1] + 52), "start and end", INK, size=SIZE, anchor="end")
    canvas.text((30, 36), "upper skin", AXIS, size=SIZE)
    canvas.text((30, 405), "lower skin: every slot opens here", AXIS, size=SIZE)
    return canvas.png()


def bead_picture() -> bytes:
    """Draw two beads beside a slot as drawn and as foamed."""
    canvas = PngCanvas(1400, 330)
    bead, gap, scale = 0.45, 0.06, 330.0
    for middle, wide, words in (
        (350.0, bead, f"as drawn: beads {bead} mm wide, slot {gap} mm"),
        (1050.0, bead + SWOLLEN, f"as foamed: beads {bead + SWOLLEN:.2f} mm wide, one wall"),
    ):
        shapes = []
        for side in (-1.0, 1.0):
            centre = middle + side * 0.5 * (bead + gap) * scale
            half, tall = 0.5 * wide * scale, 0.5 * 0.25 * scale
            turn = np.linspace(-0.5 * np.pi, 0.5 * np.pi, 40)
            right = np.column_stack([centre + half - tall + tall * np.cos(turn), 150 + tall * np.sin(turn)])
            left = np.column_stack([2 * centre - right[::-1, 0], right[::-1, 1]])
            shape = np.vstack([right, left])
            shapes.append(shape)
            canvas.area([shape], BEAD, alpha=0.8)
            canvas.line(shape, CENTRE, width=2.0, closed=True)
        if wide > bead:
            lens = shapely.intersection(*(shapely.make_valid(shapely.Polygon(shape)) for shape in shapes))
            canvas.area(polygon_rings(lens), FUSED)
        canvas.text((middle, 280), words, INK, size=SIZE, anchor="middle")
    canvas.text((350, 50), "across a rib, layer 0.25 mm high", AXIS, size=SIZE, anchor="middle")
    canvas.text((1050, 50), "fused where they overlap", AXIS, size=SIZE, anchor="middle")
    return canvas.png()


def neck_picture(build: wingpath.WingBuild, height_mm: float) -> bytes:
    """Draw the inner end of a slot, with the measures that make it a rib."""
    canvas = PngCanvas(1400, 520)
    region, path = _layer_at(build, height_mm)
    x, y, top = _slot_end(region, 70.0)
    frame = centred((20.0, 20.0, 900.0, 500.0), (x, y - 0.1), 150.0)
    _draw(canvas, frame, region, path)
    canvas.line(_box(frame), AXIS, width=2.0, closed=True)
    for words, line, spot in (
        (f"neck {top - y:.2f} mm: the layer stays one piece", 110.0, (x, (top + y) / 2)),
        ("slot 0.06 mm: the cut in the solid", 250.0, (x, y - 0.7)),
        ("path: the way of the nozzle,", 390.0, (x + 0.25, y - 1.2)),
    ):
        canvas.text((930, line), words, INK, size=SIZE)
        end = frame.spot(*spot)
        _pointer(canvas, (920, line - 8), end)
    canvas.text((930, 420), "half a bead inside the border", INK, size=SIZE)
    return canvas.png()


def _box(frame: Frame) -> FloatArray:
    left, top, right, bottom = frame.box
    return np.array([[left, top], [right, top], [right, bottom], [left, bottom]])


def _slot_end(region: Any, x_mm: float) -> tuple[float, float, float]:
    """Return x and y of the end of the slot nearest to a place, and the upper skin there [mm]."""
    ring = shapely.get_coordinates(max(shapely.get_parts(region), key=shapely.area).exterior)
    # the end of a slot is a short edge between two long ones
    edges = np.hypot(*np.diff(ring, axis=0).T)
    short = [n for n in range(1, len(edges) - 1) if edges[n] < 0.1 and min(edges[n - 1], edges[n + 1]) > 3]
    ends = [(ring[n] + ring[n + 1]) / 2 for n in short]
    x, y = min(ends, key=lambda end: abs(float(end[0]) - x_mm))
    line = shapely.LineString([(x, y + 0.01), (x, y + 30.0)]).intersection(region)
    return float(x), float(y), float(line.bounds[3])


def growth_picture(build: wingpath.WingBuild, heights_mm: tuple[float, ...]) -> bytes:
    """Draw layers of one run of ribs over each other: the same rib a little farther aft on each."""
    canvas = PngCanvas(1400, 205 * len(heights_mm) + 40)
    traces = []
    for row, height in enumerate(reversed(heights_mm)):
        region, path = _layer_at(build, height)
        _, low_y, _, high_y = region.bounds
        top = 30.0 + 205.0 * row
        frame = Frame((20.0, top, 1380.0, top + 195.0), -12.0, (low_y + high_y) / 2 + 12.2, 8.0)
        _draw(canvas, frame, region, path)
        canvas.text((24, top + 20), f"{height:g} mm above the bed", INK, size=SIZE)
        x, y, _ = _slot_end(region, 70.0 + height - heights_mm[0])
        traces.append(frame.spot(x, (y + low_y) / 2))
    for upper, lower in pairwise(traces):
        _pointer(canvas, lower, upper)
    return canvas.png()


def crossing_picture(build: wingpath.WingBuild, heights_mm: tuple[float, ...], x_mm: float) -> bytes:
    """Draw what becomes of two ribs from layer to layer where they cross."""
    canvas = PngCanvas(1400, 440)
    width = 1360.0 / len(heights_mm)
    for column, height in enumerate(heights_mm):
        region, path = _layer_at(build, height)
        left = 20.0 + column * width
        frame = centred((left + 6, 60.0, left + width - 6, 380.0), (x_mm, 8.5), 20.0)
        _draw(canvas, frame, region, path)
        canvas.line(_box(frame), AXIS, width=2.0, closed=True)
        canvas.text((left + width / 2, 40), f"{height:g} mm", INK, size=SIZE, anchor="middle")
    canvas.text((700, 420), "height above the bed", AXIS, size=SIZE, anchor="middle")
    return canvas.png()
