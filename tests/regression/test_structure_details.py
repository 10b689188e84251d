"""Small things that stiffness rests on: refusals, the root, where a wrinkle is said to be."""

from __future__ import annotations

import numpy as np
import pytest
from assessed import SHORT_WING

from wingpath.core.errors import InputError
from wingpath.model.spec import spec_from_dict
from wingpath.pipeline.design import design_wing, tube_materials
from wingpath.pipeline.shell_inputs import beam_of_inputs, planned_inputs, wall_material
from wingpath.pipeline.shell_solving import held_wing
from wingpath.structure.aeroelastic import torsion_flexibility_deg_per_n_mm
from wingpath.structure.beam import SHORTEST_MM
from wingpath.structure.planform_mesh import PlanformMesh, planform_mesh
from wingpath.structure.shell_loads import skin_loads
from wingpath.structure.shell_results import HeldWing
from wingpath.structure.skins import SkinSurfaces
from wingpath.structure.strip_loads import StripLoads
from wingpath.structure.typical_section import section_effectiveness
from wingpath.structure.wing_shell import _heights


@pytest.fixture(scope="module")
def wing() -> HeldWing:
    design = design_wing(spec_from_dict(SHORT_WING))
    inputs = planned_inputs(design, tube_materials(design.spec))
    return held_wing(inputs, wall_material(design.filament, design.spec.print), edge_mm=6.0)


@pytest.mark.parametrize(
    ("station_mm", "gj"),
    [([0.0, 100.0], [1e6, 0.0]), ([0.0, 100.0], [1e6, -1.0]), ([0.0, 0.0], [1e6, 1e6])],
)
def test_torsional_stiffness_of_nothing_is_refused(station_mm: list[float], gj: list[float]) -> None:
    with pytest.raises(InputError, match="stations that do not rise or a stiffness of 0"):
        torsion_flexibility_deg_per_n_mm([50.0], station_mm, gj)


def test_the_root_does_not_move_and_the_rest_does(wing: HeldWing) -> None:
    moved, _ = wing.tip_torque_displacement(0.1)
    motion = wing.motion(moved, np.array([-1.0, 0.0, 45.0, 90.0]))
    assert motion.deflection_mm[:2] == pytest.approx([0.0, 0.0], abs=1e-12)
    assert motion.twist_deg[:2] == pytest.approx([0.0, 0.0], abs=1e-12)
    assert 0.0 < motion.twist_deg[2] < motion.twist_deg[3]


def test_a_wrinkle_is_where_its_fraction_of_the_chord_says(wing: HeldWing) -> None:
    moved, _ = wing.tip_torque_displacement(1.0)
    for place in wing.buckling_both_ways(moved):
        assert place is not None
        chord = 100.0 - 20.0 * place.z_mm / 90.0
        nose = 6.0 * place.z_mm / 90.0
        # the middles of the triangles near it end a part of an edge before the chord does
        assert place.x_mm == pytest.approx(nose + place.chord_fraction * chord, abs=6.0)
        assert 0.05 < place.chord_fraction < 0.95


def test_a_beam_has_no_piece_next_to_no_length() -> None:
    webs = [
        {"chord_fraction": share, "from_mm": 0.0, "to_mm": to}
        for share, to in ((0.5, 60.0), (0.6, 60.3), (0.7, 89.6))
    ]
    design = design_wing(spec_from_dict({**SHORT_WING, "wing": {"tip": "open"}, "spar_web": webs}))
    inputs = planned_inputs(design, tube_materials(design.spec))
    ends = beam_of_inputs(inputs, wall_material(design.filament, design.spec.print)).z_mm
    assert np.diff(ends).min() >= SHORTEST_MM
    assert np.abs(ends - 60.0).min() < SHORTEST_MM


STATION = {"chord_mm": 100.0, "airfoil": "naca0012"}

STRAIGHT = {
    "name": "Sedge 200",
    "station": [{"span_mm": 0.0, **STATION}, {"span_mm": 100.0, **STATION}],
    "wing": {"tip": "open", "trailing_edge_mm": 2.0},
}


def straight_plan(edge_mm: float) -> tuple[SkinSurfaces, PlanformMesh]:
    design = design_wing(spec_from_dict(STRAIGHT))
    skins = planned_inputs(design, tube_materials(design.spec)).skins
    return skins, planform_mesh(skins, (), (), edge_mm=edge_mm, breaks_mm=())


@pytest.mark.parametrize("edge_mm", [2.0, 7.0, 11.0])
def test_edges_along_a_straight_border_are_even(edge_mm: float) -> None:
    _, plan = straight_plan(edge_mm)
    for border in (plan.front, plan.rear):
        steps = np.diff(plan.z_mm[border])
        assert len(steps) == round(100.0 / edge_mm)
        assert steps == pytest.approx(steps.mean(), rel=1e-6)


def test_edges_are_closer_round_the_nose() -> None:
    _, plan = straight_plan(5.0)
    place = plan.fraction[plan.root]
    steps = np.diff(place)
    assert place[0] == 0.0
    assert place[-1] == 1.0
    assert steps[0] < 0.6 * steps[len(steps) // 2]
    # farther aft they are as long as was asked for, but for the blunt edge
    assert steps[(place[:-1] > 0.4) & (place[1:] < 1.0)] == pytest.approx(0.05, rel=0.05)


def test_the_skins_meet_at_both_edges_and_nowhere_else() -> None:
    skins, plan = straight_plan(5.0)
    upper, lower = _heights(skins, plan, ())
    edges = np.zeros(len(upper), bool)
    edges[plan.front] = edges[plan.rear] = True
    assert upper[edges] == pytest.approx(lower[edges], abs=1e-9)
    assert (upper - lower)[~edges].min() > 1.0


@pytest.mark.parametrize("strips", [3, 20, 150])
def test_strips_of_any_width_load_the_skins_with_all_they_have(wing: HeldWing, strips: int) -> None:
    edges = np.linspace(0.0, 90.0, strips + 1)
    z = 0.5 * (edges[1:] + edges[:-1])
    force, couple = 0.01 + 0.002 * z, -0.03 * np.ones(strips)
    loads = StripLoads(edges, force, z, 25.0 + 0.05 * z, couple)
    nodal = skin_loads(wing.shell, loads)
    place = wing.shell.model.frames.points_mm
    assert nodal[:, 1].sum() == pytest.approx(force.sum())
    assert (nodal[:, 1] * place[:, 2]).sum() == pytest.approx((force * z).sum())
    assert (nodal[:, 1] * place[:, 0]).sum() == pytest.approx((force * loads.x_mm - couple).sum())
    # no node stands out: what a narrow strip bears is spread over two edges
    assert np.abs(nodal[:, 1]).max() < 0.1 * force.sum()


@pytest.mark.parametrize("speed_m_s", [40.0, 41.0])
def test_at_the_speed_of_divergence_and_above_no_aileron_is_told(speed_m_s: float) -> None:
    with pytest.raises(InputError, match="below the speed of divergence, 40 m/s"):
        section_effectiveness(speed_m_s=speed_m_s, divergence_m_s=40.0, reversal_m_s=30.0)
