"""Planform, air, sections, gusts and proof loads against figures that were published or worked out twice."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.testing import assert_allclose

from wingpath.geometry.airfoil import Airfoil
from wingpath.geometry.naca import naca_airfoil
from wingpath.structure.atmosphere import (
    SEA_LEVEL,
    reynolds_number,
    stall_speed_m_s,
    standard_air,
    wing_loading_g_dm2,
)
from wingpath.structure.gust import gust_factor, wing_lift_slope
from wingpath.structure.lift import lift_loads, schrenk_share
from wingpath.structure.planform import Planform
from wingpath.structure.proof_loading import OwnMass, bag_masses_g, proof_plan
from wingpath.structure.strip_loads import StripLoads, strip_edges
from wingpath.structure.thin_airfoil import flap_effect, section_lift

PRINTED = 2e-7
"""Relative: values that were noted to seven figures or so."""

LAST_FIGURE = 6e-7
"""Half a unit of the last figure of shares and centroids noted to six places, and rounding."""

# z, leading edge, chord; half area, MAC, its place along the span, its leading edge, its quarter point.
# First: the worked example of the public-domain page macex3.html of pdas.com. Second and third: plans of the
# cases file of that site's program getmac, worked out twice for this test. Fourth: worked out twice.
PLANS = [
    ([(0, 0, 400), (1000, 600, 200)], 300000, 311.1111, 444.4444, 266.6667, 344.4444),
    (
        [(0, 0, 130), (48, 40, 50), (90, 75, 50), (120, 100, 0)],
        *(7170, 75.92748, 42.98745, 35.82287, 54.80474),
    ),
    (
        [(0, 0, 1120), (200, 344, 400), (375, 645, 400), (500, 860, 0)],
        *(247000, 643.02294, 175.47233, 301.81242, 462.56815),
    ),
    ([(0, 0, 200), (750, 30, 120)], 120000, 163.33333, 343.75, 13.75, 54.58333),
]


def plan_of(rows: list[tuple[float, float, float]]) -> Planform:
    z, edge, chord = np.array(rows, dtype=float).T
    return Planform(z, edge, chord)


@pytest.mark.parametrize(("rows", "area", "mac", "along", "edge", "quarter"), PLANS)
def test_mean_chords(
    rows: list[tuple[float, float, float]], area: float, mac: float, along: float, edge: float, quarter: float
) -> None:
    plan = plan_of(rows)
    got = [0.5 * plan.area_mm2, plan.mean_chord_mm, plan.mac_span_mm, plan.mac_leading_edge_mm]
    assert_allclose([*got, plan.mac_quarter_chord_mm], [area, mac, along, edge, quarter], rtol=PRINTED)


def test_span_aspect_ratio_and_taper() -> None:
    plan = plan_of([(0, 0, 200), (750, 30, 120)])
    assert plan.span_mm == 1500.0
    assert plan.aspect_ratio == pytest.approx(1500.0**2 / 240000.0)
    assert plan.geometric_mean_chord_mm == pytest.approx(160.0)
    assert plan.taper == pytest.approx(0.6)


# geopotential height: temperature, pressure, density, viscosity, speed of sound. The formulas of the
# standard, worked out apart from this project; at 0 and 2 km the table of the US Standard Atmosphere 1976
# as printed by the public-domain page atmosTable1SI of pdas.com has the same to its four figures.
AIR = {
    0: (288.150, 101325.0, 1.225000, 1.78938e-5, 340.294),
    500: (284.900, 95460.8, 1.167269, 1.77366e-5, 338.369),
    1000: (281.650, 89874.6, 1.111643, 1.75785e-5, 336.434),
    1500: (278.400, 84556.0, 1.058067, 1.74195e-5, 334.487),
    2000: (275.150, 79495.2, 1.006490, 1.72596e-5, 332.529),
}
AIR_FIGURES = 4e-6
"""Relative: half a unit of the sixth figure, the fewest noted."""


@pytest.mark.parametrize("height", AIR)
def test_standard_air(height: int) -> None:
    air = standard_air(height)
    got = air.temperature_k, air.pressure_pa, air.density_kg_m3, air.viscosity_pa_s, air.sound_m_s
    assert_allclose(got, AIR[height], rtol=AIR_FIGURES)


def test_a_model_of_a_kilogram_and_a_half() -> None:
    # worked out twice for this test
    speed = stall_speed_m_s(mass_g=1500, area_mm2=240000, max_lift_coefficient=1.1)
    assert speed == pytest.approx(9.53786, rel=1e-6)
    assert wing_loading_g_dm2(mass_g=1500, area_mm2=240000) == pytest.approx(62.5)
    assert reynolds_number(speed_m_s=speed, chord_mm=163.333) == pytest.approx(106_649, rel=2e-5)
    assert reynolds_number(speed_m_s=20, chord_mm=200) == pytest.approx(273_838, rel=2e-6)


# J. D. Anderson, Fundamentals of Aerodynamics, ch. 4 (23012) and thin-airfoil results quoted for 2412;
# both from memory
SECTIONS = {"23012": (-1.09, -0.0127), "2412": (-2.077, -0.0531)}
MEAN_LINE_DEG = 0.015
MEAN_LINE_MOMENT = 6e-4
"""The mean line that is found between the surfaces is not quite the one the sections were made with."""


@pytest.mark.parametrize("name", SECTIONS)
def test_zero_lift_and_moment(name: str) -> None:
    angle, moment = SECTIONS[name]
    got = section_lift(naca_airfoil(name))
    assert got.zero_lift_deg == pytest.approx(angle, abs=MEAN_LINE_DEG)
    assert got.quarter_chord_moment == pytest.approx(moment, abs=MEAN_LINE_MOMENT)


@pytest.mark.parametrize(("name", "as_thick"), [("23003", "23012"), ("2403", "2412")])
def test_a_thinner_section_is_nearer_to_the_theory(name: str, as_thick: str) -> None:
    angle, moment = SECTIONS[as_thick]
    got = section_lift(naca_airfoil(name))
    assert got.zero_lift_deg == pytest.approx(angle, abs=0.4 * MEAN_LINE_DEG)
    assert got.quarter_chord_moment == pytest.approx(moment, abs=0.4 * MEAN_LINE_MOMENT)


@pytest.mark.parametrize("points", [15, 25, 41, 641])
def test_sections_given_by_few_points_with_four_places(points: int) -> None:
    # as in files; the ordinates are off by half a ten-thousandth of the chord
    exact = naca_airfoil("23012", points_per_side=points)
    got = section_lift(Airfoil("file", np.round(exact.upper, 4), np.round(exact.lower, 4)))
    assert got.zero_lift_deg == pytest.approx(SECTIONS["23012"][0], abs=3.0 * MEAN_LINE_DEG)
    assert got.quarter_chord_moment == pytest.approx(SECTIONS["23012"][1], abs=3.0 * MEAN_LINE_MOMENT)


@pytest.mark.parametrize(
    ("ratio", "lift", "moment"), [(0.2, 3.4546, -0.64), (0.25, 3.8264, -0.6495), (0.3, 4.1516, -0.6416)]
)
def test_flaps(ratio: float, lift: float, moment: float) -> None:
    # Glauert's formulas, worked out apart from this project, four places
    got = flap_effect(ratio)
    assert got.lift_per_rad == pytest.approx(lift, abs=6e-5)
    assert got.moment_per_rad == pytest.approx(moment, abs=6e-5)


def test_the_root_ordinate_of_an_ellipse() -> None:
    # a student's design report (scribd 186004989): semi span 16.158 m, 23357.46 N/m at the root under a half
    # lift of 296,417 N; the chord that shrinks at the tip takes the ellipse's shape here, so that both halves
    # of the rule are the ellipse
    height = np.sin(np.linspace(0.0, 0.5 * np.pi, 2001))
    plan = Planform(16158.0 * height, 0.0 * height, 4000.0 * np.sqrt(1.0 - height**2))
    loads = lift_loads(plan, [0.0, 10.0, 16158.0], half_lift_n=296_417.0)
    assert loads.force_n[0] / 10.0 == pytest.approx(23.35746, rel=1e-5)


TAPER_06 = [0.206304, 0.196349, 0.183096, 0.165811, 0.142665, 0.105775]
PLACES_06 = [0.082766, 0.249185, 0.415523, 0.581683, 0.747350, 0.909672]
TAPER_10 = [0.188943, 0.185932, 0.179624, 0.169283, 0.153082, 0.123136]
TAPER_05 = [0.212091, 0.199821, 0.184253, 0.164654, 0.139193, 0.099988]


def tapered(taper: float, semi_span: float = 750.0) -> Planform:
    return Planform([0.0, semi_span], [0.0, 30.0], [200.0, 200.0 * taper])


@pytest.mark.parametrize(("taper", "shares"), [(0.6, TAPER_06), (1.0, TAPER_10), (0.5, TAPER_05)])
def test_six_equal_strips(taper: float, shares: list[float]) -> None:
    # worked out by algebra and by quadrature, apart from this project
    got, places = schrenk_share(tapered(taper), np.linspace(0.0, 750.0, 7))
    assert_allclose(got, shares, atol=LAST_FIGURE)
    if taper == 0.6:
        assert_allclose(places / 750.0, PLACES_06, atol=LAST_FIGURE)
        assert got @ places / 750.0 == pytest.approx(0.441373, abs=LAST_FIGURE)


@pytest.mark.parametrize(
    ("count", "percent"), [(3, 1.64), (4, 0.94), (5, 0.61), (6, 0.43), (8, 0.24), (10, 0.16), (12, 0.11)]
)
def test_weights_in_the_middle_of_strips_overstate_the_root_moment(count: int, percent: float) -> None:
    edges = np.linspace(0.0, 750.0, count + 1)
    share, z = schrenk_share(tapered(0.6), edges)
    middle = 0.5 * (edges[1:] + edges[:-1])
    assert 100.0 * (share @ middle / (share @ z) - 1.0) == pytest.approx(percent, abs=0.006)


def test_helmbold_and_pratt() -> None:
    # Helmbold with a0 = 2 pi is 2 pi A / (2 + sqrt(A^2 + 4)); by hand for A = 4: 8 pi / (2 + sqrt 20)
    assert wing_lift_slope(4.0) == pytest.approx(8.0 * np.pi / (2.0 + np.sqrt(20.0)))
    # 14 CFR 23.341 in its own units: n = 1 + K U V a / (498 W/S), U ft/s, V knots, W/S lb/ft2, and
    # m = 2 (W/S) / (rho c a g); from memory
    slope, chord_ft, loading = 4.9, 5.0, 20.0
    ratio = 2.0 * loading / (0.0023769 * chord_ft * slope * 32.174)
    wanted = 1.0 + 0.88 * ratio / (5.3 + ratio) * 30.0 * 150.0 * slope / (498.0 * loading)
    got = gust_factor(
        mass_g=loading * 453.59237 * 100.0,
        area_mm2=100.0 * 304.8**2,
        chord_mm=chord_ft * 304.8,
        slope_per_rad=slope,
        speed_m_s=150.0 * 1852.0 / 3600.0,
        gust_m_s=30.0 * 0.3048,
        density_kg_m3=SEA_LEVEL.density_kg_m3,
    )
    # 2 over sea-level density in slug/ft3 and ft/s a knot is 498.53, which the rule cuts to 498
    assert got - 1.0 == pytest.approx(wanted - 1.0, rel=1.2e-3)


def test_a_full_size_wing_that_was_loaded() -> None:
    # graal-aero.fr: 180 kg borne by two wings of 34 kg each, 4 g: 326 kg a wing are wanted; 56 kg at 1 g
    kilo = 1000.0
    share, z = schrenk_share(tapered(0.6), np.linspace(0.0, 750.0, 7))
    for factor, total in ((4.0, 326.0), (1.0, 56.0)):
        bags = bag_masses_g(share, 34.0 * kilo * share, all_up_mass_g=248.0 * kilo, factor=factor)
        assert bags.sum() == pytest.approx(total * kilo)
    edges = np.linspace(0.0, 750.0, 7)
    net = StripLoads(edges, 4.0 * 90.0 * 9.80665 * share, z, 50.0 + 0.0 * z, 0.0 * z)
    plan = proof_plan(
        net, OwnMass(34.0 * kilo * share, z, 60.0 + 0.0 * z), limit_factor=4.0, chord_limits_mm=wide
    )
    assert plan.steps[0].total_g == pytest.approx(56.0 * kilo)
    assert plan.steps[4].total_g == pytest.approx(326.0 * kilo)
    assert [step.share_of_limit for step in plan.steps] == pytest.approx(
        [0.25, 0.4375, 0.625, 0.8125, 1, 1.25, 1.5]
    )


def wide(z: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    return z * 0.0 - 1e6, z * 0.0 + 1e6


def test_bags_on_six_strips_of_a_model() -> None:
    # m 1.5 kg, n 6, taper 0.6, wing half 150 g spread with the chord; worked out apart from this project
    plan, edges = tapered(0.6), strip_edges(750.0, longest_mm=125.0)
    share, _ = schrenk_share(plan, edges)
    own = 150.0 * plan.strip_areas_mm2(edges) / plan.strip_areas_mm2(edges).sum()
    bags = bag_masses_g(share, own, all_up_mass_g=1500.0, factor=6.0)
    assert_allclose(bags, [716.91, 686.69, 641.64, 578.44, 488.87, 337.44], atol=0.006)
    assert bags.sum() == pytest.approx(3450.0)
    assert bag_masses_g(share, 0.0 * own, all_up_mass_g=1500.0, factor=6.0).sum() == pytest.approx(4500.0)
