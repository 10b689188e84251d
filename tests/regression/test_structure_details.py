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
from wingpath.structure.planform_mesh import planform_mesh
from wingpath.structure.shell_results import HeldWing
from wingpath.structure.typical_section import section_effectiveness


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


@pytest.mark.parametrize("edge_mm", [2.0, 7.0, 11.0])
def test_edges_along_a_straight_border_are_even(edge_mm: float) -> None:
    station = {"chord_mm": 100.0, "airfoil": "naca0012"}
    straight = {
        "name": "Sedge 200",
        "station": [{"span_mm": 0.0, **station}, {"span_mm": 100.0, **station}],
        "wing": {"tip": "open"},
    }
    design = design_wing(spec_from_dict(straight))
    inputs = planned_inputs(design, tube_materials(design.spec))
    plan = planform_mesh(inputs.skins, (), (), edge_mm=edge_mm, breaks_mm=())
    for border in (plan.front, plan.rear):
        steps = np.diff(plan.z_mm[border])
        assert len(steps) == round(100.0 / edge_mm)
        assert steps == pytest.approx(steps.mean(), rel=1e-6)


@pytest.mark.parametrize("speed_m_s", [40.0, 41.0])
def test_at_the_speed_of_divergence_and_above_no_aileron_is_told(speed_m_s: float) -> None:
    with pytest.raises(InputError, match="below the speed of divergence, 40 m/s"):
        section_effectiveness(speed_m_s=speed_m_s, divergence_m_s=40.0, reversal_m_s=30.0)
