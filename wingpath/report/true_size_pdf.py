"""A drawing at true size as a PDF: every sheet on as many pages as it takes, a bar to measure on each.

The format's unit is the point, 1/72 inch (ISO 32000-1:2008, 8.3.2.3); what is written is millimetres times
72 / 25.4. The file asks viewers not to scale it (ISO 32000-1:2008, table 150, PrintScaling).
"""

from __future__ import annotations

import io
import unicodedata
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from wingpath.core.arrays import FloatArray
from wingpath.report.tiling import MARGIN_MM, STRIP_MM, Paper, Tile, Tiling, tile_sheet
from wingpath.report.true_size import MM_PER_POINT, Area, Ink, Item, Sheet, Stroke, TrueSizeDrawing, Words
from wingpath.version import __version__

__all__ = ["BAR_MM", "PENS", "SEAM_PEN", "Pen", "plain_text", "true_size_pdf"]

POINTS_PER_MM = 1.0 / MM_PER_POINT

BAR_MM = 100.0
"""Length of the bar on every page [mm]."""

BAR_WORDS = "100 mm. Measure this bar: print at 100 per cent, no fit to page."

LONGEST_NAME = 34
"""Letters of a name or a title before it is cut short."""

PLAIN, BOLD = "Helvetica", "Helvetica-Bold"
"""Two of the fonts that every viewer has (ISO 32000-1:2008, 9.6.2.2)."""


@dataclass(frozen=True, slots=True)
class Pen:
    """How a line looks.

    Parameters
    ----------
    width_mm : float
        Its width [mm].
    colour : tuple of float
        Red, green, blue from 0 to 1.
    dash_mm : tuple of float
        Lengths of dashes and gaps; none for a full line [mm].
    """

    width_mm: float
    colour: tuple[float, float, float]
    dash_mm: tuple[float, ...] = ()


# dark enough to come out on a printer without colour; dashes tell apart what colour does not
PENS: dict[Ink, Pen] = {
    "section": Pen(0.25, (0.0, 0.0, 0.0)),
    "printed": Pen(0.08, (0.35, 0.35, 0.35)),
    "bore": Pen(0.2, (0.65, 0.1, 0.0)),
    "axis": Pen(0.12, (0.65, 0.1, 0.0)),
    "datum": Pen(0.15, (0.0, 0.0, 0.0), (8.0, 1.2, 1.2, 1.2)),
    "jig": Pen(0.3, (0.0, 0.25, 0.55), (5.0, 1.5)),
    "hinge": Pen(0.2, (0.65, 0.1, 0.0), (8.0, 1.2, 1.2, 1.2)),
    "dimension": Pen(0.12, (0.25, 0.25, 0.25)),
    "grid": Pen(0.1, (0.45, 0.45, 0.45)),
}
"""How each kind of line is drawn."""

FRAME_PEN = Pen(0.1, (0.7, 0.7, 0.7))
SEAM_PEN = Pen(0.18, (0.0, 0.35, 0.2), (2.0, 2.0))
MARK_PEN = Pen(0.18, (0.0, 0.35, 0.2))
# thin: its ends are measured from edge to edge
BAR_PEN = Pen(0.14, (0.0, 0.0, 0.0))

WALL_GREY = 0.87
"""Shade of the printed wall."""

MARK_SHARES, MARK_MM = (0.25, 0.75), 3.0
"""Places of the match marks along a seam, in shares of the window, and half their size [mm]."""

MAP_MM = (30.0, 14.0)
"""Room for the small map of the pages [mm]."""


def plain_text(text: str, *, most: int | None = None) -> str:
    """Return a text that the fonts hold: accents dropped where that helps, else a question mark.

    Parameters
    ----------
    text : str
        Any text.
    most : int, optional
        Cut it short at so many letters.
    """
    kept = []
    for letter in text:
        if unicodedata.category(letter)[0] == "C":
            continue  # controls and marks of direction show nothing and may turn the line round
        pieces = (letter, unicodedata.normalize("NFKD", letter).encode("ascii", "ignore").decode())
        kept.append(next((one for one in pieces if one and _held(one)), "?"))
    plain = " ".join("".join(kept).split())
    return plain if most is None or len(plain) <= most else f"{plain[: most - 3].rstrip()}..."


def _held(text: str) -> bool:
    try:
        text.encode("cp1252")
    except UnicodeEncodeError:
        return False
    return True


def true_size_pdf(drawing: TrueSizeDrawing, paper: Paper) -> bytes:
    """Draw all sheets.

    Parameters
    ----------
    drawing : TrueSizeDrawing
        What is drawn.
    paper : Paper
        On what.

    Returns
    -------
    bytes
        The file; the same for the same drawing.
    """
    from reportlab.pdfgen.canvas import Canvas

    tilings = [(sheet, tile_sheet(sheet, paper)) for sheet in drawing.sheets]
    total = sum(len(tiling.tiles) for _, tiling in tilings)
    name = plain_text(drawing.name, most=LONGEST_NAME)
    stream = io.BytesIO()
    canvas: Any = Canvas(stream, pageCompression=1, invariant=1)
    canvas.setTitle(f"{name}: drawing at true size")
    canvas.setAuthor("")
    canvas.setSubject("1:1, print at 100 per cent")
    canvas.setCreator(f"wingpath {__version__}")
    canvas.setViewerPreference("PrintScaling", "None")
    page = 0
    for sheet, tiling in tilings:
        for tile in tiling.tiles:
            page += 1
            canvas.setPageSize(tuple(POINTS_PER_MM * side for side in tiling.page_mm))
            _draw_window(canvas, sheet, tiling, tile)
            _draw_strip(canvas, name, sheet, tiling, tile, f"{paper.name}, page {page} of {total}")
            canvas.showPage()
    canvas.save()
    return stream.getvalue()


def _use(canvas: Any, pen: Pen) -> None:
    canvas.setLineWidth(POINTS_PER_MM * pen.width_mm)
    canvas.setStrokeColorRGB(*pen.colour)
    canvas.setDash([POINTS_PER_MM * length for length in pen.dash_mm])


def _line(canvas: Any, points: FloatArray | Sequence[tuple[float, float]], *, closed: bool = False) -> None:
    path = canvas.beginPath()
    _trace(path, POINTS_PER_MM * np.asarray(points, float), closed=closed)
    canvas.drawPath(path, stroke=1, fill=0)


def _trace(path: Any, points: FloatArray, *, closed: bool) -> None:
    path.moveTo(*points[0])
    for point in points[1:].tolist():
        path.lineTo(*point)
    if closed:
        path.close()


def _draw_window(canvas: Any, sheet: Sheet, tiling: Tiling, tile: Tile) -> None:
    """Draw what a tile shows of its sheet, cut off at its edges, and the seams to its neighbours."""
    left, foot = MARGIN_MM, MARGIN_MM + STRIP_MM
    wide, high = tiling.window_mm
    corner = np.array([tile.u_mm, tile.v_mm])
    move = np.array([left, foot]) - corner
    canvas.saveState()
    window = canvas.beginPath()
    window.rect(*(POINTS_PER_MM * value for value in (left, foot, wide, high)))
    canvas.clipPath(window, stroke=0, fill=0)
    for item in sheet.items:
        low, top = item.extent
        if (low <= corner + np.array([wide, high])).all() and (top >= corner).all():
            _draw_item(canvas, item, move)
    canvas.restoreState()
    _use(canvas, FRAME_PEN)
    _line(canvas, _box(left, foot, wide, high), closed=True)
    for side, (place, other) in tiling.seams(tile).items():
        upright = side in ("left", "right")
        words = f"join here to sheet {other.number}"
        if upright:
            u = place + move[0]
            ends, marks = [(u, foot), (u, foot + high)], [(u, foot + share * high) for share in MARK_SHARES]
            note = Words(u - 0.8, foot + 2.0, words, 6.5, turn_deg=90.0)
        else:
            v = place + move[1]
            ends, marks = [(left, v), (left + wide, v)], [(left + share * wide, v) for share in MARK_SHARES]
            note = Words(left + 2.0, v + 0.8, words, 6.5)
        _use(canvas, SEAM_PEN)
        _line(canvas, ends)
        _use(canvas, MARK_PEN)
        for u, v in marks:
            _line(canvas, [(u - MARK_MM, v - MARK_MM), (u + MARK_MM, v + MARK_MM)])
            _line(canvas, [(u - MARK_MM, v + MARK_MM), (u + MARK_MM, v - MARK_MM)])
        _draw_item(canvas, note, np.zeros(2))


def _box(u: float, v: float, wide: float, high: float) -> list[tuple[float, float]]:
    return [(u, v), (u + wide, v), (u + wide, v + high), (u, v + high)]


def _draw_item(canvas: Any, item: Item, move: FloatArray) -> None:
    if isinstance(item, Stroke):
        _use(canvas, PENS[item.ink])
        _line(canvas, item.points + move, closed=item.closed)
    elif isinstance(item, Area):
        path = canvas.beginPath()
        for ring in item.rings:
            _trace(path, POINTS_PER_MM * (ring + move), closed=True)
        canvas.setFillGray(WALL_GREY)
        canvas.drawPath(path, stroke=0, fill=1, fillMode=0)
    else:
        canvas.setFillGray(0.0)
        canvas.setFont(BOLD if item.bold else PLAIN, item.size_pt)
        draw = {
            "start": canvas.drawString,
            "middle": canvas.drawCentredString,
            "end": canvas.drawRightString,
        }[item.anchor]
        place = POINTS_PER_MM * (np.array([item.u_mm, item.v_mm]) + move)
        if item.turn_deg == 0.0:
            draw(float(place[0]), float(place[1]), plain_text(item.text))
            return
        canvas.saveState()
        canvas.translate(float(place[0]), float(place[1]))
        canvas.rotate(item.turn_deg)
        draw(0.0, 0.0, plain_text(item.text))
        canvas.restoreState()


def _draw_strip(canvas: Any, name: str, sheet: Sheet, tiling: Tiling, tile: Tile, page: str) -> None:
    """Draw bar, title and map at the foot of a page."""
    left, still = MARGIN_MM, np.zeros(2)
    bar = MARGIN_MM + 9.0
    _use(canvas, BAR_PEN)
    _line(canvas, [(left, bar), (left + BAR_MM, bar)])
    for number in range(11):
        u = left + 0.1 * BAR_MM * number
        _line(canvas, [(u, bar), (u, bar + (4.0 if number % 5 == 0 else 2.0))])
    for share in (0.0, 0.5, 1.0):
        anchor = ("start", "middle", "end")[round(2 * share)]
        words = Words(left + share * BAR_MM, bar + 5.0, f"{share * BAR_MM:g}", 6.5, anchor)  # type: ignore[arg-type]
        _draw_item(canvas, words, still)
    _draw_item(canvas, Words(left, bar - 4.0, BAR_WORDS, 7.5, bold=True), still)
    title = plain_text(sheet.title, most=2 * LONGEST_NAME)
    first, second = _halves(title)
    count = f"sheet {tile.number} of {len(tiling.tiles)}"
    at = left + BAR_MM + 6.0
    lines = [(name, True), (first, False), (second, False), (count, True), (page, False)]
    for row, (text, bold) in enumerate(line for line in lines if line[0]):
        _draw_item(canvas, Words(at, MARGIN_MM + 17.5 - 4.0 * row, text, 7.5, bold=bold), still)
    if len(tiling.tiles) > 1:
        _draw_map(canvas, tiling, tile)


def _halves(title: str) -> tuple[str, str]:
    """Break a title into two lines where it is long."""
    if len(title) <= LONGEST_NAME:
        return title, ""
    at = title.rfind(", ", 0, LONGEST_NAME) + 1 or title.rfind(" ", 0, LONGEST_NAME + 1)
    return (title[:at], title[at + 1 :]) if at > 0 else (title[:LONGEST_NAME], title[LONGEST_NAME:])


def _draw_map(canvas: Any, tiling: Tiling, tile: Tile) -> None:
    """Draw the grid of pages at the right end of the strip, this one grey."""
    wide, high = tiling.window_mm
    scale = min(MAP_MM[0] / (tiling.columns * wide), MAP_MM[1] / (tiling.rows * high))
    w, h = scale * wide, scale * high
    right, top = tiling.page_mm[0] - MARGIN_MM, MARGIN_MM + 2.0 + tiling.rows * h
    for one in tiling.tiles:
        u, v = right - (tiling.columns - one.column) * w, top - (one.row + 1) * h
        path = canvas.beginPath()
        path.rect(*(POINTS_PER_MM * value for value in (u, v, w, h)))
        _use(canvas, Pen(0.15, (0.0, 0.0, 0.0)))
        canvas.setFillGray(0.75 if one == tile else 1.0)
        canvas.drawPath(path, stroke=1, fill=1)
        size = min(7.0, 0.7 * h * POINTS_PER_MM, 0.55 * w * POINTS_PER_MM)
        number = Words(u + 0.5 * w, v + 0.5 * h - 0.35 * size * MM_PER_POINT, f"{one.number}", size, "middle")
        _draw_item(canvas, number, np.zeros(2))
