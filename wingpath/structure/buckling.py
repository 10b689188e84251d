"""Linear buckling of a held shell: at which multiple of a load its walls wrinkle, and where."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.sparse.linalg import ArpackNoConvergence, LinearOperator, eigsh

from wingpath.core.arrays import FloatArray
from wingpath.structure.shell_model import FREEDOMS, HeldShell

__all__ = ["BucklingMode", "buckling_modes"]

TOLERANCE = 1e-4
"""Relative error of a load factor: far below what any mesh is worth."""

MOST_ROUNDS = 200
"""Rounds of the iteration; a wing takes ten, and where nothing is pressed it would never settle."""

NOTHING = 1e-12
"""A load that stiffens all walls has no factor: its largest eigenvalue is below this share of all."""


@dataclass(frozen=True, slots=True, eq=False)
class BucklingMode:
    """One way to buckle.

    Parameters
    ----------
    factor : float
        Multiple of the load at which it happens, positive.
    shape : ndarray, shape (n, 6)
        Displacements of the nodes, of any size.
    """

    factor: float
    shape: FloatArray


def buckling_modes(
    held: HeldShell, displacement: FloatArray, *, count: int = 1, reverse: bool = False
) -> tuple[BucklingMode, ...]:
    """Return the ways to buckle under a load, the lowest factor first; none where nothing is pressed.

    Parameters
    ----------
    held : HeldShell
        The shell on its supports; its factored stiffness is used again.
    displacement : ndarray, shape (n, 6)
        Displacements under the load.
    count : int
        How many are wanted.
    reverse : bool
        Whether the load acts the other way.

    Notes
    -----
    ``(K + f Kg) v = 0`` solved as ``-Kg v = (1 / f) K v`` by Lanczos iteration from a fixed start, so
    that the same model gives the same numbers.
    """
    geometric = held.shell.geometric_stiffness(displacement)[held.free][:, held.free]
    sign = 1.0 if reverse else -1.0
    size = len(held.free)
    pressed = LinearOperator((size, size), matvec=lambda v: sign * (geometric @ v), dtype=float)
    inverse = LinearOperator(
        (size, size), matvec=lambda v: held.solver(np.ascontiguousarray(v).ravel()), dtype=float
    )
    start = np.random.default_rng(20261126).standard_normal(size)
    try:
        values, vectors = eigsh(
            pressed,
            k=count,
            M=held.stiffness,
            Minv=inverse,
            which="LA",
            tol=TOLERANCE,
            ncv=min(size, max(2 * count + 8, 20)),
            v0=start,
            maxiter=MOST_ROUNDS,
        )
    except ArpackNoConvergence as error:
        values, vectors = error.eigenvalues, error.eigenvectors
    found = []
    for index in np.argsort(-values):
        if values[index] > NOTHING:
            shape = np.zeros(held.shell.nodes * FREEDOMS)
            shape[held.free] = vectors[:, index]
            found.append(BucklingMode(float(1.0 / values[index]), shape.reshape(-1, FREEDOMS)))
    return tuple(found)
