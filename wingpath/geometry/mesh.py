"""The triangle mesh: what the solid engine makes, what files hold, what the slicer cuts."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from wingpath.core.arrays import FloatArray, IntArray, frozen_floats, frozen_ints

__all__ = ["Mesh"]


@dataclass(frozen=True, slots=True, eq=False)
class Mesh:
    """Triangles in space, read-only.

    Parameters
    ----------
    vertices : array_like, shape (n, 3)
        Corner points [mm].
    faces : array_like of int, shape (m, 3)
        Corner numbers of each triangle, counter-clockwise seen from outside.
    surfaces : array_like of int, shape (m,), optional
        Number of the exact surface that each triangle lies on; all 0 when unknown.
    name : str
        Where it came from, for messages.

    Raises
    ------
    ValueError
        On wrong shapes, values that are not finite, or corner numbers out of range.
    """

    vertices: FloatArray
    faces: IntArray
    surfaces: IntArray | None = None
    name: str = "mesh"

    def __post_init__(self) -> None:
        vertices = frozen_floats(self.vertices, (None, 3), name="vertices")
        faces = frozen_ints(self.faces, (None, 3), name="faces")
        if len(faces) and (faces.min() < 0 or faces.max() >= len(vertices)):
            raise ValueError(f"faces: corner numbers must lie in 0..{len(vertices) - 1}")
        surfaces = np.zeros(len(faces), np.int64) if self.surfaces is None else self.surfaces
        object.__setattr__(self, "vertices", vertices)
        object.__setattr__(self, "faces", faces)
        object.__setattr__(self, "surfaces", frozen_ints(surfaces, (len(faces),), name="surfaces"))

    @property
    def corners(self) -> FloatArray:
        """Corner points of every triangle, shape (m, 3, 3) [mm]."""
        return self.vertices[self.faces]

    @property
    def bounds(self) -> FloatArray:
        """Lowest and highest x, y, z, shape (2, 3) [mm]."""
        return np.stack([self.vertices.min(axis=0), self.vertices.max(axis=0)])

    @property
    def volume_mm3(self) -> float:
        """Signed volume enclosed, by the divergence theorem [mm3]; negative when inside out."""
        a, b, c = np.moveaxis(self.corners - self.vertices.mean(axis=0), 1, 0)
        return float(np.einsum("ij,ij->", a, np.cross(b, c)) / 6.0)

    def mirrored_y(self) -> Mesh:
        """Return the mirror image y -> -y with the surface still facing outward."""
        return Mesh(self.vertices * (1.0, -1.0, 1.0), self.faces[:, ::-1], self.surfaces, self.name)

    def moved(self, offset_mm: tuple[float, float, float]) -> Mesh:
        """Return the mesh moved by `offset_mm`."""
        return Mesh(self.vertices + np.asarray(offset_mm), self.faces, self.surfaces, self.name)

    def scaled(self, factor: float) -> Mesh:
        """Return the mesh scaled about the origin by a positive `factor`."""
        return Mesh(self.vertices * factor, self.faces, self.surfaces, self.name)
