"""The picture of one layer: the bead as wide as it is, what was found, and the worst place enlarged.

From top to bottom: title, legend, the whole layer, the enlarged place, the list of findings. Wings are long
and thin, so the picture is as high as the layer needs and no higher.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely

from wingpath.build.continuity import Continuity
from wingpath.core.arrays import FloatArray
from wingpath.core.findings import Finding
from wingpath.report.canvas import Canvas, PngCanvas, polygon_rings, shortened, text_width, wrapped
from wingpath.report.colours import BEAD, CENTRE, FUSED, INK, SOLID, WHITE, Colour, mixed
from wingpath.report.frame import Frame, centred, draw_axes, draw_scale_bar
from wingpath.report.fused import fused_area
from wingpath.report.mark_shapes import draw_badge, draw_marks
from wingpath.report.marks import Mark, focus_of_layer, marks_of_layer, worst_layer
from wingpath.report.svg_canvas import SvgCanvas

__all__ = ["layer_picture", "layer_svg", "worst_layer"]

BEAD_ALPHA = 0.8
FUSED_ALPHA = 0.85
"""Both let what lies below shine through, so that a drawing never hides an edge."""

WELD_SPREAD = 0.25
"""Fused places are drawn larger by this share of a bead on every side: a weld of a few hundredths of a
millimetre could not be seen."""

CENTRE_SHARE = 0.25
"""The centre line is at most this share of the bead wide, so that it never hides the bead."""

LEAST_ENLARGED = 2.0
"""Less than this is no enlargement that shows more."""

ENLARGE = 8.0
"""How much larger the worst place is drawn than the layer."""

LEAST_BEADS = 9.0
"""The enlarged window is at least this many beads high, or nothing could be recognised in it."""

INSET_SHARE = 0.25
"""Height of the enlarged window as a share of the picture's width."""

HIGHEST = 0.6
"""The layer is drawn at most this share of the picture's width high."""

LOWEST = 0.08
"""And at least this, so that a flat layer leaves room for the marks beside it."""

MARGIN = 0.05
"""Free border around the layer, as a share of its longer side."""

MOST_LISTED = 8
"""Findings written out below the picture."""

LEAST_WIDTH_PX = 320
"""A narrower picture has no room for its text [px]."""

SVG_TEXT_SLACK = 0.88
"""Lines are broken this much earlier than measured, because an SVG's reader may use a wider font."""


@dataclass(frozen=True, slots=True, eq=False)
class _Sheet:
    """Everything that is drawn, before it is known on what."""

    continuity: Continuity
    index: int
    title: str
    marks: tuple[Mark, ...]
    focus: str
    whole: Frame
    inset: Frame | None
    lines: tuple[tuple[Mark | None, str], ...]
    fused: object
    bond_mm: float
    base: float
    width: int
    height: int
    size: float


def layer_picture(
    continuity: Continuity,
    index: int,
    *,
    findings: Sequence[Finding] | None = None,
    title: str = "",
    width_px: int = 1600,
    bond_mm: float = 0.0,
) -> bytes:
    """Draw one layer as a PNG.

    Parameters
    ----------
    continuity : Continuity
        The judged layers.
    index : int
        Which layer, from 0.
    findings : sequence of Finding, optional
        What to mark; by default everything that `continuity` holds. Findings on other layers are left out.
    title : str
        What the layer belongs to; by default the part's name.
    width_px : int
        Width of the picture [px], at least 320; its height follows from the layer.
    bond_mm : float
        Widest gap between two beads that they bridge [mm]: how far past its nominal width a bead spreads
        before the picture calls two runs fused.

    Returns
    -------
    bytes
        A PNG file.

    Raises
    ------
    ValueError
        When there is no such layer, or the picture would be too narrow.
    """
    sheet = _sheet(continuity, index, findings, title, width_px, bond_mm)
    canvas = PngCanvas(sheet.width, sheet.height)
    _draw(canvas, sheet)
    return canvas.png()


def layer_svg(
    continuity: Continuity,
    index: int,
    *,
    findings: Sequence[Finding] | None = None,
    title: str = "",
    width_px: int = 1600,
    bond_mm: float = 0.0,
) -> str:
    """Draw one layer as SVG text; see :func:`layer_picture`.

    The group ``layer`` carries the mapping in ``data-`` attributes:
    ``x_px = box_left + (x - left_mm) * scale`` and ``y_px = box_top + (top_mm - y) * scale``.
    """
    sheet = _sheet(continuity, index, findings, title, width_px, bond_mm)
    canvas = SvgCanvas(sheet.width, sheet.height, title=sheet.title)
    _draw(canvas, sheet)
    return canvas.svg()


def _sheet(
    continuity: Continuity,
    index: int,
    findings: Sequence[Finding] | None,
    title: str,
    width: int,
    bond_mm: float,
) -> _Sheet:
    layers = continuity.layers
    if not 0 <= index < len(layers):
        raise ValueError(f"layer index: got {index}; allowed: 0 to {len(layers) - 1}")
    if width < LEAST_WIDTH_PX:
        raise ValueError(f"width_px: got {width}; allowed: {LEAST_WIDTH_PX} and more")
    marks = marks_of_layer(continuity, index, continuity.findings if findings is None else findings)
    size = float(np.clip(width / 84.0, 11.0, 24.0))
    left, right = 3.6 * size, width - 1.2 * size
    region = layers.regions[index]
    bounds = np.asarray(region.bounds if not region.is_empty else _bounds_of_all(continuity))
    span, middle = bounds[2:] - bounds[:2], 0.5 * (bounds[:2] + bounds[2:])
    free = MARGIN * float(span.max()) + layers.bead_mm
    scale = min((right - left) / (span[0] + 2 * free), HIGHEST * width / (span[1] + 2 * free))
    height = max(LOWEST * width, float(span[1] + 2 * free) * scale)
    top = 5.6 * size
    whole = centred((left, top, right, top + height), (float(middle[0]), float(middle[1])), scale)
    top += height + 5.8 * size
    place, focus = focus_of_layer(continuity, index, marks)
    inset = None
    if not region.is_empty:
        tall = INSET_SHARE * width
        closer = min(ENLARGE * scale, tall / (LEAST_BEADS * layers.bead_mm))
        # a small part fills the picture: nothing is gained by drawing a piece of it once more
        if closer >= LEAST_ENLARGED * scale:
            inset = centred((left, top, right, top + tall), place, closer)
            top += tall + 4.0 * size
    lines = _lines(continuity, index, marks, size=size, width=right - left - 2.4 * size)
    tail = f", layer {index + 1} of {len(layers)}, z = {layers.z_mm[index]:.3f} mm"
    room = (right - left) * SVG_TEXT_SLACK - text_width(tail, 1.35 * size)
    head = shortened(title or layers.name, size=1.35 * size, width=room)
    return _Sheet(
        continuity=continuity,
        index=index,
        title=head + tail,
        marks=marks,
        focus=focus,
        whole=whole,
        inset=inset,
        lines=lines,
        fused=shapely.buffer(
            fused_area(layers.paths[index], layers.bead_mm + bond_mm), WELD_SPREAD * layers.bead_mm
        ),
        bond_mm=bond_mm,
        width=width,
        base=top,
        height=round(top + size * (1.45 * len(lines) - 0.4)),
        size=size,
    )


def _bounds_of_all(continuity: Continuity) -> FloatArray:
    """Bounds of the whole part; of a square centimetre when no layer holds anything."""
    bounds = np.asarray(shapely.total_bounds(continuity.layers.regions))
    return bounds if np.isfinite(bounds).all() else np.array([0.0, 0.0, 10.0, 10.0])


def _lines(
    continuity: Continuity, index: int, marks: Sequence[Mark], *, size: float, width: float
) -> tuple[tuple[Mark | None, str], ...]:
    """Write the list below the picture; a line without a mark goes on from the one before."""
    if not marks:
        return ((None, "Nothing was found on this layer."),)
    out: list[tuple[Mark | None, str]] = []
    for mark in marks[:MOST_LISTED]:
        finding = mark.finding
        text = f"{finding.severity} {finding.code}: {finding.message}"
        if not mark.here and finding.z_mm is not None:
            worst = int(np.argmin(np.abs(continuity.layers.z_mm - finding.z_mm)))
            text += f" [worst on layer {worst + 1}, z = {finding.z_mm:.2f} mm]"
        first, *rest = wrapped(text, size=size, width=width * SVG_TEXT_SLACK)
        out += [(mark, first), *((None, line) for line in rest)]
    if len(marks) > MOST_LISTED:
        out.append((None, f"and {len(marks) - MOST_LISTED} more."))
    return tuple(out)


def _draw(canvas: Canvas, sheet: _Sheet) -> None:
    size, (left, _, right, _) = sheet.size, sheet.whole.box
    listed = sheet.marks[:MOST_LISTED]
    canvas.text((left, 1.9 * size), sheet.title, INK, size=1.35 * size)
    _draw_legend(canvas, sheet, left + 5.5 * size, 4.2 * size)
    draw_axes(canvas, sheet.whole, size=0.85 * size)
    _draw_layer(canvas, sheet, sheet.whole, "layer")
    if sheet.continuity.layers.regions[sheet.index].is_empty:
        x0, y0, x1, y1 = sheet.whole.box
        middle = (0.5 * (x0 + x1), 0.5 * (y0 + y1))
        canvas.text(middle, "no solid on this layer", INK, size=1.35 * size, anchor="middle")
    draw_scale_bar(canvas, sheet.whole, right, sheet.whole.box[1] - 0.7 * size, size=0.85 * size)
    if sheet.inset is not None:
        low_x, low_y, high_x, high_y = sheet.inset.window_mm
        window = np.array([[low_x, low_y], [high_x, low_y], [high_x, high_y], [low_x, high_y]])
        with canvas.clipped(sheet.whole.box):
            canvas.line(sheet.whole.px(window), INK, width=1.6, closed=True, dash=0.5 * size)
    draw_marks(canvas, listed, sheet.whole, radius=0.75 * size, size=size)

    if sheet.inset is not None:
        head = sheet.inset.box[1] - 0.7 * size
        text = f"{sheet.inset.scale / sheet.whole.scale:.2g} times larger: {sheet.focus}"
        canvas.text((left + 5.5 * size, head), text, INK, size=size)
        draw_axes(canvas, sheet.inset, size=0.85 * size)
        _draw_layer(canvas, sheet, sheet.inset, "inset")
        draw_scale_bar(canvas, sheet.inset, right, head, size=0.85 * size)
        draw_marks(canvas, listed, sheet.inset, radius=1.8 * size, size=size)

    base = sheet.base
    for mark, text in sheet.lines:
        if mark is not None:
            draw_badge(canvas, mark, (left + 0.7 * size, base - 0.35 * size), size)
        canvas.text((left + 2.0 * size, base), text, INK, size=size)
        base += 1.45 * size


def _draw_layer(canvas: Canvas, sheet: _Sheet, frame: Frame, name: str) -> None:
    layers = sheet.continuity.layers
    region, path = layers.regions[sheet.index], layers.paths[sheet.index]
    rings = [frame.px(ring) for ring in polygon_rings(path)]
    facts = {
        "scale": repr(float(frame.scale)),
        "box_left": repr(float(frame.box[0])),
        "box_top": repr(float(frame.box[1])),
        "left_mm": repr(float(frame.left_mm)),
        "top_mm": repr(float(frame.top_mm)),
    }
    with canvas.group(name, **facts), canvas.clipped(frame.box):
        with canvas.group("solid"):
            _fill(canvas, frame, region, SOLID)
        with canvas.group("bead"):
            for ring in rings:
                canvas.line(ring, BEAD, width=layers.bead_mm * frame.scale, alpha=BEAD_ALPHA, closed=True)
        with canvas.group("fused"):
            _fill(canvas, frame, sheet.fused, FUSED, alpha=FUSED_ALPHA)
        with canvas.group("path"):
            for ring in rings:
                width = min(1.2, CENTRE_SHARE * layers.bead_mm * frame.scale)
                canvas.line(ring, CENTRE, width=width, closed=True)
        _draw_start(canvas, sheet, frame)


def _fill(canvas: Canvas, frame: Frame, region: Any, colour: Colour, *, alpha: float = 1.0) -> None:
    """Fill a region part by part: a mask for each small part is quicker than one for all of them."""
    for part in shapely.get_parts(region):
        canvas.area([frame.px(ring) for ring in polygon_rings(part)], colour, alpha=alpha)


def _draw_start(canvas: Canvas, sheet: _Sheet, frame: Frame) -> None:
    """Draw a dot where the loop starts and an arrow head a little farther along it."""
    layers, start = sheet.continuity.layers, sheet.continuity.starts[sheet.index]
    if np.isnan(start).any() or not frame.shows(float(start[0]), float(start[1])):
        return
    size = sheet.size
    # anticlockwise, as the bead is laid
    path = shapely.orient_polygons(layers.paths[sheet.index])
    ring = max(shapely.get_parts(path), key=shapely.area).exterior
    along = ring.project(shapely.Point(start))
    ahead = min(1.1 * size / frame.scale, 0.25 * ring.length)
    foot, tip = (ring.interpolate((along + share * ahead) % ring.length) for share in (1.0, 1.0 + 1.0))
    heading = np.array([tip.x - foot.x, foot.y - tip.y])
    heading /= max(float(np.hypot(*heading)), 1e-12)
    across = np.array([-heading[1], heading[0]])
    spot = np.asarray(frame.spot(foot.x, foot.y))
    head = np.array(
        [
            spot + 1.0 * size * heading,
            spot + 0.42 * size * across,
            spot + 0.2 * size * heading,
            spot - 0.42 * size * across,
        ]
    )
    dot = frame.spot(float(start[0]), float(start[1]))
    with canvas.group("start"):
        canvas.line(head, WHITE, width=3.0, closed=True)
        canvas.area([head], INK)
        canvas.circle(dot, 0.3 * size, WHITE, width=0.36 * size)
        canvas.circle(dot, 0.3 * size, INK, width=0.2 * size)


def _draw_legend(canvas: Canvas, sheet: _Sheet, left: float, base: float) -> None:
    size = sheet.size
    bead = sheet.continuity.layers.bead_mm
    meet = f"fused: runs less than {bead + sheet.bond_mm:.3g} mm apart"
    items = [
        (SOLID, "solid"),
        (mixed(WHITE, BEAD, BEAD_ALPHA), f"bead, {bead:g} mm wide"),
        (mixed(BEAD, FUSED, FUSED_ALPHA), meet if sheet.bond_mm > 0 else "runs lie on each other"),
    ]
    for colour, text in items:
        box = np.array([[0.0, -0.8], [1.1, -0.8], [1.1, 0.1], [0.0, 0.1]]) * size + (left, base)
        canvas.area([box], colour)
        canvas.line(box, INK, width=1.0, closed=True)
        canvas.text((left + 1.5 * size, base), text, INK, size=0.85 * size)
        left += 3.2 * size + text_width(text, 0.85 * size) / SVG_TEXT_SLACK
