"""Short wings that several tests assess, and what they ask of findings."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from wingpath.core.findings import Finding
from wingpath.model.spec import spec_from_dict
from wingpath.pipeline.assessing import Assessment, assess_wing
from wingpath.pipeline.design import design_wing

ROD: dict[str, Any] = {
    "outer_mm": 4.0,
    "inner_mm": 2.5,
    "from_mm": 0.0,
    "to_mm": 80.0,
    "chord_fraction": 0.3,
}

SHORT_WING: dict[str, Any] = {
    "name": "Sedge 180",
    "aircraft": {"all_up_mass_g": 90.0, "load_factor": 4.0, "max_speed_m_s": 25.0},
    "station": [
        {"span_mm": 0.0, "chord_mm": 100.0, "airfoil": "naca2415"},
        {"span_mm": 90.0, "chord_mm": 80.0, "leading_edge_mm": 6.0, "airfoil": "naca2415"},
    ],
    "ribs": {"run": "both", "pitch_mm": 24.0},
    "tube": [ROD],
    "panels": {"joints_mm": []},
    "print": {"layer_mm": 0.25},
}
"""A half wing of 90 mm with both rib runs and a rod; built and solved in a few seconds."""

EDGE_MM = 6.0
"""A coarse mesh: these tests ask what is told, not how exact it is [mm]."""


def assessed(spec: dict[str, Any]) -> Assessment:
    return assess_wing(design_wing(spec_from_dict(spec)), edge_mm=EDGE_MM)


def assessed_fused(spec: dict[str, Any]) -> Assessment:
    """Assess a wing whose slots are known to fuse: two shells fewer to solve."""
    return assessed({**spec, "slots": {"weld_spacing_mm": 0.0}})


def codes_of(findings: Iterable[Finding]) -> dict[str, str]:
    return {finding.code: finding.severity for finding in findings}
