"""Windows against closed forms: depth of halves, distance to crossings, volumes, solid ahead of a slot."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
import shapely
from shapes import slotted_box

from wingpath import build_wing, spec_from_dict
from wingpath.build.bays import Bay
from wingpath.build.bores import Bore
from wingpath.build.gaps import GapTable, gaps_of_regions
from wingpath.build.slots import LEAST_PRISM_MM, Slot, slot_mesh
from wingpath.build.surfaces import SurfaceNumbers
from wingpath.model.ribs import RibPlane
from wingpath.model.windows import Windows, crossing_distance_mm
from wingpath.pipeline.bead_kinds import BEAD_KINDS, bead_kinds

ROUNDING = 1e-9

TURNS = 0.02
"""The bead turns round two ends instead of one, on chamfers."""

SLIVER = 1e-4
"""Closing a region shrinks it by a hundred-thousandth of a millimetre more than it was grown."""

WINDOWS = Windows(3.0, rise=1.0, whole_mm=0.9, least_half_mm=1.8)

PRISM: dict[str, Any] = {
    "station": [
        {"span_mm": 0.0, "chord_mm": 160.0, "airfoil": "naca0014"},
        {"span_mm": 90.0, "chord_mm": 160.0, "airfoil": "naca0014"},
    ],
    "wing": {"tip": "open"},
    "ribs": {"run": "both", "pitch_mm": 40.0, "angle_deg": 45.0, "stub_mm": 3.0},
    "panels": {"joints_mm": []},
}
"""A straight wing of one section, 22.4 mm thick, whose ribs cross every 20 mm of span."""


@pytest.mark.parametrize(
    ("away", "depth"), [(0.0, 10.0), (0.9, 10.0), (2.9, 8.0), (7.9, 3.0), (8.0, 3.0), (30.0, 3.0)]
)
def test_halves_draw_back_on_slopes(away: float, depth: float) -> None:
    assert float(WINDOWS.depth_mm(away, 10.0)) == pytest.approx(depth, abs=ROUNDING)


def test_a_stub_is_no_deeper_than_the_section_has_room_for() -> None:
    assert float(WINDOWS.depth_mm(50.0, 2.0)) == 2.0
    # two halves of four beads or, where stubs are less deep, two stubs
    assert WINDOWS.least_thickness_mm(0.7) == pytest.approx(4.3, abs=ROUNDING)
    assert Windows(1.2, 1.0, 0.9, 1.8).least_thickness_mm(0.7) == pytest.approx(3.1, abs=ROUNDING)


def plane(run: Any, root: float, lean: float) -> RibPlane:
    return RibPlane(f"{run} {root}", run, np.array([0.0, 100.0]), np.array([root, root + lean * 100.0]))


def test_distance_to_the_nearest_crossing() -> None:
    planes = [
        plane("aft", 0.0, 1.0),
        plane("forward", 40.0, -1.0),
        plane("forward", 100.0, -1.0),
        plane("web", 30.0, 0.0),
    ]
    z = np.array([0.0, 20.0, 34.0, 36.0, 50.0, 90.0])
    found = crossing_distance_mm(planes, z)
    # x = z meets x = 40 - z at 20 and x = 100 - z at 50
    assert found[0] == pytest.approx([20.0, 0.0, 14.0, 14.0, 0.0, 40.0], abs=ROUNDING)
    assert found[1] == pytest.approx(np.abs(z - 20.0), abs=ROUNDING)
    assert found[3].tolist() == [0.0] * 6
    assert np.all(np.isinf(crossing_distance_mm([planes[0]], z)))
    # the line of a rib counts, wherever on it the rib begins
    late = RibPlane("late", "forward", np.array([20.0, 100.0]), np.array([80.0, 0.0]))
    assert crossing_distance_mm([planes[0], planes[1], late], z)[0] == pytest.approx(found[0], abs=ROUNDING)


NECK = 0.8
AT_60 = np.array([20.0, 1.0])
TUBE = Bore("tube", "tube[0]", 3.0, NECK, 0.0, 60.0, AT_60, AT_60)
STRIP = Bore("tube", "tube[1]", 5.0, NECK, 0.0, 60.0, AT_60, AT_60, (5.0, 1.5))
LOWER = Bay("servo", 0, "lower", 20.0, 30.0, 10.0, 30.0, 2.0, -3.0, NECK)
UPPER = Bay("plate", 0, "upper", 20.0, 30.0, 10.0, 30.0, 2.0, 7.0, NECK)


@pytest.mark.parametrize(
    ("fitting", "x", "z", "limit", "roof"),
    [
        (TUBE, 20.0, 25.0, -2.8, 4.8),
        (TUBE, 20.0 + 0.6 * 3.8, 25.0, 1.0 - 0.8 * 3.8, 1.0 + 0.8 * 3.8),
        (TUBE, 23.9, 25.0, np.inf, -np.inf),
        (TUBE, 20.0, 60.1, np.inf, -np.inf),
        (STRIP, 20.0, 25.0, -1.3, 3.3),
        (STRIP, 25.7, 25.0, -1.3, 3.3),
        (STRIP, 25.9, 25.0, np.inf, -np.inf),
        # floors, slopes of 45 degrees that run on beyond the skin, and beside the walls
        (LOWER, 20.0, 25.0, np.inf, 2.8),
        (LOWER, 20.0, 32.0, np.inf, 0.8),
        (LOWER, 30.7, 25.0, np.inf, 2.8),
        (LOWER, 30.9, 25.0, np.inf, -np.inf),
        (UPPER, 20.0, 25.0, 1.2, -np.inf),
        (UPPER, 20.0, 18.0, 3.2, -np.inf),
        (UPPER, 9.1, 25.0, np.inf, -np.inf),
    ],
)
def test_slots_keep_a_neck_under_and_over_fittings(
    fitting: Bore | Bay, x: float, z: float, limit: float, roof: float
) -> None:
    place = (np.array([x]), np.array([z]))
    assert float(fitting.limit_mm(*place)[0]) == pytest.approx(limit, abs=ROUNDING)
    assert float(fitting.roof_mm(*place)[0]) == pytest.approx(roof, abs=ROUNDING)


@pytest.mark.parametrize("side", ["lower", "upper"])
def test_a_slot_is_a_prism_between_its_end_and_the_outside(side: Any) -> None:
    slot = Slot("rib", "aft", np.array([0.0, 10.0]), np.array([5.0, 15.0]), np.array([2.0, 4.0]), side=side)
    mesh = slot_mesh(slot, width_mm=0.1, below_mm=-7.0, above_mm=9.0, numbers=SurfaceNumbers())
    # ends at 2 to 4 mm, 3 in the mean: 10 mm from below, 6 from above
    assert mesh.volume_mm3 == pytest.approx(10.0 * 0.1 * (10.0 if side == "lower" else 6.0), rel=1e-9)


@pytest.mark.parametrize("side", ["lower", "upper"])
def test_every_surface_of_a_slot_is_flat(side: Any) -> None:
    # by its surfaces the end of a slot that rises and falls is told from flat floors
    slot = Slot(
        "rib", "aft", np.array([0.0, 4.0, 9.0]), np.array([5.0, 9.0, 14.0]), np.array([2.0, 5.0, 1.0])
    )
    slot = replace(slot, side=side)
    mesh = slot_mesh(slot, width_mm=0.1, below_mm=-7.0, above_mm=9.0, numbers=SurfaceNumbers())
    normals = np.cross(*np.diff(mesh.vertices[mesh.faces], axis=1).transpose(1, 0, 2))
    normals /= np.linalg.norm(normals, axis=1)[:, None]
    assert mesh.surfaces is not None
    for number in np.unique(mesh.surfaces):
        own = normals[mesh.surfaces == number]
        assert own == pytest.approx(np.broadcast_to(own[0], own.shape), abs=ROUNDING)


@pytest.mark.parametrize("side", ["lower", "upper"])
def test_the_prism_of_a_slot_that_reaches_nowhere_is_not_turned_inside_out(side: Any) -> None:
    inner = np.full(2, -8.0 if side == "lower" else 10.0)
    slot = Slot("rib", "aft", np.array([0.0, 10.0]), np.array([5.0, 5.0]), inner, side=side)
    mesh = slot_mesh(slot, width_mm=0.1, below_mm=-7.0, above_mm=9.0, numbers=SurfaceNumbers())
    assert mesh.volume_mm3 == pytest.approx(10.0 * 0.1 * LEAST_PRISM_MM, rel=ROUNDING)


@pytest.mark.parametrize(("depth", "apart"), [(3.0, 2.5), (1.5, 0.6)])
def test_solid_before_a_slot_that_comes_from_the_other_side(depth: float, apart: float) -> None:
    top = 8.0
    lower = slotted_box([(15.0, 0.06, depth), (30.0, 0.06, depth)])
    region = lower - shapely.box(15.0 - 0.03, depth + apart, 15.0 + 0.03, top + 1.0)
    gaps: GapTable = gaps_of_regions(np.array([region], dtype=object), np.arange(1))
    faced = np.abs(gaps.x_mm - 15.0) < 0.01
    assert faced.sum() == 2
    assert gaps.facing_mm[faced] == pytest.approx([apart, apart], abs=SLIVER)
    assert (~faced).sum() == 1
    assert np.isnan(gaps.facing_mm[~faced]).all()
    low = faced & (gaps.y_mm < depth + 0.1)
    assert gaps.neck_mm[low] == pytest.approx(min(apart, depth), abs=SLIVER)
    assert gaps.neck_mm[~faced] == pytest.approx(min(depth, top - depth), abs=SLIVER)


@pytest.mark.parametrize("aside", [0.04, -0.04])
def test_a_slot_that_comes_a_little_aside_is_met_too(aside: float) -> None:
    # the middle of either one passes beside the other, 0.06 mm wide
    region = slotted_box([(15.0, 0.06, 3.0)])
    region -= shapely.box(15.0 + aside - 0.03, 5.5, 15.0 + aside + 0.03, 9.0)
    gaps: GapTable = gaps_of_regions(np.array([region], dtype=object), np.arange(1))
    assert gaps.facing_mm == pytest.approx(np.full(2, np.hypot(2.5, 0.03)), abs=SLIVER)


@pytest.mark.parametrize(("y", "kind"), [(3.8, "skin"), (4.0, "ribs"), (9.0, "ribs"), (-3.0, "skin")])
def test_moves_beside_a_slot_from_above_are_ribs(y: float, kind: str) -> None:
    slot = Slot("rib", "aft", np.array([0.0, 9.0]), np.full(2, 20.0), np.full(2, 4.2), side="upper")
    found = bead_kinds(np.array([[20.2, y, 5.0]]), slots=(slot,), bead_mm=0.45, slot_mm=0.06)
    assert BEAD_KINDS[int(found[0])] == kind


def test_windows_of_a_prism_save_the_area_of_their_openings() -> None:
    windows = build_wing(spec_from_dict(PRISM))
    ribs = {**PRISM["ribs"], "stub_mm": None}
    whole = build_wing(spec_from_dict({**PRISM, "ribs": {k: v for k, v in ribs.items() if v is not None}}))
    saved = sum(
        float((a.continuity.layers.path_mm - b.continuity.layers.path_mm).sum())
        for a, b in zip(whole.panels, windows.panels, strict=True)
    )
    # along each slot the path goes up and down; between the ends of two slots in line it is not laid
    layer, neck = 0.25, 1.7 * 0.45
    rib_ends = _openings(windows, layer)
    # where a rib is whole it has two necks less one: the upper skin's and that on the middle are alike
    assert saved == pytest.approx(2.0 * (rib_ends.sum() - neck * len(rib_ends)), rel=TURNS)


def _openings(build: Any, layer: float) -> np.ndarray[Any, Any]:
    """Return the solid between the ends of all slots in line on all layers, from the design [mm]."""
    found = []
    solid = build.panels[0].solid
    for z in solid.panel.start_mm + layer * (0.5 + np.arange(len(build.panels[0].continuity.layers))):
        ends: dict[str, dict[str, float]] = {}
        for slot in solid.slots:
            if slot.z_mm[0] <= z <= slot.z_mm[-1]:
                ends.setdefault(slot.name, {})[slot.side] = float(np.interp(z, slot.z_mm, slot.inner_mm))
        found += [pair["upper"] - pair["lower"] for pair in ends.values() if len(pair) == 2]
    return np.array(found)
