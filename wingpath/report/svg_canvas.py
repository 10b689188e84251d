"""The canvas that writes SVG text."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from xml.sax.saxutils import escape, quoteattr

import numpy as np

from wingpath.core.arrays import FloatArray
from wingpath.report.canvas import Anchor, Box, Canvas, one_line
from wingpath.report.colours import PAGE_COLOURS, Colour

__all__ = ["PageCanvas", "SvgCanvas"]

DIGITS = 3
"""Coordinates are written to a thousandth of a pixel."""

FONT = "Helvetica, Arial, sans-serif"


class SvgCanvas(Canvas):
    """A canvas of text: one ``svg`` element that needs nothing from outside.

    Clips are nested ``svg`` elements in the same coordinates, so no identifiers are needed and several
    pictures can stand in one page.
    """

    GROUND = True

    def __init__(self, width: int, height: int, *, title: str = "") -> None:
        super().__init__(width, height)
        self._parts = [
            f'<svg xmlns="http://www.w3.org/2000/svg" width="{width}" height="{height}" '
            f'viewBox="0 0 {width} {height}" font-family="{FONT}" role="img">'
        ]
        if title:
            self._parts.append(f"<title>{escape(one_line(title))}</title>")
        if self.GROUND:
            self._parts.append(f'<rect width="{width}" height="{height}" fill="#ffffff"/>')

    def area(self, rings: Sequence[FloatArray], colour: Colour, *, alpha: float = 1.0) -> None:
        """Fill rings; see :meth:`Canvas.area`."""
        data = " ".join(_path_data(np.asarray(ring), closed=True) for ring in rings if len(ring) > 2)
        if data:
            seen = f'fill="{self._paint(colour)}" fill-rule="evenodd"{_opacity("fill", alpha)}'
            self._parts.append(f'<path d="{data}" {seen}/>')

    def line(
        self,
        points: FloatArray,
        colour: Colour,
        *,
        width: float = 1.0,
        alpha: float = 1.0,
        closed: bool = False,
        dash: float = 0.0,
    ) -> None:
        """Draw a line; see :meth:`Canvas.line`."""
        if len(points) < 2:
            return
        dashes = f' stroke-dasharray="{_number(dash)}"' if dash > 0 else ""
        self._parts.append(
            f'<path d="{_path_data(np.asarray(points), closed=closed)}" fill="none" '
            f'stroke="{self._paint(colour)}" stroke-width="{_number(width)}" stroke-linejoin="round"'
            f"{_opacity('stroke', alpha)}{dashes}/>"
        )

    def text(
        self,
        place: tuple[float, float],
        text: str,
        colour: Colour,
        *,
        size: float,
        anchor: Anchor = "start",
    ) -> None:
        """Write text; see :meth:`Canvas.text`."""
        where = "" if anchor == "start" else f' text-anchor="{anchor}"'
        self._parts.append(
            f'<text x="{_number(place[0])}" y="{_number(place[1])}" font-size="{_number(size)}" '
            f'fill="{self._paint(colour)}"{where}>{escape(one_line(text))}</text>'
        )

    @contextmanager
    def clipped(self, box: Box) -> Iterator[None]:
        """Keep drawing inside `box`; see :meth:`Canvas.clipped`."""
        x, y, right, bottom = box
        width, height = right - x, bottom - y
        frame = " ".join(_number(value) for value in (x, y, width, height))
        self._parts.append(
            f'<svg x="{_number(x)}" y="{_number(y)}" width="{_number(width)}" height="{_number(height)}" '
            f'viewBox="{frame}" overflow="hidden">'
        )
        yield
        self._parts.append("</svg>")

    @contextmanager
    def group(self, name: str, **facts: str) -> Iterator[None]:
        """Open a ``g`` element with the class `name` and each fact as a ``data-`` attribute."""
        data = "".join(f" data-{key.replace('_', '-')}={quoteattr(value)}" for key, value in facts.items())
        self._parts.append(f"<g class={quoteattr(name)}{data}>")
        yield
        self._parts.append("</g>")

    def _paint(self, colour: Colour) -> str:
        """Return a colour as an attribute's text."""
        return _hex(colour)

    def svg(self) -> str:
        """Return the whole picture as SVG text."""
        return "\n".join([*self._parts, "</svg>"]) + "\n"


class PageCanvas(SvgCanvas):
    """A canvas for a page that is light or dark: it takes the page's ground and colours by name."""

    GROUND = False

    def _paint(self, colour: Colour) -> str:
        name = PAGE_COLOURS.get(colour)
        return _hex(colour) if name is None else f"var(--{name})"


def _hex(colour: Colour) -> str:
    return "#{:02x}{:02x}{:02x}".format(*colour)


def _number(value: float) -> str:
    text = f"{value:.{DIGITS}f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


def _opacity(kind: str, alpha: float) -> str:
    return "" if alpha >= 1.0 else f' {kind}-opacity="{_number(alpha)}"'


def _path_data(points: FloatArray, *, closed: bool) -> str:
    ring = points[:-1] if closed and len(points) > 2 and np.array_equal(points[0], points[-1]) else points
    steps = " L".join(f"{_number(x)},{_number(y)}" for x, y in ring.tolist())
    return f"M{steps}{' Z' if closed else ''}"
