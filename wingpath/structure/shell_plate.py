"""The bending part of the shell triangle: a thin plate whose slopes are those of its sides.

Discrete Kirchhoff triangle: slopes vary quadratically, thin-plate conditions hold at corners and middles of
sides. Source: J.-L. Batoz, K.-J. Bathe, L.-W. Ho, A study of three-node triangular plate bending elements,
Int. J. Numer. Methods Eng. 15 (1980), 1771-1812, from memory.
"""

from __future__ import annotations

import numpy as np

from wingpath.core.arrays import FloatArray
from wingpath.structure.shell_frames import TriangleFrames

__all__ = ["plate_geometric_stiffness", "plate_stiffness"]

MIDDLES = np.array([[0.5, 0.5, 0.0], [0.0, 0.5, 0.5], [0.5, 0.0, 0.5]])
"""Middles of the sides in area coordinates: three equal weights integrate quadratics exactly."""

_NEAR, _FAR = 0.816847572980459, 0.108103018168070
SIX_POINTS = np.array(
    [np.roll([a, 0.5 * (1.0 - a), 0.5 * (1.0 - a)], turn) for a in (_NEAR, _FAR) for turn in range(3)]
)
SIX_WEIGHTS = np.repeat([0.109951743655322, 0.223381589678011], 3)
"""Six points in area coordinates that integrate quartics (D. A. Dunavant, Int. J. Numer. Methods Eng. 21
(1985), 1129-1148, from memory)."""


def _slope_map(frames: TriangleFrames) -> FloatArray:
    """Return slopes at corners and middles by the freedoms, shape (m, 6, 2, 9).

    Freedoms: deflection w and rotations about both axes of each corner; slopes are how far the normal leans
    along the axes, ``(rotation 2, -rotation 1)``. Middles follow the corners: sides 1-2, 2-3, 3-1.
    """
    count = len(frames)
    found = np.zeros((count, 6, 2, 9))
    for corner in range(3):
        found[:, corner, 0, 3 * corner + 2] = 1.0
        found[:, corner, 1, 3 * corner + 1] = -1.0
    sides = frames.sides_mm
    lengths = np.hypot(sides[..., 0], sides[..., 1])
    along = sides / lengths[..., None]
    for side in range(3):
        ends = (side, (side + 1) % 3)
        t = along[:, side]
        n = np.column_stack([-t[:, 1], t[:, 0]])
        # along the side: a cubic's slope in the middle; square to it: the mean of both ends
        lean_t = np.zeros((count, 9))
        lean_n = np.zeros((count, 9))
        for end, sign in zip(ends, (1.0, -1.0), strict=True):
            lean_t[:, 3 * end] = sign * 1.5 / lengths[:, side]
            lean_t[:, 3 * end + 1] = 0.25 * t[:, 1]
            lean_t[:, 3 * end + 2] = -0.25 * t[:, 0]
            lean_n[:, 3 * end + 1] = -0.5 * n[:, 1]
            lean_n[:, 3 * end + 2] = 0.5 * n[:, 0]
        found[:, 3 + side] = t[:, :, None] * lean_t[:, None] + n[:, :, None] * lean_n[:, None]
    return found


def _shapes(place: FloatArray) -> FloatArray:
    """Return the six quadratic shape functions at a place in area coordinates, shape (6,)."""
    return np.concatenate([place * (2.0 * place - 1.0), 4.0 * place * np.roll(place, -1)])


def _shape_slopes(place: FloatArray) -> FloatArray:
    """Return their derivatives by the area coordinates, shape (6, 3)."""
    found = np.zeros((6, 3))
    for i in range(3):
        j = (i + 1) % 3
        found[i, i] = 4.0 * place[i] - 1.0
        found[3 + i, i], found[3 + i, j] = 4.0 * place[j], 4.0 * place[i]
    return found


def plate_stiffness(frames: TriangleFrames, bending_n_mm: FloatArray) -> FloatArray:
    """Return the stiffness of every triangle in its own axes, shape (m, 9, 9): w and two rotations a corner.

    Parameters
    ----------
    frames : TriangleFrames
        The triangles.
    bending_n_mm : ndarray, shape (m, 3, 3)
        Moment a length by curvature along the axes, ``t^3 / 12`` times the plane-stress moduli [N mm].
    """
    count = len(frames)
    slopes = _slope_map(frames)
    gradients = frames.slopes_per_mm
    total = np.zeros((count, 9, 9))
    for place in MIDDLES:
        by_axis = gradients @ _shape_slopes(place).T
        lean = np.einsum("mas,msbi->mabi", by_axis, slopes, optimize=True)
        curvature = np.stack([lean[:, 0, 0], lean[:, 1, 1], lean[:, 1, 0] + lean[:, 0, 1]], axis=1)
        total += curvature.transpose(0, 2, 1) @ bending_n_mm @ curvature
    return np.asarray(total * (frames.area_mm2 / 3.0)[:, None, None])


def plate_geometric_stiffness(frames: TriangleFrames, forces_n_mm: FloatArray) -> FloatArray:
    """Return the geometric stiffness of every triangle under membrane forces, shape (m, 9, 9).

    Parameters
    ----------
    frames : TriangleFrames
        The triangles.
    forces_n_mm : ndarray, shape (m, 2, 2)
        Membrane forces along the axes, tension positive [N/mm].

    Notes
    -----
    The slopes are those of the bending part, not those of a flat triangle: with the latter the shear
    buckling of a plate comes out several per cent too high on the same mesh.
    """
    count, points = len(frames), len(SIX_POINTS)
    shapes = np.stack([_shapes(place) for place in SIX_POINTS])
    leans = (shapes @ _slope_map(frames).reshape(count, 6, 18)).reshape(count, points, 2, 9)
    pressed = (forces_n_mm[:, None] @ leans) * SIX_WEIGHTS[:, None, None]
    total = leans.reshape(count, -1, 9).transpose(0, 2, 1) @ pressed.reshape(count, -1, 9)
    return np.asarray(total * frames.area_mm2[:, None, None])
