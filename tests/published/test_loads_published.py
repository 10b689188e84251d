"""Planform, air, sections, gusts and proof loads against figures that were published or worked out twice."""

from __future__ import annotations

import numpy as np
import pytest
from outside import LOADS, Source

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
from wingpath.structure.thin_airfoil import SectionLift, flap_effect, section_lift

MEAN_CHORD_PAGE = Source(
    "printed",
    "pdas.com, macex3",
    "R. L. Carmichael, Public Domain Aeronautical Software, page macex3.html, worked example",
)
MEAN_CHORD_CASES = Source(
    "worked again",
    "pdas.com, getmac",
    "plans from the cases file of the program getmac of the same site, worked out twice for this test",
)
MODEL = Source(
    "worked again", "plan of a model", "an invented model, its figures worked out twice for this test"
)
ATMOSPHERE = Source(
    "worked again",
    "US Standard Atmosphere 1976",
    "its formulas, worked out apart from this project; at 0 and 2 km the table as printed by the "
    "public-domain page "
    "atmosTable1SI of pdas.com has the same to its four figures",
)
ANDERSON = Source(
    "memory",
    "Anderson, Fundamentals of Aerodynamics",
    "J. D. Anderson, Fundamentals of Aerodynamics, ch. 4 (23012), and thin-airfoil results quoted for 2412",
)
GLAUERT = Source("worked again", "Glauert", "H. Glauert's formulas of a thin airfoil with a plain flap")
STUDENT_REPORT = Source(
    "quoted",
    "a design report",
    "a student's design report (scribd 186004989): an ellipse of lift over a semi span of 16.158 m",
)
SCHRENK = Source(
    "worked again",
    "Schrenk's rule",
    "mean of the chord and of an ellipse of the same area, worked out by algebra and by quadrature, "
    "apart from this "
    "project",
)
HELMBOLD = Source("worked again", "Helmbold", "lift slope of a wing by its aspect ratio, by hand")
CFR = Source(
    "memory", "14 CFR 23.341", "14 CFR 23.341, gust load factor with its alleviation factor, in its own units"
)
LOADED_WING = Source(
    "quoted",
    "graal-aero.fr",
    "an account of a full-size wing that was loaded with bags: 180 kg borne by two wings of 34 kg each",
)

PRINTED = 2e-7
"""Relative: values that were noted to seven figures or so."""

LAST_FIGURE = 6e-7
"""Half a unit of the last figure of shares and centroids noted to six places, and rounding."""

# z, leading edge, chord; half area, MAC, its place along the span, its leading edge, its quarter point
PLANS = {
    MEAN_CHORD_PAGE: ([(0, 0, 400), (1000, 600, 200)], 300000, 311.1111, 444.4444, 266.6667, 344.4444),
    MEAN_CHORD_CASES.at("first plan"): (
        [(0, 0, 130), (48, 40, 50), (90, 75, 50), (120, 100, 0)],
        *(7170, 75.92748, 42.98745, 35.82287, 54.80474),
    ),
    MEAN_CHORD_CASES.at("second plan"): (
        [(0, 0, 1120), (200, 344, 400), (375, 645, 400), (500, 860, 0)],
        *(247000, 643.02294, 175.47233, 301.81242, 462.56815),
    ),
    MODEL: ([(0, 0, 200), (750, 30, 120)], 120000, 163.33333, 343.75, 13.75, 54.58333),
}


def plan_of(rows: list[tuple[float, float, float]]) -> Planform:
    z, edge, chord = np.array(rows, dtype=float).T
    return Planform(z, edge, chord)


@pytest.mark.parametrize("source", PLANS, ids=["page", "cases-1", "cases-2", "model"])
def test_mean_chords(source: Source) -> None:
    rows, *wanted = PLANS[source]
    plan = plan_of(rows)
    got = [0.5 * plan.area_mm2, plan.mean_chord_mm, plan.mac_span_mm, plan.mac_leading_edge_mm]
    LOADS.check(
        f"Area and mean chord of a plan with {len(rows)} stations, root chord {rows[0][2]} mm",
        source=source,
        expected=wanted,
        got=[*got, plan.mac_quarter_chord_mm],
        rel=PRINTED,
        because="noted to seven figures or so",
        labels=[
            "half area, mm²",
            "mean chord, mm",
            "its place, mm",
            "its leading edge, mm",
            "its quarter point, mm",
        ],
    )


def test_span_aspect_ratio_and_taper() -> None:
    plan = plan_of([(0, 0, 200), (750, 30, 120)])
    assert plan.span_mm == 1500.0
    assert plan.aspect_ratio == pytest.approx(1500.0**2 / 240000.0)
    assert plan.geometric_mean_chord_mm == pytest.approx(160.0)
    assert plan.taper == pytest.approx(0.6)


# geopotential height: temperature, pressure, density, viscosity, speed of sound
AIR = {
    0: (288.150, 101325.0, 1.225000, 1.78938e-5, 340.294),
    500: (284.900, 95460.8, 1.167269, 1.77366e-5, 338.369),
    1000: (281.650, 89874.6, 1.111643, 1.75785e-5, 336.434),
    1500: (278.400, 84556.0, 1.058067, 1.74195e-5, 334.487),
    2000: (275.150, 79495.2, 1.006490, 1.72596e-5, 332.529),
}
AIR_FIGURES = 4e-6
"""Relative: half a unit of the sixth figure, the fewest noted."""


def test_standard_air() -> None:
    found = [standard_air(height) for height in AIR]
    units = "K", "Pa", "kg/m³", "Pa s", "m/s"
    LOADS.check(
        "Standard air at 0 to 2000 m: temperature, pressure, density, viscosity, speed of sound",
        source=ATMOSPHERE,
        expected=list(AIR.values()),
        got=[(a.temperature_k, a.pressure_pa, a.density_kg_m3, a.viscosity_pa_s, a.sound_m_s) for a in found],
        rel=AIR_FIGURES,
        because="half a unit of the sixth figure",
        labels=[f"{unit} at {height} m" for height in AIR for unit in units],
    )


def test_a_model_of_a_kilogram_and_a_half() -> None:
    # worked out twice for this test
    speed = stall_speed_m_s(mass_g=1500, area_mm2=240000, max_lift_coefficient=1.1)
    LOADS.check(
        "Stall speed of a model of 1.5 kg, 24 dm²",
        source=MODEL,
        expected=9.53786,
        got=speed,
        rel=1e-6,
        because="six figures",
        unit="m/s",
    )
    assert wing_loading_g_dm2(mass_g=1500, area_mm2=240000) == pytest.approx(62.5)
    reynolds = [
        reynolds_number(speed_m_s=speed, chord_mm=163.333),
        reynolds_number(speed_m_s=20, chord_mm=200),
    ]
    LOADS.check(
        "Reynolds number at the stall and at 20 m/s",
        source=MODEL,
        expected=[106_649, 273_838],
        got=reynolds,
        abs=[2e-5 * 106_649, 2e-6 * 273_838],
        because="figures noted of speed and chord",
        labels=["stall", "20 m/s"],
    )


SECTIONS = {"23012": (-1.09, -0.0127), "2412": (-2.077, -0.0531)}
MEAN_LINE_DEG = 0.015
MEAN_LINE_MOMENT = 6e-4
"""The mean line that is found between the surfaces is not quite the one the sections were made with."""


def held_to_thin_theory(
    what: str, of: list[str], got: list[SectionLift], *, share: float, labels: list[str]
) -> None:
    angles, moments = np.array([SECTIONS[one] for one in of]).T
    for quantity, wanted, found, allowed, unit in (
        ("angle without lift", angles, [one.zero_lift_deg for one in got], MEAN_LINE_DEG, "deg"),
        (
            "moment about the quarter chord",
            moments,
            [one.quarter_chord_moment for one in got],
            MEAN_LINE_MOMENT,
            "",
        ),
    ):
        LOADS.check(
            f"{what}: {quantity}",
            source=ANDERSON.at("thin theory"),
            expected=wanted,
            got=found,
            abs=share * allowed,
            because="the mean line is found between the surfaces",
            unit=unit,
            labels=labels,
        )


def test_zero_lift_and_moment() -> None:
    names = list(SECTIONS)
    got = [section_lift(naca_airfoil(name)) for name in names]
    held_to_thin_theory("Thick sections", names, got, share=1.0, labels=names)


def test_a_thinner_section_is_nearer_to_the_theory() -> None:
    as_thick = {"23003": "23012", "2403": "2412"}
    got = [section_lift(naca_airfoil(name)) for name in as_thick]
    held_to_thin_theory("Thin sections", list(as_thick.values()), got, share=0.4, labels=list(as_thick))


def test_sections_given_by_few_points_with_four_places() -> None:
    # as in files; the ordinates are off by half a ten-thousandth of the chord
    counts, got = [15, 25, 41, 641], []
    for points in counts:
        exact = naca_airfoil("23012", points_per_side=points)
        got.append(section_lift(Airfoil("file", np.round(exact.upper, 4), np.round(exact.lower, 4))))
    held_to_thin_theory(
        "NACA 23012 by few points of four places",
        ["23012"] * len(counts),
        got,
        share=3.0,
        labels=[f"{points} points a side" for points in counts],
    )


FLAPS = {0.2: (3.4546, -0.64), 0.25: (3.8264, -0.6495), 0.3: (4.1516, -0.6416)}
"""Lift and moment per radian by the flap's share of the chord."""


def test_flaps() -> None:
    LOADS.check(
        "Lift and moment of a plain flap, per radian",
        source=GLAUERT,
        expected=list(FLAPS.values()),
        got=[(one.lift_per_rad, one.moment_per_rad) for one in map(flap_effect, FLAPS)],
        abs=6e-5,
        because="half of the fourth place",
        labels=[f"{value} of {ratio} chord" for ratio in FLAPS for value in ("lift", "moment")],
    )


def test_the_root_ordinate_of_an_ellipse() -> None:
    # semi span 16.158 m, 23357.46 N/m at the root under a half lift of 296,417 N; the chord that shrinks at
    # the tip takes the ellipse's shape here, so that both halves of the rule are the ellipse
    height = np.sin(np.linspace(0.0, 0.5 * np.pi, 2001))
    plan = Planform(16158.0 * height, 0.0 * height, 4000.0 * np.sqrt(1.0 - height**2))
    loads = lift_loads(plan, [0.0, 10.0, 16158.0], half_lift_n=296_417.0)
    LOADS.check(
        "Lift at the root of an ellipse",
        source=STUDENT_REPORT,
        expected=23.35746,
        got=loads.force_n[0] / 10.0,
        rel=1e-5,
        because="figures of the semi span, and a strip of 10 mm",
        unit="N/mm",
    )


TAPER_06 = [0.206304, 0.196349, 0.183096, 0.165811, 0.142665, 0.105775]
PLACES_06 = [0.082766, 0.249185, 0.415523, 0.581683, 0.747350, 0.909672]
TAPER_10 = [0.188943, 0.185932, 0.179624, 0.169283, 0.153082, 0.123136]
TAPER_05 = [0.212091, 0.199821, 0.184253, 0.164654, 0.139193, 0.099988]


def tapered(taper: float, semi_span: float = 750.0) -> Planform:
    return Planform([0.0, semi_span], [0.0, 30.0], [200.0, 200.0 * taper])


@pytest.mark.parametrize(("taper", "shares"), [(0.6, TAPER_06), (1.0, TAPER_10), (0.5, TAPER_05)])
def test_six_equal_strips(taper: float, shares: list[float]) -> None:
    got, places = schrenk_share(tapered(taper), np.linspace(0.0, 750.0, 7))
    strips = [f"strip {number}" for number in range(1, 7)]
    LOADS.check(
        f"Share of the lift on six strips, taper {taper}",
        source=SCHRENK,
        expected=shares,
        got=got,
        abs=LAST_FIGURE,
        because="half of the sixth place, and rounding",
        labels=strips,
    )
    if taper == 0.6:
        LOADS.check(
            "Centroids of the lift on six strips over the semi span, taper 0.6",
            source=SCHRENK,
            expected=PLACES_06,
            got=places / 750.0,
            abs=LAST_FIGURE,
            because="half of the sixth place, and rounding",
            labels=strips,
        )
        LOADS.check(
            "Centroid of the whole lift over the semi span, taper 0.6",
            source=SCHRENK,
            expected=0.441373,
            got=got @ places / 750.0,
            abs=LAST_FIGURE,
            because="half of the sixth place, and rounding",
        )


OVERSTATED = {3: 1.64, 4: 0.94, 5: 0.61, 6: 0.43, 8: 0.24, 10: 0.16, 12: 0.11}
"""Per cent by the number of strips."""


def test_weights_in_the_middle_of_strips_overstate_the_root_moment() -> None:
    found = []
    for count in OVERSTATED:
        edges = np.linspace(0.0, 750.0, count + 1)
        share, z = schrenk_share(tapered(0.6), edges)
        middle = 0.5 * (edges[1:] + edges[:-1])
        found.append(100.0 * (share @ middle / (share @ z) - 1.0))
    LOADS.check(
        "Root moment of weights in the middle of strips: what it is too large by",
        source=SCHRENK,
        expected=list(OVERSTATED.values()),
        got=found,
        abs=0.006,
        because="half of the last place, and rounding",
        unit="%",
        labels=[f"{count} strips" for count in OVERSTATED],
    )


def test_helmbold_and_pratt() -> None:
    # with a0 = 2 pi it is 2 pi A / (2 + sqrt(A^2 + 4)); by hand for A = 4: 8 pi / (2 + sqrt 20)
    LOADS.check(
        "Lift slope of a wing of aspect ratio 4, per radian",
        source=HELMBOLD,
        expected=8.0 * np.pi / (2.0 + np.sqrt(20.0)),
        got=wing_lift_slope(4.0),
        rel=1e-6,
        because="rounding",
    )
    # n = 1 + K U V a / (498 W/S), U ft/s, V knots, W/S lb/ft2, and m = 2 (W/S) / (rho c a g)
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
    LOADS.check(
        "Load factor of a gust, beyond 1",
        source=CFR.at("in feet, knots and pounds"),
        expected=wanted - 1.0,
        got=got - 1.0,
        rel=1.2e-3,
        because="the rule cuts 498.53 to 498",
    )


def test_a_full_size_wing_that_was_loaded() -> None:
    # 180 kg borne by two wings of 34 kg each, 4 g: 326 kg a wing are wanted; 56 kg at 1 g
    kilo = 1000.0
    share, z = schrenk_share(tapered(0.6), np.linspace(0.0, 750.0, 7))
    bags = [
        bag_masses_g(share, 34.0 * kilo * share, all_up_mass_g=248.0 * kilo, factor=factor).sum()
        for factor in (4.0, 1.0)
    ]
    held_to_the_loaded_wing("Bags on a wing", bags)
    edges = np.linspace(0.0, 750.0, 7)
    net = StripLoads(edges, 4.0 * 90.0 * 9.80665 * share, z, 50.0 + 0.0 * z, 0.0 * z)
    plan = proof_plan(
        net, OwnMass(34.0 * kilo * share, z, 60.0 + 0.0 * z), limit_factor=4.0, chord_limits_mm=wide
    )
    held_to_the_loaded_wing("Steps of the proof plan", [plan.steps[4].total_g, plan.steps[0].total_g])
    assert [step.share_of_limit for step in plan.steps] == pytest.approx(
        [0.25, 0.4375, 0.625, 0.8125, 1, 1.25, 1.5]
    )


def held_to_the_loaded_wing(name: str, total_g: list[float]) -> None:
    LOADS.check(
        f"{name}: mass at the limit and at load factor 1",
        source=LOADED_WING,
        expected=[326.0, 56.0],
        got=np.array(total_g) / 1000.0,
        rel=1e-6,
        because="rounding",
        unit="kg",
        labels=["load factor 4", "load factor 1"],
    )


def wide(z: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    return z * 0.0 - 1e6, z * 0.0 + 1e6


def test_bags_on_six_strips_of_a_model() -> None:
    # m 1.5 kg, n 6, taper 0.6, wing half 150 g spread with the chord
    plan, edges = tapered(0.6), strip_edges(750.0, longest_mm=125.0)
    share, _ = schrenk_share(plan, edges)
    own = 150.0 * plan.strip_areas_mm2(edges) / plan.strip_areas_mm2(edges).sum()
    bags = bag_masses_g(share, own, all_up_mass_g=1500.0, factor=6.0)
    LOADS.check(
        "Bags on six strips of a model: 1.5 kg, load factor 6",
        source=MODEL,
        expected=[716.91, 686.69, 641.64, 578.44, 488.87, 337.44],
        got=bags,
        abs=0.006,
        because="half of the last place, and rounding",
        unit="g",
        labels=[f"strip {number}" for number in range(1, 7)],
    )
    assert bags.sum() == pytest.approx(3450.0)
    assert bag_masses_g(share, 0.0 * own, all_up_mass_g=1500.0, factor=6.0).sum() == pytest.approx(4500.0)
