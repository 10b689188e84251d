"""Section outlines: an airfoil placed at a station, and ruled interpolation between stations.

An outline is a closed ring of ``2 n - 1`` points in the layer plane (x aft, y up), counter-clockwise:
the lower surface from the nose to the trailing edge, then the upper surface back, the nose once.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from wingpath.core.arrays import FloatArray

__all__ = ["Section", "lower_surface", "place_outline", "surface_chains", "upper_surface"]

Section = Callable[[float], FloatArray]
"""Gives the ring of a body at a height, counter-clockwise, shape (k, 2) [mm]; no points for no body."""


def place_outline(
    loop: FloatArray, *, chord_mm: float, leading_edge_mm: float, twist_deg: float
) -> FloatArray:
    """Scale a unit-chord outline, turn it about its quarter chord and move it to its station.

    Parameters
    ----------
    loop : ndarray, shape (2 n - 1, 2)
        Outline in chords.
    chord_mm : float
        Chord [mm].
    leading_edge_mm : float
        Leading edge aft of the root leading edge, before the twist [mm].
    twist_deg : float
        Nose up positive [deg].

    Returns
    -------
    ndarray, shape (2 n - 1, 2)
        Outline [mm].

    Notes
    -----
    Nose up lowers what lies aft of the quarter chord:
    ``x' = x cos t + y sin t``, ``y' = -x sin t + y cos t``.
    """
    turn = np.deg2rad(twist_deg)
    cosine, sine = np.cos(turn), np.sin(turn)
    x = (loop[:, 0] - 0.25) * chord_mm
    y = loop[:, 1] * chord_mm
    hinge = leading_edge_mm + 0.25 * chord_mm
    return np.column_stack([hinge + x * cosine + y * sine, -x * sine + y * cosine])


def lower_surface(loop: FloatArray) -> FloatArray:
    """Return the lower surface of an outline, nose to trailing edge; last axes (n, 2)."""
    points = (loop.shape[-2] + 1) // 2
    return loop[..., :points, :]


def upper_surface(loop: FloatArray) -> FloatArray:
    """Return the upper surface of an outline, nose to trailing edge; last axes (n, 2)."""
    points = (loop.shape[-2] + 1) // 2
    aft = loop[..., : points - 1 : -1, :]
    return np.concatenate([loop[..., :1, :], aft], axis=-2)


def surface_chains(ring: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Split a counter-clockwise ring at its foremost and aftmost points.

    Returns
    -------
    lower, upper : ndarray, shape (k, 2)
        Both by rising x, made monotone where rounding or an overhang of the nose makes x go back.
    """
    if np.array_equal(ring[0], ring[-1]):
        ring = ring[:-1]
    fore, aft = int(np.argmin(ring[:, 0])), int(np.argmax(ring[:, 0]))
    rolled = np.roll(ring, -fore, axis=0)
    turn = (aft - fore) % len(ring)
    lower = rolled[: turn + 1].copy()
    upper = np.vstack([rolled[turn:], rolled[:1]])[::-1].copy()
    lower[:, 0] = np.maximum.accumulate(lower[:, 0])
    upper[:, 0] = np.maximum.accumulate(upper[:, 0])
    return lower, upper
