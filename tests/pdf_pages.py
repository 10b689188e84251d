"""What a PDF draws, in millimetres on its page, read by a library that has nothing to do with the writer's.

Only what a drawing needs is understood: lines, the matrix, widths and colours, words.
"""

from __future__ import annotations

import io
from dataclasses import dataclass
from typing import Any

import numpy as np
from pypdf import PageObject, PdfReader
from pypdf.generic import ContentStream

from wingpath.report.true_size_pdf import Pen

MM = 25.4 / 72.0
"""A point is 1/72 inch (ISO 32000-1:2008, 8.3.2.3), an inch 25.4 mm."""


@dataclass(frozen=True, eq=False)
class Drawn:
    """One line that is drawn."""

    points: np.ndarray
    closed: bool
    width_mm: float
    colour: tuple[float, ...]

    @property
    def size(self) -> np.ndarray:
        return np.ptp(self.points, axis=0)

    @property
    def length(self) -> float:
        return float(np.hypot(*np.diff(self.points, axis=0).T).sum())


@dataclass(frozen=True, eq=False)
class Page:
    """One page: its size, its lines, its words."""

    size: tuple[float, float]
    lines: list[Drawn]
    text: str

    def of(self, pen: Pen) -> list[Drawn]:
        """Lines that were drawn with a pen: told by their width and their colour."""
        return [
            line
            for line in self.lines
            if abs(line.width_mm - pen.width_mm) < 1e-4 and np.allclose(line.colour, pen.colour, atol=1e-3)
        ]


def reader_of(data: bytes) -> PdfReader:
    return PdfReader(io.BytesIO(data), strict=True)


def pages_of(data: bytes) -> list[Page]:
    reader = reader_of(data)
    return [_page(page, reader) for page in reader.pages]


def _page(page: PageObject, reader: PdfReader) -> Page:
    stream = ContentStream(page.get_contents(), reader)
    matrix, stack = np.eye(3), []
    width, colour = 1.0, (0.0,)
    rings: list[tuple[list[Any], bool]] = []
    lines: list[Drawn] = []
    for operands, name in stream.operations:
        values = [float(value) for value in operands if isinstance(value, int | float)]
        if name == b"q":
            stack.append((matrix, width, colour))
        elif name == b"Q":
            matrix, width, colour = stack.pop()
        elif name == b"cm":
            a, b, c, d, e, f = values
            matrix = np.array([[a, b, 0], [c, d, 0], [e, f, 1]]) @ matrix
        elif name == b"w":
            width = values[0]
        elif name in (b"RG", b"G"):
            colour = tuple(values)
        elif name == b"m":
            rings.append(([values], False))
        elif name == b"l":
            rings[-1][0].append(values)
        elif name == b"h":
            rings[-1] = (rings[-1][0], True)
        elif name in (b"S", b"s", b"B", b"b", b"B*", b"b*"):
            lines += [
                _placed(ring, closed or name in (b"s", b"b"), matrix, width, colour) for ring, closed in rings
            ]
            rings = []
        elif name in (b"n", b"f", b"F", b"f*"):
            rings = []
    box = page.mediabox
    return Page((float(box.width) * MM, float(box.height) * MM), lines, page.extract_text())


def _placed(
    ring: list[Any], closed: bool, matrix: np.ndarray, width: float, colour: tuple[float, ...]
) -> Drawn:
    points = np.column_stack([np.array(ring), np.ones(len(ring))]) @ matrix
    scale = float(np.sqrt(abs(np.linalg.det(matrix[:2, :2]))))
    return Drawn(MM * points[:, :2], closed, MM * width * scale, colour)
