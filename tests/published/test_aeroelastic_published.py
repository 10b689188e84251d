"""Divergence and aileron reversal against the textbook's wings, by formula and by strips."""

from __future__ import annotations

import math

import numpy as np
import pytest
from outside import AEROELASTIC, Source

from wingpath.core.errors import InputError
from wingpath.structure.aeroelastic import (
    AeroStrips,
    aero_strips,
    aileron_effectiveness,
    covered_shares,
    divergence_speed_m_s,
    reversal_speed_m_s,
    torsion_flexibility_deg_per_n_mm,
)
from wingpath.structure.planform import Planform
from wingpath.structure.thin_airfoil import FlapEffect
from wingpath.structure.typical_section import (
    section_divergence_m_s,
    section_effectiveness,
    section_reversal_m_s,
    uniform_wing_divergence_m_s,
)

AIR = 1.225
"""At sea level [kg/m3]."""

FIVE_FIGURES = 2e-5
"""Relative: values noted to five figures."""

MEGSON = Source(
    "worked again",
    "Megson 1999",
    "T. H. G. Megson, Aircraft Structures for Engineering Students, 3rd edition (1999); the formulas "
    "were worked "
    "out apart from this project",
)
PROBLEM = Source(
    "quoted",
    "Megson, problem",
    "a problem on eq. 29.11 of T. H. G. Megson, Aircraft Structures, as a public site of solutions quotes it",
)
TORSION_EQUATION = Source(
    "worked again",
    "torsion of a uniform wing",
    "GJ t'' + q c (e a t + (cl e + cm c) d) = 0 with t(0) = 0 and t'(s) = 0, solved in closed form; the "
    "derivation "
    "stands in the test",
)

# K 10 N m/rad, S 0.05 m2, c 0.2 m, e 0.02 m; formulas of Megson, eqs. 13.15-13.22
STIFFNESS, AREA, CHORD, ARM = 10_000.0, 50_000.0, 200.0, 20.0
FLAP = FlapEffect(lift_per_rad=3.5, moment_per_rad=-0.6)
DIVERGENCE, REVERSAL = 50.975, 38.933
EFFECT = {10.0: 0.97141, 20.0: 0.87004, 30.0: 0.62150}

ONE = AeroStrips(z_mm=[400.0], area_mm2=[AREA], chord_mm=[CHORD], arm_mm=[ARM])
ONE_SOFT = [[math.degrees(1.0 / STIFFNESS)]]


def test_the_typical_section() -> None:
    apart = section_divergence_m_s(stiffness_n_mm=STIFFNESS, area_mm2=AREA, arm_mm=ARM, density_kg_m3=AIR)
    back = section_reversal_m_s(
        stiffness_n_mm=STIFFNESS, area_mm2=AREA, chord_mm=CHORD, flap=FLAP, density_kg_m3=AIR
    )
    effect = [
        section_effectiveness(speed_m_s=speed, divergence_m_s=apart, reversal_m_s=back) for speed in EFFECT
    ]
    held_to_the_section("Typical section", apart, back, effect)


def held_to_the_section(name: str, apart: float, back: float, effect: list[float]) -> None:
    AEROELASTIC.check(
        f"{name}: speeds of divergence and of reversal",
        source=MEGSON.at("eqs. 13.15-13.22"),
        expected=[DIVERGENCE, REVERSAL],
        got=[apart, back],
        rel=FIVE_FIGURES,
        because="noted to five figures",
        unit="m/s",
        labels=["divergence", "reversal"],
    )
    AEROELASTIC.check(
        f"{name}: effectiveness of the aileron",
        source=MEGSON.at("eqs. 13.15-13.22"),
        expected=list(EFFECT.values()),
        got=effect,
        rel=FIVE_FIGURES,
        because="noted to five figures",
        labels=[f"{speed:g} m/s" for speed in EFFECT],
    )


def test_one_strip_is_the_typical_section() -> None:
    apart = divergence_speed_m_s(ONE, ONE_SOFT, density_kg_m3=AIR)
    back = reversal_speed_m_s(ONE, ONE_SOFT, covered=[1.0], flap=FLAP, density_kg_m3=AIR)
    effect = [
        aileron_effectiveness(ONE, ONE_SOFT, covered=[1.0], flap=FLAP, speed_m_s=speed, density_kg_m3=AIR)
        for speed in EFFECT
    ]
    held_to_the_section("Wing of one strip", apart, back, effect)


def test_the_wing_of_the_textbook() -> None:
    # GJ 12e6 N m2, half span 8 m, chord 2.8 m, slope 3.1, lift 1.2 m ahead of the axis
    got = uniform_wing_divergence_m_s(
        gj_n_mm2=12e12,
        semi_span_mm=8000,
        chord_mm=2800,
        arm_mm=1200,
        density_kg_m3=AIR,
        slope_per_rad=3.1,
    )
    AEROELASTIC.check(
        "Divergence of a uniform full-size wing",
        source=PROBLEM.at("on eq. 29.11"),
        expected=269.2,
        got=got,
        rel=1e-3,
        because="four printed figures of rounded data",
        unit="m/s",
    )


GJ, SPAN = 2e6, 750.0
"""A model: 2 N m2, half span 0.75 m; chord 0.2 m, arm 30 mm."""

PLAN = Planform([0.0, SPAN], [0.0, 0.0], [CHORD, CHORD])
AXIS = 80.0


def wing_of(count: int) -> tuple[AeroStrips, np.ndarray]:
    strips = aero_strips(PLAN, np.linspace(0.0, SPAN, count + 1), AXIS)
    return strips, torsion_flexibility_deg_per_n_mm(strips.z_mm, [0.0, SPAN], [GJ, GJ])


def test_a_model_wing_of_even_stiffness() -> None:
    exact = uniform_wing_divergence_m_s(
        gj_n_mm2=GJ, semi_span_mm=SPAN, chord_mm=CHORD, arm_mm=30.0, density_kg_m3=AIR
    )
    AEROELASTIC.check(
        "Divergence of a uniform model wing",
        source=MEGSON.at("formula of the uniform wing"),
        expected=19.492,
        got=exact,
        abs=6e-4,
        because="half of the last figure noted",
        unit="m/s",
    )
    errors = [
        divergence_speed_m_s(*wing_of(count), density_kg_m3=AIR) / exact - 1.0 for count in (10, 20, 40)
    ]
    orders = np.log2(np.array(errors[:-1]) / errors[1:])
    # couples lumped at the middles of strips: second order
    assert orders == pytest.approx([2.0, 2.0], abs=0.02)
    assert abs(errors[-1]) < 1e-4


def test_reversal_of_a_wing_with_full_ailerons_tends_to_a_limit_with_second_order() -> None:
    def speed(count: int) -> float:
        strips, soft = wing_of(count)
        whole = covered_shares(PLAN, np.linspace(0.0, SPAN, count + 1), from_mm=0.0, to_mm=SPAN)
        return reversal_speed_m_s(strips, soft, covered=whole, flap=FLAP, density_kg_m3=AIR)

    # twist t under full-span ailerons: GJ t'' + q c (e a t + (cl e + cm c) d) = 0, t(0) = 0, t'(s) = 0, so
    # t = T (cos u z + tan(u s) sin u z - 1), u^2 = q c e a / GJ, T = (cl e + cm c) d / (e a); the rolling
    # moment, integral of z (cl d + a t), is 0 at the speed below. Derived here, solved by bisection.
    slope, arm = 2.0 * math.pi, 30.0
    grid = np.linspace(0.0, SPAN, 20_001)
    gain = (FLAP.lift_per_rad * arm + FLAP.moment_per_rad * CHORD) / arm

    def moment(velocity: float) -> float:
        wave = math.sqrt(0.5 * AIR * velocity**2 * 1e-6 * CHORD * arm * slope / GJ)
        twist = gain * (np.cos(wave * grid) + math.tan(wave * SPAN) * np.sin(wave * grid) - 1.0)
        return float(np.trapezoid(grid * (FLAP.lift_per_rad + twist), grid))

    low, high = 1.0, 19.0
    assert moment(low) > 0.0 > moment(high)
    for _ in range(60):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if moment(middle) > 0.0 else (low, middle)
    errors = [speed(count) / low - 1.0 for count in (10, 20, 40)]
    AEROELASTIC.check(
        "Reversal by 10, 20, 40 strips against the exact speed: order of the error",
        source=TORSION_EQUATION,
        expected=[2.0, 2.0],
        got=np.log2(np.array(errors[:-1]) / errors[1:]),
        abs=0.05,
        because="higher terms of the error",
    )


def test_effectiveness_is_nought_at_reversal_and_whole_at_rest() -> None:
    edges = np.linspace(0.0, SPAN, 31)
    strips, soft = wing_of(30)
    outer = covered_shares(PLAN, edges, from_mm=410.0, to_mm=700.0)
    assert outer @ strips.area_mm2 == pytest.approx(290.0 * CHORD)
    back = reversal_speed_m_s(strips, soft, covered=outer, flap=FLAP, density_kg_m3=AIR)
    assert back < divergence_speed_m_s(strips, soft, density_kg_m3=AIR)

    def effect(speed: float) -> float:
        return aileron_effectiveness(
            strips, soft, covered=outer, flap=FLAP, speed_m_s=speed, density_kg_m3=AIR
        )

    assert effect(0.0) == pytest.approx(1.0)
    assert effect(back) == pytest.approx(0.0, abs=1e-9)


def test_no_divergence_with_the_axis_ahead_of_the_quarter_chord() -> None:
    strips = aero_strips(PLAN, np.linspace(0.0, SPAN, 11), 40.0)
    soft = torsion_flexibility_deg_per_n_mm(strips.z_mm, [0.0, SPAN], [GJ, GJ])
    assert divergence_speed_m_s(strips, soft) == math.inf
    # but reversal there is
    back = reversal_speed_m_s(strips, soft, covered=np.ones(10), flap=FLAP, density_kg_m3=AIR)
    assert math.isfinite(back)
    assert section_divergence_m_s(stiffness_n_mm=1, area_mm2=1, arm_mm=0, density_kg_m3=1) == math.inf


def test_twist_of_a_wing_whose_stiffness_falls_evenly() -> None:
    # unit couple at the tip, GJ from 2 to 1: integral of dz / GJ = L ln 2
    soft = torsion_flexibility_deg_per_n_mm([100.0, 50.0], [0.0, 100.0], [2.0, 1.0])
    half = 100.0 * math.log(2.0 / 1.5)
    wanted = np.degrees([[100.0 * math.log(2.0), half], [half, half]])
    assert soft == pytest.approx(wanted, rel=1e-12)


def test_above_divergence_there_is_no_answer() -> None:
    with pytest.raises(InputError, match="below the speed of divergence, 50"):
        aileron_effectiveness(ONE, ONE_SOFT, covered=[1.0], flap=FLAP, speed_m_s=51.0, density_kg_m3=AIR)
    with pytest.raises(InputError, match="below the speed of divergence"):
        section_effectiveness(speed_m_s=51.0, divergence_m_s=DIVERGENCE, reversal_m_s=REVERSAL)
    with pytest.raises(InputError, match="got none that lifts"):
        reversal_speed_m_s(ONE, ONE_SOFT, covered=[0.0], flap=FLAP)
