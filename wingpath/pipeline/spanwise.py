"""Numbers along the span as plain data: chord, mass, stiffness, deflection, twist, margins."""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from wingpath.core.arrays import FloatArray
from wingpath.core.units import N_M2_PER_N_MM2
from wingpath.pipeline.assessing import ONE_G, Assessment
from wingpath.pipeline.wing_weights import strips_of

__all__ = ["spanwise_document"]

MASS_STRIPS = 30
"""Strips of span whose mass is told."""

MOST_MARGIN = 1000.0
"""A margin over this is none to speak of and is told as null."""


def spanwise_document(one: Assessment) -> dict[str, Any]:
    """Return what runs along the span; null where it cannot be had.

    Parameters
    ----------
    one : Assessment
        The wing.
    """
    plan, limits = one.planform, one.limits
    edges = np.linspace(0.0, plan.semi_span_mm, MASS_STRIPS + 1)
    strips = strips_of(one.weights, edges)
    beam, along = one.beam, one.along
    found: dict[str, Any] = {
        "chord": {"span_mm": _listed(plan.z_mm), "chord_mm": _listed(plan.chord_mm)},
        "mass": {
            "edges_mm": _listed(edges),
            "g_per_100_mm": _listed(strips.mass_g / np.diff(edges) * 100.0),
        },
        "stiffness": None
        if beam is None
        else {
            "edges_mm": _listed(beam.z_mm),
            "bending_n_m2": _listed(beam.ei_n_mm2 * N_M2_PER_N_MM2),
            "twisting_n_m2": _listed(beam.gj_n_mm2 * N_M2_PER_N_MM2),
            "basis": "beam of the built section, cut by cut; deflections come from the shell model",
        },
        "motion": None,
        "margin": None,
    }
    motions = one.solved.motions
    limit = one.limit_motion(one.solved)
    if limits is not None and ONE_G in motions and limit is not None:
        found["motion"] = {
            "span_mm": _listed(one.stations_mm),
            "deflection_mm_per_g": _listed(motions[ONE_G].deflection_mm),
            "deflection_limit_mm": _listed(limit.deflection_mm),
            "twist_limit_deg": _listed(limit.twist_deg),
            "limit_load_factor": limits.load_factor,
        }
    if along is not None:
        found["margin"] = {
            "edges_mm": _listed(along.edges_mm),
            "skin_compression": _margins(along.skin),
            "layer_tension": _margins(along.layers),
            "tube_bending": _margins(along.tubes),
            "basis": "least over all load cases, at 1.5 times the limit load; 0 just holds",
        }
    return found


def _listed(values: FloatArray) -> list[float]:
    return [float(f"{value:.6g}") for value in values.tolist()]


def _margins(values: FloatArray) -> list[float | None]:
    return [
        float(f"{value:.4g}") if math.isfinite(value) and value < MOST_MARGIN else None
        for value in values.tolist()
    ]
