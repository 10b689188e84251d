"""Ruled surfaces between two curves: skins and trailing edges as CAD programs want them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from scipy.interpolate import BSpline, make_interp_spline, make_lsq_spline

from wingpath.build.surfaces import RuledStrip
from wingpath.core.arrays import FloatArray, frozen_floats

__all__ = ["SKIN_FIT_MM", "Ruled", "ruled_surfaces"]

SKIN_FIT_MM = 0.001
"""The curves of a skin pass its points within this: half the chord error of 161 points a side [mm]."""

SPANS = (12, 24, 48, 96)
"""Polynomial pieces of a skin's curve: as few as will do, because CAD programs cut few poles much faster."""

DEGREE = 3

END_WEIGHT = 1e4
"""Weight of the end points of a fit, which are put exactly into place afterwards."""

SEEDS = 97
"""Places along a curve at which the search for the nearest one begins."""

SEED_ROWS = 20000
"""Points that are sought at a time: bounds the memory that it takes."""

NEWTON_ROUNDS, NEWTON_END = 20, 1e-14


@dataclass(frozen=True, slots=True, eq=False)
class Ruled:
    """Straight lines between points of equal parameter on two B-spline curves in layer planes.

    Parameters
    ----------
    knots : ndarray, shape (k + degree + 1,)
        Knots of both curves, from 0; about as long as the curve [mm].
    near, far : ndarray, shape (k, 2)
        Their poles (x, y) [mm].
    near_mm, far_mm : float
        Their heights; the second parameter of the surface is z [mm].
    degree : int
        Of the curves.
    """

    knots: FloatArray
    near: FloatArray
    far: FloatArray
    near_mm: float
    far_mm: float
    degree: int
    _curves: tuple[BSpline, BSpline, BSpline] = field(init=False, repr=False)

    def __post_init__(self) -> None:
        for name in ("near", "far"):
            object.__setattr__(self, name, frozen_floats(getattr(self, name), (None, 2), name=name))
        object.__setattr__(self, "knots", frozen_floats(self.knots, (None,), name="knots"))
        curve = BSpline(self.knots, np.hstack([self.near, self.far]), self.degree)
        bend = curve.derivative(2) if self.degree > 1 else BSpline(self.knots, 0.0 * curve.c, self.degree)
        object.__setattr__(self, "_curves", (curve, curve.derivative(1), bend))

    @property
    def length(self) -> float:
        """Last knot; the first is 0."""
        return float(self.knots[-1])

    def section_poles(self, end: int) -> FloatArray:
        """Return the poles of the curve at an end, 0 near or 1 far, in space, shape (k, 3) [mm]."""
        poles, height = ((self.near, self.near_mm), (self.far, self.far_mm))[end]
        return np.column_stack([poles, np.full(len(poles), height)])

    def end_at(self, z_mm: float, within_mm: float) -> int | None:
        """Return which end lies at a height, or None."""
        for end, height in enumerate((self.near_mm, self.far_mm)):
            if abs(height - z_mm) < within_mm:
                return end
        return None

    def parameters(self, points: FloatArray) -> FloatArray:
        """Return the parameters (u, z) of the nearest place inside each point's layer, shape (k, 2)."""
        share = self._share(points)
        u = self._seeds(points, share)
        for _ in range(NEWTON_ROUNDS):
            place, along, bend = (self._blend(curve(u), share) for curve in self._curves)
            off = place - points[:, :2]
            steep = np.einsum("ij,ij->i", along, along)
            slope = np.maximum(steep + np.einsum("ij,ij->i", off, bend), 0.5 * steep)
            step = np.einsum("ij,ij->i", off, along) / np.where(slope > 0.0, slope, 1.0)
            after = np.clip(u - step, 0.0, self.length)
            moved = float(np.abs(after - u).max(initial=0.0))
            u = after
            if moved < NEWTON_END * self.length:
                break
        return np.column_stack([u, points[:, 2]])

    def at(self, parameters: FloatArray) -> FloatArray:
        """Return points of the surface, shape (k, 3) [mm]."""
        u, z = parameters.T
        share = ((z - self.near_mm) / (self.far_mm - self.near_mm))[:, None]
        return np.column_stack([self._blend(self._curves[0](u), share), z])

    def offsets(self, points: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return how far points lie off the surface inside their layer, and the gradient of that.

        Beyond the ends of the curves their tangents go on. The gradient points away from the solid for
        neither or both skins; its sense is that of ``along x outboard``.
        """
        share = self._share(points)
        u = self.parameters(points)[:, 0]
        place, along = (self._blend(curve(u), share) for curve in self._curves[:2])
        both = self._curves[0](u)
        lean = (both[:, 2:] - both[:, :2]) / (self.far_mm - self.near_mm)
        size = np.linalg.norm(along, axis=1)[:, None]
        across = np.column_stack([along[:, 1], -along[:, 0]]) / size
        off = np.einsum("ij,ij->i", points[:, :2] - place, across)
        gradient = np.column_stack([across, -np.einsum("ij,ij->i", lean, across)])
        return off, gradient

    def _share(self, points: FloatArray) -> FloatArray:
        return np.asarray((points[:, 2] - self.near_mm) / (self.far_mm - self.near_mm))[:, None]

    @staticmethod
    def _blend(both: FloatArray, share: FloatArray) -> FloatArray:
        return np.asarray(both[:, :2] * (1.0 - share) + both[:, 2:] * share)

    def _seeds(self, points: FloatArray, share: FloatArray) -> FloatArray:
        u = np.linspace(0.0, self.length, SEEDS)
        both = self._curves[0](u)
        nearest = np.empty(len(points))
        for first in range(0, len(points), SEED_ROWS):
            rows = slice(first, first + SEED_ROWS)
            part = share[rows, :, None]
            line = both[None, :, :2] * (1.0 - part) + both[None, :, 2:] * part
            away = np.sum((line - points[rows, None, :2]) ** 2, axis=2)
            nearest[rows] = u[np.argmin(away, axis=1)]
        return nearest


def ruled_surfaces(strips: Sequence[RuledStrip]) -> tuple[Ruled, ...]:
    """Return the surfaces of strips: through their corners, or fitted to their points within SKIN_FIT_MM.

    Points of an outline follow each other at equal steps of one parameter
    (:func:`wingpath.geometry.curve.chord_stations`), in which nose and trailing edge are both smooth. All get
    the same knots in it, so that the skins of neighbouring bays end in the very same curve.
    """
    for spans in (*SPANS, None):
        made = [_fitted(strip, spans) for strip in strips]
        if spans is None or max((off for _, off in made), default=0.0) < SKIN_FIT_MM:
            break
    return tuple(surface for surface, _ in made)


def _fitted(strip: RuledStrip, spans: int | None) -> tuple[Ruled, float]:
    """Return a surface whose curves have so many pieces, or pass all points, and how far off it is [mm]."""
    both = np.hstack([strip.near, strip.far])
    length = float(np.linalg.norm(np.diff(strip.near, axis=0), axis=1).sum())
    u = np.linspace(0.0, length, len(both))
    if len(both) == 2 or spans is None or spans + DEGREE > len(both):
        return _ruled(strip, make_interp_spline(u, both, k=min(DEGREE, len(both) - 1))), 0.0
    weights = np.ones(len(both))
    weights[[0, -1]] = END_WEIGHT
    inner = np.linspace(0.0, length, spans + 1)
    knots = np.concatenate([[0.0] * DEGREE, inner, [length] * DEGREE])
    poles = make_lsq_spline(u, both, knots, k=DEGREE, w=weights).c.copy()
    poles[0], poles[-1] = both[0], both[-1]
    spline = BSpline(knots, poles, DEGREE)
    off = spline(u) - both
    return _ruled(strip, spline), float(max(np.hypot(*off[:, :2].T).max(), np.hypot(*off[:, 2:].T).max()))


def _ruled(strip: RuledStrip, spline: BSpline) -> Ruled:
    return Ruled(
        np.asarray(spline.t), spline.c[:, :2], spline.c[:, 2:], strip.near_mm, strip.far_mm, int(spline.k)
    )
