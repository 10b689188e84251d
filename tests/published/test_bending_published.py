"""The bent strip against published tables and an independent solution; uncertainty against the GUM's example.

K. E. Bisshopp, D. C. Drucker, Large deflection of cantilever beams, Quarterly of Applied Mathematics 3 (1945)
272-275: the values below are remembered, and worked out once more here by solving the differential equation
with scipy's collocation. JCGM 100:2008 (GUM), table G.2 and annex H.1: values from memory.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from outside import SECTIONS, STATISTICS, Source
from scipy.integrate import solve_bvp

from wingpath.core.errors import InputError
from wingpath.tune.cantilever import (
    droop_share_of_load,
    load_of_droop_share,
    modulus_from_droop_mpa,
    second_moment_mm4,
)
from wingpath.tune.estimates import Estimate, from_readings, from_steps, product, weighted_mean

LARGE_DROOP = Source(
    "memory",
    "Bisshopp and Drucker 1945",
    "K. E. Bisshopp, D. C. Drucker, Large deflection of cantilever beams, Quarterly of Applied "
    "Mathematics 3 (1945) "
    "272-275",
)
COLLOCATION = Source(
    "library",
    "scipy solve_bvp",
    "the differential equation of the bent strip, solved by the collocation of scipy",
)
CANTILEVER = Source(
    "worked again", "cantilever", "F L³ / (3 E I), in every book on the strength of materials"
)
GUM = Source(
    "memory",
    "GUM",
    "JCGM 100:2008, Evaluation of measurement data: Guide to the expression of uncertainty in measurement",
)

BISSHOPP_DRUCKER = {0.5: 0.162, 1.0: 0.302, 2.0: 0.494, 3.0: 0.603, 5.0: 0.714, 10.0: 0.811}
"""Droop over length by load F L^2 / (E I)."""

PRINTED = 6e-4
"""Half a step of the last printed digit, and rounding."""

STUDENT_95 = {1: 12.71, 2: 4.30, 3: 3.18, 4: 2.78, 5: 2.57, 10: 2.23, 20: 2.09, 50: 2.01, 100: 1.984}
"""GUM, table G.2: factor of the 95 per cent band by degrees of freedom."""


def droop_by_collocation(load: float) -> float:
    """Solve theta'' = -load cos(theta), theta(0) = 0, theta'(1) = 0 and integrate the sine."""

    def slope(_s: np.ndarray, y: np.ndarray) -> np.ndarray:
        return np.vstack([y[1], -load * np.cos(y[0]), np.sin(y[0])])

    def ends(a: np.ndarray, b: np.ndarray) -> np.ndarray:
        return np.array([a[0], b[1], a[2]])

    s = np.linspace(0.0, 1.0, 101)
    found = solve_bvp(slope, ends, s, np.vstack([0.5 * load * s, load * (1 - s), 0.2 * s]), tol=1e-9)
    assert found.success
    return float(found.y[2, -1])


def test_large_droops() -> None:
    SECTIONS.check(
        "Droop of a bent strip over its length, by load F L² / (E I)",
        source=LARGE_DROOP.at("table"),
        expected=list(BISSHOPP_DRUCKER.values()),
        got=[droop_share_of_load(load) for load in BISSHOPP_DRUCKER],
        abs=PRINTED,
        because="half a printed digit, and rounding",
        labels=[f"load {load:g}" for load in BISSHOPP_DRUCKER],
    )


def test_large_droops_by_an_independent_solution() -> None:
    loads = [0.05, 0.3, 1.0, 1.9, 4.0]
    SECTIONS.check(
        "Droop of a bent strip over its length, the equation solved again",
        source=COLLOCATION,
        expected=[droop_by_collocation(load) for load in loads],
        got=[droop_share_of_load(load) for load in loads],
        rel=1e-6,
        because="tolerance of the solver",
        labels=[f"load {load:g}" for load in loads],
    )


@pytest.mark.parametrize("share", [1e-6, 9e-5, 1.1e-4, 1e-3, 0.05, 0.2, 0.5])
def test_load_and_droop_are_each_other_turned_round(share: float) -> None:
    assert droop_share_of_load(load_of_droop_share(share)) == pytest.approx(share, rel=1e-7)


def test_small_droops_follow_the_textbook() -> None:
    force, length, modulus, height, thick = 2e-3, 60.0, 500.0, 12.0, 1.0
    inertia = height * thick**3 / 12.0
    droop = force * length**3 / (3.0 * modulus * inertia)
    found = modulus_from_droop_mpa(
        mass_g=force / 9.80665e-3, length_mm=length, droop_mm=droop, height_mm=height, thickness_mm=thick
    )
    SECTIONS.check(
        "Modulus from a small droop",
        source=CANTILEVER,
        expected=modulus,
        got=found,
        rel=1e-4,
        because="the droop is small but not nought",
        unit="MPa",
    )
    assert second_moment_mm4(height_mm=height, thickness_mm=thick) == inertia


@pytest.mark.parametrize(("share", "stiff_by"), [(0.1, 0.010), (0.25, 0.069)])
def test_the_textbook_alone_would_say_too_stiff(share: float, stiff_by: float) -> None:
    assert load_of_droop_share(share) / (3.0 * share) - 1.0 == pytest.approx(stiff_by, abs=6e-4)


@pytest.mark.parametrize("share", [0.0, -0.1, 0.51])
def test_droops_out_of_range(share: float) -> None:
    with pytest.raises(InputError, match="free length"):
        load_of_droop_share(share)


def test_factors_of_the_band() -> None:
    STATISTICS.check(
        "Factor of the 95 per cent band by degrees of freedom",
        source=GUM.at("table G.2"),
        expected=list(STUDENT_95.values()),
        got=[Estimate(0.0, 1.0, float(freedom)).half_width for freedom in STUDENT_95],
        abs=6e-3,
        because="half a printed digit",
        labels=[f"{freedom} degrees" for freedom in STUDENT_95],
    )
    STATISTICS.check(
        "Factor of the 95 per cent band when the scatter is known",
        source=GUM.at("table G.2, last row"),
        expected=1.960,
        got=Estimate(0.0, 1.0).half_width,
        abs=6e-4,
        because="half a printed digit",
    )


def test_the_end_gauge_of_the_gum() -> None:
    # H.1: standard uncertainties in nm with their degrees of freedom; u = 32 nm, 16 degrees of freedom
    parts = [(25.0, 18.0), (9.7, 25.6), (2.9, 50.0), (16.6, 2.0)]
    whole = 1e4
    found = product(whole, [(Estimate(whole, sigma, freedom), 1.0) for sigma, freedom in parts])
    STATISTICS.check(
        "End gauge: combined standard uncertainty",
        source=GUM.at("annex H.1"),
        expected=32.0,
        got=found.sigma,
        abs=0.5,
        because="half a printed digit",
        unit="nm",
    )
    STATISTICS.check(
        "End gauge: effective degrees of freedom, cut to a whole number",
        source=GUM.at("annex H.1 and equation G.2b"),
        expected=16,
        got=math.floor(found.freedom),
        abs=0.0,
        because="a whole number",
    )
    # expanded with 99 per cent the GUM gives 93 nm; with 95 per cent the factor is 2.12
    STATISTICS.check(
        "End gauge: factor of the 95 per cent band at 16 degrees of freedom",
        source=GUM.at("table G.2"),
        expected=2.12,
        got=found.half_width / found.sigma,
        rel=5e-3,
        because="half a printed digit, and a freedom that is not cut",
    )


def test_readings_by_hand() -> None:
    # mean 0.54, sample deviation 0.01, so 0.01 / sqrt(3) of scatter beside 0.03 / 1.96 of the tool
    found = from_readings([0.53, 0.54, 0.55], tool=0.03)
    assert found.value == pytest.approx(0.54)
    assert found.sigma == pytest.approx(math.hypot(0.03 / 1.959964, 0.01 / math.sqrt(3.0)))
    assert found.freedom == pytest.approx(2.0 * (found.sigma**2 / (0.01**2 / 3.0)) ** 2)


def test_a_mean_by_hand() -> None:
    # weights 1 / 1 and 1 / 4: 0.8 and 0.2; (0.8 x 1)^2 + (0.2 x 2)^2 = 0.8
    pair = [Estimate(10.0, 1.0, 4.0), None, Estimate(20.0, 2.0, 8.0)]
    apart, alike = weighted_mean(pair), weighted_mean(pair, alike=True)
    assert apart is not None
    assert alike is not None
    assert (apart.value, alike.value) == pytest.approx((12.0, 12.0))
    assert apart.sigma == pytest.approx(math.sqrt(0.8))
    # wholly correlated: 0.8 x 1 + 0.2 x 2
    STATISTICS.check(
        "Mean of two wholly correlated values: standard uncertainty",
        source=GUM.at("5.2.2, by hand"),
        expected=1.2,
        got=alike.sigma,
        rel=1e-6,
        because="rounding",
    )
    assert apart.freedom == pytest.approx(0.8**2 / (0.64**2 / 4.0 + 0.16**2 / 8.0))
    assert alike.freedom == 4.0
    assert weighted_mean([None]) is None


def test_a_limit_between_two_steps_by_hand() -> None:
    found = from_steps(0.06, 0.09)
    assert found.value == pytest.approx(0.075)
    # uniform over the step, and a verdict that is off by three tenths of it
    STATISTICS.check(
        "A limit between two steps: standard uncertainty",
        source=GUM.at("4.3.7, by hand"),
        expected=0.03 * math.sqrt(1.0 / 12.0 + 0.09),
        got=found.sigma,
        rel=1e-6,
        because="rounding",
        unit="mm",
    )
