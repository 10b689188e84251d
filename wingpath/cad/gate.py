"""What a solid has to pass before it is handed on: valid, closed, the mesh's volume, no face left out."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from wingpath.core.arrays import IntArray
from wingpath.geometry.welding import edge_table

__all__ = ["VOLUME_SHARE", "Verdict", "judge_shape", "open_sides", "volume_mm3"]

VOLUME_SHARE = 1e-3
"""Volume of solid and mesh may differ by this share. Facets take a few ten-thousandths of a thin twisted
panel or of a bore; a face that was lost or turned takes far more."""

VOLUME_EPS = 1e-6
"""Relative error of the kernel's integration; what it does by default is off by up to 1e-4 on skins."""

COARSENESS = ((0.1, 0.5), (0.02, 0.2))
"""How far triangles may stray [mm, rad] where the gate looks for holes. The kernel now and then trips over a
long face between many slots at one coarseness and not at the next; one that has no hole is enough."""


@dataclass(frozen=True, slots=True)
class Verdict:
    """What the gate found.

    Parameters
    ----------
    passed : bool
        Whether the solid may be handed on.
    reason : str
        What is wrong; empty when it passed.
    volume_mm3 : float
        Volume of the solid; 0 when it was not measured [mm3].
    faces : int
        Number of its faces.
    """

    passed: bool
    reason: str
    volume_mm3: float
    faces: int


def judge_shape(shape: Any, *, mesh_volume_mm3: float) -> Verdict:
    """Judge a solid against the mesh that it was made from.

    Parameters
    ----------
    shape : Shape
        The solid.
    mesh_volume_mm3 : float
        Volume of the mesh [mm3].
    """
    from OCP.BRepCheck import BRepCheck_Analyzer

    faces = len(_walk(shape, "FACE"))
    if not BRepCheck_Analyzer(shape, True).IsValid():
        return Verdict(False, "the CAD kernel finds it invalid", 0.0, faces)
    volume = volume_mm3(shape)
    if not abs(volume - mesh_volume_mm3) <= VOLUME_SHARE * abs(mesh_volume_mm3):
        share = (volume - mesh_volume_mm3) / mesh_volume_mm3
        return Verdict(False, f"its volume is off by {100.0 * share:+.2f} per cent", volume, faces)
    holes = 0
    for off_mm, off_rad in COARSENESS:
        holes = open_sides(shape, off_mm=off_mm, off_rad=off_rad)
        if not holes:
            break
    if holes:
        return Verdict(False, f"its surface has {holes} open sides when cut into triangles", volume, faces)
    return Verdict(True, "", volume, faces)


def volume_mm3(shape: Any) -> float:
    """Return the volume of a solid [mm3]."""
    from OCP.BRepGProp import BRepGProp
    from OCP.GProp import GProp_GProps

    properties = GProp_GProps()
    BRepGProp.VolumeProperties_s(shape, properties, VOLUME_EPS, False, False)
    return float(properties.Mass())


def _walk(shape: Any, kind: str) -> list[Any]:
    from OCP.TopAbs import TopAbs_ShapeEnum
    from OCP.TopExp import TopExp_Explorer

    found = []
    walk = TopExp_Explorer(shape, getattr(TopAbs_ShapeEnum, f"TopAbs_{kind}"))
    while walk.More():
        found.append(walk.Current())
        walk.Next()
    return found


def open_sides(shape: Any, *, off_mm: float, off_rad: float) -> int:
    """Return how many sides of triangles have no neighbour; a face without triangles leaves many.

    The kernel cuts each edge into pieces once, and every face keeps the numbers of its own nodes along it.
    So nodes are matched by their edges, not by where they lie.

    Parameters
    ----------
    shape : Shape
        A solid.
    off_mm, off_rad : float
        How far triangles may stray from faces and edges [mm, rad].
    """
    from OCP.BRep import BRep_Tool
    from OCP.BRepMesh import BRepMesh_IncrementalMesh
    from OCP.BRepTools import BRepTools
    from OCP.TopAbs import TopAbs_ShapeEnum
    from OCP.TopExp import TopExp
    from OCP.TopLoc import TopLoc_Location
    from OCP.TopoDS import TopoDS
    from OCP.TopTools import TopTools_IndexedMapOfShape

    BRepTools.Clean_s(shape)
    BRepMesh_IncrementalMesh(shape, off_mm, False, off_rad, False)
    edges = TopTools_IndexedMapOfShape()
    TopExp.MapShapes_s(shape, TopAbs_ShapeEnum.TopAbs_EDGE, edges)
    nodes, bare = 0, 0
    triangles: list[tuple[int, int, int]] = []
    along: dict[int, list[int]] = {}
    same: list[tuple[int, int]] = []
    for face in _walk(shape, "FACE"):
        place = TopLoc_Location()
        made = BRep_Tool.Triangulation_s(TopoDS.Face_s(face), place)
        if made is None:
            bare += 1
            continue
        base = nodes - 1
        for k in range(1, made.NbTriangles() + 1):
            a, b, c = made.Triangle(k).Get()
            triangles.append((base + a, base + b, base + c))
        for edge in _walk(face, "EDGE"):
            line = BRep_Tool.PolygonOnTriangulation_s(TopoDS.Edge_s(edge), made, place)
            if line is None:
                bare += 1
                continue
            mine = [base + line.Node(k) for k in range(1, line.NbNodes() + 1)]
            same.extend(zip(along.setdefault(edges.FindIndex(edge), mine), mine, strict=True))
        nodes += made.NbNodes()
    return bare + _without_neighbour(np.array(triangles, np.int64).reshape(-1, 3), same, nodes)


def _without_neighbour(triangles: IntArray, same: list[tuple[int, int]], nodes: int) -> int:
    from scipy.sparse import coo_matrix
    from scipy.sparse.csgraph import connected_components

    pairs = np.array(same, np.int64).reshape(-1, 2)
    links = (np.ones(len(pairs), np.int8), (pairs[:, 0], pairs[:, 1]))
    _, one = connected_components(coo_matrix(links, shape=(nodes, nodes)), directed=False)
    faces = one[triangles].astype(np.int64)
    whole = (faces[:, 0] != faces[:, 1]) & (faces[:, 1] != faces[:, 2]) & (faces[:, 2] != faces[:, 0])
    return int((edge_table(faces[whole]).uses % 2 != 0).sum()) if whole.any() else 1
