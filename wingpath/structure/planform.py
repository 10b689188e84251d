"""The planform of a half wing: chords and leading edges along the span, and the mean chord."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from wingpath.core.arrays import FloatArray, frozen_floats
from wingpath.core.errors import InputError
from wingpath.model.wing import Wing

__all__ = ["Planform", "planform_of_wing", "strip_integrals"]

QUARTER = 0.25
"""Where the lift of a thin section acts, as a fraction of the chord: thin-airfoil theory."""

GAUSS_PLACE = 1.0 / np.sqrt(3.0)
"""Place of the two points of Gauss on -1..1, with weight 1 each: exact for cubics."""


def strip_integrals(
    edges_mm: ArrayLike, breaks_mm: ArrayLike, values: Callable[[FloatArray], FloatArray]
) -> FloatArray:
    """Return the integrals of a function over strips of the span, shape (k,) [unit of the values x mm].

    Exact when the function is a cubic, or less, between neighbouring breaks.

    Parameters
    ----------
    edges_mm : array_like, shape (k + 1,)
        Edges of the strips, rising [mm].
    breaks_mm : array_like, shape (n,)
        Where the function has corners or jumps, in any order [mm].
    values : callable
        Gives the function at places, shape (p,) to shape (p,).
    """
    edges = np.asarray(edges_mm, dtype=np.float64)
    breaks = np.asarray(breaks_mm, dtype=np.float64)
    ends = np.union1d(edges, breaks[(breaks > edges[0]) & (breaks < edges[-1])])
    middle, half = 0.5 * (ends[1:] + ends[:-1]), 0.5 * np.diff(ends)
    pieces = half * (values(middle - GAUSS_PLACE * half) + values(middle + GAUSS_PLACE * half))
    strip = np.searchsorted(edges, middle, side="right") - 1
    return np.bincount(strip, weights=pieces, minlength=len(edges) - 1).astype(np.float64)


@dataclass(frozen=True, slots=True, eq=False)
class Planform:
    """A half wing seen from above, straight between its stations.

    Parameters
    ----------
    z_mm : array_like, shape (n,)
        Places of the stations along the span, from 0 at the root, rising [mm].
    leading_edge_mm : array_like, shape (n,)
        How far aft of the root's leading edge each leading edge lies [mm].
    chord_mm : array_like, shape (n,)
        Chords, 0 or more and not all of them 0 [mm].

    Raises
    ------
    InputError
        When the stations do not rise from 0, or the wing has no area.
    ValueError
        On a wrong shape or on values that are not finite.
    """

    z_mm: FloatArray
    leading_edge_mm: FloatArray
    chord_mm: FloatArray

    def __post_init__(self) -> None:
        z = frozen_floats(self.z_mm, (None,), name="z_mm")
        object.__setattr__(self, "z_mm", z)
        for name in ("leading_edge_mm", "chord_mm"):
            object.__setattr__(self, name, frozen_floats(getattr(self, name), z.shape, name=name))
        if len(z) < 2 or z[0] != 0.0 or (np.diff(z) <= 0.0).any():
            raise InputError(
                f"z_mm: got {_listed(z)}; allowed: two or more places that rise from 0 at the root"
            )
        if (self.chord_mm < 0.0).any() or not self.chord_mm.any():
            raise InputError(
                f"chord_mm: got {_listed(self.chord_mm)}; allowed: chords of 0 or more, not all of them 0"
            )

    @property
    def semi_span_mm(self) -> float:
        """Span of the half wing [mm]."""
        return float(self.z_mm[-1])

    @property
    def span_mm(self) -> float:
        """Span of both halves [mm]."""
        return 2.0 * self.semi_span_mm

    @property
    def area_mm2(self) -> float:
        """Area of both halves [mm2]."""
        return 2.0 * self._integral(self.chord_at_mm)

    @property
    def mean_chord_mm(self) -> float:
        """Mean aerodynamic chord, ``integral of c^2 over integral of c`` [mm].

        For a trapezoid ``2/3 c_root (1 + l + l^2) / (1 + l)``: D. P. Raymer, *Aircraft Design: A Conceptual
        Approach*, from memory.
        """
        return self._weighted(self.chord_at_mm)

    @property
    def geometric_mean_chord_mm(self) -> float:
        """Area over span [mm]."""
        return self.area_mm2 / self.span_mm

    @property
    def mac_span_mm(self) -> float:
        """Place of the mean aerodynamic chord along the span: the centroid of the area [mm]."""
        return self._weighted(lambda z: z)

    @property
    def mac_leading_edge_mm(self) -> float:
        """Leading edge of the mean aerodynamic chord, aft of the root's [mm]."""
        return self._weighted(self.leading_edge_at_mm)

    @property
    def mac_quarter_chord_mm(self) -> float:
        """Quarter point of the mean aerodynamic chord, aft of the root's leading edge [mm]."""
        return self.mac_leading_edge_mm + QUARTER * self.mean_chord_mm

    @property
    def aspect_ratio(self) -> float:
        """Span squared over area."""
        return self.span_mm**2 / self.area_mm2

    @property
    def taper(self) -> float:
        """Tip chord over root chord; infinite for a pointed root."""
        root, tip = float(self.chord_mm[0]), float(self.chord_mm[-1])
        return tip / root if root > 0.0 else float("inf")

    def chord_at_mm(self, z_mm: ArrayLike) -> FloatArray:
        """Return the chord at `z_mm`, in its shape [mm]; beyond the ends, that of the nearer end."""
        return np.asarray(np.interp(np.asarray(z_mm, float), self.z_mm, self.chord_mm))

    def leading_edge_at_mm(self, z_mm: ArrayLike) -> FloatArray:
        """Return how far aft the leading edge lies at `z_mm`, in its shape [mm]."""
        return np.asarray(np.interp(np.asarray(z_mm, float), self.z_mm, self.leading_edge_mm))

    def quarter_chord_at_mm(self, z_mm: ArrayLike) -> FloatArray:
        """Return how far aft the quarter point of the chord lies at `z_mm`, in its shape [mm]."""
        return self.leading_edge_at_mm(z_mm) + QUARTER * self.chord_at_mm(z_mm)

    def strip_areas_mm2(self, edges_mm: ArrayLike) -> FloatArray:
        """Return the areas of strips of the half wing between `edges_mm` (k + 1,), shape (k,) [mm2]."""
        return strip_integrals(edges_mm, self.z_mm, self.chord_at_mm)

    def strip_moments_mm3(self, edges_mm: ArrayLike) -> FloatArray:
        """Return the integrals of ``c z`` over the same strips, shape (k,) [mm3]."""
        return strip_integrals(edges_mm, self.z_mm, lambda z: z * self.chord_at_mm(z))

    def _integral(self, values: Callable[[FloatArray], FloatArray]) -> float:
        return float(strip_integrals(self.z_mm[[0, -1]], self.z_mm, values)[0])

    def _weighted(self, values: Callable[[FloatArray], FloatArray]) -> float:
        """Return the mean of some values over the area."""
        weighed = self._integral(lambda z: self.chord_at_mm(z) * values(z))
        return weighed / self._integral(self.chord_at_mm)


def planform_of_wing(wing: Wing) -> Planform:
    """Return the planform of a wing, leading edges as they lie before the twist.

    Twist turns the sections about their quarter points, which therefore stay.

    Parameters
    ----------
    wing : Wing
        The half wing.
    """
    return Planform(
        z_mm=wing.station_spans_mm,
        leading_edge_mm=np.array([station.leading_edge_mm for station in wing.stations]),
        chord_mm=np.array([station.chord_mm for station in wing.stations]),
    )


def _listed(values: FloatArray) -> str:
    return ", ".join(f"{value:g}" for value in values)
