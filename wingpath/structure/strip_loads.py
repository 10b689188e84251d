"""Loads on spanwise strips of a half wing, and what they add up to inboard."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from itertools import pairwise

import numpy as np
from numpy.typing import ArrayLike

from wingpath.core.arrays import BoolArray, FloatArray, frozen_floats
from wingpath.core.errors import InputError
from wingpath.core.tolerances import GEOMETRY_EPS_MM

__all__ = ["Axis", "StripLoads", "axis_at_mm", "no_loads", "strip_edges"]

Axis = float | Callable[[FloatArray], ArrayLike]
"""A line along the span: its place aft of the root's leading edge, or a function of z that gives it [mm]."""


def axis_at_mm(axis_mm: Axis, z_mm: ArrayLike) -> FloatArray:
    """Return the place of an axis at `z_mm`, in its shape [mm]."""
    z = np.asarray(z_mm, dtype=np.float64)
    place = axis_mm(z) if callable(axis_mm) else axis_mm
    return np.array(np.broadcast_to(np.asarray(place, dtype=np.float64), z.shape))


@dataclass(frozen=True, slots=True, eq=False)
class StripLoads:
    """One upward force for each strip, and the couples besides.

    Parameters
    ----------
    edges_mm : array_like, shape (k + 1,)
        Edges of the strips along the span, rising [mm].
    force_n : array_like, shape (k,)
        Upward force of each strip [N].
    z_mm : array_like, shape (k,)
        Where it acts along the span, inside the strip [mm].
    x_mm : array_like, shape (k,)
        Where it acts along the chord, aft of the root's leading edge [mm].
    couple_n_mm : array_like, shape (k,)
        Nose-up couple besides [N mm].
    bend_n_mm : array_like, shape (k,), optional
        Couple besides that bends the tip up [N mm]: what is left when the forces in a strip nearly cancel
        and their resultant would lie outside it. Left out: 0.

    Raises
    ------
    InputError
        When the edges do not rise, or a force lies outside its strip.
    ValueError
        On a wrong shape or on values that are not finite.
    """

    edges_mm: FloatArray
    force_n: FloatArray
    z_mm: FloatArray
    x_mm: FloatArray
    couple_n_mm: FloatArray
    bend_n_mm: FloatArray = field(default_factory=lambda: np.zeros(0))

    def __post_init__(self) -> None:
        edges = frozen_floats(self.edges_mm, (None,), name="edges_mm")
        object.__setattr__(self, "edges_mm", edges)
        count = len(edges) - 1
        if count < 1 or (np.diff(edges) <= 0.0).any():
            raise InputError("edges_mm: got places that do not rise; allowed: two or more that do")
        if not len(self.bend_n_mm):
            object.__setattr__(self, "bend_n_mm", np.zeros(count))
        for name in ("force_n", "z_mm", "x_mm", "couple_n_mm", "bend_n_mm"):
            object.__setattr__(self, name, frozen_floats(getattr(self, name), (count,), name=name))
        outside = (self.z_mm < edges[:-1] - GEOMETRY_EPS_MM) | (self.z_mm > edges[1:] + GEOMETRY_EPS_MM)
        if outside.any():
            at = int(np.argmax(outside))
            raise InputError(
                f"z_mm[{at}]: got {self.z_mm[at]:g} mm; allowed: inside its strip, "
                f"{edges[at]:g} to {edges[at + 1]:g} mm"
            )

    @property
    def total_n(self) -> float:
        """Sum of the forces [N]."""
        return float(self.force_n.sum())

    @property
    def total_bending_n_mm(self) -> float:
        """Bending moment at the inner edge of the first strip [N mm]."""
        return float(self.bending_n_mm(self.edges_mm[0]))

    def shear_n(self, z_mm: ArrayLike) -> FloatArray:
        """Return the sum of the forces outboard of `z_mm`, in its shape [N]."""
        return np.asarray(self._outboard(z_mm) @ self.force_n)

    def bending_n_mm(self, z_mm: ArrayLike) -> FloatArray:
        """Return the moment of the loads outboard of `z_mm` about the chordwise line there [N mm].

        Positive bends the tip up. At the edges of strips it is the moment of the spread load that the strips
        stand for; between them that of forces at single places.

        Parameters
        ----------
        z_mm : array_like
            Places along the span, of any shape [mm].
        """
        z = np.asarray(z_mm, dtype=np.float64)
        arms = self.z_mm - z[..., None]
        return np.asarray((self._outboard(z) * (arms * self.force_n + self.bend_n_mm)).sum(axis=-1))

    def torque_n_mm(self, z_mm: ArrayLike, axis_mm: Axis) -> FloatArray:
        """Return the nose-up moment of the loads outboard of `z_mm` [N mm].

        It is taken about the spanwise line through the place of the axis at the cut: plain statics. On a
        swept axis it therefore holds a part of the bending.

        Parameters
        ----------
        z_mm : array_like
            Places along the span, of any shape [mm].
        axis_mm : float or callable
            Place of the axis aft of the root's leading edge, or a function of z that gives it [mm].
        """
        z = np.asarray(z_mm, dtype=np.float64)
        arms = axis_at_mm(axis_mm, z)[..., None] - self.x_mm
        return np.asarray((self._outboard(z) * (arms * self.force_n + self.couple_n_mm)).sum(axis=-1))

    def scaled(self, factor: float) -> StripLoads:
        """Return the loads times `factor`, at the same places."""
        return StripLoads(
            self.edges_mm,
            factor * self.force_n,
            self.z_mm,
            self.x_mm,
            factor * self.couple_n_mm,
            factor * self.bend_n_mm,
        )

    def plus(self, other: StripLoads) -> StripLoads:
        """Return both loads together, on the same strips.

        Shear, bending and torque at the edges of strips are the sums of both. The force acts where the
        resultant does, if that lies between the two; else at the greater of the two, with the rest as
        couples.

        Parameters
        ----------
        other : StripLoads
            Loads on strips with the same edges.

        Raises
        ------
        InputError
            When the edges differ.
        """
        if not np.array_equal(self.edges_mm, other.edges_mm):
            raise InputError("strips: got loads on different strips; allowed: the same edges; cut them alike")
        force = self.force_n + other.force_n
        z = _resultant_place(self.force_n, self.z_mm, other.force_n, other.z_mm)
        x = _resultant_place(self.force_n, self.x_mm, other.force_n, other.x_mm)
        couple, bend = self.couple_n_mm + other.couple_n_mm, self.bend_n_mm + other.bend_n_mm
        for part in (self, other):
            couple = couple + part.force_n * (x - part.x_mm)
            bend = bend + part.force_n * (part.z_mm - z)
        return StripLoads(self.edges_mm, force, z, x, couple, bend)

    def _outboard(self, z_mm: ArrayLike) -> BoolArray:
        """Return which forces act outboard of each place, shape (..., k)."""
        z = np.asarray(z_mm, dtype=np.float64)[..., None]
        # a force on the very edge of its strip still belongs to that strip, not to the next
        whole = self.edges_mm[:-1] >= z
        return np.asarray(whole | ((self.z_mm > z) & (self.edges_mm[1:] > z)))


def _resultant_place(
    one_n: FloatArray, one_mm: FloatArray, other_n: FloatArray, other_mm: FloatArray
) -> FloatArray:
    """Return where the resultant of two forces acts, or the place of the greater if they are opposed."""
    greater = np.where(np.abs(one_n) >= np.abs(other_n), one_mm, other_mm)
    total = one_n + other_n
    alike = (one_n * other_n > 0.0) & (np.abs(total) > 0.0)
    share = np.divide(other_n, total, out=np.zeros_like(total), where=alike)
    return np.where(alike, one_mm + share * (other_mm - one_mm), greater)


def no_loads(edges_mm: ArrayLike) -> StripLoads:
    """Return strips without loads; their places are the middles, x is 0."""
    edges = np.asarray(edges_mm, dtype=np.float64)
    nothing = np.zeros(len(edges) - 1)
    return StripLoads(edges, nothing, 0.5 * (edges[1:] + edges[:-1]), nothing, nothing)


def strip_edges(semi_span_mm: float, breaks_mm: Iterable[float] = (), *, longest_mm: float) -> FloatArray:
    """Return the edges of strips that cover a half wing, shape (k + 1,) [mm].

    Parameters
    ----------
    semi_span_mm : float
        Span of the half wing [mm].
    breaks_mm : iterable of float
        Places that must be edges: stations, joints, ends of ailerons; those outside the wing, or within a
        millionth of a millimetre of another, are left out [mm].
    longest_mm : float
        Longest strip; between breaks all are equally long [mm].

    Raises
    ------
    InputError
        When a length is not over 0.
    """
    if not (semi_span_mm > 0.0 and longest_mm > 0.0):
        raise InputError(
            f"strips: got a half wing of {semi_span_mm:g} mm and strips of {longest_mm:g} mm; "
            "allowed: lengths over 0"
        )
    ends = [0.0]
    for place in sorted(float(place) for place in breaks_mm):
        if ends[-1] + GEOMETRY_EPS_MM < place < semi_span_mm - GEOMETRY_EPS_MM:
            ends.append(place)
    ends.append(float(semi_span_mm))
    edges = [np.zeros(1)]
    for inner, outer in pairwise(ends):
        # a hair over a whole number of strips is that number, not one more
        count = max(1, int(np.ceil((outer - inner) / longest_mm - GEOMETRY_EPS_MM)))
        edges.append(np.linspace(inner, outer, count + 1)[1:])
    return np.concatenate(edges)
