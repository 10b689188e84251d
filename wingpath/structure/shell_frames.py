"""Local frames of flat triangles: axes, plane coordinates, area, and gradients of the area coordinates."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from wingpath.core.arrays import FloatArray, IntArray, frozen_floats, frozen_ints
from wingpath.core.errors import InputError

__all__ = ["TriangleFrames"]

LAYER_NORMAL = np.array([0.0, 0.0, 1.0])
"""The build direction, which is the span."""

FLAT_IN_LAYER = 1e-6
"""A triangle whose plane leans less than this lies inside one layer; its first axis is then the chord's."""

NEEDLE = 1e-12
"""A triangle with less area than this share of its longest side squared is a line."""


@dataclass(frozen=True, slots=True, eq=False)
class TriangleFrames:
    """Triangles of a shell, each with axes of its own.

    The first axis lies in the triangle and in the layer, along the bead; the second in the triangle, across
    the layers; the third is the normal of the corners' order. So the wall's main directions are the axes.

    Parameters
    ----------
    points_mm : ndarray, shape (n, 3)
        Nodes [mm].
    triangles : ndarray of int, shape (m, 3)
        Corners.
    axes : ndarray, shape (m, 3, 3)
        Rows are the axes; worked out.
    flat_mm : ndarray, shape (m, 3, 2)
        Corners in the triangle's own plane, from the first one [mm]; worked out.
    area_mm2 : ndarray, shape (m,)
        Areas [mm2]; worked out.

    Raises
    ------
    InputError
        When a triangle has no area.
    """

    points_mm: FloatArray
    triangles: IntArray
    axes: FloatArray = field(init=False)
    flat_mm: FloatArray = field(init=False)
    area_mm2: FloatArray = field(init=False)

    def __post_init__(self) -> None:
        points = frozen_floats(self.points_mm, (None, 3), name="points_mm")
        triangles = frozen_ints(self.triangles, (None, 3), name="triangles")
        corner = points[triangles]
        across = np.cross(corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0])
        twice = np.linalg.norm(across, axis=1)
        longest = np.linalg.norm(corner - np.roll(corner, 1, axis=1), axis=2).max(axis=1, initial=0.0)
        thin = np.flatnonzero(twice <= NEEDLE * longest**2)
        if len(thin):
            raise InputError(f"shell: got a triangle without area, number {thin[0]}; every one needs some")
        normal = across / twice[:, None]
        first = np.cross(LAYER_NORMAL, normal)
        size = np.linalg.norm(first, axis=1)
        lies = size < FLAT_IN_LAYER
        first[lies], size[lies] = [1.0, 0.0, 0.0], 1.0
        first /= size[:, None]
        axes = np.stack([first, np.cross(normal, first), normal], axis=1)
        flat = np.einsum("mij,maj->mai", axes[:, :2], corner - corner[:, :1])
        for name, value in (("points_mm", points), ("triangles", triangles)):
            object.__setattr__(self, name, value)
        for name, array in (("axes", axes), ("flat_mm", flat), ("area_mm2", 0.5 * twice)):
            object.__setattr__(self, name, frozen_floats(array, array.shape, name=name))

    def __len__(self) -> int:
        return len(self.triangles)

    @property
    def sides_mm(self) -> FloatArray:
        """Vectors from each corner to the next in the plane, shape (m, 3, 2) [mm]."""
        return np.asarray(np.roll(self.flat_mm, -1, axis=1) - self.flat_mm)

    @property
    def slopes_per_mm(self) -> FloatArray:
        """Gradients of the area coordinates, shape (m, 2, 3) [1/mm]: row 0 along the first axis."""
        opposite = np.roll(self.sides_mm, -1, axis=1)
        turned = np.stack([-opposite[..., 1], opposite[..., 0]], axis=1)
        return np.asarray(turned / (2.0 * self.area_mm2)[:, None, None])
