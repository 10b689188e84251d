"""Loads in closed form: Schrenk's rule, twist, ailerons, couples, and the cases of a model."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from numpy.testing import assert_allclose

from wingpath.core.errors import InputError
from wingpath.core.units import GRAVITY_M_S2
from wingpath.geometry.naca import naca_airfoil
from wingpath.model.spec import spec_from_dict
from wingpath.model.wing import wing_from_spec
from wingpath.structure.atmosphere import SEA_LEVEL, stall_speed_m_s, standard_air
from wingpath.structure.lift import aileron_lift, basic_lift, lift_loads, moment_couples, schrenk_share
from wingpath.structure.load_cases import AileronThrow, FlightLimits, LoadedWing, inertia_loads, load_cases
from wingpath.structure.planform import Planform, planform_of_wing, strip_integrals
from wingpath.structure.strip_loads import StripLoads, no_loads, strip_edges
from wingpath.structure.thin_airfoil import FlapEffect

EXACT = 1e-12
"""Relative: closed forms against closed forms."""

BALANCED = 1e-8
"""Relative: what a balance of forces may miss."""

SIX_PLACES = 6e-7
"""Values noted to six places."""

SPAN, CHORD = 750.0, 200.0
PRESSURE_PA = 300.0
FLAP = FlapEffect(lift_per_rad=3.5, moment_per_rad=-0.6)


def tapered(taper: float) -> Planform:
    return Planform([0.0, SPAN], [0.0, 30.0], [CHORD, CHORD * taper])


# taper: centroid of Schrenk's load and its value at the root, both of unit half span and load; exact algebra
SCHRENK = {
    1.0: (0.462207, 1.136620),
    0.8: (0.452947, 1.192175),
    0.6: (0.441373, 1.261620),
    0.5: (0.434429, 1.303286),
    0.4: (0.426492, 1.350905),
    0.0: (0.378873, 1.636620),
}


@pytest.mark.parametrize("taper", SCHRENK)
@pytest.mark.parametrize("longest", [750.0, 100.0, 7.0])
def test_root_moment_of_schrenks_load(taper: float, longest: float) -> None:
    lift = 44.1299
    loads = lift_loads(tapered(taper), strip_edges(SPAN, longest_mm=longest), half_lift_n=lift)
    eta = 0.5 * (4.0 / (3.0 * math.pi) + (1.0 + 2.0 * taper) / (3.0 * (1.0 + taper)))
    assert eta == pytest.approx(SCHRENK[taper][0], abs=SIX_PLACES)
    assert loads.total_bending_n_mm == pytest.approx(lift * SPAN * eta, rel=EXACT)
    assert loads.total_n == pytest.approx(lift, rel=EXACT)


@pytest.mark.parametrize("taper", SCHRENK)
def test_load_at_the_root(taper: float) -> None:
    errors = []
    for width in (20.0, 10.0, 5.0):
        share, _ = schrenk_share(tapered(taper), [0.0, width, SPAN])
        mean = share[0] * SPAN / width
        # the mean over a strip at the root, of load that falls as the chord does, and the ellipse by z^2
        exact = 0.5 * (4.0 / math.pi + 2.0 / (1.0 + taper) * (1.0 - 0.5 * (1.0 - taper) * width / SPAN))
        errors.append(exact - mean)
    assert 0.5 * (4.0 / math.pi + 2.0 / (1.0 + taper)) == pytest.approx(SCHRENK[taper][1], abs=SIX_PLACES)
    orders = np.log2(np.array(errors[:-1]) / errors[1:])
    assert orders == pytest.approx([2.0, 2.0], abs=0.01)


def test_bending_at_the_edges_of_strips_is_that_of_the_spread_load() -> None:
    edges = strip_edges(SPAN, longest_mm=100.0)
    coarse = lift_loads(tapered(0.6), edges, half_lift_n=10.0)
    fine = lift_loads(tapered(0.6), np.union1d(edges, np.linspace(0, SPAN, 400)), half_lift_n=10.0)
    for load in ("shear_n", "bending_n_mm"):
        assert_allclose(getattr(coarse, load)(edges), getattr(fine, load)(edges), rtol=EXACT, atol=1e-9)


TWO = StripLoads([0.0, 10.0, 30.0], [2.0, 3.0], [4.0, 20.0], [5.0, 8.0], [7.0, -1.0], [0.0, 11.0])


def test_shear_bending_and_torque_by_hand() -> None:
    assert TWO.total_n == 5.0
    assert_allclose(TWO.shear_n([0.0, 3.9, 4.1, 10.0, 19.9, 20.1, 30.0]), [5, 5, 3, 3, 3, 0, 0])
    assert_allclose(TWO.bending_n_mm([0.0, 2.0, 10.0, 15.0, 25.0]), [79.0, 69.0, 41.0, 26.0, 0.0])
    # nose-up: couples 7 - 1, and 2 N and 3 N acting 5 and 2 mm ahead of the axis
    assert TWO.torque_n_mm(0.0, 10.0) == pytest.approx(6.0 + 2.0 * 5.0 + 3.0 * 2.0)
    assert TWO.torque_n_mm(10.0, lambda z: 10.0 + z) == pytest.approx(-1.0 + 3.0 * 12.0)
    assert TWO.bending_n_mm([[0.0], [10.0]]).shape == (2, 1)


def test_a_force_on_the_edge_of_its_strip_belongs_to_it() -> None:
    inner = StripLoads([0.0, 10.0, 30.0], [2.0, 3.0], [10.0, 10.0], [0.0, 0.0], [0.0, 0.0])
    assert inner.shear_n(10.0) == 3.0


def test_forces_that_cancel_leave_couples() -> None:
    lift = StripLoads([0.0, 100.0], [5.0], [40.0], [20.0], [0.0])
    weight = StripLoads([0.0, 100.0], [-5.0], [60.0], [50.0], [0.0])
    both = lift.plus(weight)
    assert both.total_n == 0.0
    assert both.bending_n_mm(0.0) == pytest.approx(5.0 * 40.0 - 5.0 * 60.0)
    assert both.torque_n_mm(0.0, 33.0) == pytest.approx(5.0 * (50.0 - 20.0))


def test_loads_are_refused_on_other_strips_and_outside_their_own() -> None:
    with pytest.raises(InputError, match="the same edges"):
        TWO.plus(no_loads([0.0, 30.0]))
    with pytest.raises(InputError, match=r"z_mm\[1\]: got 9 mm; allowed: inside its strip, 10 to 30 mm"):
        StripLoads([0.0, 10.0, 30.0], [2.0, 3.0], [4.0, 9.0], [5.0, 8.0], [7.0, -1.0])
    with pytest.raises(InputError, match="do not rise"):
        StripLoads([0.0, 0.0], [2.0], [0.0], [5.0], [7.0])
    with pytest.raises(InputError, match="cover the wing"):
        schrenk_share(tapered(1.0), [0.0, 700.0])


def test_strip_edges() -> None:
    assert_allclose(
        strip_edges(100.0, [60.0, 0.0, 100.0, 60.0, 130.0], longest_mm=30.0), [0, 30, 60, 80, 100]
    )
    with pytest.raises(InputError, match="lengths over 0"):
        strip_edges(100.0, longest_mm=0.0)


def test_linear_twist_of_a_rectangular_wing() -> None:
    # incidence from 3 to -1: 1 on the mean; half of a q c (3 - 4 t - 1) per length of span
    # five strips: the load changes sign in the third
    plan, edges = tapered(1.0), strip_edges(SPAN, longest_mm=150.0)
    got = basic_lift(plan, edges, [3.0, -1.0], dynamic_pressure_pa=PRESSURE_PA)
    t = edges / SPAN
    unit = 0.5 * 2.0 * math.pi * PRESSURE_PA * 1e-6 * CHORD * math.radians(1.0)
    assert got.total_n == pytest.approx(0.0, abs=1e-12)
    # shear outboard of t: integral of (2 - 4 t) from t to 1; bending: -(integral of that shear)
    assert_allclose(got.shear_n(edges), unit * SPAN * (2.0 * t**2 - 2.0 * t), rtol=1e-9, atol=1e-9)
    bending = unit * SPAN**2 * (t**2 - 2.0 / 3.0 * t**3 - 1.0 / 3.0)
    assert_allclose(got.bending_n_mm(edges), bending, rtol=1e-9, atol=1e-8)


def test_couples_of_a_tapered_wing() -> None:
    # integral of c^2 over the span: c_root^2 s (1 + l + l^2) / 3
    got = moment_couples(
        tapered(0.6), strip_edges(SPAN, longest_mm=90.0), [-0.05, -0.05], dynamic_pressure_pa=PRESSURE_PA
    )
    wanted = -0.05 * PRESSURE_PA * 1e-6 * CHORD**2 * SPAN * (1.0 + 0.6 + 0.36) / 3.0
    assert got.couple_n_mm.sum() == pytest.approx(wanted, rel=EXACT)
    assert got.torque_n_mm(0.0, 77.0) == pytest.approx(wanted, rel=EXACT)


def test_an_aileron_across_the_edges_of_strips() -> None:
    plan, edges = tapered(1.0), strip_edges(SPAN, longest_mm=100.0)
    got = aileron_lift(
        plan,
        edges,
        from_mm=410.0,
        to_mm=700.0,
        deflection_deg=20.0,
        flap=FLAP,
        dynamic_pressure_pa=PRESSURE_PA,
    )
    pressure = PRESSURE_PA * 1e-6 * math.radians(20.0)
    force = 0.5 * FLAP.lift_per_rad * pressure * CHORD * 290.0
    assert got.total_n == pytest.approx(force, rel=EXACT)
    assert got.total_bending_n_mm == pytest.approx(force * 555.0, rel=EXACT)
    assert got.couple_n_mm.sum() == pytest.approx(-0.6 * pressure * CHORD**2 * 290.0, rel=EXACT)
    assert got.shear_n(edges[5]) == pytest.approx(force * (700.0 - edges[5]) / 290.0, rel=EXACT)
    with pytest.raises(InputError, match="a stretch of the wing"):
        aileron_lift(
            plan,
            edges,
            from_mm=410.0,
            to_mm=800.0,
            deflection_deg=20.0,
            flap=FLAP,
            dynamic_pressure_pa=PRESSURE_PA,
        )


def test_the_planform_of_a_wing() -> None:
    rows: list[dict[str, Any]] = [
        {"span_mm": 0, "chord_mm": 200, "airfoil": "naca2412"},
        {"span_mm": 300, "chord_mm": 180, "leading_edge_mm": 12, "twist_deg": -2, "airfoil": "naca2412"},
        {"span_mm": 500, "chord_mm": 110, "leading_edge_mm": 40, "twist_deg": -4, "airfoil": "naca2412"},
    ]
    wing = wing_from_spec(spec_from_dict({"station": rows}), naca_airfoil)
    plan, z = planform_of_wing(wing), np.linspace(0.0, 500.0, 23)
    assert plan.area_mm2 == pytest.approx(2.0 * wing.area_mm2, rel=EXACT)
    # the twist turns about the quarter chord, which stays
    assert_allclose(plan.quarter_chord_at_mm(z), wing.chord_point_mm(0.25, z)[:, 0], rtol=EXACT)
    for bad in ([0.0, 0.0], [1.0, 2.0], [0.0, -1.0]):
        with pytest.raises(InputError, match="rise from 0"):
            Planform(bad, [0.0, 0.0], [1.0, 1.0])
    with pytest.raises(InputError, match="not all of them 0"):
        Planform([0.0, 1.0], [0.0, 0.0], [0.0, 0.0])


def test_strip_integrals_are_exact_for_cubics_between_breaks() -> None:
    def values(z: np.ndarray) -> np.ndarray:
        return np.where(z < 1.5, z**3, 2.0)

    assert_allclose(strip_integrals([0.0, 1.0, 3.0], [1.5], values), [0.25, (1.5**4 - 1.0) / 4.0 + 3.0])


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
THROW = AileronThrow(from_mm=400.0, to_mm=700.0, down_deg=15.0, up_deg=20.0, flap=FLAP)


def test_the_cases_of_a_model() -> None:
    cases = {case.name: case for case in load_cases(loaded(), LIMITS, (THROW,))}
    assert list(cases) == [
        *("level", "limit", "limit slow", "gust up", "gust down"),
        *("aileron down", "aileron up", "aileron down fast", "aileron up fast", "landing"),
    ]
    weight = 1.5 * GRAVITY_M_S2
    for case in cases.values():
        flying = case.name != "landing"
        assert case.lift.total_n == pytest.approx(0.5 * weight * case.factor * flying, rel=BALANCED)
        assert case.inertia.total_n == pytest.approx(-0.15 * GRAVITY_M_S2 * case.factor, rel=BALANCED)
        assert case.loads.total_n == pytest.approx(
            case.lift.total_n + case.control.total_n + case.inertia.total_n, rel=BALANCED
        )
    stall = stall_speed_m_s(mass_g=9000.0, area_mm2=240_000.0, max_lift_coefficient=1.1)
    slow = cases["limit slow"]
    assert slow.speed_m_s == pytest.approx(stall)
    assert slow.lift_coefficient == pytest.approx(1.1)
    assert cases["limit"].lift_coefficient == pytest.approx(
        6.0 * weight / (0.24 * SEA_LEVEL.dynamic_pressure_pa(28.0))
    )
    # level flight half way between the two gusts
    assert cases["gust up"].factor + cases["gust down"].factor == pytest.approx(2.0)
    assert cases["gust up"].factor > 1.5
    assert cases["aileron down"].factor == pytest.approx(4.0)
    down, up = cases["aileron down"].control, cases["aileron up"].control
    assert down.total_n > 0.0
    assert up.total_n == pytest.approx(-20.0 / 15.0 * down.total_n)
    # full throw where the wing can just bear it, a third of it at the highest speed: 14 CFR 23.455
    assert cases["aileron down"].speed_m_s == pytest.approx(stall)
    fast = cases["aileron down fast"]
    assert fast.speed_m_s == pytest.approx(28.0)
    assert fast.control.total_n == pytest.approx(down.total_n * (28.0 / stall) ** 2 / 3.0)
    # a faster limit turns the nose farther down
    assert cases["limit"].loads.torque_n_mm(0.0, 60.0) < slow.loads.torque_n_mm(0.0, 60.0)


def test_a_slow_aircraft_without_ailerons_has_fewer_cases() -> None:
    limits = FlightLimits(1500.0, 6.0, 15.0, 1.1, 5.0, 3.0)
    assert [case.name for case in load_cases(loaded(), limits)] == [
        *("level", "limit", "gust up", "gust down", "landing")
    ]
    with pytest.raises(InputError, match="got -1 g"):
        inertia_loads([0.0, 1.0], [-1.0], z_mm=[0.5], x_mm=[0.0], factor=1.0)


def test_there_is_no_standard_air_above_eleven_kilometres() -> None:
    with pytest.raises(InputError, match="11000"):
        standard_air(12_000.0)
