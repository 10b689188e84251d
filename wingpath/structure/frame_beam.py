"""The tube as a straight beam between nodes of the shell."""

from __future__ import annotations

import numpy as np

from wingpath.core.arrays import FloatArray, IntArray

__all__ = ["beam_stiffness"]

CHORDWISE = np.array([1.0, 0.0, 0.0])
UPWARD = np.array([0.0, 1.0, 0.0])

PARALLEL = 1e-9
"""Sine of an angle to the chord below which a beam lies along it."""


def beam_stiffness(
    points_mm: FloatArray,
    pairs: IntArray,
    *,
    ea_n: float,
    ei_x_n_mm2: float,
    ei_y_n_mm2: float,
    gj_n_mm2: float,
) -> FloatArray:
    """Return the stiffness of beams between two nodes in the wing's frame, shape (k, 12, 12).

    Slender beams by Euler and Bernoulli; freedoms u, v, w and three rotations of each end.

    Parameters
    ----------
    points_mm : ndarray, shape (n, 3)
        Nodes [mm].
    pairs : ndarray of int, shape (k, 2)
        Ends of each beam.
    ea_n, ei_x_n_mm2, ei_y_n_mm2, gj_n_mm2 : float
        Stiffness against stretching [N], against bending up and down and fore and aft, against twisting
        [N mm2].
    """
    way = points_mm[pairs[:, 1]] - points_mm[pairs[:, 0]]
    length = np.linalg.norm(way, axis=1)
    along = way / length[:, None]
    up = np.cross(along, CHORDWISE)
    aside = np.linalg.norm(up, axis=1)
    # one that lies along the chord itself bends up and down as the others do
    up = np.where((aside < PARALLEL)[:, None], UPWARD, up / np.maximum(aside, PARALLEL)[:, None])
    axes = np.stack([along, up, np.cross(along, up)], axis=1)
    local = np.zeros((len(pairs), 12, 12))

    def put(one: int, other: int, value: FloatArray) -> None:
        local[:, one, other] = local[:, other, one] = value

    for freedom, stiffness in ((0, ea_n), (3, gj_n_mm2)):
        put(freedom, freedom, stiffness / length)
        put(freedom + 6, freedom + 6, stiffness / length)
        put(freedom, freedom + 6, -stiffness / length)
    # bending along `up` turns about the third axis, bending along the third about `up`
    for move, turn, sign, ei in ((1, 5, 1.0, ei_x_n_mm2), (2, 4, -1.0, ei_y_n_mm2)):
        shear, lever = 12.0 * ei / length**3, sign * 6.0 * ei / length**2
        put(move, move, shear)
        put(move + 6, move + 6, shear)
        put(move, move + 6, -shear)
        for end in (turn, turn + 6):
            put(move, end, lever)
            put(move + 6, end, -lever)
            put(end, end, 4.0 * ei / length)
        put(turn, turn + 6, 2.0 * ei / length)
    turned = np.zeros((len(pairs), 12, 12))
    for block in range(4):
        turned[:, 3 * block : 3 * block + 3, 3 * block : 3 * block + 3] = axes
    return np.asarray(turned.transpose(0, 2, 1) @ local @ turned)
