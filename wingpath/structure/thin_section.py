"""A thin-walled section as a graph: straight walls between points, and rods on points."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property

import numpy as np
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from wingpath.core.arrays import FloatArray, IntArray, frozen_floats, frozen_ints
from wingpath.core.errors import InputError

__all__ = ["Rods", "ThinSection", "parts_of"]

SHORTEST_MM = 1e-9
"""Walls shorter than this are refused: their ends are the same point [mm]."""


@dataclass(frozen=True, slots=True, eq=False)
class Rods:
    """Stiff members that are small against the section, each on a point of the graph.

    Parameters
    ----------
    point : ndarray of int, shape (r,)
        Point on which the rod sits.
    ea_n : ndarray, shape (r,)
        Stiffness against stretching [N].
    ei_xx_n_mm2, ei_yy_n_mm2 : ndarray, shape (r,)
        Own stiffness against bending up and down, and fore and aft [N mm2].
    gj_n_mm2 : ndarray, shape (r,)
        Own stiffness against twisting [N mm2].
    """

    point: IntArray
    ea_n: FloatArray
    ei_xx_n_mm2: FloatArray
    ei_yy_n_mm2: FloatArray
    gj_n_mm2: FloatArray

    def __post_init__(self) -> None:
        count = len(self.point)
        object.__setattr__(self, "point", frozen_ints(self.point, (count,), name="point"))
        for name in ("ea_n", "ei_xx_n_mm2", "ei_yy_n_mm2", "gj_n_mm2"):
            object.__setattr__(self, name, frozen_floats(getattr(self, name), (count,), name=name))

    @classmethod
    def none(cls) -> Rods:
        """Return no rods."""
        empty = np.empty(0)
        return cls(np.empty(0, np.int64), empty, empty, empty, empty)


@dataclass(frozen=True, eq=False)
class ThinSection:
    """Straight thin walls between points, and rods on points.

    Parameters
    ----------
    points_mm : ndarray, shape (n, 2)
        Points of the graph: x aft and y up [mm].
    walls : ndarray of int, shape (m, 2)
        First and second point of each wall; two walls may join the same points.
    thickness_mm : ndarray, shape (m,)
        Thickness of each wall [mm].
    e_mpa, g_mpa : ndarray, shape (m,)
        Modulus along the span, may be 0, and shear modulus of each wall [MPa].
    rods : Rods
        Tubes and the like.

    Raises
    ------
    InputError
        When a wall has no length, a thickness or shear modulus is not over 0, a point does not exist, or the
        walls do not hang together.
    """

    points_mm: FloatArray
    walls: IntArray
    thickness_mm: FloatArray
    e_mpa: FloatArray
    g_mpa: FloatArray
    rods: Rods = field(default_factory=Rods.none)

    def __post_init__(self) -> None:
        count = len(self.walls)
        object.__setattr__(self, "points_mm", frozen_floats(self.points_mm, (None, 2), name="points_mm"))
        object.__setattr__(self, "walls", frozen_ints(self.walls, (count, 2), name="walls"))
        for name in ("thickness_mm", "e_mpa", "g_mpa"):
            object.__setattr__(self, name, frozen_floats(getattr(self, name), (count,), name=name))
        self._refuse()

    def _refuse(self) -> None:
        ends = np.concatenate([self.walls.ravel(), self.rods.point])
        if len(self.walls) == 0 or ends.min() < 0 or ends.max() >= len(self.points_mm):
            raise InputError(
                f"section: got {len(self.walls)} walls on {len(self.points_mm)} points; allowed: at least "
                "one wall, and only points that are listed. Correct the indices"
            )
        if self.length_mm.min() < SHORTEST_MM:
            raise InputError(
                f"section: wall {int(self.length_mm.argmin())} has no length; allowed: two different ends. "
                "Join its points and leave it out"
            )
        if min(self.thickness_mm.min(), self.g_mpa.min()) <= 0.0 or self.e_mpa.min() < 0.0:
            raise InputError(
                "section: got a wall without thickness or stiffness; allowed: thickness and shear modulus "
                "over 0, modulus 0 or more. Leave out what is not there"
            )
        parts = self.parts
        if np.any(parts != parts[0]):
            raise InputError(
                f"section: got {int(parts.max()) + 1} parts that do not touch; allowed: one. "
                "Join them by a wall, and leave out points without one"
            )

    @cached_property
    def delta_mm(self) -> FloatArray:
        """Vector from the first to the second point of each wall, shape (m, 2) [mm]."""
        return np.asarray(self.points_mm[self.walls[:, 1]] - self.points_mm[self.walls[:, 0]])

    @cached_property
    def length_mm(self) -> FloatArray:
        """Length of each wall [mm]."""
        return np.hypot(self.delta_mm[:, 0], self.delta_mm[:, 1])

    @cached_property
    def sweep_mm2(self) -> FloatArray:
        """Twice the area that each wall spans with the origin, positive when it turns from x to y [mm2]."""
        a, b = self.points_mm[self.walls[:, 0]], self.points_mm[self.walls[:, 1]]
        return np.asarray(a[:, 0] * b[:, 1] - b[:, 0] * a[:, 1])

    @cached_property
    def parts(self) -> IntArray:
        """Number of the connected part to which each point belongs, shape (n,)."""
        return parts_of(len(self.points_mm), self.walls)


def parts_of(count: int, walls: IntArray) -> IntArray:
    """Return to which connected part each point belongs, shape (n,), numbered from 0.

    Parameters
    ----------
    count : int
        How many points there are.
    walls : ndarray of int, shape (m, 2)
        Ends of the walls.
    """
    links = coo_array((np.ones(len(walls)), (walls[:, 0], walls[:, 1])), shape=(count, count))
    return np.asarray(connected_components(links, directed=False)[1], np.int64)
