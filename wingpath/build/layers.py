"""Layers: the regions that a mesh leaves on each printing height, and the bead's path inside them.

Everything is computed for all layers at once. The layers that are checked here are the layers that a
path is made from.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray

from wingpath.build.slicing import slice_mesh
from wingpath.core.arrays import BoolArray, FloatArray, IntArray, frozen_floats, frozen_ints
from wingpath.core.tolerances import LAYER_SIMPLIFY_MM
from wingpath.geometry.mesh import Mesh

__all__ = [
    "CORNER_MITRE_LIMIT",
    "MOST_CONTOURS",
    "PATH_MITRE_LIMIT",
    "Layers",
    "layer_heights",
    "layers_of_mesh",
    "opened_by",
    "shrunk",
    "sound",
]

GeometryArray = NDArray[Any]
"""Array of shapely geometries."""

PATH_MITRE_LIMIT = 1.002
"""The path goes round the corners of a void on a chamfer that touches the bead's own round: a corner drawn
out to a point would pinch a neck that still holds a bead. Turns below seven degrees, as between the chords
of a curve, keep their one corner, a fivehundredth of half a bead farther out: a third less to compute."""

CORNER_MITRE_LIMIT = 2.0
"""What is wide enough for a bead is found with corners of 60 degrees and more kept."""


MOST_CONTOURS = 50
"""A layer with more is beyond printing as one bead: what else is asked of it would cost seconds a layer."""


@dataclass(frozen=True, slots=True, eq=False)
class Layers:
    """All layers of one part.

    Parameters
    ----------
    name : str
        Panel or mesh.
    bead_mm, layer_mm : float
        Bead width and layer height [mm].
    z_mm : ndarray, shape (n,)
        Middle heights of the layers, where the mesh is cut [mm].
    regions : ndarray of shapely geometries, shape (n,)
        The solid on each layer.
    paths : ndarray of shapely geometries, shape (n,)
        The regions shrunk by half a bead: their borders are the path.
    contours, holes, rings : ndarray of int, shape (n,)
        Border rings of the region, how many of them are holes, border rings of the path.
    area_mm2, path_mm : ndarray, shape (n,)
        Area of the region [mm2], length of the path [mm].
    torn_mm : ndarray, shape (n,)
        How far outlines are made up or missing because the mesh is open [mm]; 0 where it is whole.
    """

    name: str
    bead_mm: float
    layer_mm: float
    z_mm: FloatArray
    regions: GeometryArray
    paths: GeometryArray
    contours: IntArray
    holes: IntArray
    rings: IntArray
    area_mm2: FloatArray
    path_mm: FloatArray
    torn_mm: FloatArray

    def __post_init__(self) -> None:
        count = (len(self.z_mm),)
        for field in ("z_mm", "area_mm2", "path_mm", "torn_mm"):
            object.__setattr__(self, field, frozen_floats(getattr(self, field), count, name=field))
        for field in ("contours", "holes", "rings"):
            object.__setattr__(self, field, frozen_ints(getattr(self, field), count, name=field))

    def __len__(self) -> int:
        return len(self.z_mm)

    @property
    def torn(self) -> BoolArray:
        """Where more than rounding is made up or missing, so that nobody knows the outline, shape (n,)."""
        return np.asarray(self.torn_mm > LAYER_SIMPLIFY_MM)

    @property
    def one_bead(self) -> BoolArray:
        """Which layers are one closed ring inside one contour, all of it known, shape (n,)."""
        return np.asarray((self.contours == 1) & (self.rings == 1) & ~self.torn)

    @property
    def crowded(self) -> BoolArray:
        """Which layers fall into so many pieces that no more is asked of them, shape (n,)."""
        return np.asarray(self.contours > MOST_CONTOURS)

    @property
    def orderly(self) -> GeometryArray:
        """The regions, empty where a layer is crowded, shape (n,)."""
        return np.where(self.crowded, shapely.Polygon(), self.regions)

    @property
    def borders(self) -> GeometryArray:
        """The path of each layer as lines."""
        return np.asarray(shapely.boundary(self.paths))

    @property
    def volume_mm3(self) -> float:
        """Sum of the layer areas times the layer height [mm3]."""
        return float(self.area_mm2.sum() * self.layer_mm)


def layer_heights(bottom_mm: float, top_mm: float, layer_mm: float) -> FloatArray:
    """Return the middle heights of the layers of a part that stands from `bottom_mm` to `top_mm` [mm].

    A last layer of which less than half is solid is not printed.
    """
    count = int(np.floor((top_mm - bottom_mm) / layer_mm + 0.5 - 1e-6))
    return np.asarray(bottom_mm + (np.arange(count) + 0.5) * layer_mm, dtype=np.float64)


def opened_by(regions: GeometryArray, width_mm: float) -> GeometryArray:
    """Return what of each region a disc of `width_mm` can reach, corners kept: its places wide enough."""
    core = shrunk(regions, 0.5 * width_mm, limit=CORNER_MITRE_LIMIT)
    return shrunk(core, -0.5 * width_mm, limit=CORNER_MITRE_LIMIT)


def shrunk(regions: GeometryArray, distance_mm: float, *, limit: float = PATH_MITRE_LIMIT) -> GeometryArray:
    """Return regions with their borders moved inward by `distance_mm`; outward when negative."""
    return sound(shapely.buffer(regions, -distance_mm, join_style="mitre", mitre_limit=limit))


def sound(regions: GeometryArray) -> GeometryArray:
    """Return regions that can be united and cut.

    Moving borders with mitred corners gives parts that lie inside each other when regions are torn enough,
    and the engine then refuses to go on.
    """
    bad = ~shapely.is_valid(regions)
    if not np.any(bad):
        return np.asarray(regions)
    mended = np.array(regions, dtype=object)
    for row in np.flatnonzero(bad):
        parts = shapely.get_parts(shapely.make_valid(mended[row], method="structure", keep_collapsed=False))
        mended[row] = shapely.union_all(parts[shapely.get_dimensions(parts) == 2])
    return mended


def straightened(regions: GeometryArray, within_mm: float) -> GeometryArray:
    """Return regions with straighter borders, but as they are where that would cross or lose a part."""
    plain = shapely.simplify(regions, within_mm, preserve_topology=False)
    same = shapely.get_num_geometries(plain) == shapely.get_num_geometries(regions)
    return np.asarray(np.where(shapely.is_valid(plain) & same, plain, regions))


def layers_of_mesh(
    mesh: Mesh, *, layer_mm: float, bead_mm: float, join_mm: float = LAYER_SIMPLIFY_MM
) -> Layers:
    """Cut a mesh into layers.

    Parameters
    ----------
    mesh : Mesh
        Closed surface, facing outward, standing on its lowest z [mm].
    layer_mm, bead_mm : float
        Layer height and bead width [mm].
    join_mm : float
        An outline that is open, because the mesh is, is closed by a straight line up to this long [mm].
    """
    bottom, top = mesh.bounds[:, 2]
    z = layer_heights(float(bottom), float(top), layer_mm)
    cut = slice_mesh(mesh, z, join_mm=join_mm)
    plain = np.asarray(cut.regions)
    paths = shrunk(plain, 0.5 * bead_mm)
    contours = _ring_count(plain)
    return Layers(
        name=mesh.name,
        bead_mm=bead_mm,
        layer_mm=layer_mm,
        z_mm=z,
        regions=plain,
        paths=paths,
        contours=contours,
        holes=contours - _part_count(plain),
        rings=_ring_count(paths),
        area_mm2=shapely.area(plain),
        path_mm=shapely.length(paths),
        torn_mm=cut.torn_per_plane_mm,
    )


def _part_count(geometries: GeometryArray) -> IntArray:
    counts = shapely.get_num_geometries(geometries).astype(np.int64)
    return np.where(shapely.is_empty(geometries), 0, counts)


def _ring_count(geometries: GeometryArray) -> IntArray:
    """Outer rings and holes of every region."""
    parts, owner = shapely.get_parts(geometries, return_index=True)
    per_part = np.where(shapely.is_empty(parts), 0, 1 + shapely.get_num_interior_rings(parts))
    return np.bincount(owner, weights=per_part, minlength=len(geometries)).astype(np.int64)
