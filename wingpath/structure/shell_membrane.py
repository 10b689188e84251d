"""The membrane part of the shell triangle: nine freedoms, with a rotation about the normal at each corner.

The stiffness is a template: a basic part that passes every patch test, and a higher-order part of the
natural strains. Source: C. A. Felippa, A study of optimal membrane triangles with drilling freedoms,
Comput. Methods Appl. Mech. Eng. 192 (2003), 2125-2168; parameters "OPT", from memory.
"""

from __future__ import annotations

import numpy as np

from wingpath.core.arrays import FloatArray
from wingpath.structure.shell_frames import TriangleFrames

__all__ = ["membrane_forces", "membrane_stiffness"]

ALPHA = 1.5
"""Share of the corner rotations in the basic part."""

BETAS = np.array([[1.0, 2.0, 1.0], [0.0, 1.0, -1.0], [-1.0, -1.0, -2.0]])
"""How much of each corner's rotation bends each side, seen from the first corner."""

LEAST_BETA0 = 0.01
"""The higher-order part never vanishes, or the rotations would be free."""


def _lumping(frames: TriangleFrames) -> FloatArray:
    """Return the corner forces of unit stresses per thickness, shape (m, 9, 3) [mm].

    Along freedoms u, v and rotation of each corner; stresses along the axes and in shear.
    """
    ahead = frames.sides_mm  # from this corner to the next
    behind = np.roll(ahead, 1, axis=1)  # from the corner before to this one
    far = np.roll(ahead, -1, axis=1)  # the side opposite
    found = np.zeros((len(frames), 3, 3, 3))
    found[:, :, 0, 0] = found[:, :, 1, 2] = -far[..., 1]
    found[:, :, 0, 2] = found[:, :, 1, 1] = far[..., 0]
    found[:, :, 2, 0] = -ALPHA / 6.0 * far[..., 1] * (behind[..., 1] - ahead[..., 1])
    found[:, :, 2, 1] = ALPHA / 6.0 * far[..., 0] * (ahead[..., 0] - behind[..., 0])
    found[:, :, 2, 2] = ALPHA / 3.0 * (ahead[..., 0] * ahead[..., 1] - behind[..., 0] * behind[..., 1])
    return 0.5 * found.reshape(len(frames), 9, 3)


def membrane_stiffness(
    frames: TriangleFrames, moduli_mpa: FloatArray, *, thickness_mm: FloatArray, poisson: FloatArray
) -> FloatArray:
    """Return the stiffness of every triangle in its own axes, shape (m, 9, 9): u, v, rotation a corner.

    Parameters
    ----------
    frames : TriangleFrames
        The triangles.
    moduli_mpa : ndarray, shape (m, 3, 3)
        Plane-stress moduli along the axes [MPa].
    thickness_mm, poisson : ndarray, shape (m,)
        Thickness [mm] and Poisson ratio.
    """
    area = frames.area_mm2
    lumping = _lumping(frames)
    basic = (lumping @ moduli_mpa) @ lumping.transpose(0, 2, 1) * (thickness_mm / area)[:, None, None]
    sides = frames.sides_mm
    squares = (sides**2).sum(axis=2)
    # strain along each side from the strains along the axes, and back
    along = np.stack([sides[..., 0] ** 2, sides[..., 1] ** 2, sides[..., 0] * sides[..., 1]], axis=2)
    to_axes = np.linalg.inv(along / squares[..., None])
    natural = to_axes.transpose(0, 2, 1) @ moduli_mpa @ to_axes
    scale = (2.0 * area / 3.0)[:, None, None] / squares[..., None]
    corners = [scale * np.roll(BETAS, (turn, turn), (0, 1)) for turn in range(3)]
    inner = np.zeros_like(natural)
    for one in range(3):
        middle = 0.5 * (corners[one] + corners[(one + 1) % 3])
        inner += middle.transpose(0, 2, 1) @ natural @ middle
    inner *= (thickness_mm * area)[:, None, None]
    relative = _relative_rotation(frames)
    beta = 0.75 * np.maximum(LEAST_BETA0, 0.5 * (1.0 - 4.0 * poisson**2))
    return np.asarray(basic + beta[:, None, None] * (relative.transpose(0, 2, 1) @ inner @ relative))


def _relative_rotation(frames: TriangleFrames) -> FloatArray:
    """Return corner rotations less the mean rotation of the triangle, by its freedoms, shape (m, 3, 9)."""
    far = np.roll(frames.sides_mm, -1, axis=1) / (4.0 * frames.area_mm2)[:, None, None]
    found = np.zeros((len(frames), 3, 3, 3))
    found[..., 0] = far[:, None, :, 0]
    found[..., 1] = far[:, None, :, 1]
    found[:, [0, 1, 2], [0, 1, 2], 2] = 1.0
    return found.reshape(len(frames), 3, 9)


def membrane_forces(
    frames: TriangleFrames, moduli_mpa: FloatArray, freedoms: FloatArray, *, thickness_mm: FloatArray
) -> FloatArray:
    """Return the mean membrane forces of every triangle along its axes, shape (m, 3) [N/mm].

    Parameters
    ----------
    frames, moduli_mpa, thickness_mm
        As in :func:`membrane_stiffness`.
    freedoms : ndarray, shape (m, 9)
        u, v and rotation of each corner in the triangle's axes [mm], [rad].
    """
    strain = np.einsum("mij,mi->mj", _lumping(frames), freedoms) / frames.area_mm2[:, None]
    return np.asarray(np.einsum("mij,mj->mi", moduli_mpa, strain) * thickness_mm[:, None])
