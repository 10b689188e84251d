"""The weights of a half wing as values: parts, lines of mass, shares, strips along the span."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from wingpath.core.arrays import FloatArray, frozen_floats
from wingpath.core.errors import InputError
from wingpath.structure.mass import MassPart, strip_masses

__all__ = ["MassLine", "PrintedShares", "StripMasses", "WingWeights", "strips_of"]

PRINTED = frozenset({"panel", "aileron", "cover"})
"""Kinds of parts that are printed."""


@dataclass(frozen=True, slots=True, eq=False)
class MassLine:
    """Mass along a line, in wing coordinates.

    Parameters
    ----------
    points : ndarray, shape (n + 1, 3)
        Ends of its moves, at half the height of the bead [mm].
    mass_g : ndarray, shape (n,)
        Mass of each move [g]; 0 where nothing is laid.
    """

    points: FloatArray
    mass_g: FloatArray

    def __post_init__(self) -> None:
        points = frozen_floats(self.points, (None, 3), name="points")
        object.__setattr__(self, "points", points)
        mass = frozen_floats(self.mass_g, (max(len(points) - 1, 0),), name="mass_g")
        object.__setattr__(self, "mass_g", mass)


@dataclass(frozen=True, slots=True)
class PrintedShares:
    """What the printed mass of a half wing is laid for [g].

    Parameters
    ----------
    skin_g, ribs_g, webs_g, fittings_g : float
        Outer skin; ribs; webs along the span; walls of bores, slits and bays [g].
    brim_g : float
        Brim and what fills the nozzle: printed, but not part of the wing [g].
    """

    skin_g: float
    ribs_g: float
    webs_g: float
    fittings_g: float
    brim_g: float

    @property
    def total_g(self) -> float:
        """Mass of the printed parts, without the brim [g]."""
        return self.skin_g + self.ribs_g + self.webs_g + self.fittings_g


@dataclass(frozen=True, slots=True, eq=False)
class StripMasses:
    """Mass of a half wing by strips along the span.

    Parameters
    ----------
    edges_mm : ndarray, shape (k + 1,)
        Borders of the strips [mm].
    mass_g, x_mm, z_mm : ndarray, shape (k,)
        Mass of each strip [g] and x and z of its centre of gravity [mm]; without mass 0 and the middle.
    """

    edges_mm: FloatArray
    mass_g: FloatArray
    x_mm: FloatArray
    z_mm: FloatArray

    def __post_init__(self) -> None:
        edges = frozen_floats(self.edges_mm, (None,), name="edges_mm")
        object.__setattr__(self, "edges_mm", edges)
        for name in ("mass_g", "x_mm", "z_mm"):
            object.__setattr__(self, name, frozen_floats(getattr(self, name), (len(edges) - 1,), name=name))


@dataclass(frozen=True, slots=True, eq=False)
class WingWeights:
    """What a half wing weighs, in the coordinates of the left one.

    Parameters
    ----------
    parts : tuple of MassPart
        Printed parts (kind ``panel``, ``aileron``, ``cover``), then ``tube``, ``pin``, ``glue``, ``item``.
    lines : tuple of MassLine
        Where the mass of each part lies.
    shares : PrintedShares
        What the printed mass is laid for.
    whole : MassPart
        All parts as one.
    """

    parts: tuple[MassPart, ...]
    lines: tuple[MassLine, ...]
    shares: PrintedShares
    whole: MassPart

    @property
    def printed(self) -> tuple[MassPart, ...]:
        """The printed parts."""
        return tuple(part for part in self.parts if part.kind in PRINTED)

    @property
    def mass_g(self) -> float:
        """Mass of the half wing [g]."""
        return self.whole.mass_g

    @property
    def printed_mass_g(self) -> float:
        """Mass of its printed parts, without brims [g]."""
        return sum(part.mass_g for part in self.printed)

    @property
    def centre_mm(self) -> FloatArray:
        """Centre of gravity of the half wing, shape (3,) [mm]."""
        return self.whole.centre_mm

    @property
    def inertia_g_mm2(self) -> FloatArray:
        """Inertia of the half wing about its centre of gravity, shape (3, 3) [g mm2]."""
        return self.whole.inertia_g_mm2

    def half(self, hand: str) -> MassPart:
        """Return the half wing of a hand, ``left`` or ``right``, each in its own print frame."""
        if hand not in ("left", "right"):
            raise InputError(f"hand: got {hand!r}; allowed: left or right; choose one")
        return self.whole if hand == "left" else self.whole.mirrored_y()

    def of_kind(self, kind: str) -> tuple[MassPart, ...]:
        """Return the parts of one kind."""
        return tuple(part for part in self.parts if part.kind == kind)


def strips_of(weights: WingWeights, edges_mm: Sequence[float] | FloatArray) -> StripMasses:
    """Return the mass of a half wing by strips along the span, everything in it included.

    Parameters
    ----------
    weights : WingWeights
        The half wing.
    edges_mm : array_like, shape (k + 1,)
        Borders of the strips, rising; what lies outside of them is left out [mm].

    Raises
    ------
    InputError
        When the borders do not rise.
    """
    edges = np.asarray(edges_mm, dtype=np.float64)
    count = max(len(edges) - 1, 0)
    mass, aft, along = np.zeros(count), np.zeros(count), np.zeros(count)
    for line in weights.lines:
        here, x, z = strip_masses(line.points, line.mass_g, edges)
        mass, aft, along = mass + here, aft + here * x, along + here * z
    there = mass > 0.0
    return StripMasses(
        edges,
        mass,
        np.divide(aft, mass, out=np.zeros(count), where=there),
        np.divide(along, mass, out=0.5 * (edges[1:] + edges[:-1]), where=there),
    )
