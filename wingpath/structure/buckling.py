"""Linear buckling of a held shell: at which multiple of a load its walls wrinkle, and where."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from scipy.sparse.linalg import ArpackNoConvergence, LinearOperator, eigsh

from wingpath.core.arrays import FloatArray
from wingpath.structure.shell_model import FREEDOMS, HeldShell

__all__ = ["BucklingMode", "buckling_both_ways", "buckling_modes"]

TOLERANCE = 1e-4
"""Bound on the relative error of a load factor, far below what any mesh is worth; what comes out is closer
still. Ten times this saves a third of the time, and passed by the lowest of two modes two per cent apart."""

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
    found = _eigenpairs(held, displacement, sign=1.0 if reverse else -1.0, count=count, which="LA")
    return tuple(BucklingMode(1.0 / value, shape) for value, shape in found if value > NOTHING)


def buckling_both_ways(
    held: HeldShell, displacement: FloatArray
) -> tuple[BucklingMode | None, BucklingMode | None]:
    """Return the first ways to buckle under a load and under the same load reversed.

    Both come from one iteration, which takes two thirds of the time of one each.

    Parameters
    ----------
    held, displacement
        As for :func:`buckling_modes`.
    """
    found = _eigenpairs(held, displacement, sign=-1.0, count=2, which="BE")
    ahead = [BucklingMode(1.0 / value, shape) for value, shape in found if value > NOTHING]
    back = [BucklingMode(-1.0 / value, shape) for value, shape in found if value < -NOTHING]
    return ahead[0] if ahead else None, back[-1] if back else None


def _eigenpairs(
    held: HeldShell, displacement: FloatArray, *, sign: float, count: int, which: Literal["LA", "BE"]
) -> list[tuple[float, FloatArray]]:
    """Return eigenvalues and shapes from one end or both ends of the spectrum, the largest first."""
    geometric = held.shell.geometric_stiffness(displacement)
    size = len(held.free)
    whole = np.zeros(geometric.shape[0])

    def pressed(v: FloatArray) -> FloatArray:
        # quicker than cutting the held freedoms out of the matrix
        whole[held.free] = v.ravel()
        return np.asarray(sign * (geometric @ whole)[held.free])

    inverse = LinearOperator(
        (size, size), matvec=lambda v: held.solver(np.ascontiguousarray(v).ravel()), dtype=float
    )
    start = np.random.default_rng(20261126).standard_normal(size)
    try:
        values, vectors = eigsh(
            LinearOperator((size, size), matvec=pressed, dtype=float),
            k=count,
            M=held.stiffness,
            Minv=inverse,
            which=which,
            tol=TOLERANCE,
            ncv=min(size, max(2 * count + 8, 20)),
            v0=start,
            maxiter=MOST_ROUNDS,
        )
    except ArpackNoConvergence as error:
        values, vectors = error.eigenvalues, error.eigenvectors
    found = []
    for index in np.argsort(-values):
        shape = np.zeros(held.shell.nodes * FREEDOMS)
        shape[held.free] = vectors[:, index]
        found.append((float(values[index]), shape.reshape(-1, FREEDOMS)))
    return found
