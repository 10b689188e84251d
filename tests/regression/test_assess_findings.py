"""What an assessment has to say: every code, from wings that have the fault."""

from __future__ import annotations

import re
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from assessed import ROD, SHORT_WING, assessed, codes_of

from wingpath.pipeline.aeroelastics import Aeroelastics
from wingpath.pipeline.assess_findings import assess_findings
from wingpath.pipeline.assessing import Assessment
from wingpath.structure.margins import Margin
from wingpath.structure.shell_results import BucklingPlace


@pytest.fixture(scope="module")
def sound() -> Assessment:
    return assessed(SHORT_WING)


def margin(name: str, demand: float, allowable: float) -> Margin:
    return Margin(name, "something", demand, allowable, "MPa", "somewhere", "judgement", "a number")


def place(factor: float) -> BucklingPlace:
    return BucklingPlace(factor, 40.0, 30.0, 0.4, "upper skin")


def with_buckling(one: Assessment, factor: float) -> Assessment:
    state = replace(one.states[0], buckling={**one.states[0].buckling, "limit": place(factor)})
    return replace(one, states=(state, *one.states[1:]))


def test_a_sound_wing_has_no_errors(sound: Assessment) -> None:
    said = assess_findings(sound)
    assert {finding.severity for finding in said} <= {"note"}
    assert "unknown-fusion" in codes_of(said)
    assert "uncalibrated" in codes_of(said)


def test_what_open_slots_would_do_is_told_where_it_is_known(sound: Assessment) -> None:
    def told(one: Assessment) -> str:
        return next(finding.message for finding in assess_findings(one) if finding.code == "unknown-fusion")

    main, opened = sound.solved, sound.state("open")
    assert opened is not None
    assert opened.twist_deg_per_n_m > 2.0 * main.twist_deg_per_n_m
    words = f"would twist {opened.twist_deg_per_n_m:.3g} instead of {main.twist_deg_per_n_m:.3g} deg per N m"
    assert words in told(sound)
    alone = told(replace(sound, states=(main,)))
    assert "instead of" not in alone
    assert "wingpath assess --details" in alone


def test_a_wing_without_an_aircraft_is_told_so() -> None:
    bare: dict[str, Any] = {key: value for key, value in SHORT_WING.items() if key != "aircraft"}
    one = assessed(bare)
    assert one.cases == ()
    assert one.solved.twist_deg_per_n_m > 0.0
    assert codes_of(assess_findings(one))["no-aircraft"] == "note"


def test_a_tube_that_ends_in_mid_span_is_a_weak_point() -> None:
    one = assessed({**SHORT_WING, "tube": [{**ROD, "to_mm": 60.0}]})
    assert any(found.name == "tube_end" for found in one.margins)
    found = next(finding for finding in assess_findings(one) if finding.code == "tube-end")
    assert "ends in mid span" in found.message
    assert "span web" in found.remedy or "spar web" in found.remedy


def test_a_broken_margin_is_an_error_with_both_numbers(sound: Assessment) -> None:
    one = replace(sound, margins=(margin("tube_bending_root", 700.0, 600.0),))
    found = next(finding for finding in assess_findings(one) if finding.code == "broken-margin")
    assert (found.severity, found.found, found.limit, found.unit) == ("error", 700.0, 600.0, "MPa")
    assert "700 MPa" in found.message
    assert "600 MPa" in found.message
    assert "thicker tube" in found.remedy
    assert one.margins[0].value == pytest.approx(600.0 / 700.0 - 1.0)


@pytest.mark.parametrize("number", ["", "_2", "_12"])
def test_a_second_tube_has_the_remedy_of_the_first(sound: Assessment, number: str) -> None:
    one = replace(sound, margins=(margin(f"tube_bending_root{number}", 2.0, 1.0),))
    found = next(finding for finding in assess_findings(one) if finding.code == "broken-margin")
    assert "thicker tube" in found.remedy


def test_wrinkles_below_the_limit_are_told_with_their_place(sound: Assessment) -> None:
    assert sound.limits is not None
    found = next(f for f in assess_findings(with_buckling(sound, 0.5)) if f.code == "wrinkles")
    assert found.severity == "warning"
    assert found.found == pytest.approx(0.5 * sound.limits.load_factor)
    assert "span 40 mm" in found.message
    assert "40 per cent" in found.message
    assert "wrinkles" not in codes_of(assess_findings(with_buckling(sound, 1.01)))


@pytest.mark.parametrize(
    ("divergence", "reversal", "expected"),
    [
        (20.0, 99.0, {"twists-off": "error"}),
        (27.0, 99.0, {"twists-off": "warning"}),
        (99.0, 20.0, {"reversal": "error"}),
        (99.0, 27.0, {"reversal": "warning"}),
        (99.0, 99.0, {}),
    ],
)
def test_speeds_are_held_against_one_and_a_fifth_of_the_highest(
    sound: Assessment, divergence: float, reversal: float, expected: dict[str, str]
) -> None:
    assert sound.limits is not None
    assert sound.limits.max_speed_m_s == 25.0
    one = replace(sound, aeroelastics=Aeroelastics(divergence, (0.9,), (reversal,)))
    found = codes_of(assess_findings(one))
    assert {code: found[code] for code in ("twists-off", "reversal") if code in found} == expected


def test_an_aileron_that_twists_the_wing_is_weak(sound: Assessment) -> None:
    one = replace(sound, aeroelastics=Aeroelastics(99.0, (0.3,), (99.0,)))
    assert codes_of(assess_findings(one))["weak-aileron"] == "warning"
    stiff = replace(sound, aeroelastics=Aeroelastics(99.0, (0.6,), (99.0,)))
    assert "weak-aileron" not in codes_of(assess_findings(stiff))


def test_no_divergence_is_a_number_that_cannot_be_had(sound: Assessment) -> None:
    one = replace(sound, aeroelastics=Aeroelastics(float("inf"), (), ()))
    assert codes_of(assess_findings(one))["no-number"] == "note"


def test_wrinkles_that_were_not_found_are_told(sound: Assessment) -> None:
    state = replace(sound.states[0], buckling={**sound.states[0].buckling, "limit": None})
    found = [
        f for f in assess_findings(replace(sound, states=(state, *sound.states[1:]))) if f.code == "no-number"
    ]
    assert len(found) == 1
    assert "no wrinkles under lift" in found[0].message
    assert [f for f in assess_findings(sound) if f.code == "no-number"] == []


def test_a_proof_loading_that_cannot_be_is_told(sound: Assessment) -> None:
    one = replace(sound, proof=None, proof_refused="because it is so")
    found = next(finding for finding in assess_findings(one) if finding.code == "no-number")
    assert "because it is so" in found.message
    assert found.remedy


def test_wings_heavier_than_the_aircraft_are_an_error(sound: Assessment) -> None:
    assert sound.limits is not None
    light = replace(sound.limits, all_up_mass_g=1.9 * sound.weights.mass_g)
    assert codes_of(assess_findings(replace(sound, limits=light)))["outweighs"] == "error"
    assert "outweighs" not in codes_of(assess_findings(sound))


def test_a_load_that_the_wing_cannot_reach_is_told(sound: Assessment) -> None:
    assert sound.limits is not None
    case = sound.case("limit")
    assert case is not None
    weak = replace(sound.limits, max_lift_coefficient=0.99 * case.lift_coefficient)
    assert codes_of(assess_findings(replace(sound, limits=weak)))["cannot-lift"] == "warning"
    assert "cannot-lift" not in codes_of(assess_findings(sound))


def test_edges_too_long_for_the_bays_are_told(sound: Assessment) -> None:
    assert sound.coarsest_mm == pytest.approx(24.0 * np.cos(np.pi / 4) / 1.8)
    coarse = replace(sound, edge_mm=1.01 * sound.coarsest_mm)
    assert codes_of(assess_findings(coarse))["coarse-mesh"] == "warning"
    (told,) = (one for one in assess_findings(coarse) if one.code == "coarse-mesh")
    # nobody need have given an option, and what is told is not rounded up
    edge = float(re.search(r"--edge-mm ([\d.]+)`", told.remedy)[1])  # type: ignore[index]
    assert sound.coarsest_mm - 0.1 < edge <= sound.coarsest_mm
    assert "coarse-mesh" not in codes_of(assess_findings(sound))


def test_a_tip_that_goes_up_by_a_tenth_of_the_span_bends_far(sound: Assessment) -> None:
    state = sound.states[0]
    motion = state.motions["limit"]
    far = replace(motion, deflection_mm=np.linspace(0.0, 0.11 * 90.0, len(motion.z_mm)))
    one = replace(sound, states=(replace(state, motions={**state.motions, "limit": far}), *sound.states[1:]))
    assert codes_of(assess_findings(one))["bends-far"] == "warning"
    for way in (1.0, -1.0):
        beyond = replace(motion, deflection_mm=way * np.linspace(0.0, 0.6 * 90.0, len(motion.z_mm)))
        state = replace(state, motions={**state.motions, "limit": beyond})
        assert (
            codes_of(assess_findings(replace(sound, states=(state, *sound.states[1:]))))["bends-far"]
            == "error"
        )
    assert "bends-far" not in codes_of(assess_findings(sound))


def test_a_warm_wing_that_wrinkles_sooner_is_told(sound: Assessment) -> None:
    temperature, state = sound.hot[-1]
    assert temperature == 50.0
    warm = replace(state, buckling={"limit": place(0.7)})
    one = replace(with_buckling(sound, 1.0), hot=(sound.hot[0], (temperature, warm)))
    found = next(finding for finding in assess_findings(one) if finding.code == "hot")
    assert "50 °C" in found.message
    mild = replace(
        with_buckling(sound, 3.0),
        hot=(sound.hot[0], (temperature, replace(warm, buckling={"limit": place(2.4)}))),
    )
    assert "hot" not in codes_of(assess_findings(mild))
