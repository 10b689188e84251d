"""What holds for loads on every wing: balance, linearity, and that strips may be cut as one likes."""

from __future__ import annotations

import numpy as np
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from wingpath.core.units import GRAVITY_M_S2
from wingpath.structure.aeroelastic import aero_strips, divergence_speed_m_s, torsion_flexibility_deg_per_n_mm
from wingpath.structure.atmosphere import SEA_LEVEL
from wingpath.structure.lift import basic_lift, lift_loads, schrenk_share
from wingpath.structure.load_cases import FlightLimits, LoadedWing, flight_loads, load_cases
from wingpath.structure.planform import Planform
from wingpath.structure.proof_loading import OwnMass, proof_plan
from wingpath.structure.strip_loads import StripLoads, strip_edges

BALANCED = 1e-8
"""Relative: what a balance of forces may miss."""

ROUNDING = 1e-10
"""Of sums of up to a hundred terms, as a share of the largest."""


def number(low: float, high: float) -> st.SearchStrategy[float]:
    # whole hundredths: a tiny number beside a large one only tests rounding
    return st.integers(round(low * 100), round(high * 100)).map(lambda n: n / 100.0)


@st.composite
def plans(draw: st.DrawFn) -> Planform:
    steps = draw(st.lists(number(40, 400), min_size=1, max_size=4))
    count = len(steps) + 1
    edges = draw(st.lists(number(-50, 200), min_size=count, max_size=count))
    chords = draw(st.lists(number(40, 300), min_size=count, max_size=count))
    return Planform(np.concatenate([[0.0], np.cumsum(steps)]), np.array(edges), np.array(chords))


@st.composite
def wings(draw: st.DrawFn, heaviest_g: float = 40.0) -> LoadedWing:
    plan = draw(plans())
    edges = strip_edges(plan.semi_span_mm, plan.z_mm, longest_mm=draw(number(20, 200)))
    count, stations = len(edges) - 1, len(plan.z_mm)
    mass = draw(st.lists(number(0, heaviest_g), min_size=count, max_size=count))
    z = edges[:-1] + draw(number(0, 1)) * np.diff(edges)
    x = plan.leading_edge_at_mm(z) + draw(number(0, 1)) * plan.chord_at_mm(z)
    twist = draw(st.lists(number(-5, 8), min_size=stations, max_size=stations))
    moment = draw(st.lists(number(-0.1, 0.03), min_size=stations, max_size=stations))
    return LoadedWing(plan, edges, np.array(twist), np.array(moment), np.array(mass), z, x)


@st.composite
def limits(draw: st.DrawFn) -> FlightLimits:
    return FlightLimits(
        draw(number(100, 9000)),
        draw(number(2, 20)),
        draw(number(5, 60)),
        draw(number(0.5, 2)),
        draw(number(0, 15)),
        draw(number(0, 10)),
    )


@given(wings(), limits())
def test_every_case_balances(wing: LoadedWing, asked: FlightLimits) -> None:
    for case in load_cases(wing, asked):
        half = 0.5e-3 * asked.all_up_mass_g * GRAVITY_M_S2 * case.factor
        flying = case.speed_m_s > 0.0
        size = abs(half) + 1e-3 * asked.all_up_mass_g
        assert abs(case.lift.total_n - half * flying) <= BALANCED * size
        own = 1e-3 * wing.strip_mass_g.sum() * GRAVITY_M_S2 * case.factor
        assert abs(case.inertia.total_n + own) <= BALANCED * (abs(own) + 1e-3)


@given(plans(), st.lists(number(1, 1600), max_size=5), number(20, 300))
def test_strips_may_be_cut_anywhere(plan: Planform, cuts: list[float], longest: float) -> None:
    fine = strip_edges(plan.semi_span_mm, [*plan.z_mm, *cuts], longest_mm=longest)
    share, z = schrenk_share(plan, fine)
    whole, centre = schrenk_share(plan, [0.0, plan.semi_span_mm])
    assert_allclose(share.sum(), 1.0, rtol=BALANCED)
    assert_allclose(whole, 1.0, rtol=BALANCED)
    assert_allclose(share @ z, centre[0], rtol=BALANCED)
    assert (share > 0.0).all()


def same(one: StripLoads, other: StripLoads, places: np.ndarray) -> None:
    size = np.abs(one.force_n).sum() + np.abs(other.force_n).sum() + 1.0
    assert_allclose(one.shear_n(places), other.shear_n(places), atol=ROUNDING * size)
    assert_allclose(one.bending_n_mm(places), other.bending_n_mm(places), atol=ROUNDING * size * 1e4)
    assert_allclose(
        one.torque_n_mm(places, 50.0), other.torque_n_mm(places, 50.0), atol=ROUNDING * size * 1e4
    )


@given(wings(), limits(), number(-3, 3))
def test_loads_add_and_scale(wing: LoadedWing, asked: FlightLimits, factor: float) -> None:
    cases = load_cases(wing, asked)
    one, other = cases[1].lift, wing.inertia(asked.load_factor)
    both, places = one.plus(other), wing.edges_mm
    for load in ("shear_n", "bending_n_mm"):
        got, parts = getattr(both, load)(places), [getattr(p, load)(places) for p in (one, other)]
        assert_allclose(got, parts[0] + parts[1], atol=ROUNDING * (1e3 + np.abs(parts).max()))
    parts = [p.torque_n_mm(places, 50.0) for p in (one, other)]
    got = both.torque_n_mm(places, 50.0)
    assert_allclose(got, parts[0] + parts[1], atol=ROUNDING * (1e4 + 10.0 * np.abs(parts).max()))
    same(both, other.plus(one), places)
    same(both.scaled(factor), one.scaled(factor).plus(other.scaled(factor)), places)


@given(plans(), st.data())
def test_twist_is_linear_and_turning_the_whole_wing_does_nothing(plan: Planform, data: st.DataObject) -> None:
    count = len(plan.z_mm)
    twist = np.array(data.draw(st.lists(number(-8, 8), min_size=count, max_size=count)))
    edges = strip_edges(plan.semi_span_mm, plan.z_mm, longest_mm=60.0)

    def loads(angles: np.ndarray) -> StripLoads:
        return basic_lift(plan, edges, angles, dynamic_pressure_pa=400.0)

    same(loads(twist), loads(twist + 3.0), edges)
    same(loads(-2.0 * twist), loads(twist).scaled(-2.0), edges)
    assert abs(loads(twist).total_n) <= BALANCED * (1.0 + np.abs(loads(twist).force_n).sum())


@given(plans(), number(-300, 300))
def test_a_wing_moved_aft_is_the_same_about_an_axis_moved_with_it(plan: Planform, way: float) -> None:
    edges = strip_edges(plan.semi_span_mm, plan.z_mm, longest_mm=70.0)
    moved = Planform(plan.z_mm, plan.leading_edge_mm + way, plan.chord_mm)
    one, other = (lift_loads(each, edges, half_lift_n=7.0) for each in (plan, moved))
    assert_allclose(one.torque_n_mm(edges, 30.0), other.torque_n_mm(edges, 30.0 + way), atol=1e-6)
    assert_allclose(one.bending_n_mm(edges), other.bending_n_mm(edges), rtol=BALANCED)


@given(wings(), number(-6, 6), number(5, 40))
def test_a_wing_mirrored_up_and_down_bears_the_opposite(
    wing: LoadedWing, factor: float, speed: float
) -> None:
    over = LoadedWing(
        wing.planform,
        wing.edges_mm,
        -wing.incidence_deg,
        -wing.moment_coefficient,
        wing.strip_mass_g,
        wing.mass_z_mm,
        wing.mass_x_mm,
    )

    def loads(of: LoadedWing, times: float) -> StripLoads:
        air = flight_loads(of, all_up_mass_g=900.0, factor=times, speed_m_s=speed, air=SEA_LEVEL)
        return air.plus(of.inertia(times))

    same(loads(wing, factor), loads(over, -factor).scaled(-1.0), wing.edges_mm)


@given(plans(), number(0.1, 9))
def test_divergence_goes_with_the_root_of_the_stiffness(plan: Planform, factor: float) -> None:
    edges = strip_edges(plan.semi_span_mm, plan.z_mm, longest_mm=100.0)
    strips = aero_strips(plan, edges, lambda z: plan.quarter_chord_at_mm(z) + 0.1 * plan.chord_at_mm(z))
    soft = torsion_flexibility_deg_per_n_mm(strips.z_mm, [0.0, plan.semi_span_mm], [3e6, 1e6])
    speed = divergence_speed_m_s(strips, soft)
    assert 0.0 < speed < np.inf
    assert_allclose(divergence_speed_m_s(strips, soft / factor), speed * np.sqrt(factor), rtol=BALANCED)


@given(wings(heaviest_g=12.0))
def test_weights_make_the_root_loads(wing: LoadedWing) -> None:
    mass = 4.0 * wing.strip_mass_g.sum() + 400.0
    asked = FlightLimits(mass, 6.0, 25.0, 1.1, 5.0, 3.0)
    limit = load_cases(wing, asked)[1].loads
    own = OwnMass(wing.strip_mass_g, wing.mass_z_mm, wing.mass_x_mm)
    plan = wing.planform

    def chord(z: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        return plan.leading_edge_at_mm(z), plan.leading_edge_at_mm(z) + plan.chord_at_mm(z)

    for step in proof_plan(limit, own, limit_factor=6.0, chord_limits_mm=chord).steps:
        bags, z = np.array([[s.mass_g, s.z_mm] for s in step.stations]).T
        newton, wanted = 1e-3 * GRAVITY_M_S2, limit.scaled(step.share_of_limit)
        assert (bags > 0.0).all()
        assert_allclose(newton * (bags.sum() + own.mass_g.sum()), wanted.total_n, rtol=BALANCED)
        moment = newton * (bags @ z + own.mass_g @ own.z_mm)
        assert_allclose(moment, wanted.total_bending_n_mm, rtol=BALANCED)
