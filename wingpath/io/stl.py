"""STL: triangles with a normal, no units, no shared corners.

Binary: a header of 80 bytes, the number of facets in 4 bytes, then 50 bytes a facet; all little-endian
(P. Bourke, "STL format", 1999; Library of Congress, format description fdd000505). Text: ``solid``, then
``facet normal``, ``outer loop``, three ``vertex`` lines, ``endloop``, ``endfacet`` a facet.
"""

from __future__ import annotations

import re
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from wingpath.core.arrays import FloatArray
from wingpath.core.errors import FileAccessError, InputError, MeshFileError
from wingpath.geometry.mesh import Mesh
from wingpath.geometry.single_precision import single_vertices

__all__ = ["binary_stl_corners", "is_binary_stl", "stl_bytes", "text_stl_corners", "write_stl"]

HEADER_BYTES = 80
START_BYTES = 84
FACET = np.dtype([("normal", "<f4", 3), ("corners", "<f4", (3, 3)), ("attribute", "<u2")])
"""One facet of a binary file, 50 bytes."""


def stl_bytes(mesh: Mesh, *, title: str) -> bytes:
    """Return a binary STL file.

    Parameters
    ----------
    mesh : Mesh
        The mesh, facing outward [mm].
    title : str
        Text for the header. Characters outside ASCII become ``?``, and what does not fit is left out.

    Raises
    ------
    InputError
        When the title begins with ``solid``, which would make the file look like a text file.
    """
    if title.lstrip().lower().startswith("solid"):
        raise InputError(f"title: got {title!r}; it must not begin with 'solid'. Put another word first.")
    corners = single_vertices(mesh)[mesh.faces]
    a, b, c = np.moveaxis(corners.astype(np.float64), 1, 0)
    normal = np.cross(b - a, c - a)
    length = np.linalg.norm(normal, axis=1, keepdims=True)
    facets = np.zeros(len(corners), FACET)
    facets["normal"] = np.divide(normal, length, out=np.zeros_like(normal), where=length > 0.0)
    facets["corners"] = corners
    printable = "".join(char if " " <= char <= "~" else "?" for char in title)
    header = printable.encode("ascii")[:HEADER_BYTES].ljust(HEADER_BYTES, b" ")
    return header + np.array(len(facets), "<u4").tobytes() + facets.tobytes()


def write_stl(path: Path, mesh: Mesh, *, title: str) -> None:
    """Write a binary STL file; see :func:`stl_bytes`.

    Raises
    ------
    FileAccessError
        When the file cannot be written.
    """
    data = stl_bytes(mesh, title=title)
    try:
        Path(path).write_bytes(data)
    except OSError as error:
        raise FileAccessError(
            f"{path}: cannot be written: {error.strerror or error}. Check the folder."
        ) from error


def is_binary_stl(data: bytes) -> bool:
    """Return whether the size is that of a binary file with the number of facets it announces."""
    if len(data) < START_BYTES:
        return False
    announced = int.from_bytes(data[HEADER_BYTES:START_BYTES], "little")
    return len(data) == START_BYTES + FACET.itemsize * announced


def binary_stl_corners(data: bytes, *, source: str) -> NDArray[np.float32]:
    """Return the corners of the facets of a binary file, shape (m, 3, 3), in the file's unit.

    Up to 49 bytes after the last facet are passed over.

    Raises
    ------
    MeshFileError
        When the file ends too early, or holds another number of facets than it announces.
    """
    if len(data) < START_BYTES:
        raise MeshFileError(
            f"{source}: got {len(data)} bytes, which is too short; a binary STL has at least {START_BYTES}. "
            "Export or copy the file again."
        )
    announced = int.from_bytes(data[HEADER_BYTES:START_BYTES], "little")
    held = (len(data) - START_BYTES) // FACET.itemsize
    if announced != held:
        fault = "is cut off" if held < announced else "holds more than it says"
        raise MeshFileError(
            f"{source}: the binary STL {fault}: {announced} facets are announced and {held} whole ones are "
            "there. Export or copy the file again."
        )
    return np.ascontiguousarray(np.frombuffer(data, FACET, count=held, offset=START_BYTES)["corners"])


# One group each, so that the records are plain bytes: millions of tuples would cost more than the rest.
_RECORD = re.compile(rb"(?m)^[ \t]*(facet\b|vertex[ \t]+\S+[ \t]+\S+[ \t]+\S+[ \t]*$)")
_LOOSE_RECORD = re.compile(rb"(?<!\S)(facet\b|vertex\s+\S+\s+\S+\s+\S+)")
_END = re.compile(rb"(?m)^[ \t]*end[ \t]*facet\b")
_LOOSE_END = re.compile(rb"(?<!\S)endfacet\b")
_END_IN_TWO = re.compile(rb"(?<!\S)end\s+(?=facet\b)")


def text_stl_corners(data: bytes, *, source: str) -> FloatArray:
    """Return the corners of the facets of a text file, shape (m, 3, 3), in the file's unit.

    Any case, indentation and line ending will do, also several ``solid`` blocks, missing ``endsolid`` lines,
    and all of it on one line. Normals are passed over: the order of the corners says which side is outside.

    Raises
    ------
    MeshFileError
        When facets do not have three corners each, or a corner not three numbers.
    """
    text = data.lower().replace(b"\r", b"\n")
    records: list[bytes] = _RECORD.findall(text)
    end = _END
    if not any(record[:1] == b"v" for record in records):
        text = _END_IN_TWO.sub(b"end", text)
        records, end = _LOOSE_RECORD.findall(text), _LOOSE_END
    begins = np.fromiter((record[:1] == b"f" for record in records), np.bool_, len(records))
    start = np.flatnonzero(begins)
    if not len(start):
        raise MeshFileError(
            f"{source}: got a text STL without facets; at least four are needed. Export it again."
        )
    held = np.diff(np.append(start, len(records))) - 1
    if start[0] or np.any(held != 3):
        number = int(np.argmax(held != 3))
        place = f"facet {number + 1} of {len(start)} has {held[number]} whole corners"
        place = "a corner stands before the first facet" if start[0] else place
        raise MeshFileError(
            f"{source}: {place}; a facet has three, "
            "of three numbers each. The file may be cut off: export or copy it again."
        )
    ended = sum(1 for _ in end.finditer(text))
    if ended != len(start):
        raise MeshFileError(
            f"{source}: the text STL begins {len(start)} facets and ends {ended} of them. "
            "The file may be cut off: export or copy it again."
        )
    words = b" ".join([record[6:] for record in records if record[:1] == b"v"]).split()
    try:
        values = list(map(float, words))
    except ValueError:
        got = next(word for word in words if not _is_number(word)).decode("ascii", "replace")
        raise MeshFileError(
            f"{source}: got {got[:60]!r} for a coordinate; a number with a decimal point is needed. "
            "Export the file again."
        ) from None
    return np.array(values, np.float64).reshape(-1, 3, 3)


def _is_number(word: bytes) -> bool:
    try:
        float(word)
    except ValueError:
        return False
    return True
