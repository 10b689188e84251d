"""Reading STEP files back with the kernel's own reader, which shares no code with the writing side."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import numpy as np

from wingpath.build.kernel import loft
from wingpath.geometry.mesh import Mesh

NAME = re.compile(r"PRODUCT\(\s*'((?:[^']|'')*)'")


def read_step(path: Path) -> Any:
    from OCP.IFSelect import IFSelect_ReturnStatus
    from OCP.STEPControl import STEPControl_Reader

    reader = STEPControl_Reader()
    assert reader.ReadFile(str(path)) == IFSelect_ReturnStatus.IFSelect_RetDone
    reader.TransferRoots()
    return reader.OneShape()


def product_names(path: Path) -> list[str]:
    return NAME.findall(path.read_text(encoding="ascii"))


def solids_in(shape: Any) -> list[Any]:
    from OCP.TopAbs import TopAbs_ShapeEnum
    from OCP.TopExp import TopExp_Explorer

    found, walk = [], TopExp_Explorer(shape, TopAbs_ShapeEnum.TopAbs_SOLID)
    while walk.More():
        found.append(walk.Current())
        walk.Next()
    return found


def face_kinds(shape: Any) -> dict[str, int]:
    """Return how many faces there are of each kind of surface."""
    from OCP.BRepAdaptor import BRepAdaptor_Surface
    from OCP.TopAbs import TopAbs_ShapeEnum
    from OCP.TopExp import TopExp_Explorer
    from OCP.TopoDS import TopoDS

    kinds: dict[str, int] = {}
    walk = TopExp_Explorer(shape, TopAbs_ShapeEnum.TopAbs_FACE)
    while walk.More():
        kind = str(BRepAdaptor_Surface(TopoDS.Face_s(walk.Current())).GetType()).split("_")[-1]
        kinds[kind] = kinds.get(kind, 0) + 1
        walk.Next()
    return kinds


def valid(shape: Any) -> bool:
    from OCP.BRepCheck import BRepCheck_Analyzer

    return bool(BRepCheck_Analyzer(shape, True).IsValid())


def box_of(shape: Any) -> np.ndarray:
    """Return lowest and highest x, y, z of a shape, shape (2, 3) [mm]."""
    from OCP.Bnd import Bnd_Box
    from OCP.BRepBndLib import BRepBndLib

    box = Bnd_Box()
    BRepBndLib.AddOptimal_s(shape, box, False, False)
    return np.array(box.Get()).reshape(2, 3)


def box_mesh(x: float, y: float, z: float, *, first: int = 0) -> Mesh:
    """Return a box from the origin, its six sides numbered."""
    ring = np.array([(0.0, 0.0), (x, 0.0), (x, y), (0.0, y)])
    sides = first + np.arange(4)[None, :]
    return loft(
        np.stack([ring, ring]), np.array([0.0, z]), sides=sides, bottom=first + 4, top=first + 5, name="box"
    )
