"""Thin-walled sections against finite elements of the open library sectionproperties.

The library meshes the section as a solid. The middle of the walls is that of the library's wall: the hollow
inside, grown by half a thickness, so that the thin tail is the same in both.
"""

from __future__ import annotations

import warnings
from typing import Any

import numpy as np
import pytest
import shapely
from outside import SECTIONS, Source

from wingpath.geometry.naca import naca_airfoil
from wingpath.model.spec_fittings import TubeSpec
from wingpath.structure.section import section_constants
from wingpath.structure.thin_section import ThinSection
from wingpath.structure.tube_section import tube_section

LIBRARY = Source(
    "library",
    "sectionproperties",
    "sectionproperties, an open library: finite elements over the section as a solid, with warping",
)

TORSION, SECOND, CENTRE_MM = 0.01, 0.002, 0.5
"""Shares by which torsion constant and second moment may differ, and place of the shear centre [mm]."""

CHORD_MM, WALL_MM = 200.0, 0.4

POINTS = 41
"""Points on each side of the airfoil: enough for a smooth section, few enough for a coarse mesh."""


def solid_constants(shape: shapely.Polygon) -> tuple[float, float, float]:
    """Return torsion constant, second moment about the chordwise axis and x of the shear centre."""
    with warnings.catch_warnings():
        # the library warns of its missing accelerator and of meshes of thin walls
        warnings.simplefilter("ignore")
        from sectionproperties.analysis import Section
        from sectionproperties.pre import Geometry

        geometry = Geometry(shape)
        geometry.create_mesh(mesh_sizes=[0.0])
        section = Section(geometry)
        section.calculate_geometric_properties()
        section.calculate_warping_properties()
        found: Any = section
        return found.get_j(), found.get_ic()[0], found.get_sc()[0]


def airfoil_walls(webs: int) -> tuple[shapely.Polygon, ThinSection]:
    """Return a hollow airfoil with upright webs as a solid, and as a graph of its walls."""
    foil = naca_airfoil("2412", points_per_side=POINTS, closed=True)
    outline = shapely.Polygon(np.vstack([foil.upper, foil.lower[-2:0:-1]]) * CHORD_MM)
    inside = max(
        shapely.get_parts(outline.buffer(-WALL_MM, join_style="mitre", mitre_limit=1.5)), key=lambda p: p.area
    )
    middle = inside.buffer(0.5 * WALL_MM, join_style="mitre", mitre_limit=1.5)
    ring = np.asarray(middle.exterior.coords)[:-1]
    at = np.linspace(0.0, CHORD_MM, webs + 2)[1:-1]
    loop = shapely.LineString(np.asarray(middle.exterior.coords))
    feet = [sorted(np.asarray(shapely.get_coordinates(loop & upright(x))).tolist()) for x in at]
    places = [*ring.tolist(), *(point for pair in feet for point in pair)]
    along = np.array([loop.project(shapely.Point(point)) for point in places])
    order = np.argsort(along)
    walls = np.column_stack([order, np.roll(order, -1)])
    joints = [(len(ring) + 2 * k, len(ring) + 2 * k + 1) for k in range(webs)]
    walls = np.vstack([walls, np.array(joints, np.int64).reshape(-1, 2)])
    full = np.ones(len(walls))
    hollow = inside.difference(shapely.union_all([upright(x).buffer(0.5 * WALL_MM) for x in at]))
    solid = outline.difference(hollow)
    return solid, ThinSection(np.array(places), walls, WALL_MM * full, full, full)


def upright(x_mm: float) -> shapely.LineString:
    return shapely.LineString([(x_mm, -CHORD_MM), (x_mm, CHORD_MM)])


@pytest.mark.slow
@pytest.mark.parametrize("webs", [0, 12])
def test_airfoil_shells(webs: int) -> None:
    solid, walls = airfoil_walls(webs)
    torsion, second, centre = solid_constants(solid)
    found = section_constants(walls)
    name = f"Hollow NACA 2412 of 0.4 mm with {webs} webs" if webs else "Hollow NACA 2412 of 0.4 mm"
    SECTIONS.check(
        f"{name}: torsion constant",
        source=LIBRARY,
        expected=torsion,
        got=found.gj_n_mm2,
        rel=TORSION,
        because="thin walls against a solid: corners",
        unit="mm⁴",
    )
    # a web reaches to the middle of the skins, where half a thickness of it is counted a second time
    ends = walls.points_mm[walls.walls[len(walls.walls) - webs :].ravel(), 1] - found.centroid_mm[1]
    twice = 0.5 * WALL_MM**2 * float(np.sum((np.abs(ends) - 0.25 * WALL_MM) ** 2))
    SECTIONS.check(
        f"{name}: second moment",
        source=LIBRARY,
        expected=second,
        got=found.ei_xx_n_mm2 - twice,
        rel=SECOND,
        because="thin walls against a solid: corners",
        unit="mm⁴",
    )
    SECTIONS.check(
        f"{name}: shear centre behind the nose",
        source=LIBRARY,
        expected=centre,
        got=found.shear_centre_mm[0],
        abs=CENTRE_MM,
        because="a quarter per cent of the chord",
        unit="mm",
    )


@pytest.mark.slow
def test_square_tube() -> None:
    # a hollow square has no closed form: Bredt with its corners cut short is on the low side
    found = tube_section(
        TubeSpec.model_validate(
            {"shape": "square", "outer_mm": 6, "inner_mm": 5, "chord_fraction": 0.3, "to_mm": 9.0}
        )
    )
    square = shapely.box(0, 0, 6, 6).difference(shapely.box(0.5, 0.5, 5.5, 5.5))
    torsion, second, _ = solid_constants(square)
    SECTIONS.check(
        "Square tube 6 x 5 mm: torsion constant",
        source=LIBRARY,
        expected=torsion,
        got=found.torsion_mm4,
        rel=TORSION,
        because="Bredt cuts the corners short",
        unit="mm⁴",
    )
    SECTIONS.check(
        "Square tube 6 x 5 mm: second moment",
        source=LIBRARY,
        expected=second,
        got=found.second_x_mm4,
        rel=1e-6,
        because="both are exact",
        unit="mm⁴",
    )
