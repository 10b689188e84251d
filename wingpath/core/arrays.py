"""Read-only, checked numpy arrays, the only kind that values hold."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

__all__ = ["BoolArray", "FloatArray", "IntArray", "frozen_floats", "frozen_ints", "runs_of"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
BoolArray = NDArray[np.bool_]


def _checked(array: NDArray[Any], shape: tuple[int | None, ...], name: str) -> None:
    if array.ndim != len(shape) or any(
        want is not None and want != got for want, got in zip(shape, array.shape, strict=True)
    ):
        wanted = ", ".join("any" if want is None else str(want) for want in shape)
        raise ValueError(f"{name}: got an array of shape {array.shape}, expected ({wanted})")


def frozen_floats(values: ArrayLike, shape: tuple[int | None, ...], *, name: str) -> FloatArray:
    """Copy `values` to a read-only array of finite floats.

    Parameters
    ----------
    values : array_like
        The values.
    shape : tuple of int or None
        Wanted shape; None stands for any length.
    name : str
        Name used in the error.

    Raises
    ------
    ValueError
        On a wrong shape, or on a value that is not finite.
    """
    array = np.array(values, dtype=np.float64)
    _checked(array, shape, name)
    if not np.isfinite(array).all():
        raise ValueError(f"{name}: holds values that are not finite")
    array.setflags(write=False)
    return array


def frozen_ints(values: ArrayLike, shape: tuple[int | None, ...], *, name: str) -> IntArray:
    """Copy `values` to a read-only array of integers; see :func:`frozen_floats`."""
    array = np.array(values, dtype=np.int64)
    _checked(array, shape, name)
    array.setflags(write=False)
    return array


def runs_of(mask: BoolArray) -> tuple[IntArray, IntArray]:
    """Return where every run of true values begins and where it has ended, the latter not included.

    Parameters
    ----------
    mask : ndarray of bool, shape (n,)
        The values.
    """
    edges = np.flatnonzero(np.diff(np.concatenate([[False], mask, [False]]).astype(np.int8)))
    return edges[::2], edges[1::2]
