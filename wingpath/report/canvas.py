"""The canvas: areas, lines and text in picture pixels, drawn to a PNG or written as SVG by the same calls.

Pixels count from the upper left corner, x to the right and y down.
"""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from functools import lru_cache
from io import BytesIO
from typing import Any, Literal

import numpy as np
import shapely
from PIL import Image, ImageChops, ImageDraw, ImageFont
from shapely.ops import substring

from wingpath.core.arrays import FloatArray
from wingpath.report.colours import WHITE, Colour

__all__ = [
    "Box",
    "Canvas",
    "PngCanvas",
    "font_of",
    "one_line",
    "polygon_rings",
    "shortened",
    "text_width",
    "wrapped",
]

Box = tuple[float, float, float, float]
"""Left, top, right, bottom [px]."""

Anchor = Literal["start", "middle", "end"]

SUPERSAMPLE = 3
"""A PNG is drawn larger by this factor and averaged down, which smooths every edge."""

ROUND_SIDES = 6
"""Corners in a quarter turn of a round line end."""


@lru_cache(maxsize=32)
def font_of(size: int) -> Any:
    """Return the font that comes with the imaging library, so pictures look the same everywhere."""
    return ImageFont.load_default(size=size)


def text_width(text: str, size: float) -> float:
    """Return the width of a line of text [px]."""
    return float(font_of(max(1, round(size))).getlength(text))


def one_line(text: str) -> str:
    """Return text that every canvas can hold: one line, without control characters or half pairs."""
    plain = "".join(letter if _printable(ord(letter)) else " " for letter in text)
    return " ".join(plain.split())


def _printable(code: int) -> bool:
    """Whether XML 1.0 (fifth edition, production 2, Char) allows a character; fonts need no more."""
    return 0x20 <= code <= 0xD7FF or 0xE000 <= code <= 0xFFFD or 0x10000 <= code <= 0x10FFFF


def shortened(text: str, *, size: float, width: float) -> str:
    """Return `text` with its end left out when it is wider than `width` [px]."""
    text = one_line(text)
    if text_width(text, size) <= width:
        return text
    keep = len(text)
    while keep > 1 and text_width(text[:keep] + "...", size) > width:
        keep -= 1
    return text[:keep] + "..."


def wrapped(text: str, *, size: float, width: float) -> list[str]:
    """Return `text` in lines of at most `width` [px]; a longer word is broken."""
    lines: list[str] = []
    line = ""
    for word in one_line(text).split():
        while text_width(word, size) > width and len(word) > 1:
            keep = max(1, int(len(word) * width / text_width(word, size)) - 1)
            if line:
                lines.append(line)
                line = ""
            lines.append(word[:keep])
            word = word[keep:]
        longer = f"{line} {word}" if line else word
        if line and text_width(longer, size) > width:
            lines.append(line)
            longer = word
        line = longer
    return [*lines, line] if line else lines


class Canvas(ABC):
    """What a picture can be drawn on."""

    def __init__(self, width: int, height: int) -> None:
        self.width = width
        self.height = height

    @abstractmethod
    def area(self, rings: Sequence[FloatArray], colour: Colour, *, alpha: float = 1.0) -> None:
        """Fill rings of points, shape (n, 2) [px]; a ring inside another is a hole."""

    @abstractmethod
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
        """Draw a line through points, shape (n, 2), `width` wide, with dashes of length `dash` [px]."""

    @abstractmethod
    def text(
        self,
        place: tuple[float, float],
        text: str,
        colour: Colour,
        *,
        size: float,
        anchor: Anchor = "start",
    ) -> None:
        """Write one line of text on the base line at `place` [px]."""

    @abstractmethod
    def clipped(self, box: Box) -> Any:
        """Return a context in which nothing outside `box` is drawn."""

    @abstractmethod
    def group(self, name: str, **facts: str) -> Any:
        """Return a context whose contents carry a name and facts, where the format has room for them."""

    def circle(
        self,
        centre: tuple[float, float],
        radius: float,
        colour: Colour,
        *,
        width: float,
        dash: float = 0.0,
    ) -> None:
        """Draw a circle line around `centre`."""
        turn = np.linspace(0.0, 2.0 * np.pi, 49)[:-1]
        points = np.asarray(centre) + radius * np.column_stack([np.cos(turn), np.sin(turn)])
        self.line(points, colour, width=width, closed=True, dash=dash)


class PngCanvas(Canvas):
    """A canvas of pixels."""

    def __init__(self, width: int, height: int, *, supersample: int = SUPERSAMPLE) -> None:
        super().__init__(width, height)
        self.factor = supersample
        self.image = Image.new("RGB", (width * supersample, height * supersample), WHITE)
        self._clip = (0, 0, *self.image.size)

    def area(self, rings: Sequence[FloatArray], colour: Colour, *, alpha: float = 1.0) -> None:
        """Fill rings; see :meth:`Canvas.area`."""
        big = [np.asarray(ring) * self.factor for ring in rings if len(ring) > 2]
        if not big:
            return
        points = np.concatenate(big)
        low, high = np.floor(points.min(axis=0)) - 1, np.ceil(points.max(axis=0)) + 2
        left, top = max(int(low[0]), self._clip[0]), max(int(low[1]), self._clip[1])
        right, bottom = min(int(high[0]), self._clip[2]), min(int(high[1]), self._clip[3])
        if right <= left or bottom <= top:
            return
        mask = Image.new("L", (right - left, bottom - top), 0)
        for ring in big:
            layer = Image.new("L", mask.size, 0) if len(big) > 1 else mask
            ImageDraw.Draw(layer).polygon((ring - (left, top)).ravel().tolist(), fill=255)
            # the difference of two black-and-white masks is their exclusive or: a ring in a ring is a hole
            mask = ImageChops.difference(mask, layer) if len(big) > 1 else layer
        if alpha < 1.0:
            mask = mask.point([round(value * alpha) for value in range(256)])
        self.image.paste(colour, (left, top, right, bottom), mask)

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
        points = np.asarray(points, dtype=np.float64)
        if len(points) < 2:
            return
        path = shapely.LineString(np.vstack([points, points[:1]]) if closed else points)
        if dash > 0:
            steps = np.arange(0.0, path.length, 2.0 * dash)
            pieces = [substring(path, start, start + dash) for start in steps]
            path = shapely.MultiLineString(pieces)
        stroke = shapely.buffer(path, 0.5 * width, quad_segs=ROUND_SIDES, cap_style="flat")
        for part in shapely.get_parts(stroke):
            self.area(polygon_rings(part), colour, alpha=alpha)

    def stroke(self, points: FloatArray, colour: Colour, *, width: float) -> None:
        """Draw a line that may cover itself any number of times; quicker than :meth:`line`, and opaque."""
        left, top, right, bottom = self._clip
        view = self.image.crop((left, top, right, bottom))
        flat = (np.asarray(points) * self.factor - (left, top)).ravel().tolist()
        pen = ImageDraw.Draw(view)
        pen.line(flat, fill=colour, width=max(1, round(width * self.factor)), joint="curve")
        self.image.paste(view, (left, top))

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
        letter = {"start": "l", "middle": "m", "end": "r"}[anchor]
        spot = (place[0] * self.factor, place[1] * self.factor)
        font = font_of(max(1, round(size * self.factor)))
        ImageDraw.Draw(self.image).text(spot, one_line(text), fill=colour, font=font, anchor=f"{letter}s")

    @contextmanager
    def clipped(self, box: Box) -> Iterator[None]:
        """Keep drawing inside `box`; see :meth:`Canvas.clipped`."""
        before = self._clip
        left, top, right, bottom = (round(value * self.factor) for value in box)
        self._clip = (
            max(left, before[0]),
            max(top, before[1]),
            min(right, before[2]),
            min(bottom, before[3]),
        )
        try:
            yield
        finally:
            self._clip = before

    @contextmanager
    def group(self, name: str, **facts: str) -> Iterator[None]:
        """Do nothing: pixels carry no names."""
        yield

    def picture(self) -> Any:
        """Return the picture as an image of the imaging library."""
        return self.image.reduce(self.factor) if self.factor > 1 else self.image

    def png(self) -> bytes:
        """Return the picture as a PNG file's bytes."""
        out = BytesIO()
        self.picture().save(out, format="PNG", optimize=False)
        return out.getvalue()


def polygon_rings(geometry: Any) -> list[FloatArray]:
    """Return all rings of a polygon or several, shape (k, 2) each; outer rings and holes alike."""
    return [
        shapely.get_coordinates(ring)
        for part in shapely.get_parts(geometry)
        if part.geom_type == "Polygon" and not part.is_empty
        for ring in (part.exterior, *part.interiors)
    ]
