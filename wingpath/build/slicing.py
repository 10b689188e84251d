"""The slicer: every plane of a mesh at once, as numpy arrays.

Words used here:

========  ======================================================================================
rank      how many planes lie at or under a vertex; all comparisons of heights are made with it
edge      undirected edge of the mesh, with the corner of higher rank as its upper end
node      the point where an edge crosses a plane, computed once, so neighbours share it exactly
piece     a run of planes over which one triangle is entered and left through the same two edges
segment   one triangle on one plane: it leads from a node to a node with the solid on its left
chain     segments in order; a closed chain is a loop
========  ======================================================================================

Notes
-----
A vertex counts as above a plane when its z is greater than or equal to the plane's. No plane then goes
through a vertex, an edge or a flat face, and nothing is a special case: what is cut is the section just
below the plane. A plane at the height of the flat top of a part gives its top face; a plane at the height
of its flat bottom gives nothing.

Derived here; there is no outside source. Seen from outside, a triangle's corners run counter-clockwise, so
the edge that is walked downward lies to the left of the one that is walked upward, and the way from the
first to the second has the inside on its left.
"""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from wingpath.build.slice_chains import Cutter
from wingpath.build.slice_regions import chain_regions
from wingpath.core.arrays import FloatArray, IntArray, frozen_floats, frozen_ints
from wingpath.core.tolerances import LAYER_SIMPLIFY_MM
from wingpath.geometry.mesh import Mesh

__all__ = ["Slices", "slice_mesh"]

BoolArray = NDArray[np.bool_]
Regions = NDArray[np.object_]


@dataclass(frozen=True, slots=True, eq=False)
class Slices:
    """What the planes cut out of a mesh, read-only.

    Parameters
    ----------
    z_mm : array_like, shape (p,)
        Heights of the planes, in increasing order [mm].
    points : array_like, shape (n, 2)
        Corner points x, y of all chains, one chain after the other [mm]. The first point of a loop is not
        repeated at its end.
    offsets : array_like of int, shape (c + 1,)
        Chain i holds the points from `offsets[i]` up to `offsets[i + 1]`.
    plane : array_like of int, shape (c,)
        Number of the plane of each chain, counted from 0, never decreasing.
    closed : array_like of bool, shape (c,)
        True for a loop, False where the mesh is open and the chain has two ends. Loops have the solid on
        their left: outlines run counter-clockwise seen from +z, holes clockwise.
    bridge_mm : array_like, shape (c,)
        Longest straight line put into each chain to join loose ends [mm]; 0 where the mesh is whole.
    regions : array of object, shape (p,)
        The solid of each plane, as a shapely Polygon or MultiPolygon, empty where there is none. Overlapping
        bodies are united. Outlines may have moved by the `simplify_mm` of :func:`slice_mesh`.
    """

    z_mm: FloatArray
    points: FloatArray
    offsets: IntArray
    plane: IntArray
    closed: BoolArray
    bridge_mm: FloatArray
    regions: Regions

    def __post_init__(self) -> None:
        z_mm = frozen_floats(self.z_mm, (None,), name="z_mm")
        points = frozen_floats(self.points, (None, 2), name="points")
        offsets = frozen_ints(self.offsets, (None,), name="offsets")
        plane = frozen_ints(self.plane, (len(offsets) - 1,), name="plane")
        bridge_mm = frozen_floats(self.bridge_mm, (len(plane),), name="bridge_mm")
        closed = np.array(self.closed, dtype=np.bool_)
        regions = np.array(self.regions, dtype=object)
        if closed.shape != plane.shape or regions.shape != z_mm.shape:
            raise ValueError("closed needs one entry a chain, and regions one a plane")
        if offsets[0] != 0 or offsets[-1] != len(points) or np.any(np.diff(offsets) < 1):
            raise ValueError("offsets must rise from 0 to the number of points")
        closed.setflags(write=False)
        regions.setflags(write=False)
        for name, value in (
            ("z_mm", z_mm),
            ("points", points),
            ("offsets", offsets),
            ("plane", plane),
            ("closed", closed),
            ("bridge_mm", bridge_mm),
            ("regions", regions),
        ):
            object.__setattr__(self, name, value)

    @property
    def loops_per_plane(self) -> IntArray:
        """Number of closed chains on each plane, shape (p,)."""
        return np.bincount(self.plane[self.closed], minlength=len(self.z_mm)).astype(np.int64)

    @property
    def open_chains_per_plane(self) -> IntArray:
        """Number of chains with two ends on each plane, shape (p,); all 0 for a watertight mesh."""
        return np.bincount(self.plane[~self.closed], minlength=len(self.z_mm)).astype(np.int64)

    @property
    def areas_mm2(self) -> FloatArray:
        """Area of each plane's region, shape (p,) [mm2]."""
        return np.asarray(shapely.area(self.regions), dtype=np.float64)

    @property
    def bridge_per_plane_mm(self) -> FloatArray:
        """Longest line put in to join loose ends on each plane, shape (p,) [mm]."""
        longest = np.zeros(len(self.z_mm))
        np.maximum.at(longest, self.plane, self.bridge_mm)
        return longest

    @property
    def torn_per_plane_mm(self) -> FloatArray:
        """How far each plane's outlines are made up or missing, shape (p,) [mm]; 0 where the mesh is whole.

        The longest line put in to join loose ends, or the extent of the largest chain that stayed open.
        """
        torn = self.bridge_per_plane_mm
        loose = np.flatnonzero(~self.closed)
        if len(loose):
            begin = self.offsets[:-1]
            extent = np.maximum.reduceat(self.points, begin) - np.minimum.reduceat(self.points, begin)
            np.maximum.at(torn, self.plane[loose], np.hypot(*extent[loose].T))
        return torn

    def chains(self, plane: int) -> list[FloatArray]:
        """Return the points of each chain on one plane."""
        first, last = np.searchsorted(self.plane, [plane, plane + 1])
        return [self.points[self.offsets[i] : self.offsets[i + 1]] for i in range(first, last)]


def slice_mesh(
    mesh: Mesh,
    z_mm: FloatArray,
    *,
    simplify_mm: float = LAYER_SIMPLIFY_MM,
    join_mm: float = LAYER_SIMPLIFY_MM,
) -> Slices:
    """Cut a mesh with planes of constant z.

    Parameters
    ----------
    mesh : Mesh
        The mesh, facing outward. It may be open or non-manifold; chains that cannot be closed stay open and
        are left out of the regions.
    z_mm : array_like, shape (p,)
        Heights of the planes, strictly increasing [mm].
    simplify_mm : float
        The outlines of regions may move by this much where points are dropped, 0 or more [mm].
    join_mm : float
        Ends of open chains no farther apart than this are joined by a straight line, 0 or more [mm]; infinity
        closes every chain that can be closed.

    Returns
    -------
    Slices
        Chains and regions of every plane.

    Raises
    ------
    ValueError
        When the heights are not finite or do not increase, or a distance is negative or not a number.
    """
    planes = frozen_floats(z_mm, (None,), name="z_mm")
    if np.any(np.diff(planes) <= 0.0):
        raise ValueError("z_mm: heights must increase from plane to plane; sort them and drop repeated ones")
    if not (simplify_mm >= 0.0 and join_mm >= 0.0):
        raise ValueError(f"simplify_mm, join_mm: got {simplify_mm}, {join_mm}; allowed: 0 or more")
    cutter = Cutter(mesh, planes)
    groups = cutter.groups()
    if not groups:
        none = np.zeros(0, np.int64)
        return Slices(
            planes, np.empty((0, 2)), np.zeros(1, np.int64), none, none > 0, np.zeros(0), np.empty(0, object)
        )
    chains, waiting = [], []
    # The regions of one group are made while the next group is cut: both run in compiled code.
    with ThreadPoolExecutor(max_workers=1) as helper:
        for first, last in groups:
            chains.append(cutter.cut(first, last, join_mm=join_mm))
            waiting.append(
                helper.submit(chain_regions, chains[-1], first=first, last=last, simplify_mm=simplify_mm)
            )
        regions = [future.result() for future in waiting]
    lengths = np.concatenate([np.diff(some.offsets) for some in chains])
    return Slices(
        planes,
        np.concatenate([some.points for some in chains]),
        np.concatenate([[0], np.cumsum(lengths)]),
        np.concatenate([some.plane for some in chains]),
        np.concatenate([some.closed for some in chains]),
        np.concatenate([some.bridge for some in chains]),
        np.concatenate(regions),
    )
