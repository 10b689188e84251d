"""The plan of a proof loading, with the deflection to expect at each step."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from wingpath.core.arrays import FloatArray
from wingpath.core.errors import InputError
from wingpath.pipeline.wing_weights import StripMasses
from wingpath.structure.atmosphere import NEWTON_PER_G
from wingpath.structure.load_cases import FlightLimits, LoadedWing, load_cases
from wingpath.structure.planform import Planform
from wingpath.structure.proof_loading import OwnMass, ProofPlan, ProofStep, proof_plan
from wingpath.structure.shell_loads import skin_loads
from wingpath.structure.shell_results import HeldWing
from wingpath.structure.strip_loads import StripLoads

__all__ = ["ProofExpectation", "proof_edges", "prove_wing"]

STRIPS = 6
"""Weights along the half wing: as many as can be handled; root shear and bending are exact with any."""

FOREMOST, AFTMOST = 0.05, 0.70
"""Weights lie between these fractions of the chord: on the wing, and ahead of an aileron."""

GAUGES = (0.4, 0.7)
"""Where the deflection is read besides the tip, as shares of the span."""


@dataclass(frozen=True, slots=True, eq=False)
class ProofExpectation:
    """A plan of weights and what the wing does under them.

    Parameters
    ----------
    plan : ProofPlan
        The weights, step by step.
    gauges_mm : ndarray, shape (k,)
        Stations at which the deflection is read, the tip last [mm].
    gauge_x_mm : ndarray, shape (k,)
        Where along the chord [mm].
    deflection_mm : ndarray, shape (s, k)
        What each step's weights add to the wing's state without weights [mm].
    """

    plan: ProofPlan
    gauges_mm: FloatArray
    gauge_x_mm: FloatArray
    deflection_mm: FloatArray


def proof_edges(planform: Planform) -> FloatArray:
    """Return the edges of the strips that a weight each lies on, shape (k + 1,) [mm]."""
    return np.linspace(0.0, planform.semi_span_mm, STRIPS + 1)


def prove_wing(
    wing: HeldWing, loaded: LoadedWing, masses: StripMasses, limits: FlightLimits
) -> ProofExpectation:
    """Plan a proof loading and work out what to expect.

    Parameters
    ----------
    wing : HeldWing
        The shell.
    loaded : LoadedWing
        The half wing in the strips of :func:`proof_edges`.
    masses : StripMasses
        Its mass in the same strips.
    limits : FlightLimits
        What the aircraft is asked to bear.

    Raises
    ------
    InputError
        When no weights can make the loads.
    """
    limit = next(case for case in load_cases(loaded, limits) if case.name == "limit").loads
    plan_of = loaded.planform

    def along(z: FloatArray) -> tuple[ArrayLike, ArrayLike]:
        front, chord = plan_of.leading_edge_at_mm(z), plan_of.chord_at_mm(z)
        return front + FOREMOST * chord, front + AFTMOST * chord

    plan = proof_plan(
        limit,
        OwnMass(masses.mass_g, loaded.mass_z_mm, loaded.mass_x_mm),
        limit_factor=limits.load_factor,
        chord_limits_mm=along,
    )
    gauges = np.array([*(share * wing.shell.end_mm for share in GAUGES), wing.shell.end_mm])
    edges = loaded.edges_mm[[start for start, _ in plan.groups] + [plan.groups[-1][1]]]
    rows = [_expected(wing, step, edges, gauges) for step in plan.steps]
    return ProofExpectation(
        plan, gauges, np.array([wing.reference_at_mm(float(z)) for z in gauges]), np.array(rows)
    )


def _expected(
    wing: HeldWing, step: ProofStep, edges: FloatArray, gauges: Sequence[float] | FloatArray
) -> FloatArray:
    """Return the deflections under the weights of a step [mm]."""
    stations = step.stations
    if len(stations) != len(edges) - 1:
        raise InputError(f"proof: got {len(stations)} weights; allowed: {len(edges) - 1}, one a group")
    loads = StripLoads(
        edges,
        np.array([NEWTON_PER_G * station.mass_g for station in stations]),
        np.array([station.z_mm for station in stations]),
        np.array([station.x_mm for station in stations]),
        np.zeros(len(stations)),
    )
    moved = wing.displacement(skin_loads(wing.shell, loads))
    return wing.motion(moved, np.asarray(gauges, float)).deflection_mm
