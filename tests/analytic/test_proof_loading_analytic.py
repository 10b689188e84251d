"""Proof loading: the weights make the loads, lie on the wing, and weigh something."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from numpy.testing import assert_allclose

from wingpath.core.errors import InputError
from wingpath.core.units import GRAVITY_M_S2
from wingpath.structure.load_cases import FlightLimits, LoadedWing, load_cases
from wingpath.structure.planform import Planform
from wingpath.structure.proof_loading import OwnMass, ProofStation, proof_plan
from wingpath.structure.strip_loads import StripLoads, strip_edges

BALANCED = 1e-8
"""Relative: what a balance of forces may miss."""

SPAN, CHORD = 750.0, 200.0


def tapered(taper: float) -> Planform:
    return Planform([0.0, SPAN], [0.0, 30.0], [CHORD, CHORD * taper])


def loaded(taper: float = 0.6, own_g: float = 150.0) -> LoadedWing:
    plan, edges = tapered(taper), strip_edges(SPAN, longest_mm=125.0)
    area = plan.strip_areas_mm2(edges)
    z = plan.strip_moments_mm3(edges) / area
    x = plan.leading_edge_at_mm(z) + 0.4 * plan.chord_at_mm(z)
    return LoadedWing(plan, edges, [2.0, -1.0], [-0.05, -0.05], own_g * area / area.sum(), z, x)


LIMITS = FlightLimits(
    all_up_mass_g=1500.0,
    load_factor=6.0,
    max_speed_m_s=28.0,
    max_lift_coefficient=1.1,
    gust_m_s=5.0,
    landing_factor=3.0,
)


def chord_of(wing: LoadedWing) -> Any:
    plan = wing.planform
    return lambda z: (plan.leading_edge_at_mm(z), plan.leading_edge_at_mm(z) + plan.chord_at_mm(z))


def limit_of(wing: LoadedWing) -> StripLoads:
    return next(case for case in load_cases(wing, LIMITS) if case.name == "limit slow").loads


def test_weights_make_shear_bending_and_torque_of_the_limit() -> None:
    wing = loaded()
    own = OwnMass(wing.strip_mass_g, wing.mass_z_mm, wing.mass_x_mm)
    limit = limit_of(wing)

    def below(stations: tuple[ProofStation, ...]) -> list[float]:
        return [station.mass_g * 1e-3 for station in stations]

    plan = proof_plan(limit, own, limit_factor=6.0, chord_limits_mm=chord_of(wing), deflection_mm=below)
    assert not plan.first_factor_raised
    assert len(plan.groups) == 6
    assert [step.factor for step in plan.steps] == pytest.approx([1, 2.25, 3.5, 4.75, 6, 7.5, 9])
    for step in plan.steps:
        mass, z, x = np.array([[s.mass_g, s.z_mm, s.x_mm] for s in step.stations]).T
        newton = GRAVITY_M_S2 * 1e-3
        wanted = limit.scaled(step.share_of_limit)
        assert newton * (mass + own.mass_g).sum() == pytest.approx(wanted.total_n, rel=BALANCED)
        bending = newton * (mass @ z + own.mass_g @ own.z_mm)
        assert bending == pytest.approx(wanted.total_bending_n_mm, rel=BALANCED)
        torque = newton * (mass @ (70.0 - x) + own.mass_g @ (70.0 - own.x_mm))
        assert torque + step.missing_torque_n_mm == pytest.approx(
            float(wanted.torque_n_mm(0.0, 70.0)), rel=BALANCED
        )
        assert_allclose(step.deflection_mm, mass * 1e-3)
    assert abs(plan.steps[4].missing_torque_n_mm) < 1e-9


def test_weights_cannot_lie_off_the_wing() -> None:
    wing = loaded()
    own = OwnMass(wing.strip_mass_g, wing.mass_z_mm, wing.mass_x_mm)
    limit = limit_of(wing)
    pulled = limit.plus(
        StripLoads(limit.edges_mm, 0 * limit.z_mm, limit.z_mm, 0 * limit.z_mm, 0 * limit.z_mm - 5e3)
    )
    step = proof_plan(pulled, own, limit_factor=6.0, chord_limits_mm=chord_of(wing)).steps[4]
    foremost, aftmost = chord_of(wing)(np.array([s.z_mm for s in step.stations]))
    for station, low, high in zip(step.stations, foremost, aftmost, strict=True):
        assert low <= station.x_mm <= high
    assert step.missing_torque_n_mm < -1e3


def test_a_heavy_strip_shares_its_weight_with_a_neighbour() -> None:
    wing = loaded()
    heavy = wing.strip_mass_g + np.array([0, 0, 0, 80.0, 0, 0])
    wing = LoadedWing(
        wing.planform,
        wing.edges_mm,
        wing.incidence_deg,
        wing.moment_coefficient,
        heavy,
        wing.mass_z_mm,
        wing.mass_x_mm,
    )
    own = OwnMass(heavy, wing.mass_z_mm, wing.mass_x_mm)
    limit = limit_of(wing)
    plan = proof_plan(limit, own, limit_factor=6.0, chord_limits_mm=chord_of(wing))
    # the inner neighbour has the heavier weight
    assert plan.groups == ((0, 1), (1, 2), (2, 4), (4, 5), (5, 6))
    for step in plan.steps:
        places = np.array([[s.mass_g, s.z_mm] for s in step.stations])
        assert (places[:, 0] > 0.0).all()
        newton = GRAVITY_M_S2 * 1e-3
        bending = newton * (places[:, 0] @ places[:, 1] + heavy @ own.z_mm)
        assert bending == pytest.approx(limit.total_bending_n_mm * step.share_of_limit, rel=BALANCED)


@pytest.mark.parametrize("side", [0, 1])
def test_no_weight_lies_off_the_strips_it_stands_for(side: int) -> None:
    # a mass at one edge of its strip drives the weight towards the other, and over it
    limit = limit_of(loaded(own_g=0.0))
    edges, mass = limit.edges_mm, np.array([0.0, 0.0, 0.0, 70.0, 0.0, 0.0])
    own = OwnMass(mass, edges[side : side + 6], limit.x_mm)
    plan = proof_plan(limit, own, limit_factor=6.0, chord_limits_mm=chord_of(loaded()))
    assert plan.first_factor_raised
    for step in plan.steps:
        for (start, end), station in zip(plan.groups, step.stations, strict=True):
            assert edges[start] <= station.z_mm <= edges[end]


def test_a_strip_without_load_gets_no_weight_of_its_own() -> None:
    loads = StripLoads([0.0, 10.0, 20.0], [5.0, 0.0], [5.0, 15.0], [0.0, 0.0], [0.0, 0.0])
    plan = proof_plan(
        loads,
        OwnMass([0.0, 0.0], [5.0, 15.0], [0.0, 0.0]),
        limit_factor=4.0,
        chord_limits_mm=chord_of(loaded()),
    )
    assert plan.groups == ((0, 2),)
    assert plan.steps[4].total_g == pytest.approx(5e3 / GRAVITY_M_S2)


def test_a_heavy_wing_raises_the_first_factor_or_cannot_be_loaded_so() -> None:
    # the tip, where washout takes lift away, could not be loaded at 1 g
    wing = loaded(own_g=300.0)
    own = OwnMass(wing.strip_mass_g, wing.mass_z_mm, wing.mass_x_mm)
    plan = proof_plan(limit_of(wing), own, limit_factor=6.0, chord_limits_mm=chord_of(wing))
    assert plan.first_factor_raised
    assert 1.0 < plan.steps[0].factor < 2.0
    for (start, end), station in zip(plan.groups, plan.steps[0].stations, strict=True):
        assert station.mass_g > 0.0
        assert wing.edges_mm[start] <= station.z_mm <= wing.edges_mm[end]
    # at a factor a tenth lower a weight would be below 0 or lie off its strip
    limit, share = limit_of(wing), 0.9 * plan.steps[0].share_of_limit
    mass = share * limit.force_n / (1e-3 * GRAVITY_M_S2) - own.mass_g
    place = share * (limit.force_n * limit.z_mm + limit.bend_n_mm) / (1e-3 * GRAVITY_M_S2)
    place = (place - own.mass_g * own.z_mm) / mass
    off = (mass <= 0.0) | (place < wing.edges_mm[:-1]) | (place > wing.edges_mm[1:])
    assert len(plan.groups) == 6
    assert off.any()
    wing = loaded(own_g=740.0)
    own = OwnMass(wing.strip_mass_g, wing.mass_z_mm, wing.mass_x_mm)
    with pytest.raises(InputError, match="no weights on the wing upside down make 50 % of the limit"):
        proof_plan(limit_of(wing), own, limit_factor=6.0, chord_limits_mm=chord_of(wing))
    with pytest.raises(InputError, match="got 2 strips; allowed: 6"):
        proof_plan(
            limit_of(wing), OwnMass([1, 2], [1, 2], [1, 2]), limit_factor=6.0, chord_limits_mm=chord_of(wing)
        )
    with pytest.raises(InputError, match="from a factor over 0"):
        proof_plan(limit_of(wing), own, limit_factor=6.0, first_factor=7.0, chord_limits_mm=chord_of(wing))
