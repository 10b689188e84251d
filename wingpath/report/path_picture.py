"""The picture of a path: one layer with its direction and start, and the whole part as a bead model."""

from __future__ import annotations

from dataclasses import dataclass
from io import BytesIO
from typing import Any

import numpy as np
import shapely
from PIL import Image, ImageDraw

from wingpath.core.arrays import BoolArray, FloatArray, IntArray, runs_of
from wingpath.report.bead_model import View, bead_strokes, draw_strokes, ruled_layers
from wingpath.report.canvas import Canvas, PngCanvas, shortened
from wingpath.report.colours import BEAD, CENTRE, CUT, GHOST, INK, SEVERITY_COLOURS, WHITE, mixed
from wingpath.report.frame import Frame, centred, draw_axes, draw_scale_bar

__all__ = ["path_picture"]

SUPERSAMPLE = 2
"""The bead model is drawn larger by this factor and averaged down."""

STEP_PX = 1.5
"""Layers that would be drawn closer than this on the enlarged picture are left out [px]."""

OVERLAP_PX = 2
"""Drawn layers overlap by this much on the enlarged picture, or holes would be seen between them [px]."""

PLAIN_PX = 0.12
"""Runs are straightened by this much before they are drawn [px]."""

MODEL_SHARE = 0.62
"""Height of the bead model as a share of the picture's width, at most."""

HIGHEST = 0.5
"""Height of the layer's drawing as a share of the picture's width, at most."""

INSET_SHARE = 0.2
"""Height of the enlarged start as a share of the picture's width."""

INSET_BEADS = 9.0
"""The enlarged start is this many beads high."""

LAID = mixed(WHITE, BEAD, 0.8)
"""Colour of the bead, light enough for the arrows on it."""

TRAVEL = SEVERITY_COLOURS["error"]
"""What lays nothing is drawn in the colour of an error."""

MOST_MOVES = 20_000
"""Of a layer with more moves than this the first ones are drawn."""

MOST_ARROWS = 2000
"""More arrows than this are not drawn, however long a loop is."""

ARROWS = 28
"""About so many arrows show the direction of a loop."""

LEAST_WIDTH_PX = 480
"""A narrower picture has no room for its text [px]."""


@dataclass(frozen=True, slots=True, eq=False)
class _Sheet:
    """Everything that is drawn."""

    points: FloatArray
    layer: IntArray
    dry: BoolArray
    bead_mm: float
    layer_mm: float
    width: int
    size: float
    loops: bool


def path_picture(
    points: FloatArray,
    layer: IntArray,
    *,
    bead_mm: float,
    layer_mm: float,
    title: str = "",
    index: int | None = None,
    loops: bool = True,
    travel: BoolArray | None = None,
    width_px: int = 1500,
) -> bytes:
    """Draw a path as a PNG.

    Parameters
    ----------
    points : ndarray, shape (n + 1, 3)
        Places of the nozzle, all in one run [mm].
    layer : ndarray of int, shape (n,)
        Layer of each move, not falling; negative ones are brim.
    bead_mm, layer_mm : float
        Bead width and layer height [mm].
    title : str
        Written above.
    index : int, optional
        Layer that is drawn by itself; by default the one in the middle.
    loops : bool
        Whether layers are loops; otherwise they are cut by height, and begin anywhere.
    travel : ndarray of bool, shape (n,), optional
        Moves that lay nothing, drawn as such.
    width_px : int
        Width of the picture [px], at least 480.

    Returns
    -------
    bytes
        A PNG file.

    Raises
    ------
    ValueError
        When there is nothing to draw, or a value is out of range.
    """
    if not len(layer):
        raise ValueError("points: got no moves; allowed: one or more")
    if width_px < LEAST_WIDTH_PX:
        raise ValueError(f"width_px: got {width_px}; allowed: {LEAST_WIDTH_PX} and more")
    known = np.unique(layer)
    if index is None:
        index = int(known[len(known) // 2])
    if index not in known:
        raise ValueError(f"index: got {index}; allowed: a layer of the path, {known[0]} to {known[-1]}")
    dry = np.zeros(len(layer), bool) if travel is None else travel
    size = float(np.clip(width_px / 84.0, 10.0, 24.0))
    sheet = _Sheet(points, layer, dry, bead_mm, layer_mm, width_px, size, loops)
    top, model = _layer_drawing(sheet, index, title), _model(sheet)
    image = Image.new("RGB", (width_px, top.height + model.height), WHITE)
    image.paste(top, (0, 0))
    image.paste(model, (0, top.height))
    out = BytesIO()
    image.save(out, format="PNG")
    return out.getvalue()


def _layer_drawing(sheet: _Sheet, index: int, title: str) -> Any:
    """Draw one layer: the bead as wide as it is, its centre line with arrows, and its start enlarged."""
    width, size, bead_mm = sheet.width, sheet.size, sheet.bead_mm
    moves = np.flatnonzero(sheet.layer == index)
    first, last = int(moves[0]), int(moves[-1])
    run = sheet.points[first : last + 2]
    low, high = run[:, :2].min(axis=0), run[:, :2].max(axis=0)
    middle, span = 0.5 * (low + high), high - low + 8.0 * bead_mm
    left, right = 4.4 * size, width - 1.5 * size
    scale = min((right - left) / span[0], HIGHEST * width / span[1])
    top = 5.2 * size
    box = (left, top, right, top + max(0.1 * width, float(span[1] * scale)))
    top = box[3] + 5.6 * size
    closer = max(1.5 * scale, INSET_SHARE * width / (INSET_BEADS * bead_mm))
    inset = (left, top, right, top + INSET_SHARE * width)
    start = (float(run[0, 0]), float(run[0, 1]))
    canvas = PngCanvas(width, round(inset[3] + 4.6 * size))
    head = shortened(title or "path", size=1.35 * size, width=0.6 * width)
    name = "brim" if index < 0 else f"layer {index + 1}"
    text = f"{head}: {name}, z {run[0, 2]:.2f} to {run[-1, 2]:.2f} mm"
    canvas.text((left, 1.9 * size), text, INK, size=1.35 * size)
    begin = "the loop starts" if sheet.loops else "this height begins"
    text = f"The bead as wide as it is laid, with direction; the ring marks where {begin}."
    canvas.text((left + 5 * size, 3.8 * size), text, INK, size=size)
    whole = centred(box, (float(middle[0]), float(middle[1])), scale)
    near = centred(inset, start, closer)
    for frame in (whole, near):
        draw_axes(canvas, frame, size=0.85 * size)
        with canvas.clipped(frame.box):
            _draw_moves(canvas, sheet, frame, first, last)
            arrows = ARROWS if frame is whole else round(ARROWS * max(1.0, closer / scale))
            _arrows(canvas, frame, run[:, :2], size, arrows)
            canvas.circle(frame.spot(*start), 0.9 * size, INK, width=2.6)
        draw_scale_bar(canvas, frame, right, frame.box[1] - 0.8 * size, size=0.85 * size)
    text = f"{closer / scale:.2g} times larger: where {begin}"
    canvas.text((left + 5 * size, inset[1] - 0.8 * size), text, INK, size=size)
    return canvas.picture()


def _draw_moves(canvas: PngCanvas, sheet: _Sheet, frame: Frame, first: int, last: int) -> None:
    """Draw moves `first` to `last`: bead, centre line, and what is travelled."""
    flat = sheet.points[:, :2]
    last = min(last, first + MOST_MOVES - 1)
    dry = sheet.dry[first : last + 1]
    laid = [frame.px(flat[a : b + 1]) for a, b in _runs(~dry, first)]
    for line in laid:
        canvas.stroke(line, LAID, width=max(2.0, sheet.bead_mm * frame.scale))
    for line in laid:
        canvas.stroke(line, CENTRE, width=1.1)
    for a, b in _runs(dry, first):
        canvas.line(frame.px(flat[a : b + 1]), TRAVEL, width=2.4, dash=0.4 * sheet.size)


def _runs(mask: BoolArray, base: int) -> list[tuple[int, int]]:
    begins, ends = runs_of(mask)
    return [(base + a, base + b) for a, b in zip(begins.tolist(), ends.tolist(), strict=True)]


def _arrows(canvas: Canvas, frame: Frame, run: FloatArray, size: float, count: int) -> None:
    line, count = shapely.LineString(run), min(count, MOST_ARROWS)
    places = (np.arange(count) + 0.5) / count * line.length
    tips = shapely.get_coordinates(shapely.line_interpolate_point(line, places))
    tails = shapely.get_coordinates(shapely.line_interpolate_point(line, np.maximum(places - 0.5, 0.0)))
    for tip, tail in zip(frame.px(tips), frame.px(tails), strict=True):
        way = tip - tail
        way = way / max(float(np.linalg.norm(way)), 1e-9)
        side = np.array([-way[1], way[0]])
        back = tip - 0.85 * size * way
        canvas.area([np.array([tip, back + 0.38 * size * side, back - 0.38 * size * side])], INK)


def _model(sheet: _Sheet) -> Any:
    """Draw the whole part, every run of bead a shaded line."""
    points, layer, width, size = sheet.points, sheet.layer, sheet.width, sheet.size
    view = View()
    flat = view.flat(points)
    low, high = flat.min(axis=0), flat.max(axis=0)
    side, foot = 2.0 * size, 3.0 * size
    room = (width - 2 * side, MODEL_SHARE * width - foot)
    scale = float(min(room / np.maximum(high - low, 1.0)))
    height = round(float(high[1] - low[1]) * scale + foot + size)
    image = Image.new("RGB", (width * SUPERSAMPLE, height * SUPERSAMPLE), WHITE)
    pen = ImageDraw.Draw(image, "RGBA")
    big = scale * SUPERSAMPLE
    middle = 0.5 * (width * SUPERSAMPLE - float(low[0] + high[0]) * big)
    base = (height - foot) * SUPERSAMPLE

    def px(drawn: FloatArray) -> FloatArray:
        return np.column_stack([middle + drawn[:, 0] * big, base - (drawn[:, 1] - low[1]) * big])

    rise = sheet.layer_mm * float(np.cos(np.deg2rad(view.lift_deg))) * big
    step = max(1, round(STEP_PX / rise))
    known = np.unique(layer)
    on_bed = np.flatnonzero(layer < 0)
    thick = max(1, round(sheet.bead_mm * big))
    if len(on_bed):
        pen.line(px(flat[: on_bed[-1] + 2]).ravel().tolist(), fill=GHOST, width=thick)
    part = known[known >= 0]
    drawn = part[(part[-1:].sum() - part) % step == 0]
    runs = [_thinned(points[a : b + 1], PLAIN_PX / big) for a, b in _drawn_runs(layer, sheet.dry, drawn)]
    if runs:
        counts = [len(run) for run in runs]
        level = np.array([float(run[0, 2]) for run in runs])
        heights, order = np.unique(level, return_inverse=True)
        strokes = bead_strokes(
            np.concatenate(runs),
            np.repeat(np.arange(len(runs)), counts),
            np.repeat(order, counts),
            view=view,
            top_mm=float(heights[-1]),
            ruled=np.repeat(ruled_layers(heights)[order], counts),
        )
        draw_strokes(pen, strokes, px, width=max(thick, int(np.ceil(step * rise)) + OVERLAP_PX))
        last = flat[np.flatnonzero(layer == part[-1])[0] :]
        pen.line(px(last).ravel().tolist(), fill=CUT, width=max(3, thick), joint="curve")
    for a, b in _runs(sheet.dry, 0):
        pen.line(px(flat[a : b + 1]).ravel().tolist(), fill=TRAVEL, width=4)
    small = image.reduce(SUPERSAMPLE)
    canvas = PngCanvas(width, round(foot), supersample=1)
    text = f"{len(part)} layers of bead, {points[-1, 2]:.1f} mm high; the last layer is drawn light"
    if len(on_bed):
        text += ", the brim grey"
    canvas.text((0.5 * width, 1.2 * size), text, INK, size=size, anchor="middle")
    small.paste(canvas.picture(), (0, height - round(foot)))
    return small


def _drawn_runs(layer: IntArray, dry: BoolArray, drawn: IntArray) -> list[tuple[int, int]]:
    """Return the runs of laid moves of the drawn layers, as first and last point."""
    found = []
    bounds = np.append(np.flatnonzero(np.diff(layer, prepend=layer[0] - 1)), len(layer))
    wanted = np.isin(layer[bounds[:-1]], drawn)
    for first, last in zip(bounds[:-1][wanted].tolist(), bounds[1:][wanted].tolist(), strict=True):
        found += _runs(~dry[first:last], first)
    return found


def _thinned(run: FloatArray, within_mm: float) -> FloatArray:
    """Straighten a run seen from above, heights kept."""
    line = shapely.simplify(shapely.linestrings(run), within_mm, preserve_topology=False)
    return np.asarray(shapely.get_coordinates(line, include_z=True))
