"""Our mesh booleans against the exact booleans of a CAD kernel (Open CASCADE, a general-purpose library)."""

from __future__ import annotations

import subprocess
import sys

import numpy as np
import pytest
from outside import CAD, Source

from wingpath.build.bores import BORE_SIDES, Bore, bore_mesh
from wingpath.build.kernel import from_solid, loft, subtract, to_solid
from wingpath.build.surfaces import SurfaceNumbers

OPEN_CASCADE = Source(
    "library", "Open CASCADE", "Open CASCADE, an open CAD kernel with exact cylinders (LGPL): cut and volume"
)

# 96 flats outside the circle take away 0.036 % more than the circle: n tan(pi/n) / pi - 1
FLATS = BORE_SIDES * np.tan(np.pi / BORE_SIDES) / np.pi - 1.0
SLACK = 1e-6


def box_mesh():
    ring = np.array([(0.0, 0.0), (40.0, 0.0), (40.0, 20.0), (0.0, 20.0)])
    return loft(
        np.stack([ring, ring]),
        np.array([0.0, 30.0]),
        sides=np.arange(4)[None, :],
        bottom=4,
        top=5,
        name="box",
    )


@pytest.mark.parametrize("lean", [0.0, 6.0])
def test_a_bored_box_has_the_volume_that_the_exact_kernel_gives(lean: float) -> None:
    from OCP.BRepAlgoAPI import BRepAlgoAPI_Cut
    from OCP.BRepGProp import BRepGProp
    from OCP.BRepPrimAPI import BRepPrimAPI_MakeBox, BRepPrimAPI_MakeCylinder
    from OCP.gp import gp_Ax2, gp_Dir, gp_Pnt
    from OCP.GProp import GProp_GProps

    bore = Bore(
        kind="tube",
        name="bore",
        radius_mm=4.0,
        neck_mm=0.8,
        from_mm=0.0,
        to_mm=30.0,
        start=np.array([15.0, 10.0]),
        end=np.array([15.0 + lean, 10.0]),
    )
    hole = bore_mesh(bore, start_mm=0.0, end_mm=30.0, numbers=SurfaceNumbers())
    assert hole is not None
    ours = from_solid(subtract(to_solid(box_mesh()), to_solid(hole)), name="ours").volume_mm3

    box = BRepPrimAPI_MakeBox(40.0, 20.0, 30.0).Shape()
    along = np.array([lean, 0.0, 30.0])
    foot = np.array([15.0, 10.0, 0.0]) - along
    axis = gp_Ax2(gp_Pnt(*foot), gp_Dir(*along))
    cylinder = BRepPrimAPI_MakeCylinder(axis, 4.0, 3.0 * float(np.linalg.norm(along))).Shape()
    properties = GProp_GProps()
    BRepGProp.VolumeProperties_s(BRepAlgoAPI_Cut(box, cylinder).Shape(), properties, 1e-7)
    exact = properties.Mass()
    removed = 40.0 * 20.0 * 30.0 - exact
    CAD.check(
        f"Volume of a bore of 8 mm that leans by {lean:g} mm over 30 mm",
        source=OPEN_CASCADE.at("times 1.00036 for our 96 flats"),
        expected=removed * (1.0 + FLATS),
        got=24000.0 - ours,
        rel=SLACK,
        because="tolerance of the kernel's volume",
        unit="mm³",
    )


def test_the_package_works_without_loading_the_kernel() -> None:
    code = (
        "import sys, wingpath; wingpath.build_wing; print(any(m.split('.')[0] == 'OCP' for m in sys.modules))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "False"
