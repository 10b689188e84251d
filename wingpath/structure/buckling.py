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
        Multiple of the load at which it happens, positive when it is told.
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
    found = _modes(held, displacement, sign=1.0 if reverse else -1.0, count=count, which="LA")
    return tuple(mode for mode in found if mode.factor > 0.0)


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
    ahead: BucklingMode | None = None
    back: BucklingMode | None = None
    for mode in _modes(held, displacement, sign=-1.0, count=2, which="BE"):
        if mode.factor > 0.0 and (ahead is None or mode.factor < ahead.factor):
            ahead = mode
        elif mode.factor < 0.0 and (back is None or -mode.factor < back.factor):
            back = BucklingMode(-mode.factor, mode.shape)
    return ahead, back


def _modes(
    held: HeldShell, displacement: FloatArray, *, sign: float, count: int, which: Literal["LA", "BE"]
) -> list[BucklingMode]:
    """Return modes at one end or both ends of the spectrum, the largest eigenvalue first."""
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
        if abs(values[index]) > NOTHING:
            shape = np.zeros(held.shell.nodes * FREEDOMS)
            shape[held.free] = vectors[:, index]
            found.append(BucklingMode(float(1.0 / values[index]), shape.reshape(-1, FREEDOMS)))
    return found
