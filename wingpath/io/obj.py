"""OBJ: corners and polygons as lines of text, no units.

The records read are ``v`` (a corner) and ``f`` (a polygon of corner numbers, each perhaps followed by numbers
of texture points and normals behind slashes). All others say nothing about the solid.
"""

from __future__ import annotations

import re

import numpy as np

from wingpath.core.arrays import FloatArray, IntArray
from wingpath.core.errors import MeshFileError

__all__ = ["has_obj_corners", "read_obj"]

_CORNER = re.compile(rb"(?m)^[ \t]*v[ \t]+([^\n]*)")
_POLYGON = re.compile(rb"(?m)^[ \t]*f[ \t]+([^\n]*)")


def has_obj_corners(data: bytes) -> bool:
    """Return whether the text has a line that gives a corner."""
    return _CORNER.search(data.replace(b"\r", b"\n")) is not None


def read_obj(data: bytes, *, source: str) -> tuple[FloatArray, IntArray]:
    """Read the solid of an OBJ file.

    Parameters
    ----------
    data : bytes
        The file.
    source : str
        Its name, for messages.

    Returns
    -------
    vertices : array, shape (n, 3)
        Corner points, in the file's unit.
    faces : array of int, shape (m, 3)
        Corner numbers. A polygon becomes a fan of triangles about its first corner.

    Raises
    ------
    MeshFileError
        When a corner has not three numbers, or a polygon has not three corners that the file holds.
    """
    text = data.replace(b"\r\n", b"\n").replace(b"\r", b"\n").replace(b"\\\n", b" ")
    text = re.sub(rb"#[^\n]*", b"", text)
    points = _points(_CORNER.findall(text), source)
    polygons: list[bytes] = _POLYGON.findall(text)
    if not polygons:
        raise MeshFileError(
            f"{source}: got an OBJ file without faces; a solid has four at least. Export it again."
        )
    size = np.fromiter((len(polygon.split()) for polygon in polygons), np.int64, len(polygons))
    if not size.all():
        raise _bad_polygon(source, b"", len(points))
    corner = _corner_numbers(polygons, size, text, source)
    start = np.cumsum(size) - size
    wrong = (
        (size < 3)
        | (np.maximum.reduceat(corner, start) >= len(points))
        | (np.minimum.reduceat(corner, start) < 0)
    )
    if wrong.any():
        raise _bad_polygon(source, polygons[int(np.argmax(wrong))], len(points))
    # A polygon of n corners gives the triangles (0, i, i + 1) for i = 1 .. n - 2.
    count = size - 2
    first = np.repeat(start, count)
    step = np.arange(len(first)) - np.repeat(np.cumsum(count) - count, count) + 1
    faces = np.column_stack([corner[first], corner[first + step], corner[first + step + 1]])
    return points, faces


def _points(lines: list[bytes], source: str) -> FloatArray:
    words = b"\n".join(lines).split()
    try:
        if len(words) != 3 * len(lines) or any(len(line.split()) != 3 for line in lines):
            # A fourth number is a weight, and more are colours.
            words = [word for line in lines for word in _first_three(line)]
        return np.array(list(map(float, words)), np.float64).reshape(-1, 3)
    except ValueError:
        bad = next(line for line in lines if not _is_corner(line))
        raise MeshFileError(
            f"{source}: got the corner {_shown(bad)}; a corner is three numbers with a decimal point. "
            "Export the file again."
        ) from None


def _first_three(line: bytes) -> list[bytes]:
    words = line.split()[:3]
    if len(words) != 3:
        raise ValueError("too few numbers")
    return words


def _corner_numbers(polygons: list[bytes], size: IntArray, text: bytes, source: str) -> IntArray:
    """Return the corner numbers of all polygons, counted from 0; whatever is out of range stays so."""
    joined = b"\n".join(polygons)
    if b"/" in joined:
        joined = re.sub(rb"/\S*", b"", joined)
    try:
        corner = np.array(list(map(int, joined.split())), np.int64)
        if len(corner) != size.sum():  # a word of slashes only
            raise ValueError("a corner without a number")
    except (ValueError, OverflowError):
        bad = next((polygon for polygon in polygons if not _is_polygon(polygon)), b"")
        raise _bad_polygon(source, bad, None) from None
    below = corner < 0
    if below.any():
        # Counted back from the corners read before the polygon.
        corner_at = np.array([match.start() for match in _CORNER.finditer(text)])
        polygon_at = np.array([match.start() for match in _POLYGON.finditer(text)])
        known = np.repeat(np.searchsorted(corner_at, polygon_at), size)
        corner = np.where(below, np.maximum(corner + known + 1, 0), corner)
    return corner - 1


def _bad_polygon(source: str, polygon: bytes, corners: int | None) -> MeshFileError:
    allowed = "corner numbers" if corners is None else f"corner numbers from 1 to {corners}"
    return MeshFileError(
        f"{source}: got the face {_shown(polygon)}; a face is three or more {allowed}. Export the file again."
    )


def _shown(line: bytes) -> str:
    return repr(line.strip()[:60].decode("ascii", "replace"))


def _is_corner(line: bytes) -> bool:
    try:
        return len([float(word) for word in _first_three(line)]) == 3
    except ValueError:
        return False


def _is_polygon(line: bytes) -> bool:
    try:
        return all(abs(int(word.partition(b"/")[0])) < 2**62 for word in line.split())
    except ValueError:
        return False
