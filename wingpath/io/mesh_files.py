"""Reading a mesh from an STL, 3MF or OBJ file, whatever its name says."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Literal, TypeVar

import numpy as np
from numpy.typing import NDArray

from wingpath.core.arrays import FloatArray, IntArray
from wingpath.core.errors import FileAccessError, InputError, MeshFileError
from wingpath.geometry.mesh import Mesh
from wingpath.geometry.welding import welded_points
from wingpath.io.obj import has_obj_corners, read_obj
from wingpath.io.reading import open_plain
from wingpath.io.stl import binary_stl_corners, is_binary_stl, text_stl_corners
from wingpath.io.threemf_reader import read_3mf

__all__ = ["UP_AXES", "read_mesh"]

_Float = TypeVar("_Float", np.float32, np.float64)

UpAxis = Literal["x", "y", "z"]

UP_AXES: dict[str, tuple[int, int, int]] = {"x": (1, 2, 0), "y": (2, 0, 1), "z": (0, 1, 2)}
"""For each axis of the file that is to become z: which of the file's axes become x, y and z. All three are
turns; a mirror image would make a right wing of a left one."""

FARTHEST_MM = 1e7
"""A coordinate beyond 10 km is no part of a model aircraft, and arithmetic there begins to lose digits."""

_OTHER_FILES = {
    b"ISO-10303-21": "a STEP file",
    b"ply": "a PLY file",
    b"glTF": "a glTF file",
    b"%PDF": "a PDF file",
    b"\x89PNG": "a picture",
    b"\xff\xd8\xff": "a picture",
    b"<?xml": "an XML file",
    b"<!DOCTYPE": "a web page",
    b"<html": "a web page",
}


def read_mesh(path: Path, *, scale: float = 1.0, up: UpAxis = "z") -> Mesh:
    """Read a mesh.

    Parameters
    ----------
    path : Path
        An STL (binary or text), 3MF or OBJ file. What it holds decides, before the ending of its name does.
    scale : float
        Factor for all coordinates, for example 25.4 for a file in inches. 3MF files name their unit, which
        is applied first.
    up : {"x", "y", "z"}
        Axis of the file that is the build direction. The mesh is turned so that it becomes z.

    Returns
    -------
    Mesh
        Corners with equal coordinates are one vertex. Nothing else is repaired.

    Raises
    ------
    FileAccessError
        When the file cannot be read.
    MeshFileError
        When it holds no mesh.
    InputError
        When `scale` or `up` is not allowed.
    """
    if not (np.isfinite(scale) and scale > 0.0):
        raise InputError(
            f"scale: got {scale}; allowed: a number above 0, for example 25.4 for a file in inches"
        )
    if up not in UP_AXES:
        raise InputError(
            f"up: got {up!r}; allowed: x, y or z, the axis of the file that is the build direction"
        )
    path = Path(path)
    try:
        with open_plain(path) as stream:
            data = stream.read()
    except (OSError, ValueError) as error:  # ValueError: a name that no file can have
        reason = getattr(error, "strerror", None) or error
        raise FileAccessError(
            f"{path}: cannot be read: {reason}. Check the name and the permissions."
        ) from error
    try:
        points, faces = _parsed(data, path)
    except MemoryError as error:
        raise MeshFileError(
            f"{path}: got more than fits into memory. Reduce the number of triangles."
        ) from error
    return _checked(points, faces, path, scale=float(scale), up=up)


def _parsed(data: bytes, path: Path) -> tuple[FloatArray, IntArray]:
    """Return corner points in file coordinates, and faces."""
    source, ending = str(path), path.suffix.lower()
    if not data.strip(b"\0 \t\r\n"):
        raise MeshFileError(
            f"{source}: the file is empty; an STL, 3MF or OBJ file is needed. Export it again."
        )
    if data[:2] == b"PK":
        return _welded(*read_3mf(data, source=source))
    if is_binary_stl(data):
        return _soup(binary_stl_corners(data, source=source))
    if _is_text(data):
        text = _as_ascii(data)
        if re.search(rb"(?i)\bfacet\s+normal\b", text):
            return _soup(text_stl_corners(text, source=source))
        if has_obj_corners(text):
            return _welded(*read_obj(text, source=source))
        for mark, what in _OTHER_FILES.items():
            if text.lstrip().startswith(mark):
                raise _no_mesh(source, what)
        if ending == ".stl" and text.lstrip()[:5].lower() == b"solid":
            return _soup(text_stl_corners(text, source=source))
        raise _no_mesh(source, "text without corners and faces")
    for mark, what in _OTHER_FILES.items():
        if data.startswith(mark):
            raise _no_mesh(source, what)
    if ending == ".stl":
        return _soup(binary_stl_corners(data, source=source))
    if ending == ".3mf":
        raise _no_mesh(source, "a file that is no zip package")
    raise _no_mesh(source, "bytes of another kind")


def _no_mesh(source: str, what: str) -> MeshFileError:
    remedy = "Export the part as one of these."
    if source.lower().endswith(".toml"):
        remedy = "If this is the spec of a wing, `wingpath build` makes the part from it and judges it."
    return MeshFileError(f"{source}: got {what}; an STL, 3MF or OBJ file is needed. {remedy}")


def _is_text(data: bytes) -> bool:
    """Return whether the first kilobytes hold text: no control characters but blanks and line ends."""
    head = data[:4096]
    if head[:2] in (b"\xff\xfe", b"\xfe\xff"):
        return True
    return not re.search(rb"[\x00-\x08\x0e-\x19\x1b-\x1f]", head)


def _as_ascii(data: bytes) -> bytes:
    """Drop a byte order mark, and halve text that has two bytes a character."""
    if data[:2] in (b"\xff\xfe", b"\xfe\xff"):
        return data.decode("utf-16", "replace").encode("utf-8", "replace")
    return data.removeprefix(b"\xef\xbb\xbf")


def _welded(points: FloatArray, faces: IntArray) -> tuple[FloatArray, IntArray]:
    """Merge equal corners, and drop those that no face uses."""
    used = np.zeros(len(points), np.bool_)
    used[faces] = True
    unique, inverse = welded_points(points[used])
    number = np.zeros(len(points), np.int64)
    number[used] = inverse
    return unique, number[faces]


def _soup(corners: NDArray[_Float]) -> tuple[FloatArray, IntArray]:
    """Give triangles that share nothing corner numbers; equal corners are one."""
    points, inverse = welded_points(corners.reshape(-1, 3))
    return points.astype(np.float64), inverse.reshape(-1, 3)


def _checked(points: FloatArray, faces: IntArray, path: Path, *, scale: float, up: UpAxis) -> Mesh:
    """Return the mesh turned and scaled, after a look at its numbers."""
    if not len(faces):
        raise MeshFileError(
            f"{path}: got no triangles; at least four are needed for a solid. Export it again."
        )
    reach = np.abs(points).max(axis=1)
    for bad, what, remedy in (
        (~np.isfinite(reach), "that are not finite numbers", "Export the file again."),
        (reach > FARTHEST_MM / scale, f"beyond {FARTHEST_MM:g} mm", "Check the unit and --scale."),
    ):
        hit = bad[faces].any(axis=1) if bad.any() else bad[:0]
        if hit.any():
            raise MeshFileError(
                f"{path}: got coordinates {what} in {np.count_nonzero(hit)} of {len(faces)} triangles, "
                f"first in triangle {int(np.argmax(hit)) + 1}. {remedy}"
            )
    return Mesh(points[:, UP_AXES[up]] * scale, faces, name=path.name)
