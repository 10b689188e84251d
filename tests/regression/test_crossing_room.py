"""Where two ribs cross, a strip between them is lost and comes back: it needs a bead below to lie on.

A third wall right there, a slot wider than beads bridge, or a wall that leans away leaves none; then the
forward rib makes way.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from wingpath.build.ailerons import hinge_wall
from wingpath.build.bays import bay_walls
from wingpath.build.ceiling import ceiling_of_sections
from wingpath.build.slot_planning import slots_of_planes
from wingpath.build.slots import Slot
from wingpath.build.solid import CutSettings
from wingpath.build.support import carried_mm
from wingpath.model.ribs import RibPlane
from wingpath.model.spec import spec_from_dict
from wingpath.pipeline.building import WingBuild, build_wing
from wingpath.pipeline.design import design_wing

BED = {"bed_x_mm": 800.0, "bed_y_mm": 800.0, "height_mm": 800.0}

BEAD_MM, WIDTH_MM = 0.4, 0.06

BESIDE_A_BAY: dict[str, Any] = {
    "name": "Sedge 100",
    "station": [
        {"span_mm": 0.0, "chord_mm": 114.11, "airfoil": "naca6417"},
        {
            "span_mm": 99.1,
            "chord_mm": 87.86,
            "leading_edge_mm": -0.28,
            "twist_deg": -3.49,
            "airfoil": "naca6413",
        },
    ],
    "wing": {"tip": "open"},
    "ribs": {"run": "both", "pitch_mm": 29.31, "angle_deg": 39.44, "stub_mm": 7.76},
    "slots": {"width_mm": 0.055},
    "print": {"bead_mm": 0.39, "layer_mm": 0.191},
    "servo_bay": [
        {
            "span_mm": 57.59,
            "length_mm": 25.56,
            "width_mm": 9.11,
            "depth_mm": 7.99,
            "chord_fraction": 0.44,
            "frame": False,
        }
    ],
}

AT_A_HINGE: dict[str, Any] = {
    "name": "Sedge 130",
    "station": [
        {"span_mm": 0.0, "chord_mm": 160.0, "airfoil": "naca2412"},
        {"span_mm": 130.0, "chord_mm": 160.0, "airfoil": "naca2412"},
    ],
    "wing": {"tip": "open"},
    "ribs": {"run": "both", "pitch_mm": 22.0, "angle_deg": 39.4},
    "slots": {"width_mm": 0.055},
    "print": {"bead_mm": 0.39, "layer_mm": 0.191},
    # two ribs cross at x 115.5, half a millimetre before its wall
    "aileron": [{"from_mm": 45.0, "to_mm": 85.0, "hinge_fraction": 116.5 / 160.0, "gap_mm": 1.0}],
    "printer": BED,
}

CLOSE_TO_A_HINGE: dict[str, Any] = AT_A_HINGE | {
    "name": "Sedge 110",
    "station": [
        {"span_mm": 0.0, "chord_mm": 160.0, "airfoil": "naca2412"},
        {"span_mm": 110.0, "chord_mm": 160.0, "airfoil": "naca2412"},
    ],
    "ribs": {"run": "both", "pitch_mm": 24.0, "angle_deg": 41.4},
    "print": {"bead_mm": 0.47, "layer_mm": 0.279},
    "aileron": [{"from_mm": 47.0, "to_mm": 70.0, "hinge_fraction": 0.7929034771, "gap_mm": 1.0}],
}
"""The rib that runs aft leaves the wing before the strip between both comes back."""

WIDE_SLOTS: dict[str, Any] = {
    "name": "Sedge 75",
    "station": [
        {"span_mm": 0.0, "chord_mm": 168.0, "airfoil": "naca6506"},
        {"span_mm": 75.0, "chord_mm": 137.0, "leading_edge_mm": -17.0, "airfoil": "naca6506"},
    ],
    "ribs": {"run": "both", "pitch_mm": 16.8, "angle_deg": 47.0},
    "slots": {"width_mm": 0.4},
    "print": {"bead_mm": 0.36, "layer_mm": 0.25},
    "spar_web": [{"chord_fraction": 0.5, "from_mm": 0.0, "to_mm": 60.0}],
}

SWEPT_HINGE: dict[str, Any] = {
    "name": "Sedge 300",
    "station": [
        {"span_mm": 0.0, "chord_mm": 165.0, "airfoil": "naca2411"},
        {"span_mm": 200.0, "chord_mm": 128.0, "leading_edge_mm": 98.0, "airfoil": "naca2411"},
    ],
    "ribs": {"run": "forward", "pitch_mm": 16.0},
    "aileron": [{"from_mm": 50.0, "to_mm": 135.0, "hinge_fraction": 0.72}],
    "printer": BED,
}


def airborne(build: WingBuild) -> list[str]:
    return [str(finding) for finding in build.findings if finding.code in ("airborne", "long-step")]


@pytest.mark.parametrize(
    "wing",
    [BESIDE_A_BAY, AT_A_HINGE, CLOSE_TO_A_HINGE, WIDE_SLOTS, SWEPT_HINGE],
    ids=lambda wing: wing["name"],
)
def test_nothing_hangs_at_a_crossing(wing: dict[str, Any]) -> None:
    build = build_wing(spec_from_dict(wing))
    assert build.proven
    assert airborne(build) == []


@pytest.mark.parametrize("pitch_mm", [20.0, 22.0, 26.0])
def test_nothing_hangs_at_a_swept_hinge_whatever_the_pitch(pitch_mm: float) -> None:
    wing = SWEPT_HINGE | {"ribs": {"run": "both", "pitch_mm": pitch_mm}}
    assert airborne(build_wing(spec_from_dict(wing))) == []


def planned(**walls: Any) -> dict[str, list[Slot]]:
    """Plan an aft and a forward rib that cross at x = 40, z = 20 in a block, and return their slots."""
    ring = np.array([[0.0, 0.0], [80.0, 0.0], [80.0, 6.0], [0.0, 6.0]])
    ceiling = ceiling_of_sections(np.linspace(0.0, 40.0, 81), lambda _z: ring, neck_mm=1.7 * BEAD_MM)
    z = np.array([-10.0, 50.0])
    planes = [
        RibPlane("aft rib", "aft", z, 40.0 + (z - 20.0)),
        RibPlane("forward rib", "forward", z, 40.0 - (z - 20.0)),
    ]
    settings = {"width_mm": WIDTH_MM, "crossing_mm": 0.08} | walls
    slots = slots_of_planes(
        planes, ceiling, (), start_mm=0.0, end_mm=40.0, bead_mm=BEAD_MM, rise=1.0, **settings
    )
    return {
        plane.name: sorted((slot for slot in slots if slot.name == plane.name), key=lambda slot: slot.z_mm[0])
        for plane in planes
    }


def wall_at(x_mm: float, *, lean: float = 0.0) -> Slot:
    z = np.array([0.0, 40.0])
    return Slot("wall", "web", z, x_mm + lean * (z - 20.0), np.zeros(2))


def test_two_ribs_by_themselves_cross() -> None:
    assert {name: len(slots) for name, slots in planned().items()} == {"aft rib": 1, "forward rib": 1}


@pytest.mark.parametrize(
    "walls",
    [
        {"fore_walls": [wall_at(40.22)]},
        {"fore_walls": [wall_at(40.65)]},
        {"aft_walls": [wall_at(39.4)]},
        {"width_mm": 0.09},
    ],
    ids=["half a bead before", "farther before", "behind", "wide"],
)
def test_the_forward_rib_makes_way_at_a_crossing(walls: dict[str, Any]) -> None:
    slots = planned(**walls)
    assert len(slots["aft rib"]) == 1
    below, above = slots["forward rib"]
    strip = walls.get("width_mm", WIDTH_MM) + BEAD_MM
    # the two ribs part by two for one of height
    assert below.z_mm[-1] < 20.0 - 0.5 * strip
    assert above.z_mm[0] > 20.0 + 0.5 * strip
    # it ends at its full height and grows again from the lower skin
    assert below.inner_mm[-1] > 5.0
    assert above.inner_mm[0] < 0.5


@pytest.mark.parametrize(
    "walls",
    [
        # both ribs are in the cut-out before they cross, or the strips before and between them come back
        {"fore_walls": [wall_at(40.18)]},
        {"fore_walls": [wall_at(40.8)]},
        # in the cut-out
        {"fore_walls": [wall_at(39.4)]},
        {"aft_walls": [wall_at(40.6)]},
    ],
)
def test_a_wall_elsewhere_does_not_matter(walls: dict[str, Any]) -> None:
    assert len(planned(**walls)["forward rib"]) == 1


@pytest.mark.parametrize(("bond_mm", "carried"), [(0.07, 0.08), (0.1, 0.1)])
def test_slots_cross_as_long_as_the_beads_that_come_back_are_carried(bond_mm: float, carried: float) -> None:
    # a fifth of a bead, or what beads bridge if that is more, and what ribs at 45 degrees go on by
    cut = CutSettings(
        bead_mm=BEAD_MM,
        width_mm=WIDTH_MM,
        neck_mm=0.7,
        rise=1.0,
        carried_mm=carried_mm(bead_mm=BEAD_MM, bond_mm=bond_mm),
        layer_mm=0.25,
        angle_deg=45.0,
    )
    assert cut.carried_mm == pytest.approx(carried)
    assert cut.crossing_mm == pytest.approx(carried + 0.25, abs=0.03)
    assert cut.crossing_mm < carried + 0.25
    assert replace(cut, angle_deg=0.0).crossing_mm == cut.carried_mm


@pytest.mark.parametrize(("width_mm", "pieces"), [(0.079, 1), (0.08, 1), (0.081, 2)])
def test_wider_slots_do_not_cross(width_mm: float, pieces: int) -> None:
    assert len(planned(width_mm=width_mm)["forward rib"]) == pieces


def spec_with_slots(width_mm: float) -> dict[str, Any]:
    return SWEPT_HINGE | {
        "ribs": {"run": "both", "pitch_mm": 22.0},
        "aileron": [],
        "slots": {"width_mm": width_mm},
    }


def test_the_widest_slot_as_it_is_told_fuses_and_crosses() -> None:
    design = design_wing(spec_from_dict(spec_with_slots(0.06)))
    # told to thousandths, rounded up here
    told = round(design.limits.bond_mm, 3)
    assert told > design.limits.bond_mm
    at_limit = build_wing(spec_from_dict(spec_with_slots(told)))
    assert "open-slot" not in {finding.code for finding in at_limit.findings}
    beyond = build_wing(spec_from_dict(spec_with_slots(told + 0.001)))
    words = [finding.remedy for finding in beyond.findings if finding.code == "open-slot"]
    assert words
    assert all(f"at most {told:.3f} mm" in word for word in words)
    # and no rib is shorter for it
    narrow = build_wing(spec_from_dict(spec_with_slots(0.06)))
    lengths = [
        part.continuity.layers.path_mm.sum() for one in (narrow, at_limit, beyond) for part in one.panels
    ]
    assert lengths == pytest.approx([lengths[0]] * 3, rel=2e-3)


def test_wide_slots_make_way_for_webs_as_well() -> None:
    web = wall_at(30.0)
    narrow, wide = planned(leaders=[web]), planned(leaders=[web], width_mm=0.09)
    assert [len(slots) for slots in narrow.values()] == [1, 1]
    assert len(wide["aft rib"]) == 2


def test_forward_ribs_begin_clear_of_a_wall_that_recedes() -> None:
    wall = wall_at(36.0, lean=0.4)
    slots = planned(receding=[wall])
    assert len(slots["aft rib"]) == 1
    for slot in slots["forward rib"]:
        at_wall = np.interp(slot.z_mm, wall.z_mm, wall.x_mm)
        assert np.all(np.abs(slot.x_mm - at_wall) > WIDTH_MM + BEAD_MM)


def test_walls_are_told_where_they_are() -> None:
    build = build_wing(spec_from_dict(BESIDE_A_BAY))
    (bay,) = build.design.voids.bays
    fore, aft = bay_walls(bay)
    assert (fore.x_mm[0], aft.x_mm[-1]) == (bay.fore_mm, bay.aft_mm)
    assert tuple(fore.z_mm) == bay.reach_mm == tuple(aft.z_mm)
    (aileron,) = build_wing(spec_from_dict(SWEPT_HINGE)).design.voids.ailerons
    wall = hinge_wall(aileron)
    assert wall.x_mm == pytest.approx(aileron.wall_mm(wall.z_mm))
