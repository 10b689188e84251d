"""The picture of whole panels: every drawn layer is the bead that it is, stacked from the bed up.

The panel stands on its root. It is opened at a height so that the ribs can be seen from above; what is
missing is shown as outlines. The view is a fixed parallel projection from the side of the leading edge and
the lower skin, from above.

A layer covers what lies behind it and below it, so drawing the layers upward, and the runs of one layer
from the back to the front, hides what has to be hidden without any test of depth.
"""

from __future__ import annotations

from collections.abc import Sequence
from io import BytesIO
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray
from PIL import Image, ImageDraw

from wingpath.build.layers import Layers
from wingpath.core.arrays import FloatArray, IntArray
from wingpath.report.bead_model import RULE_MM, Strokes, View, bead_strokes, draw_strokes, ruled_layers
from wingpath.report.canvas import font_of, one_line, shortened
from wingpath.report.colours import CUT, GHOST, INK, WALL_DARK, WHITE, Colour

__all__ = ["panel_picture"]

OPEN_AT = 0.6
"""The panel is opened at this share of its height."""

SUPERSAMPLE = 2
"""The picture is drawn larger by this factor and averaged down."""

STEP_PX = 1.5
"""Layers that would be drawn closer than this on the enlarged picture are left out [px]."""

PLAIN_PX = 0.12
"""Paths are straightened by this much before they are drawn [px]."""

CUT_PX = 4
"""The opening's bead is drawn at least this wide on the enlarged picture, or it would be lost [px]."""

GHOST_STEP_MM = 7.0
"""Distance of the outlines above the opening [mm]."""

GHOST_CLOSE_MM = 1.0
"""Slots up to twice this are closed before the outline is drawn [mm]."""

SAMPLES = 40
"""Layers that a panel's size in the picture is taken from."""

LEAST_WIDTH_PX = 320
"""A narrower picture has no room for its text [px]."""

HIGHEST = 0.72
"""The picture is at most this share of its width high."""


def panel_picture(
    layers: Layers | Sequence[Layers],
    *,
    title: str = "",
    width_px: int = 1600,
    open_at: float = OPEN_AT,
) -> bytes:
    """Draw panels side by side, standing on the bed and opened, as a PNG.

    Parameters
    ----------
    layers : Layers or sequence of Layers
        One panel or several, inboard first.
    title : str
        Written above.
    width_px : int
        Width of the picture [px], at least 320.
    open_at : float
        Share of each panel's height that is drawn solid, 0 to 1.

    Returns
    -------
    bytes
        A PNG file.

    Raises
    ------
    ValueError
        When there is nothing to draw, or a value is out of range.
    """
    panels = [layers] if isinstance(layers, Layers) else list(layers)
    panels = [panel for panel in panels if len(panel) and not shapely.is_empty(panel.paths).all()]
    if not panels:
        raise ValueError("panels: got none with a path; allowed: one or more")
    if width_px < LEAST_WIDTH_PX:
        raise ValueError(f"width_px: got {width_px}; allowed: {LEAST_WIDTH_PX} and more")
    if not 0.0 < open_at <= 1.0:
        raise ValueError(f"open_at: got {open_at:g}; allowed: above 0 and up to 1")
    view = View()
    size = float(np.clip(width_px / 84.0, 11.0, 24.0))
    boxes = [_bounds(panel, view) for panel in panels]
    gap = 0.06 * max(float(box[1, 0] - box[0, 0]) for box in boxes)
    wide = sum(float(box[1, 0] - box[0, 0]) for box in boxes) + gap * (len(boxes) - 1)
    tall = max(float(box[1, 1] - box[0, 1]) for box in boxes)
    head, foot, side = 3.4 * size, 4.4 * size, 2.0 * size
    scale = min((width_px - 2 * side) / wide, (HIGHEST * width_px - head - foot) / tall)
    height = round(head + tall * scale + foot)
    image = Image.new("RGB", (width_px * SUPERSAMPLE, height * SUPERSAMPLE), WHITE)
    pen = ImageDraw.Draw(image, "RGBA")
    left = 0.5 * (width_px - wide * scale)
    for panel, box in zip(panels, boxes, strict=True):
        corner = np.array([left - box[0, 0] * scale, height - foot + box[0, 1] * scale])
        _draw_panel(pen, panel, view, corner * SUPERSAMPLE, scale * SUPERSAMPLE, open_at)
        middle = left + 0.5 * float(box[1, 0] - box[0, 0]) * scale
        for row, text in enumerate(_captions(panel, open_at)):
            _write(pen, (middle, height - foot + (1.9 + 1.3 * row) * size), text, 0.85 * size, "ms")
        left += float(box[1, 0] - box[0, 0] + gap) * scale
    if title:
        text = shortened(title, size=1.35 * size, width=width_px - 2 * side)
        _write(pen, (side, 1.9 * size), text, 1.35 * size, "ls")
    out = BytesIO()
    image.reduce(SUPERSAMPLE).save(out, format="PNG")
    return out.getvalue()


def _captions(panel: Layers, open_at: float) -> tuple[str, str]:
    height = len(panel) * panel.layer_mm
    opened = f", opened at {open_at * height:.0f} mm" if open_at < 1.0 else ""
    return (
        f"{panel.name}: {height:.1f} mm high{opened}",
        f"{len(panel)} layers of {panel.layer_mm:g} mm, {panel.path_mm.sum() / 1000.0:.0f} m of bead; "
        f"a line every {RULE_MM:g} mm",
    )


def _write(pen: Any, place: tuple[float, float], text: str, size: float, anchor: str) -> None:
    spot = (place[0] * SUPERSAMPLE, place[1] * SUPERSAMPLE)
    pen.text(spot, one_line(text), fill=INK, font=font_of(round(size * SUPERSAMPLE)), anchor=anchor)


def _bounds(panel: Layers, view: View) -> FloatArray:
    """Least and greatest right and up of a panel in the picture, shape (2, 2) [mm]."""
    full = np.flatnonzero(~shapely.is_empty(panel.paths))
    rows = full[np.unique(np.linspace(0, len(full) - 1, SAMPLES).astype(int))]
    points, row = shapely.get_coordinates(panel.paths[rows], return_index=True)
    flat = view.flat(np.column_stack([points, _heights(panel)[rows][row]]))
    return np.stack([flat.min(axis=0), flat.max(axis=0)])


def _heights(panel: Layers) -> FloatArray:
    """Heights above the bed [mm]."""
    return np.asarray(panel.z_mm - panel.z_mm[0] + 0.5 * panel.layer_mm)


def _draw_panel(
    pen: Any, panel: Layers, view: View, corner: FloatArray, scale: float, open_at: float
) -> None:
    z = _heights(panel)
    rise = panel.layer_mm * np.cos(np.deg2rad(view.lift_deg)) * scale
    step = max(1, round(STEP_PX / rise))
    top = max(0, min(len(panel) - 1, round(open_at * len(panel)) - 1))
    drawn = np.arange(top, -1, -step)[::-1]
    # whole pixels: a slanting line that is no wider than its distance to the next one leaves holes
    width = max(round(panel.bead_mm * scale), int(np.ceil(step * rise)) + 1)

    def px(points: FloatArray) -> FloatArray:
        return np.column_stack([corner[0] + points[:, 0] * scale, corner[1] - points[:, 1] * scale])

    _draw_shadow(pen, panel, view, px)
    strokes = _strokes(panel, drawn, view, PLAIN_PX / scale, top_mm=float(z[top]))
    draw_strokes(pen, strokes, px, width=width)
    _draw_cut(pen, panel, top, view, px, scale)
    _draw_ghost(pen, panel, top, view, px)


def _strokes(panel: Layers, drawn: IntArray, view: View, plain_mm: float, *, top_mm: float) -> Strokes:
    """All path rings of the drawn layers as lines."""
    rings, owner = _rings(shapely.simplify(panel.paths[drawn], plain_mm, preserve_topology=False))
    points, ring = shapely.get_coordinates(rings, return_index=True)
    z = _heights(panel)[drawn]
    row = owner[ring]
    return bead_strokes(
        np.column_stack([points, z[row]]), ring, row, view=view, top_mm=top_mm, ruled=ruled_layers(z)[row]
    )


def _rings(paths: NDArray[Any]) -> tuple[NDArray[Any], IntArray]:
    """All rings of many regions, outer ones counter-clockwise and holes clockwise, with their owners."""
    parts, owner = shapely.get_parts(shapely.orient_polygons(paths), return_index=True)
    full = ~shapely.is_empty(parts)
    parts, owner = parts[full], owner[full]
    rings, part = shapely.get_rings(parts, return_index=True)
    return np.asarray(rings), owner[part]


def _lifted(points: FloatArray, z_mm: float) -> FloatArray:
    return np.column_stack([points, np.full(len(points), z_mm)])


def _draw_shadow(pen: Any, panel: Layers, view: View, px: Any) -> None:
    """Draw a soft shadow on the bed, so that the panel stands on something."""
    full = np.flatnonzero(~shapely.is_empty(panel.regions))
    hull = shapely.convex_hull(panel.regions[full[0]])
    for grow in (7.0, 5.5, 4.0, 2.5, 1.2):
        ring = shapely.get_coordinates(shapely.buffer(hull, grow))
        ring = ring + grow * np.array([0.8, 0.3])
        pen.polygon(px(view.flat(_lifted(ring, 0.0))).ravel().tolist(), fill=(*GHOST, 34))


def _draw_cut(pen: Any, panel: Layers, top: int, view: View, px: Any, scale: float) -> None:
    """Draw the bead of the layer at the opening, in a colour of its own."""
    z = float(_heights(panel)[top])
    thick = max(CUT_PX, round(panel.bead_mm * scale))
    rings, _ = _rings(panel.paths[top : top + 1])
    for colour, width in ((WALL_DARK, thick + 2), (CUT, thick)):
        for ring in rings:
            flat = px(view.flat(_lifted(shapely.get_coordinates(ring), z)))
            pen.line(flat.ravel().tolist(), fill=colour, width=width, joint="curve")


def _draw_ghost(pen: Any, panel: Layers, top: int, view: View, px: Any) -> None:
    """Draw what stood above the opening: outlines of the skin, and the lines that join their ends."""
    if top >= len(panel) - 1:
        return
    step = max(1, round(GHOST_STEP_MM / panel.layer_mm))
    rows = np.unique(np.append(np.arange(len(panel) - 1, top, -step), len(panel) - 1))
    grown = shapely.buffer(panel.regions[rows], GHOST_CLOSE_MM, join_style="mitre", mitre_limit=2.0)
    skins = shapely.buffer(grown, -GHOST_CLOSE_MM, join_style="mitre", mitre_limit=2.0)
    z = _heights(panel)[rows]
    ends: list[FloatArray] = []
    for skin, height in zip(skins, z.tolist(), strict=True):
        parts = [part for part in shapely.get_parts(skin) if not part.is_empty]
        if not parts:
            continue
        rings = [px(view.flat(_lifted(shapely.get_coordinates(part.exterior), height))) for part in parts]
        for ring in rings:
            _ghost_line(pen, ring, 220 if height == z[-1] else 70, 2)
        flat = np.concatenate(rings)
        ends.append(flat[[int(flat[:, 0].argmin()), int(flat[:, 0].argmax())]])
    for side in (0, 1):
        _ghost_line(pen, np.array([pair[side] for pair in ends]), 220, 2)


def _ghost_line(pen: Any, flat: FloatArray, alpha: int, width: int) -> None:
    colour: Colour = GHOST
    pen.line(flat.ravel().tolist(), fill=(*colour, alpha), width=width, joint="curve")
