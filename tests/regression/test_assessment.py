"""The document of an assessment: its keys, its nulls, and that its numbers agree with each other."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from assessed import EDGE_MM, ROD, SHORT_WING, assessed, assessed_fused
from tiny_wing import tiny

from wingpath.model.profile_base import ValueSource
from wingpath.model.spec import spec_from_dict
from wingpath.pipeline.assess_document import assess_document
from wingpath.pipeline.assess_findings import assess_findings
from wingpath.pipeline.assessing import Assessment, assess_wing
from wingpath.pipeline.comparing import changed_keys, compared_rows, comparison_words
from wingpath.pipeline.design import design_wing
from wingpath.pipeline.shell_inputs import wall_material, wall_thickness_mm

CONTRACT = (
    *("spec", "name", "mass_g", "printed_mass_g", "area_dm2", "mean_chord_mm", "wing_loading_g_dm2"),
    *("stall_speed_m_s", "root_bending_n_mm", "tip_deflection_mm_per_g", "tip_deflection_limit_mm"),
    *("twist_deg_per_n_m", "first_buckling_load_factor", "buckling_torque_n_m", "divergence_speed_m_s"),
    *("margins", "band", "sources"),
)
"""Keys that scripts rely on."""

GRAVITY = 9.80665

SAME_LOAD = 1e-5
"""Numbers that are the same sum, told with six digits."""

NEARLY = 0.08
"""The limit at speed differs from that of lift alone by twist and moments of sections, on this small wing
without twist by the moments only."""


def document(one: Assessment) -> dict[str, Any]:
    wing: dict[str, Any] = assess_document([one], [assess_findings(one)])["wings"][0]
    return wing


@pytest.fixture(scope="module")
def whole() -> Assessment:
    return assessed(SHORT_WING)


@pytest.fixture(scope="module")
def told(whole: Assessment) -> dict[str, Any]:
    return document(whole)


def test_every_promised_key_is_there_with_its_band_and_source(told: dict[str, Any]) -> None:
    assert [key for key in CONTRACT if key not in told] == []
    numbers = [key for key in CONTRACT[2:] if key not in ("margins", "band", "sources")]
    for key in numbers:
        assert told[key] is not None, key
        assert told["band"][key] >= 0.0
        assert told["sources"][key] in ("measured", "published", "judgement")
    assert set(told["buckling_torque_n_m"]) == {"nose_up", "nose_down"}
    assert all(isinstance(value, float) for value in told["margins"].values())
    assert {"tube_bending_root", "skin_compression", "layer_tension", "divergence"} <= set(told["margins"])


def test_numbers_that_can_be_had_on_paper(told: dict[str, Any]) -> None:
    assert told["area_dm2"] == pytest.approx(1.62)
    assert told["wing_loading_g_dm2"] == pytest.approx(90.0 / 1.62, rel=SAME_LOAD)
    # trapezoid: 2/3 c (1 + l + l^2) / (1 + l)
    assert told["mean_chord_mm"] == pytest.approx(2 / 3 * 100 * (1 + 0.8 + 0.64) / 1.8, rel=SAME_LOAD)
    stall = math.sqrt(2 * 0.09 * GRAVITY / (1.225 * 0.0162 * 1.1))
    assert told["stall_speed_m_s"] == pytest.approx(stall, rel=1e-5)
    # Schrenk: centroid at the mean of that of the trapezoid and that of the ellipse
    eta = 0.5 * ((1 + 2 * 0.8) / (3 * 1.8) + 4 / (3 * math.pi))
    moment = 4.0 * 0.5 * 0.09 * GRAVITY * 90.0 * eta
    assert told["root_bending_n_mm"] == pytest.approx(moment, rel=1e-5)
    assert told["root_bending_net_n_mm"] < told["root_bending_n_mm"]


def test_the_half_wing_is_what_its_parts_weigh(whole: Assessment, told: dict[str, Any]) -> None:
    masses = told["masses"]
    assert sum(part["mass_g"] for part in masses["parts"]) == pytest.approx(told["mass_g"], rel=1e-5)
    shares = masses["printed_shares_g"]
    inside = sum(shares[key] for key in ("skin", "ribs", "webs", "fittings"))
    assert inside == pytest.approx(told["printed_mass_g"], rel=1e-4)
    path = [part.path for part in whole.build.parts]
    assert told["printed_mass_g"] == pytest.approx(
        sum(made.printed_mass_g for made in path if made is not None), rel=1e-5
    )
    tube = next(part for part in masses["parts"] if part["kind"] == "tube")
    assert tube["mass_g"] == pytest.approx(math.pi / 4 * (16 - 6.25) * 80 * 1.55e-3, rel=0.01)


def test_deflections_and_loads_agree(whole: Assessment, told: dict[str, Any]) -> None:
    per_g, limit = told["tip_deflection_mm_per_g"], told["tip_deflection_limit_mm"]
    assert limit == pytest.approx(4.0 * per_g, rel=NEARLY)
    for case in told["loads"]:
        both = case["lift_half_wing_n"] + case["inertia_half_wing_n"] + case["control_half_wing_n"]
        assert case["root_shear_n"] == pytest.approx(both, abs=1e-4)
        assert case["bending_n_mm"][0] == pytest.approx(case["root_bending_n_mm"], abs=1e-3)
        assert case["deflection_mm"][0] == 0.0
    limit_case = next(case for case in told["loads"] if case["case"] == "limit")
    assert limit_case["lift_half_wing_n"] == pytest.approx(4.0 * 0.5 * 0.09 * GRAVITY, rel=SAME_LOAD)
    tube = next(margin for margin in whole.margins if margin.name == "tube_bending_root")
    assert 0.0 < tube.demand < 600.0


def test_states_without_fusion_are_softer_and_without_ribs_buckle_first(told: dict[str, Any]) -> None:
    by_name = {state["state"]: state for state in told["states"]}
    assert list(by_name) == ["fused", "partly fused", "open", "no ribs"]
    twists = [by_name[name]["twist_deg_per_n_m"] for name in ("fused", "partly fused", "open")]
    assert twists == sorted(twists)
    over = by_name["fused"]["over_no_ribs"]
    assert over["torsion_stiffness"] > 1.0
    assert over["buckling_torque"] > 3.0
    assert told["fusion"]["known"] is False
    assert told["fusion"]["twist_deg_per_n_m"] == [min(twists), max(twists)]


def test_heat_softens(told: dict[str, Any]) -> None:
    temperatures = [row["part_temperature_c"] for row in told["heat"]]
    assert temperatures == [20.0, 40.0, 50.0]
    for key in ("tip_deflection_limit_mm", "twist_deg_per_n_m"):
        values = [row[key] for row in told["heat"]]
        assert values == sorted(values)
    factors = [row["first_buckling_load_factor"] for row in told["heat"]]
    assert factors == sorted(factors, reverse=True)
    # walls alone twist, but for the tube: the twist follows their stiffness nearly one to one
    shares = [1.0, 0.9, 0.65]
    twists = [row["twist_deg_per_n_m"] for row in told["heat"]]
    assert np.array(twists) / twists[0] == pytest.approx(1.0 / np.array(shares), rel=0.05)


def test_the_proof_loading_adds_up(told: dict[str, Any]) -> None:
    proof = told["proof_loading"]
    shares = [step["share_of_limit"] for step in proof["steps"]]
    assert shares[-3:] == [1.0, 1.25, 1.5]
    own = told["mass_g"]
    for step in proof["steps"]:
        assert step["total_g"] == pytest.approx(sum(w["mass_g"] for w in step["weights"]), rel=1e-5)
        # n (m/2 - mw) - mw, the wing hanging upside down under its own weight
        n = step["load_factor"]
        assert step["total_g"] == pytest.approx(n * (45.0 - own) - own, rel=1e-3)
        assert len(step["deflection_mm"]) == len(proof["gauges_mm"]) == 3
    tips = [step["deflection_mm"][-1] for step in proof["steps"]]
    assert tips == sorted(tips)


def test_without_an_aircraft_what_hangs_on_it_is_null() -> None:
    bare = {key: value for key, value in SHORT_WING.items() if key != "aircraft"}
    told = document(assessed(bare))
    for key in ("wing_loading_g_dm2", "stall_speed_m_s", "root_bending_n_mm", "tip_deflection_mm_per_g"):
        assert told[key] is None
        assert told["band"][key] is None
        assert told["sources"][key] is None
    assert told["first_buckling_load_factor"] is None
    assert told["divergence_speed_m_s"] is None
    assert told["twist_deg_per_n_m"] > 0.0
    assert told["proof_loading"] is None
    assert any(finding["code"] == "no-aircraft" for finding in told["findings"])


def test_a_given_weld_spacing_is_taken_and_is_known(told: dict[str, Any]) -> None:
    fused = document(assessed({**SHORT_WING, "slots": {"weld_spacing_mm": 0.0}}))
    assert fused["fusion"] == {"known": True, "told": "fused", "twist_deg_per_n_m": None}
    assert fused["twist_deg_per_n_m"] == pytest.approx(told["twist_deg_per_n_m"], rel=1e-6)
    assert fused["band"]["twist_deg_per_n_m"] < told["band"]["twist_deg_per_n_m"]
    spaced = document(assessed({**SHORT_WING, "slots": {"weld_spacing_mm": 30.0}}))
    assert spaced["fusion"]["told"] == "fused every 30 mm"
    assert spaced["twist_deg_per_n_m"] > fused["twist_deg_per_n_m"]


def test_a_clamped_root_is_stiffer_than_a_held_one() -> None:
    wings = [document(assessed_fused({**SHORT_WING, "wing": {"root": root}})) for root in ("held", "clamped")]
    assert wings[0]["tip_deflection_mm_per_g"] > wings[1]["tip_deflection_mm_per_g"]


def test_items_weigh_and_relieve(told: dict[str, Any]) -> None:
    item = {"name": "servo", "mass_g": 6.0, "span_mm": 60.0}
    heavy = document(assessed_fused({**SHORT_WING, "item": [item]}))
    assert heavy["mass_g"] == pytest.approx(told["mass_g"] + 6.0, rel=1e-5)
    relief = 4.0 * 6e-3 * GRAVITY * 60.0
    assert heavy["root_bending_net_n_mm"] == pytest.approx(told["root_bending_net_n_mm"] - relief, rel=1e-4)


def test_other_ways_of_building_are_weighed_if_asked_for(told: dict[str, Any]) -> None:
    assert told["masses"]["otherwise_made_g"] is None
    other = document(assessed_fused({**SHORT_WING, "compare": {"skin_g_dm2": 2.0}}))
    # both sides of 0.81 dm2 and a little for the curve
    assert other["masses"]["otherwise_made_g"] == pytest.approx(2.0 * 2.0 * 0.81, rel=0.1)


def test_several_wings_are_compared_with_the_first() -> None:
    one, two = (
        assess_wing(design_wing(spec_from_dict({**SHORT_WING, "ribs": ribs})), edge_mm=EDGE_MM)
        for ribs in ({"run": "both", "pitch_mm": 24.0}, {"run": "aft", "pitch_mm": 24.0})
    )
    rows = compared_rows([document(one), document(two)])
    by_key = {row.kind.key: row for row in rows}
    assert by_key["mass_g"].best == 1
    assert by_key["buckling_torque_n_m.nose_up"].best == 0
    share = by_key["mass_g"].against_first[1]
    assert share is not None
    assert share == pytest.approx(by_key["mass_g"].values[1] / by_key["mass_g"].values[0] - 1.0)  # type: ignore[operator]
    specs = [one.design.spec, two.design.spec]
    assert changed_keys(*specs) == [("ribs.run", "both", "aft")]
    words = comparison_words(["A", "B"], specs, rows)
    assert words[0].startswith(
        "B against A: ribs.run is aft instead of both. That gives: mass of a half wing -"
    )


def test_wall_thickness_and_modulus_come_from_the_filament() -> None:
    design = design_wing(spec_from_dict(SHORT_WING))
    settings, filament = design.spec.print, design.filament
    # flow x ratio of the shipped table at 230 °C: 0.5 x 2.44; a bead of 0.45 x 0.25 mm with round ends
    mean = ((0.45 - 0.25) * 0.25 + math.pi / 4 * 0.25**2) / 0.25
    assert (settings.bead_mm, settings.layer_mm) == (0.45, 0.25)
    assert wall_thickness_mm(filament, settings) == pytest.approx(mean * 1.22)
    # a modulus measured on a strip by its outside has the grooves between layers in it
    strip = ("e_modulus_mpa", ValueSource(kind="measured", note="a strip"))
    tried = filament.model_copy(update={"sources": (*filament.sources, strip)})
    assert wall_thickness_mm(tried, settings) == pytest.approx(0.45 * 1.22)
    wall = wall_material(filament, settings)
    assert wall.e_along_mpa == pytest.approx(3300.0 / 2.44**2)
    assert wall.e_across_mpa == pytest.approx(0.68 * wall.e_along_mpa)
    assert wall.density_g_cm3 == pytest.approx(1.24 / 2.44)
    assert wall_material(filament, settings, part_temperature_c=50.0).e_along_mpa == pytest.approx(
        0.65 * wall.e_along_mpa
    )


def test_a_tube_past_a_joint_carries_more_than_one_that_stops_there() -> None:
    def glue(to_mm: float) -> float:
        spec = {**SHORT_WING, "panels": {"joints_mm": [45.0]}, "tube": [{**ROD, "to_mm": to_mm}]}
        return next(m.demand for m in assessed_fused(spec).margins if m.name == "joint_glue")

    assert glue(52.0) > glue(80.0) > 0.0


def test_an_open_ribless_wing_of_changing_section_twists_the_way_it_is_turned() -> None:
    """Its section distorts more than it turns; what the torque does as work is positive all the same."""
    stations = [
        {"span_mm": 0.0, "chord_mm": 110.0, "airfoil": "naca2415"},
        {"span_mm": 106.0, "chord_mm": 110.0, "airfoil": "naca0008"},
    ]
    one = assessed({"station": stations, "wing": {"tip": "open"}, "ribs": {"run": "none"}})
    assert one.solved.twist_deg_per_n_m > 0.0
    # and without slots there is nothing that could be open
    assert [state.name for state in one.states] == ["fused"]
    assert one.fusion_known


@pytest.mark.parametrize("edge_mm", [20.0, 50.0])
def test_edges_that_are_longer_than_the_wing_are_no_fault(edge_mm: float) -> None:
    """Once they left no triangle between the borders of a wing 8 mm long; half its length is the most."""
    aircraft = {"all_up_mass_g": 60.0, "load_factor": 4.0, "max_speed_m_s": 12.0}
    design = design_wing(spec_from_dict(tiny(aircraft=aircraft)))
    found = assess_wing(design, edge_mm=edge_mm)
    shorter = assess_wing(design, edge_mm=4.0)
    assert document(found)["mass_g"] == document(shorter)["mass_g"]
    assert document(found)["twist_deg_per_n_m"] == document(shorter)["twist_deg_per_n_m"]
