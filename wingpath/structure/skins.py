"""The middle surfaces of both skins over the planform: what walls stand between and beams are cut from."""

from __future__ import annotations

import itertools
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import ArrayLike

from wingpath.core.arrays import FloatArray, IntArray, frozen_floats
from wingpath.geometry.outline import surface_chains
from wingpath.model.wing import Wing

__all__ = ["SkinSurfaces", "skin_surfaces"]

FRACTIONS = 161
"""Places along the chord at which a section is kept, as many as the outlines have."""

ROW_MM = 15.0
"""Sections are kept at least this close along the span; between them the surface is ruled [mm]."""

MITRE = 2.0
"""A corner of a section that is moved inward grows by at most this much."""


@dataclass(frozen=True, slots=True, eq=False)
class SkinSurfaces:
    """Upper and lower skin as heights over the planform.

    Parameters
    ----------
    z_mm : ndarray, shape (k,)
        Places of the sections along the span, rising [mm].
    fraction : ndarray, shape (n,)
        Places along each section, 0 at its foremost point, 1 at its aftmost.
    front_mm, rear_mm : ndarray, shape (k,)
        x of the foremost and the aftmost point of each section [mm].
    upper_mm, lower_mm : ndarray, shape (k, n)
        Heights of the skins [mm].
    """

    z_mm: FloatArray
    fraction: FloatArray
    front_mm: FloatArray
    rear_mm: FloatArray
    upper_mm: FloatArray
    lower_mm: FloatArray

    def __post_init__(self) -> None:
        rows, places = len(self.z_mm), len(self.fraction)
        for name in ("z_mm", "front_mm", "rear_mm"):
            object.__setattr__(self, name, frozen_floats(getattr(self, name), (rows,), name=name))
        object.__setattr__(self, "fraction", frozen_floats(self.fraction, (places,), name="fraction"))
        for name in ("upper_mm", "lower_mm"):
            object.__setattr__(self, name, frozen_floats(getattr(self, name), (rows, places), name=name))

    @property
    def end_mm(self) -> float:
        """Span of the outermost section [mm]."""
        return float(self.z_mm[-1])

    def front_at_mm(self, z_mm: ArrayLike) -> FloatArray:
        """Return x of the foremost point at `z_mm` [mm]."""
        return np.asarray(np.interp(np.asarray(z_mm, float), self.z_mm, self.front_mm))

    def rear_at_mm(self, z_mm: ArrayLike) -> FloatArray:
        """Return x of the aftmost point at `z_mm` [mm]."""
        return np.asarray(np.interp(np.asarray(z_mm, float), self.z_mm, self.rear_mm))

    def length_at_mm(self, z_mm: ArrayLike) -> FloatArray:
        """Return the length of the section along x at `z_mm` [mm]."""
        return np.asarray(self.rear_at_mm(z_mm) - self.front_at_mm(z_mm))

    def fraction_of(self, x_mm: ArrayLike, z_mm: ArrayLike) -> FloatArray:
        """Return where points of the planform lie along their section; may be outside 0 to 1."""
        front = self.front_at_mm(z_mm)
        return np.asarray((np.asarray(x_mm, float) - front) / (self.rear_at_mm(z_mm) - front))

    def x_of_mm(self, fraction: ArrayLike, z_mm: ArrayLike) -> FloatArray:
        """Return x of places along their sections [mm]."""
        return np.asarray(self.front_at_mm(z_mm) + np.asarray(fraction, float) * self.length_at_mm(z_mm))

    def heights_mm(self, fraction: ArrayLike, z_mm: ArrayLike) -> tuple[FloatArray, FloatArray]:
        """Return the heights of the upper and the lower skin [mm], linear between sections and places.

        Parameters
        ----------
        fraction, z_mm : array_like, equal shapes
            Places along the sections and along the span [mm]; beyond the ends the nearest holds.
        """
        share, z = np.broadcast_arrays(np.asarray(fraction, float), np.asarray(z_mm, float))
        row, part = _place(self.z_mm, z)
        column, along = _place(self.fraction, share)
        found = []
        for surface in (self.upper_mm, self.lower_mm):
            inner = surface[row, column] * (1.0 - along) + surface[row, column + 1] * along
            outer = surface[row + 1, column] * (1.0 - along) + surface[row + 1, column + 1] * along
            found.append(np.asarray(inner * (1.0 - part) + outer * part))
        return found[0], found[1]

    def section(self, z_mm: float) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Return x and both heights of the section at `z_mm`, each of shape (n,) [mm]."""
        upper, lower = self.heights_mm(self.fraction, np.full(len(self.fraction), z_mm))
        return self.x_of_mm(self.fraction, z_mm), upper, lower


def _place(knots: FloatArray, values: FloatArray) -> tuple[IntArray, FloatArray]:
    """Return the interval of each value and where in it the value lies, 0 to 1."""
    index = np.clip(np.searchsorted(knots, values, side="right") - 1, 0, len(knots) - 2)
    share = (values - knots[index]) / (knots[index + 1] - knots[index])
    return np.asarray(index, np.int64), np.clip(share, 0.0, 1.0)


def skin_surfaces(wing: Wing, *, end_mm: float, inset_mm: float) -> SkinSurfaces:
    """Return the middle surfaces of the skins of a wing.

    Parameters
    ----------
    wing : Wing
        The half wing.
    end_mm : float
        Where the skins end along the span [mm].
    inset_mm : float
        How far the middle of the bead lies inside the outline: half a bead [mm].
    """
    between = [z for z in wing.station_spans_mm if 0.0 < z < end_mm - 1e-6]
    knots = np.array([0.0, *between, end_mm])
    rows = [np.linspace(a, b, 2 + int((b - a) / ROW_MM))[:-1] for a, b in itertools.pairwise(knots)]
    z = np.append(np.concatenate(rows), end_mm)
    fraction = 0.5 * (1.0 - np.cos(np.linspace(0.0, np.pi, FRACTIONS)))
    front, rear = np.empty(len(z)), np.empty(len(z))
    upper, lower = np.empty((len(z), FRACTIONS)), np.empty((len(z), FRACTIONS))
    for row, loop in enumerate(wing.loops(z)):
        below, above = surface_chains(_moved_in(loop, inset_mm))
        front[row], rear[row] = below[0, 0], below[-1, 0]
        x = front[row] + fraction * (rear[row] - front[row])
        lower[row] = np.interp(x, below[:, 0], below[:, 1])
        upper[row] = np.maximum(np.interp(x, above[:, 0], above[:, 1]), lower[row])
    return SkinSurfaces(z, fraction, front, rear, upper, lower)


def _moved_in(loop: FloatArray, inset_mm: float) -> FloatArray:
    """Return the largest ring left of a section that is moved inward, as the path of the bead is."""
    if inset_mm <= 0.0:
        return loop
    inner = shapely.buffer(shapely.Polygon(loop), -inset_mm, join_style="mitre", mitre_limit=MITRE)
    largest = max(shapely.get_parts(inner), key=lambda part: part.area, default=None)
    if largest is None or largest.is_empty:
        return loop
    return np.asarray(shapely.get_coordinates(shapely.orient_polygons(largest).exterior))
