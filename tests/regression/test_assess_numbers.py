"""Numbers of whole assessments held against statics, thin walls and strip theory done here by hand."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
import shapely
from assessed import EDGE_MM, ROD, SHORT_WING, assessed, assessed_fused

from wingpath.model.spec import spec_from_dict
from wingpath.pipeline.aeroelastics import aeroelastics_of
from wingpath.pipeline.assess_document import assess_document
from wingpath.pipeline.assessing import Assessment, assess_wing
from wingpath.pipeline.building import build_wing
from wingpath.pipeline.design import design_wing, tube_materials
from wingpath.pipeline.shell_inputs import (
    planned_inputs,
    shell_inputs,
    wall_material,
    wall_thickness_mm,
)
from wingpath.pipeline.shell_solving import NOSE_DOWN, NOSE_UP, held_wing, solve_state
from wingpath.pipeline.wing_loads import aileron_throws
from wingpath.structure.aeroelastic import (
    aero_strips,
    aileron_effectiveness,
    covered_shares,
    reversal_speed_m_s,
    torsion_flexibility_deg_per_n_mm,
)
from wingpath.structure.atmosphere import SEA_LEVEL
from wingpath.structure.load_cases import AileronThrow
from wingpath.structure.shell_loads import skin_loads
from wingpath.structure.strip_loads import StripLoads
from wingpath.structure.thin_airfoil import flap_effect
from wingpath.structure.typical_section import uniform_wing_divergence_m_s

LOOSE_SKIN = 0.06
"""A held root leaves all bending to the tube, but for what the skins' bearing on the fuselage takes over the
first millimetres, where the tube's forces are told."""

LUMPED = 0.05
"""Six weights stand for a spread load; the tip is told by them within a few per cent."""

STRIPS = 0.15
"""Ten strips of a shell against a uniform wing: its root is stiffer than free twist, and its tip has
its own closing wall."""

MESHED = 0.06
"""What is left between edges of 9 and 6 mm on a wing this small, where skins bend between tube and load."""

STRAIGHT_MM = 1e-3
"""Places along a section are interpolated; ribs pushed the tube aside by 2 mm [mm]."""

BREDT = 0.04
"""A clamped root keeps the section from warping, a coarse nose and a closed tail take a little area."""

FITTED: dict[str, Any] = {
    "name": "Sedge 300",
    "aircraft": {"all_up_mass_g": 200.0, "load_factor": 4.0, "max_speed_m_s": 20.0},
    "station": [
        {"span_mm": 0.0, "chord_mm": 130.0, "airfoil": "naca2415"},
        {"span_mm": 150.0, "chord_mm": 120.0, "leading_edge_mm": 3.0, "airfoil": "naca2415"},
    ],
    "ribs": {"run": "aft", "pitch_mm": 26.0},
    "tube": [{**ROD, "to_mm": 140.0}],
    "plate_bay": [
        {"span_mm": 50.0, "length_mm": 20.0, "width_mm": 16.0, "depth_mm": 2.0, "chord_fraction": 0.5}
    ],
    "aileron": [{"from_mm": 55.0, "to_mm": 105.0, "hinge_fraction": 0.75}],
    "panels": {"joints_mm": []},
}
"""With an aileron, a plate and one rib run."""


@pytest.fixture(scope="module")
def whole() -> Assessment:
    return assessed(SHORT_WING)


def margin_of(one: Assessment, name: str) -> Any:
    return next(margin for margin in one.margins if margin.name == name)


def test_the_tube_bears_the_bending_of_the_worst_case_at_the_root(whole: Assessment) -> None:
    """``1.5 M / Z`` of a tube 4/2.5, with the greatest net bending moment over all cases."""
    modulus = math.pi / 32.0 * (4.0**4 - 2.5**4) / 4.0
    worst = max(abs(float(case.loads.bending_n_mm(0.0))) for case in whole.cases)
    told = margin_of(whole, "tube_bending_root")
    assert told.demand == pytest.approx(1.5 * worst / modulus, rel=LOOSE_SKIN)
    assert told.value == pytest.approx(told.allowable / told.demand - 1.0)


def test_foam_bears_what_the_power_law_says(whole: Assessment) -> None:
    along = 32.0 * 2.44**-1.5
    assert margin_of(whole, "layer_tension").allowable == pytest.approx(0.52 * along)
    assert margin_of(whole, "skin_compression").allowable in (
        pytest.approx(along),
        pytest.approx(0.52 * along),
    )


def test_weights_bend_the_tip_by_what_flight_at_the_limit_does_less_the_wings_own(whole: Assessment) -> None:
    """A weight is ``n (lift - own) - own``: the limit's deflection less that of the own weight at one g."""
    assert whole.proof is not None
    step = next(
        number
        for number, one in enumerate(whole.proof.plan.steps)
        if one.share_of_limit == pytest.approx(1.0)
    )
    limit, landing = whole.solved.tip_mm("limit"), whole.solved.tip_mm("landing")
    assert limit is not None
    assert landing is not None
    assert landing < 0.0 < limit
    hanging = landing / 3.0
    assert whole.proof.deflection_mm[step, -1] == pytest.approx(limit + hanging, rel=LUMPED)


def test_own_mass_relieves_the_deflection_per_g(whole: Assessment) -> None:
    item = {"name": "weight", "mass_g": 8.0, "span_mm": 80.0}
    heavy, light = (
        assessed_fused({**SHORT_WING, "item": [item]}).solved.tip_mm("1 g"),
        whole.solved.tip_mm("1 g"),
    )
    assert heavy is not None
    assert light is not None
    assert heavy < 0.9 * light


def test_the_band_reaches_to_partly_fused(whole: Assessment) -> None:
    wing = assess_document([whole], [()])["wings"][0]
    by_name = {state["state"]: state for state in wing["states"]}
    told, partly = by_name["fused"], by_name["partly fused"]
    for key in ("twist_deg_per_n_m", "tip_deflection_limit_mm"):
        assert wing["band"][key] >= abs(partly[key] / told[key] - 1.0)


def test_a_nose_down_torque_is_the_nose_up_one_turned_round() -> None:
    design = design_wing(spec_from_dict({**FITTED, "aileron": []}))
    inputs = planned_inputs(design, tube_materials(design.spec))
    wing = held_wing(inputs, wall_material(design.filament, design.spec.print), edge_mm=EDGE_MM)
    stations = np.linspace(0.0, inputs.skins.end_mm, 5)
    state, moved = solve_state("one", wing, {}, stations_mm=stations, buckled=[NOSE_UP, NOSE_DOWN])
    up, down = state.buckling[NOSE_UP], state.buckling[NOSE_DOWN]
    turned = wing.buckling(-moved[NOSE_UP])
    assert up is not None
    assert down is not None
    assert turned is not None
    assert down.factor == pytest.approx(turned.factor, rel=1e-3)
    # one rib run is pressed by the one and pulled by the other
    assert abs(down.factor / up.factor - 1.0) > 0.01
    assert state.twist_deg_per_n_m > 0.0
    assert np.all(np.diff(state.motions[NOSE_UP].twist_deg) > 0.0)


def test_ribs_stand_as_high_as_they_were_cut_and_cut_outs_are_cut() -> None:
    build = build_wing(design_wing(spec_from_dict(FITTED)))
    inputs = shell_inputs(build, tube_materials(build.design.spec))
    assert [cut.name for cut in inputs.cut_outs] == ["aileron[0]"]
    assert [pocket.name for pocket in inputs.pockets] == ["plate_bay[0]"]
    assert [tube.name for tube in inputs.tubes] == ["tube[0]"]
    kinds = {wall.kind for wall in inputs.walls}
    assert kinds == {"aft", "slit", "wall"}
    assert {wall.kind for wall in inputs.ribless.walls} == {"slit", "wall"}
    assert inputs.root == "held"
    below = 0
    for wall in inputs.walls:
        z = np.linspace(wall.z_mm[0], wall.z_mm[-1], 50)
        x = np.interp(z, wall.z_mm, wall.x_mm)
        upper, lower = inputs.skins.heights_mm(np.clip(inputs.skins.fraction_of(x, z), 0, 1), z)
        if wall.kind == "aft":
            # a rib passes under the tube, a neck below the bore, and not up to the skin
            below += int((wall.top_mm(z) < upper - 2.0).any())
        if wall.kind == "slit":
            assert np.all((wall.top_mm(z) > lower) & (wall.top_mm(z) < upper))
    assert below >= 3


def test_an_aileron_bay_softens_the_wing_in_twist() -> None:
    with_bay = assessed_fused(FITTED).solved
    without = assessed_fused({**FITTED, "aileron": []}).solved
    assert with_bay.twist_deg_per_n_m > 1.02 * without.twist_deg_per_n_m


def test_the_aileron_is_a_flap_of_the_chord_behind_its_hinge() -> None:
    (throw,) = aileron_throws(design_wing(spec_from_dict(FITTED)))
    assert throw.flap == flap_effect(0.25)
    assert (throw.down_deg, throw.up_deg) == (20.0, 20.0)


@pytest.mark.parametrize(
    ("tip", "more"),
    [({"twist_deg": -3.0}, False), ({"twist_deg": 3.0}, True), ({"airfoil": "naca4415"}, True)],
)
def test_twist_and_camber_outboard_move_the_lift(whole: Assessment, tip: dict[str, Any], more: bool) -> None:
    """Washout unloads the tip; nose up or more camber there loads it; the sum stays what the factor asks."""
    root, end = SHORT_WING["station"]
    twisted = assessed_fused({**SHORT_WING, "station": [root, {**end, **tip}]})
    bending = [
        float(next(c for c in one.cases if c.name == "limit").lift.bending_n_mm(0.0))
        for one in (whole, twisted)
    ]
    assert (bending[1] > 1.01 * bending[0]) is more
    assert (bending[1] < 0.99 * bending[0]) is not more
    totals = [next(c for c in one.cases if c.name == "limit").lift.total_n for one in (whole, twisted)]
    assert totals[1] == pytest.approx(totals[0])


def test_divergence_is_that_of_a_uniform_wing_of_the_same_stiffness_and_axis() -> None:
    """Untapered, without tube: GJ and the twist axis from loads on the tip of the same shell, put by hand.

    With ribs of both runs the axis lies far behind that of the bare skins, because the ribs bear the shear.
    """
    spec = {
        "name": "plain",
        "aircraft": {"all_up_mass_g": 300.0},
        "station": [{"span_mm": z, "chord_mm": 120.0, "airfoil": "naca0015"} for z in (0.0, 300.0)],
        "ribs": {"run": "both"},
        "panels": {"joints_mm": []},
        "printer": {"profile": "bed-350"},
    }
    one = assessed_fused(spec)
    assert one.aeroelastics is not None
    assert one.design.body.cap is not None
    end = one.design.body.cap.base_mm
    inputs = shell_inputs(one.build, ())
    wall = wall_material(one.design.filament, one.design.spec.print)
    wing = held_wing(inputs, wall, edge_mm=EDGE_MM)
    edges = np.array([0.0, 0.5 * end, 0.8 * end, 300.0])

    def twist(force: float, couple: float) -> float:
        last = np.array([0.0, 0.0, 1.0])
        loads = StripLoads(edges, force * last, [50.0, 200.0, 0.9 * end], np.full(3, 30.0), couple * last)
        moved = wing.displacement(skin_loads(wing.shell, loads))
        return float(wing.motion(moved, np.array([0.0, 0.9 * end])).twist_deg[-1])

    arm = twist(1.0, 0.0) / twist(0.0, 1.0)
    assert 5.0 < arm < 30.0
    stiffness = 1000.0 * end / math.radians(one.solved.twist_deg_per_n_m)
    by_hand = uniform_wing_divergence_m_s(
        gj_n_mm2=stiffness, semi_span_mm=end, chord_mm=120.0, arm_mm=arm, density_kg_m3=1.225
    )
    assert one.aeroelastics.divergence_m_s == pytest.approx(by_hand, rel=STRIPS)
    # and what an aileron has left, with the twist of a uniform rod in the place of the shell's
    throw = AileronThrow(150.0, 280.0, 20.0, 20.0, flap_effect(0.25))
    plan = one.planform
    found = aeroelastics_of(wing, plan, SEA_LEVEL, (throw,), max_speed_m_s=95.0)
    strips = aero_strips(plan, np.linspace(0.0, 300.0, 11), 30.0 + arm)
    rod = torsion_flexibility_deg_per_n_mm(strips.z_mm, [0.0, 300.0], [stiffness, stiffness])
    covered = covered_shares(plan, np.linspace(0.0, 300.0, 11), from_mm=150.0, to_mm=280.0)
    left = aileron_effectiveness(strips, rod, covered=covered, flap=throw.flap, speed_m_s=95.0)
    assert found.effectiveness[0] is not None
    assert 0.3 < left < 0.95
    assert 1.0 - found.effectiveness[0] == pytest.approx(1.0 - left, rel=STRIPS)
    reversal = reversal_speed_m_s(strips, rod, covered=covered, flap=throw.flap)
    assert found.reversal_m_s[0] == pytest.approx(reversal, rel=STRIPS)


def test_the_bare_skins_twist_as_a_thin_tube() -> None:
    """Bredt: ``GJ = 4 A^2 G / integral of ds / t``, with G of a wall that is softer across its layers."""
    spec = {
        "station": [{"span_mm": z, "chord_mm": 120.0, "airfoil": "naca0015"} for z in (0.0, 300.0)],
        "ribs": {"run": "none"},
        "panels": {"joints_mm": []},
        "printer": {"profile": "bed-350"},
    }
    one = assessed_fused(spec)
    assert one.design.body.cap is not None
    wall = wall_thickness_mm(one.design.filament, one.design.spec.print)
    ring = shapely.Polygon(one.design.wing.loop(150.0)).buffer(
        -0.5 * one.design.spec.bead_mm, join_style="mitre"
    )
    along = 3300.0 / 2.44**2
    shear = along * math.sqrt(0.68) / (2.0 * 1.33)
    stiffness = 4.0 * ring.area**2 * shear * wall / ring.length
    by_hand = math.degrees(1000.0 * one.design.body.cap.base_mm / stiffness)
    assert one.solved.twist_deg_per_n_m == pytest.approx(by_hand, rel=BREDT)


@pytest.mark.parametrize("edge_mm", [5.0, 7.0, 9.0])
def test_a_tube_stays_straight_whatever_crosses_it(edge_mm: float) -> None:
    """A tube whose nodes give way to those of ribs kinks, and bends the wing twice as far: that happened."""
    spec = {**FITTED, "aileron": [], "ribs": {"run": "both", "pitch_mm": 22.0}}
    design = design_wing(spec_from_dict(spec))
    inputs = planned_inputs(design, tube_materials(design.spec))
    wing = held_wing(inputs, wall_material(design.filament, design.spec.print), edge_mm=edge_mm)
    (beam,) = wing.shell.model.beams
    place = wing.shell.model.frames.points_mm[beam.nodes]
    along = (place[-1] - place[0]) / np.linalg.norm(place[-1] - place[0])
    aside = place - place[0] - np.outer((place - place[0]) @ along, along)
    assert np.abs(aside[:, 0]).max() < STRAIGHT_MM
    assert np.abs(aside[:, 1]).max() < 0.02


def test_deflection_does_not_hang_on_the_mesh() -> None:
    tips = []
    spec = {**FITTED, "aileron": [], "slots": {"weld_spacing_mm": 0.0}}
    for edge in (9.0, 6.0):
        one = assess_wing(design_wing(spec_from_dict(spec)), edge_mm=edge)
        tips.append(one.solved.tip_mm("1 g"))
    assert tips[0] == pytest.approx(tips[1], rel=MESHED)
