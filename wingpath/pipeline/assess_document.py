"""What `assess` tells, as plain data: every number with its unit in the key, its band and its source."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any

from wingpath.core.findings import Finding, count_severities
from wingpath.core.units import MM2_PER_DM2
from wingpath.pipeline.aeroelastics import SPEED_MARGIN
from wingpath.pipeline.assessing import Assessment
from wingpath.pipeline.cautions import CAUTIONS
from wingpath.pipeline.known import bands_of_numbers, sources_of_numbers
from wingpath.pipeline.shell_solving import NOSE_DOWN, NOSE_UP, ShellState
from wingpath.structure.atmosphere import reynolds_number, stall_speed_m_s, wing_loading_g_dm2
from wingpath.structure.load_cases import FlightLimits
from wingpath.structure.margins import Margin
from wingpath.structure.mass import MassPart
from wingpath.structure.shell_results import BucklingPlace
from wingpath.version import __version__

__all__ = ["ALL_CAUTIONS", "FLUTTER_CAUTION", "assess_document", "wing_document"]

FLUTTER_CAUTION = (
    "Flutter is not worked out: it needs masses and dampings that are not known here. Keep the centre of "
    "gravity of ailerons ahead of or on their hinge, take out all play, and go to high speed in small steps."
)
"""What is said besides wherever strength is shown."""

ALL_CAUTIONS = (FLUTTER_CAUTION, *CAUTIONS)
"""What is said where numbers and strength are shown: proof loading and rules once, not twice."""

CG_RANGE = (0.25, 0.33)
"""Centre of gravity of a tailed model, in mean chords behind its leading edge: common practice, no source."""


def assess_document(
    assessments: Sequence[Assessment], findings: Sequence[Sequence[Finding]]
) -> dict[str, Any]:
    """Return the document of `assess`.

    Parameters
    ----------
    assessments : sequence of Assessment
        The wings.
    findings : sequence of sequence of Finding
        What there is to say about each.
    """
    said = [finding for of_wing in findings for finding in of_wing]
    return {
        "document": "wingpath assess",
        "format": 1,
        "wingpath_version": __version__,
        "counts": count_severities(said),
        "wings": [wing_document(one, of_wing) for one, of_wing in zip(assessments, findings, strict=True)],
        "findings": [finding.as_dict() for finding in said],
        "cautions": list(ALL_CAUTIONS),
    }


def wing_document(one: Assessment, findings: Sequence[Finding]) -> dict[str, Any]:
    """Return what there is to tell about one wing.

    Parameters
    ----------
    one : Assessment
        The wing.
    findings : sequence of Finding
        What there is to say about it.
    """
    numbers = _numbers(one)
    return {
        "spec": one.source,
        "name": one.design.spec.name,
        **numbers,
        "margins": {margin.name: _rounded(margin.value) for margin in one.margins} | _speed_margins(one),
        "band": bands_of_numbers(one, numbers),
        "sources": sources_of_numbers(one, numbers),
        "filament": {"title": one.design.filament.title, "calibrated": one.design.filament.calibrated},
        "masses": _masses(one),
        "planform": _planform(one),
        "loads": [_case(one, number) for number in range(len(one.cases))],
        "fusion": _fusion(one),
        "states": [_state(one, state) for state in one.states],
        "heat": [
            {"part_temperature_c": 20.0, **_hot(one, one.solved)},
            *({"part_temperature_c": temperature, **_hot(one, state)} for temperature, state in one.hot),
        ],
        "margin_details": [_margin(margin) for margin in one.margins],
        "aeroelastic": _aeroelastic(one),
        "proof_loading": proof_document(one),
        "counts": count_severities(findings),
        "findings": [finding.as_dict() for finding in findings],
    }


def _numbers(one: Assessment) -> dict[str, Any]:
    limits, plan, state = one.limits, one.planform, one.solved
    buckled = state.buckling
    area = plan.area_mm2
    found: dict[str, Any] = {
        "mass_g": one.weights.mass_g,
        "printed_mass_g": one.weights.printed_mass_g,
        "area_dm2": area / MM2_PER_DM2,
        "mean_chord_mm": plan.mean_chord_mm,
        "wing_loading_g_dm2": None,
        "stall_speed_m_s": None,
        "root_bending_n_mm": None,
        "root_bending_net_n_mm": None,
        "tip_deflection_mm_per_g": None,
        "tip_deflection_limit_mm": None,
        "twist_deg_per_n_m": state.twist_deg_per_n_m,
        "first_buckling_load_factor": None,
        "buckling_torque_n_m": {
            "nose_up": _factor(buckled.get(NOSE_UP)),
            "nose_down": _factor(buckled.get(NOSE_DOWN)),
        },
        "divergence_speed_m_s": None,
    }
    if limits is not None:
        bending = [case for case in one.cases if case.name.startswith("limit")]
        first = buckled.get("limit")
        found |= {
            "wing_loading_g_dm2": wing_loading_g_dm2(mass_g=limits.all_up_mass_g, area_mm2=area),
            "stall_speed_m_s": _stall_m_s(limits, area),
            "root_bending_n_mm": one.lift_bending_n_mm,
            "root_bending_net_n_mm": max(float(case.loads.bending_n_mm(0.0)) for case in bending),
            "tip_deflection_mm_per_g": state.tip_mm("1 g"),
            "tip_deflection_limit_mm": one.limit_tip_mm(state),
            "first_buckling_load_factor": None if first is None else first.factor * limits.load_factor,
            "divergence_speed_m_s": None
            if one.aeroelastics is None
            else _finite(one.aeroelastics.divergence_m_s),
        }
    return {key: _plain(value) for key, value in found.items()}


def _stall_m_s(limits: FlightLimits, area_mm2: float) -> float:
    return stall_speed_m_s(
        mass_g=limits.all_up_mass_g,
        area_mm2=area_mm2,
        max_lift_coefficient=limits.max_lift_coefficient,
        density_kg_m3=limits.air.density_kg_m3,
    )


def _speed_margins(one: Assessment) -> dict[str, float | None]:
    if one.aeroelastics is None or one.limits is None:
        return {}
    asked = SPEED_MARGIN * one.limits.max_speed_m_s
    found = {"divergence": _finite(one.aeroelastics.divergence_m_s / asked - 1.0)}
    if one.aeroelastics.reversal_m_s:
        found["reversal"] = _finite(min(one.aeroelastics.reversal_m_s) / asked - 1.0)
    first = one.solved.buckling.get("limit")
    found["first_buckling"] = None if first is None else first.factor - 1.0
    return {key: _rounded(value) for key, value in found.items()}


def _masses(one: Assessment) -> dict[str, Any]:
    weights, shares = one.weights, one.weights.shares
    return {
        "half_wing": _part(weights.whole),
        "parts": [_part(part) for part in weights.parts],
        "printed_shares_g": {
            "skin": _rounded(shares.skin_g),
            "ribs": _rounded(shares.ribs_g),
            "webs": _rounded(shares.webs_g),
            "fittings": _rounded(shares.fittings_g),
            "brim": _rounded(shares.brim_g),
        },
        "otherwise_made_g": _rounded(one.comparison_g),
    }


def _part(part: MassPart) -> dict[str, Any]:
    inertia = part.inertia_g_mm2
    return {
        "name": part.name,
        "kind": part.kind,
        "mass_g": _rounded(part.mass_g),
        "centre_mm": [_rounded(float(value)) for value in part.centre_mm],
        "inertia_kg_m2": [[float(f"{value * 1e-9:.6g}") for value in row] for row in inertia.tolist()],
    }


def _planform(one: Assessment) -> dict[str, Any]:
    plan, limits = one.planform, one.limits
    front, chord = plan.mac_leading_edge_mm, plan.mean_chord_mm
    found: dict[str, Any] = {
        "semi_span_mm": _rounded(plan.semi_span_mm),
        "aspect_ratio": _rounded(plan.aspect_ratio),
        "geometric_mean_chord_mm": _rounded(plan.geometric_mean_chord_mm),
        "mean_chord_span_mm": _rounded(plan.mac_span_mm),
        "mean_chord_leading_edge_mm": _rounded(front),
        "quarter_chord_mm": _rounded(plan.mac_quarter_chord_mm),
        "suggested_cg_mm": [_rounded(front + share * chord) for share in CG_RANGE],
        "suggested_cg_basis": f"{CG_RANGE[0]:.0%} to {CG_RANGE[1]:.0%} of the mean chord for a model with a "
        "tail: common practice, no source; a tailless one needs another",
        "zero_lift_deg": [_rounded(section.zero_lift_deg) for section in one.sections],
        "moment_coefficient": [_rounded(section.quarter_chord_moment) for section in one.sections],
    }
    if limits is not None:
        slow = _stall_m_s(limits, plan.area_mm2)
        tip = float(plan.chord_mm[-1])
        found["reynolds_numbers"] = {
            "mean_chord_at_stall": round(reynolds_number(speed_m_s=slow, chord_mm=chord, air=limits.air)),
            "tip_at_stall": round(reynolds_number(speed_m_s=slow, chord_mm=tip, air=limits.air)),
            "mean_chord_at_max_speed": round(
                reynolds_number(speed_m_s=limits.max_speed_m_s, chord_mm=chord, air=limits.air)
            ),
        }
    return found


def _case(one: Assessment, number: int) -> dict[str, Any]:
    case = one.cases[number]
    edges = case.loads.edges_mm
    spread = one.stations_mm
    axis = one.twist_axis_mm
    motion = one.solved.motions.get(case.name)
    buckled = one.solved.buckling.get(case.name)
    return {
        "case": case.name,
        "load_factor": _rounded(case.factor),
        "speed_m_s": _rounded(case.speed_m_s),
        "lift_coefficient": _rounded(case.lift_coefficient),
        "lift_half_wing_n": _rounded(case.lift.total_n),
        "inertia_half_wing_n": _rounded(case.inertia.total_n),
        "control_half_wing_n": _rounded(case.control.total_n),
        "root_shear_n": _rounded(float(case.loads.shear_n(edges[0]))),
        "root_bending_n_mm": _rounded(float(case.loads.bending_n_mm(edges[0]))),
        "root_torque_n_mm": _rounded(float(case.loads.torque_n_mm(edges[0], axis))),
        "torque_axis_mm": _rounded(axis),
        "stations_mm": [_rounded(float(z)) for z in spread],
        "shear_n": [_rounded(float(v)) for v in case.loads.shear_n(spread)],
        "bending_n_mm": [_rounded(float(v)) for v in case.loads.bending_n_mm(spread)],
        "torque_n_mm": [_rounded(float(v)) for v in case.loads.torque_n_mm(spread, axis)],
        "deflection_mm": None if motion is None else [_rounded(float(v)) for v in motion.deflection_mm],
        "twist_deg": None if motion is None else [_rounded(float(v)) for v in motion.twist_deg],
        "buckling": _buckling(buckled, case.factor),
    }


def _fusion(one: Assessment) -> dict[str, Any]:
    names = ("fused", "partly fused", "open")
    states = [state for state in one.states if state.name in names]
    twists = [state.twist_deg_per_n_m for state in states]
    return {
        "known": one.fusion_known,
        "told": one.main,
        "twist_deg_per_n_m": [_rounded(min(twists)), _rounded(max(twists))] if len(states) > 1 else None,
    }


def _state(one: Assessment, state: ShellState) -> dict[str, Any]:
    bare = one.state("no ribs")
    limits = one.limits
    found: dict[str, Any] = {
        "state": state.name,
        "freedoms": state.freedoms,
        "twist_deg_per_n_m": _rounded(state.twist_deg_per_n_m),
        "tip_deflection_limit_mm": _rounded(one.limit_tip_mm(state)),
        "buckling": {
            "limit": _buckling(state.buckling.get("limit"), 1.0 if limits is None else limits.load_factor),
            "torque_nose_up": _buckling(state.buckling.get(NOSE_UP), 1.0),
            "torque_nose_down": _buckling(state.buckling.get(NOSE_DOWN), 1.0),
        },
        "over_no_ribs": None,
    }
    if bare is not None and state is not bare:
        tip, bare_tip = one.limit_tip_mm(state), one.limit_tip_mm(bare)
        found["over_no_ribs"] = {
            "torsion_stiffness": _rounded(bare.twist_deg_per_n_m / state.twist_deg_per_n_m),
            "bending_stiffness": None if tip is None or bare_tip is None else _rounded(bare_tip / tip),
            "buckling_torque": _ratio(state.buckling, bare.buckling),
        }
    return found


def _ratio(
    buckled: Mapping[str, BucklingPlace | None], bare: Mapping[str, BucklingPlace | None]
) -> float | None:
    pairs = [(buckled.get(key), bare.get(key)) for key in (NOSE_UP, NOSE_DOWN)]
    found = [a.factor / b.factor for a, b in pairs if a is not None and b is not None]
    return _rounded(min(found)) if found else None


def _hot(one: Assessment, state: ShellState) -> dict[str, Any]:
    first = state.buckling.get("limit")
    factor = 1.0 if one.limits is None else one.limits.load_factor
    return {
        "tip_deflection_limit_mm": _rounded(one.limit_tip_mm(state)),
        "twist_deg_per_n_m": _rounded(state.twist_deg_per_n_m),
        "first_buckling_load_factor": None if first is None else _rounded(first.factor * factor),
    }


def _buckling(place: BucklingPlace | None, factor: float) -> dict[str, Any] | None:
    if place is None:
        return None
    return {
        "factor": _rounded(place.factor * factor),
        "span_mm": _rounded(place.z_mm),
        "x_mm": _rounded(place.x_mm),
        "chord_fraction": _rounded(place.chord_fraction),
        "part": place.part,
    }


def _margin(margin: Margin) -> dict[str, Any]:
    return {
        "margin": margin.name,
        "title": margin.title,
        "value": _rounded(margin.value),
        "demand_at_ultimate": _rounded(margin.demand),
        "allowable": _rounded(margin.allowable),
        "unit": margin.unit,
        "place": margin.place,
        "source": margin.source,
        "basis": margin.basis,
    }


def _aeroelastic(one: Assessment) -> dict[str, Any] | None:
    found = one.aeroelastics
    if found is None:
        return None
    return {
        "divergence_speed_m_s": _rounded(_finite(found.divergence_m_s)),
        "aileron_effectiveness_at_max_speed": [_rounded(value) for value in found.effectiveness],
        "reversal_speed_m_s": [_rounded(_finite(value)) for value in found.reversal_m_s],
        "asked_up_to_m_s": None if one.limits is None else _rounded(SPEED_MARGIN * one.limits.max_speed_m_s),
    }


def proof_document(one: Assessment) -> dict[str, Any] | None:
    """Return the plan of the proof loading as plain data; None without one."""
    if one.proof is None:
        return None
    proof = one.proof
    return {
        "wing": "upside down, held at the root as on the aircraft",
        "gauges_mm": [_rounded(float(z)) for z in proof.gauges_mm],
        "gauge_x_mm": [_rounded(float(x)) for x in proof.gauge_x_mm],
        "first_factor_raised": proof.plan.first_factor_raised,
        "outline_mm": [
            [_rounded(float(x)), _rounded(float(z))]
            for x, z in [
                *zip(one.planform.leading_edge_mm, one.planform.z_mm, strict=True),
                *zip(
                    (one.planform.leading_edge_mm + one.planform.chord_mm)[::-1],
                    one.planform.z_mm[::-1],
                    strict=True,
                ),
            ]
        ],
        "steps": [
            {
                "load_factor": _rounded(step.factor),
                "share_of_limit": _rounded(step.share_of_limit),
                "total_g": _rounded(step.total_g),
                "weights": [
                    {
                        "span_mm": _rounded(station.z_mm),
                        "x_mm": _rounded(station.x_mm),
                        "mass_g": _rounded(station.mass_g),
                    }
                    for station in step.stations
                ],
                "deflection_mm": [_rounded(float(value)) for value in row],
            }
            for step, row in zip(proof.plan.steps, proof.deflection_mm, strict=True)
        ],
    }


def _factor(place: BucklingPlace | None) -> float | None:
    return None if place is None else place.factor


def _finite(value: float) -> float | None:
    return float(value) if math.isfinite(value) else None


def _plain(value: Any) -> Any:
    if isinstance(value, dict):
        return {key: _plain(inner) for key, inner in value.items()}
    return None if value is None else _rounded(value)


def _rounded(value: float | None) -> float | None:
    if value is None or not math.isfinite(value):
        return None
    return float(f"{float(value):.6g}")
