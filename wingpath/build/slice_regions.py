"""From ordered chains of points to the solid region of each plane."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import manifold3d
import numpy as np
import shapely
from numpy.typing import NDArray

from wingpath.build.slice_chains import Chains
from wingpath.core.arrays import FloatArray, IntArray
from wingpath.core.tolerances import AREA_NOISE_MM2

__all__ = ["chain_regions", "loop_areas"]

Regions = NDArray[np.object_]


def chain_regions(chains: Chains, *, first: int, last: int, simplify_mm: float) -> Regions:
    """Return the solid of the planes `first` up to `last`, which itself is left out.

    Parameters
    ----------
    chains : Chains
        Chains of these planes. Open ones are passed over.
    first, last : int
        The planes.
    simplify_mm : float
        How far an outline may move where points are dropped [mm].

    Returns
    -------
    array of object, shape (last - first,)
        A valid Polygon or MultiPolygon a plane, empty where nothing is solid.

    Notes
    -----
    A point is inside where the loops wind around it more often counter-clockwise than clockwise: two bodies
    that overlap become one, a hole is taken out, and a surface that crosses itself keeps its sound part.
    """
    regions: Regions = np.full(last - first, shapely.Polygon(), dtype=object)
    area = loop_areas(chains.points, chains.offsets)
    good = np.flatnonzero(chains.closed & _wide(chains, area))
    if not len(good):
        return regions
    plane, area = chains.plane[good] - first, area[good]
    rings = _rings(chains, good)
    thin = rings if simplify_mm <= 0.0 else _thinned(rings, simplify_mm)

    # One outline a plane is the usual case: all of them are made, and looked at, in one call.
    plain = (np.bincount(plane, minlength=last - first)[plane] == 1) & (area >= AREA_NOISE_MM2)
    single = np.flatnonzero(plain)
    polygons = shapely.polygons(thin[single])
    sound = shapely.is_valid(polygons)
    regions[plane[single[sound]]] = polygons[sound]
    # A ring that crosses itself, perhaps because it was thinned, is taken again as it was cut.
    for i in single[~sound]:
        regions[plane[i]] = _plain(_united(rings[[i]]), simplify_mm)
    rest = np.flatnonzero(~plain)
    for group in np.split(rest, np.flatnonzero(np.diff(plane[rest])) + 1):
        if len(group):
            regions[plane[group[0]]] = _plain(_united(thin[group]), simplify_mm)
    return regions


def _wide(chains: Chains, area: FloatArray) -> NDArray[np.bool_]:
    """Return the chains that are more than rounding: also a figure of eight, whose two areas cancel."""
    wide = np.abs(area) >= AREA_NOISE_MM2
    if not wide.all():
        begin = chains.offsets[:-1]
        extent = np.maximum.reduceat(chains.points, begin) - np.minimum.reduceat(chains.points, begin)
        wide |= np.prod(extent, axis=1) >= AREA_NOISE_MM2
    return wide


def loop_areas(points: FloatArray, offsets: IntArray) -> FloatArray:
    """Return the signed area of each chain closed by a straight line, shape (c,) [mm2]."""
    if len(offsets) < 2:
        return np.empty(0)
    begin, end = offsets[:-1], offsets[1:]
    # From the first point of each, because the sum loses digits far from the origin.
    local = points - np.repeat(points[begin], end - begin, axis=0)
    twice = np.zeros(len(points))
    twice[:-1] = local[:-1, 0] * local[1:, 1] - local[1:, 0] * local[:-1, 1]
    twice[end - 1] = 0.0
    return np.asarray(0.5 * np.add.reduceat(twice, begin), dtype=np.float64)


def _rings(chains: Chains, which: IntArray) -> Regions:
    length = np.diff(chains.offsets)[which]
    if len(which) == len(chains.offsets) - 1:
        points = chains.points
    else:
        goes = np.zeros(len(chains.offsets) - 1, np.bool_)
        goes[which] = True
        points = chains.points[np.repeat(goes, np.diff(chains.offsets))]
    rings: Regions = shapely.linearrings(points, indices=np.repeat(np.arange(len(which)), length))
    return rings


def _thinned(rings: Regions, reach_mm: float) -> Regions:
    """Drop points, keeping the rings that would vanish as they are."""
    thin = shapely.simplify(rings, reach_mm, preserve_topology=False)
    gone = (shapely.get_type_id(thin) != 2) | (shapely.get_num_coordinates(thin) < 4)
    return np.where(gone, rings, thin)


def _united(rings: Sequence[Any] | Regions) -> Any:
    """Return the region with positive winding number."""
    contours = [shapely.get_coordinates(ring)[:-1] for ring in rings]
    section = manifold3d.CrossSection(contours, manifold3d.FillRule.Positive)
    parts = [section] if section.num_contour() == 1 else section.decompose()
    polygons = []
    for part in parts:
        edges = [np.asarray(contour) for contour in part.to_polygons()]
        sizes = [loop_areas(edge, np.array([0, len(edge)]))[0] for edge in edges]
        outer = [edge for edge, size in zip(edges, sizes, strict=True) if size >= AREA_NOISE_MM2]
        holes = [edge for edge, size in zip(edges, sizes, strict=True) if size <= -AREA_NOISE_MM2]
        if outer:
            polygons.append(shapely.Polygon(outer[0], holes))
    if not polygons:
        return shapely.Polygon()
    region = polygons[0] if len(polygons) == 1 else shapely.MultiPolygon(polygons)
    return region if shapely.is_valid(region) else _made_valid(region)


def _plain(region: Any, reach_mm: float) -> Any:
    """Return a region without the many points that crossings leave: they would make every offset slow."""
    some = shapely.simplify(region, reach_mm, preserve_topology=True)
    same = shapely.get_num_geometries(some) == shapely.get_num_geometries(region)
    return some if same and shapely.is_valid(some) else region


def _made_valid(region: Any) -> Any:
    """Return the area of a region whose rings touch themselves, as valid polygons."""
    parts = shapely.get_parts(shapely.make_valid(region))
    flat = shapely.get_parts(parts[shapely.get_dimensions(parts) == 2])
    return shapely.union_all(flat[shapely.area(flat) >= AREA_NOISE_MM2])
