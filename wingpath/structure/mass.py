"""Mass properties: mass, centre of gravity and inertia of lines, rods and points, and their sums."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from wingpath.core.arrays import FloatArray, frozen_floats
from wingpath.core.errors import InputError
from wingpath.core.units import MM3_PER_CM3

__all__ = ["MassPart", "combined", "mass_of_line", "mass_of_rod", "point_mass", "strip_masses"]

SHORTEST_ROD_MM = 1e-9
"""A rod shorter than this has no direction [mm]."""


@dataclass(frozen=True, slots=True, eq=False)
class MassPart:
    """A thing with mass.

    Parameters
    ----------
    name : str
        Which one it is.
    kind : str
        What it is one of.
    mass_g : float
        Its mass, not negative [g].
    centre_mm : ndarray, shape (3,)
        Its centre of gravity [mm].
    inertia_g_mm2 : ndarray, shape (3, 3)
        Its inertia tensor about that centre [g mm2]: moments on the diagonal, products with their minus sign
        beside it.
    """

    name: str
    kind: str
    mass_g: float
    centre_mm: FloatArray
    inertia_g_mm2: FloatArray

    def __post_init__(self) -> None:
        if not (np.isfinite(self.mass_g) and self.mass_g >= 0.0):
            raise InputError(f"{self.name}: got a mass of {self.mass_g:g} g; allowed: 0 or more; check it")
        object.__setattr__(self, "centre_mm", frozen_floats(self.centre_mm, (3,), name="centre_mm"))
        inertia = frozen_floats(self.inertia_g_mm2, (3, 3), name="inertia_g_mm2")
        object.__setattr__(self, "inertia_g_mm2", inertia)

    def moved(self, offset_mm: ArrayLike) -> MassPart:
        """Return it moved by `offset_mm`, shape (3,) [mm]."""
        return MassPart(
            self.name,
            self.kind,
            self.mass_g,
            self.centre_mm + np.asarray(offset_mm, np.float64),
            self.inertia_g_mm2,
        )

    def mirrored_y(self) -> MassPart:
        """Return its mirror image, y -> -y: what the other half wing holds."""
        sign = np.array([1.0, -1.0, 1.0])
        turned = self.inertia_g_mm2 * np.outer(sign, sign)
        return MassPart(self.name, self.kind, self.mass_g, self.centre_mm * sign, turned)

    def named(self, name: str, kind: str) -> MassPart:
        """Return it under another name."""
        return MassPart(name, kind, self.mass_g, self.centre_mm, self.inertia_g_mm2)

    def inertia_about(self, place_mm: ArrayLike) -> FloatArray:
        """Return the inertia tensor about another place, shape (3, 3) [g mm2].

        Parameters
        ----------
        place_mm : array_like, shape (3,)
            The place [mm].
        """
        away = self.centre_mm - np.asarray(place_mm, dtype=np.float64)
        return np.asarray(self.inertia_g_mm2 + _about(np.array([self.mass_g]), away[None, :]))


def _about(mass: FloatArray, away: FloatArray) -> FloatArray:
    """Return the inertia of point masses (n,) `away` (n, 3) from a place: ``sum m (r.r 1 - r r^T)``."""
    return _turned(away.T @ (mass[:, None] * away))


def _turned(spread: FloatArray) -> FloatArray:
    """Return the inertia tensor of mass whose places have the second moments ``S = sum m r r^T``."""
    return np.asarray(np.trace(spread) * np.eye(3) - spread)


def combined(parts: Iterable[MassPart], *, name: str = "all", kind: str = "sum") -> MassPart:
    """Return several things as one.

    Parameters
    ----------
    parts : iterable of MassPart
        The things; none, or none with mass, gives a mass of zero at the origin.
    name, kind : str
        What the sum is called.

    Notes
    -----
    ``I = sum(I_i + m_i (r_i.r_i 1 - r_i r_i^T))`` with ``r_i`` from the common centre to that of part `i`:
    the theorem of Huygens and Steiner, any text of mechanics.
    """
    rows = tuple(parts)
    if not rows:
        return point_mass(0.0, (0.0, 0.0, 0.0), name=name, kind=kind)
    mass = np.array([part.mass_g for part in rows])
    centres = np.stack([part.centre_mm for part in rows])
    own = np.stack([part.inertia_g_mm2 for part in rows])
    return _gathered(mass, centres, own.sum(axis=0), name, kind)


def _gathered(mass: FloatArray, centres: FloatArray, own: FloatArray, name: str, kind: str) -> MassPart:
    total = float(mass.sum())
    if total <= 0.0:
        return point_mass(0.0, (0.0, 0.0, 0.0), name=name, kind=kind)
    centre = mass @ centres / total
    inertia = own + _about(mass, centres - centre)
    return MassPart(name, kind, total, centre, inertia)


def _moves(points: ArrayLike, mass_g: ArrayLike) -> tuple[FloatArray, FloatArray]:
    place = frozen_floats(points, (None, 3), name="points")
    return place, frozen_floats(mass_g, (max(len(place) - 1, 0),), name="mass_g")


def mass_of_line(points: ArrayLike, mass_g: ArrayLike, *, name: str = "line", kind: str = "line") -> MassPart:
    """Return the mass of a path whose moves are thin straight rods.

    Parameters
    ----------
    points : array_like, shape (n + 1, 3)
        The ends of the moves [mm].
    mass_g : array_like, shape (n,)
        Mass of each move, even along it; 0 for a move that lays nothing [g].
    name, kind : str
        What it is called.

    Raises
    ------
    ValueError
        On wrong shapes.

    Notes
    -----
    A thin rod along the vector `d` has ``m / 12 (d.d 1 - d d^T)`` about its middle; exact for straight moves.
    """
    place, mass = _moves(points, mass_g)
    way = np.diff(place, axis=0)
    return _gathered(mass, 0.5 * (place[1:] + place[:-1]), _about(mass / 12.0, way), name, kind)


def mass_of_rod(
    start_mm: ArrayLike,
    end_mm: ArrayLike,
    *,
    density_g_cm3: float,
    outer_mm: tuple[float, float],
    inner_mm: float = 0.0,
    round_section: bool = True,
    name: str = "rod",
    kind: str = "rod",
) -> MassPart:
    """Return the mass of a straight rod or tube with its thickness.

    Parameters
    ----------
    start_mm, end_mm : array_like, shape (3,)
        Its ends [mm].
    density_g_cm3 : float
        Of the material [g/cm3].
    outer_mm : tuple of float
        Outside size along the chord and across it [mm]; of a round section both are the diameter.
    inner_mm : float
        Inside diameter, or inside width of a square; 0 for a solid rod [mm].
    round_section : bool
        Whether the section is round; else a rectangle whose first side lies square to the axis in the plane
        of x and the axis.
    name, kind : str
        What it is called.

    Raises
    ------
    InputError
        When it has no length, or no wall is left.

    Notes
    -----
    Mean squares of the places in it: ``L^2 / 12`` along its axis and, across, of a ring ``(D^2 + d^2) / 16``;
    of a hollow rectangle those of the full one less those of the hole. Any text of mechanics, from memory.
    """
    begin = frozen_floats(start_mm, (3,), name="start_mm")
    way = frozen_floats(end_mm, (3,), name="end_mm") - begin
    length = float(np.linalg.norm(way))
    wide, high = outer_mm
    if length < SHORTEST_ROD_MM or min(wide, high) <= 0.0 or not 0.0 <= inner_mm < min(wide, high):
        raise InputError(
            f"{name}: got a rod {length:g} mm long, {wide:g} x {high:g} mm outside and {inner_mm:g} mm "
            "inside; allowed: a length, and an inside smaller than the outside; correct its sizes"
        )
    shape, of_square = (np.pi / 4.0, 1.0 / 16.0) if round_section else (1.0, 1.0 / 12.0)
    area = shape * (wide * high - inner_mm**2)
    along_first = shape * of_square * (wide**3 * high - inner_mm**4) / area
    along_second = shape * of_square * (wide * high**3 - inner_mm**4) / area
    axis = way / length
    first = np.array([1.0, 0.0, 0.0]) - axis[0] * axis
    size = float(np.linalg.norm(first))
    first = np.array([0.0, 1.0, 0.0]) if size < SHORTEST_ROD_MM else first / size
    second = np.cross(axis, first)
    mass = density_g_cm3 * area * length / MM3_PER_CM3
    # mean squares of the places in the rod along its three directions
    spread = (
        length**2 / 12.0 * np.outer(axis, axis)
        + along_first * np.outer(first, first)
        + along_second * np.outer(second, second)
    )
    return MassPart(name, kind, mass, begin + 0.5 * way, _turned(mass * spread))


def point_mass(mass_g: float, place_mm: ArrayLike, *, name: str = "point", kind: str = "point") -> MassPart:
    """Return a mass without size at a place, shape (3,) [mm]."""
    return MassPart(name, kind, float(mass_g), np.asarray(place_mm, np.float64), np.zeros((3, 3)))


def strip_masses(
    points: ArrayLike, mass_g: ArrayLike, edges_mm: ArrayLike
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return what of a path lies in each strip of span.

    Parameters
    ----------
    points : array_like, shape (n + 1, 3)
        The ends of the moves [mm].
    mass_g : array_like, shape (n,)
        Mass of each move, even along it [g].
    edges_mm : array_like, shape (k + 1,)
        Borders of the strips along z, rising [mm]; what lies outside of them is left out.

    Returns
    -------
    mass_g : ndarray, shape (k,)
        Mass of each strip [g].
    x_mm, z_mm : ndarray, shape (k,)
        x and z of its centre of gravity [mm]; without mass 0, and the middle of the strip.

    Raises
    ------
    ValueError
        On wrong shapes.
    InputError
        When the borders do not rise.

    Notes
    -----
    A move that crosses borders is shared out by its length in each strip. A move along a border belongs to
    the strip outboard of it, along the last border to the last strip.
    """
    place, mass = _moves(points, mass_g)
    edges = frozen_floats(edges_mm, (None,), name="edges_mm")
    if len(edges) < 2 or np.any(np.diff(edges) <= 0.0):
        raise InputError(
            f"edges_mm: got {len(edges)} borders; allowed: 2 or more that rise; sort them and leave "
            "doubles out"
        )
    strips = len(edges) - 1
    low_end, high_end = place[:-1], place[1:]
    flip = high_end[:, 2] < low_end[:, 2]
    low = np.where(flip[:, None], high_end, low_end)[:, [0, 2]]
    high = np.where(flip[:, None], low_end, high_end)[:, [0, 2]]
    # strip of both ends; a flat move on the last border belongs to the last strip
    first = np.searchsorted(edges, low[:, 1], side="right") - 1
    last = np.maximum(np.searchsorted(edges, high[:, 1], side="left") - 1, first)
    flat_on_top = (low[:, 1] == edges[-1]) & (high[:, 1] == edges[-1])
    first, last = np.where(flat_on_top, strips - 1, first), np.where(flat_on_top, strips - 1, last)
    count = last - first + 1
    row = np.repeat(np.arange(len(mass)), count)
    strip = first[row] + np.arange(len(row)) - np.repeat(np.cumsum(count) - count, count)
    kept = (strip >= 0) & (strip < strips)
    row, strip = row[kept], strip[kept]
    rise = high[row, 1] - low[row, 1]
    safe = np.where(rise > 0.0, rise, 1.0)
    begin = np.where(rise > 0.0, np.clip((edges[strip] - low[row, 1]) / safe, 0.0, 1.0), 0.0)
    end = np.where(rise > 0.0, np.clip((edges[strip + 1] - low[row, 1]) / safe, 0.0, 1.0), 1.0)
    share = mass[row] * (end - begin)
    x = low[row, 0] + 0.5 * (begin + end) * (high[row, 0] - low[row, 0])
    z = low[row, 1] + 0.5 * (begin + end) * rise
    total, aft, along = (
        np.bincount(strip, weights=weights, minlength=strips).astype(np.float64)
        for weights in (share, share * x, share * z)
    )
    there = total > 0.0
    middle = 0.5 * (edges[1:] + edges[:-1])
    return (
        total,
        np.divide(aft, total, out=np.zeros(strips), where=there),
        np.divide(along, total, out=middle, where=there),
    )
