"""The travel of an aileron, by turning its mesh about its hinge until it hits the wing's.

The collision is a boolean intersection of the two finished meshes; the free angle that the report tells is
held against it.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import manifold3d
import numpy as np
import pytest

from wingpath import Mesh, WingBuild
from wingpath.build.ailerons import Aileron

Build = Callable[[dict[str, Any]], WingBuild]

TOUCH_MM3 = 1e-3
"""Two meshes that share less than this do not collide [mm3]: a cube of a tenth of a millimetre."""

BEYOND_DEG = 2.0
"""So far beyond the free angle they must [deg]."""


def wing(
    *,
    section: str = "naca2412",
    chords: tuple[float, float] = (180.0, 180.0),
    sweep_mm: float = 0.0,
    **aileron: float,
) -> dict[str, Any]:
    return {
        "station": [
            {"span_mm": 0.0, "chord_mm": chords[0], "airfoil": section},
            {"span_mm": 240.0, "chord_mm": chords[1], "leading_edge_mm": sweep_mm, "airfoil": section},
        ],
        "wing": {"tip": "open"},
        "ribs": {"run": "none"},
        "print": {"layer_mm": 0.36},
        "printer": {"bed_x_mm": 500.0, "bed_y_mm": 500.0},
        "panels": {"joints_mm": []},
        "aileron": [{"from_mm": 85.0, "to_mm": 145.0, "hinge_fraction": 0.74, **aileron}],
    }


CASES = {
    "symmetric": wing(up_deg=20.0, down_deg=20.0),
    "asymmetric": wing(up_deg=30.0, down_deg=12.0),
    "up only": wing(up_deg=25.0, down_deg=0.0),
    "narrow gap": wing(up_deg=15.0, down_deg=25.0, gap_mm=0.5),
    "thick": wing(section="naca0018", up_deg=30.0, down_deg=30.0),
    "tapered": wing(chords=(200.0, 130.0), up_deg=25.0, down_deg=20.0),
    "swept hinge": wing(chords=(190.0, 150.0), sweep_mm=60.0, up_deg=22.0, down_deg=18.0),
    "slanted hinge": wing(hinge_fraction_end=0.8, up_deg=20.0, down_deg=20.0),
    "swept forward": wing(chords=(190.0, 150.0), sweep_mm=-30.0, up_deg=20.0, down_deg=15.0),
    "wide gap": wing(up_deg=10.0, down_deg=10.0, gap_mm=2.0),
    "wide gap, swept": wing(chords=(190.0, 190.0), sweep_mm=110.0, up_deg=10.0, down_deg=10.0, gap_mm=1.6),
    "strongly swept": wing(chords=(190.0, 150.0), sweep_mm=130.0, up_deg=30.0, down_deg=25.0, gap_mm=0.5),
}


def solid(mesh: Mesh) -> manifold3d.Manifold:
    return manifold3d.Manifold(
        manifold3d.Mesh64(
            vert_properties=np.array(mesh.vertices, order="C"),
            tri_verts=np.array(mesh.faces, dtype=np.uint64, order="C"),
        )
    )


class Hinged:
    """Wing and aileron as solids, in wing coordinates."""

    def __init__(self, build: WingBuild) -> None:
        (panel,), (surface,), (aileron,) = build.panels, build.surfaces, build.design.voids.ailerons
        self.aileron = aileron
        self.wing = solid(panel.solid.mesh)
        self.surface = solid(surface.solid.mesh).translate((0.0, 0.0, surface.solid.panel.start_mm))
        self.pivot = np.array(aileron.hinge[0])
        along = np.array(aileron.hinge[1]) - self.pivot
        self.along = along / np.linalg.norm(along)

    def shared(self, up_deg: float) -> float:
        """Return the volume that both fill with the trailing edge turned up by an angle [mm3]."""
        x, y, z = self.along
        cross = np.array([[0.0, -z, y], [z, 0.0, -x], [-y, x, 0.0]])
        angle = np.deg2rad(up_deg)
        # Rodrigues' formula about the outboard direction: it lifts what lies aft
        turn = np.eye(3) + np.sin(angle) * cross + (1.0 - np.cos(angle)) * cross @ cross
        moved = self.surface.transform(np.column_stack([turn, self.pivot - turn @ self.pivot]))
        return float((moved ^ self.wing).volume())


@pytest.fixture(params=sorted(CASES), scope="module")
def hinged(request: pytest.FixtureRequest, built: Build) -> Hinged:
    return Hinged(built(CASES[request.param]))


@pytest.mark.parametrize("way", [1.0, -1.0], ids=["up", "down"])
def test_nothing_touches_at_any_angle_of_the_wanted_travel(hinged: Hinged, way: float) -> None:
    wanted = hinged.aileron.up_deg if way > 0 else hinged.aileron.down_deg
    for share in (0.0, 0.2, 0.4, 0.6, 0.8, 1.0):
        assert hinged.shared(way * share * wanted) < TOUCH_MM3, share * wanted


@pytest.mark.parametrize("way", [1.0, -1.0], ids=["up", "down"])
def test_the_free_angle_is_where_they_meet(hinged: Hinged, way: float) -> None:
    wanted, free = (
        (hinged.aileron.up_deg, hinged.aileron.free_deg[0])
        if way > 0
        else (hinged.aileron.down_deg, hinged.aileron.free_deg[1])
    )
    assert free >= wanted
    # free means free
    for angle in np.linspace(wanted, free - 0.1, 4):
        assert hinged.shared(way * float(angle)) < TOUCH_MM3, angle
    if free < 90.0:
        assert hinged.shared(way * (free + BEYOND_DEG)) > TOUCH_MM3


def test_turning_up_lifts_the_trailing_edge(built: Build) -> None:
    one = Hinged(built(CASES["symmetric"]))
    # turned about the quarter of a full turn the surface stands upright, above the hinge
    x, y, _ = one.along
    assert (x, y) == pytest.approx((0.0, 0.0), abs=1e-6)
    angle = np.deg2rad(90.0)
    turn = np.array(
        [[np.cos(angle), -np.sin(angle), 0.0], [np.sin(angle), np.cos(angle), 0.0], [0.0, 0.0, 1.0]]
    )
    stood = one.surface.transform(np.column_stack([turn, one.pivot - turn @ one.pivot]))
    assert stood.bounding_box()[4] > one.pivot[1] + 40.0


def test_room_at_the_sloped_ends_changes_sides_with_the_sweep() -> None:
    one = Aileron(
        name="a",
        number=1,
        from_mm=0.0,
        to_mm=60.0,
        gap_mm=1.0,
        up_deg=20.0,
        down_deg=20.0,
        hinge=np.array([[100.0, 0.0, 0.0], [130.0, 0.0, 60.0]]),
        start_mm=0.0,
        end_mm=60.0,
        bay_mm=(0.0, 60.0),
        half_mm=(6.0, 6.0),
    )
    other = replace(one, hinge=np.array([[130.0, 0.0, 0.0], [100.0, 0.0, 60.0]]))
    inboard, outboard = one.end_room_mm
    assert other.end_room_mm == pytest.approx((outboard, inboard))
    # swept aft the surface turns towards its outboard end
    assert 1.0 < inboard < outboard - 1.0
