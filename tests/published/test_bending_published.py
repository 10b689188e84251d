"""The bent strip against published tables and an independent solution; uncertainty against the GUM's example.

K. E. Bisshopp, D. C. Drucker, Large deflection of cantilever beams, Quarterly of Applied Mathematics 3 (1945)
272-275: the values below are remembered, and worked out once more here by solving the differential equation
with scipy's collocation. JCGM 100:2008 (GUM), table G.2 and annex H.1: values from memory.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.integrate import solve_bvp

from wingpath.core.errors import InputError
from wingpath.tune.cantilever import (
    droop_share_of_load,
    load_of_droop_share,
    modulus_from_droop_mpa,
    second_moment_mm4,
)
from wingpath.tune.estimates import Estimate, from_readings, from_steps, product, weighted_mean

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


@pytest.mark.parametrize(("load", "share"), BISSHOPP_DRUCKER.items())
def test_large_droops(load: float, share: float) -> None:
    assert droop_share_of_load(load) == pytest.approx(share, abs=PRINTED)


@pytest.mark.parametrize("load", [0.05, 0.3, 1.0, 1.9, 4.0])
def test_large_droops_by_an_independent_solution(load: float) -> None:
    assert droop_share_of_load(load) == pytest.approx(droop_by_collocation(load), rel=1e-6)


@pytest.mark.parametrize("share", [1e-6, 9e-5, 1.1e-4, 1e-3, 0.05, 0.2, 0.5])
def test_load_and_droop_are_each_other_turned_round(share: float) -> None:
    assert droop_share_of_load(load_of_droop_share(share)) == pytest.approx(share, rel=1e-7)


def test_small_droops_follow_the_textbook() -> None:
    # droop = F L^3 / (3 E I), in every book on the strength of materials
    force, length, modulus, height, thick = 2e-3, 60.0, 500.0, 12.0, 1.0
    inertia = height * thick**3 / 12.0
    droop = force * length**3 / (3.0 * modulus * inertia)
    found = modulus_from_droop_mpa(
        mass_g=force / 9.80665e-3, length_mm=length, droop_mm=droop, height_mm=height, thickness_mm=thick
    )
    assert found == pytest.approx(modulus, rel=1e-4)
    assert second_moment_mm4(height_mm=height, thickness_mm=thick) == inertia


@pytest.mark.parametrize(("share", "stiff_by"), [(0.1, 0.010), (0.25, 0.069)])
def test_the_textbook_alone_would_say_too_stiff(share: float, stiff_by: float) -> None:
    assert load_of_droop_share(share) / (3.0 * share) - 1.0 == pytest.approx(stiff_by, abs=6e-4)


@pytest.mark.parametrize("share", [0.0, -0.1, 0.51])
def test_droops_out_of_range(share: float) -> None:
    with pytest.raises(InputError, match="free length"):
        load_of_droop_share(share)


@pytest.mark.parametrize(("freedom", "factor"), STUDENT_95.items())
def test_factors_of_the_band(freedom: int, factor: float) -> None:
    assert Estimate(0.0, 1.0, float(freedom)).half_width == pytest.approx(factor, abs=6e-3)
    assert Estimate(0.0, 1.0).half_width == pytest.approx(1.960, abs=6e-4)


def test_the_end_gauge_of_the_gum() -> None:
    # H.1: standard uncertainties in nm with their degrees of freedom; u = 32 nm, 16 degrees of freedom
    parts = [(25.0, 18.0), (9.7, 25.6), (2.9, 50.0), (16.6, 2.0)]
    whole = 1e4
    found = product(whole, [(Estimate(whole, sigma, freedom), 1.0) for sigma, freedom in parts])
    assert found.sigma == pytest.approx(32.0, abs=0.5)
    assert math.floor(found.freedom) == 16
    # expanded with 99 per cent the GUM gives 93 nm; with 95 per cent the factor is 2.12
    assert found.half_width == pytest.approx(2.12 * found.sigma, rel=5e-3)


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
    # wholly correlated, GUM 5.2.2: 0.8 x 1 + 0.2 x 2
    assert alike.sigma == pytest.approx(1.2)
    assert apart.freedom == pytest.approx(0.8**2 / (0.64**2 / 4.0 + 0.16**2 / 8.0))
    assert alike.freedom == 4.0
    assert weighted_mean([None]) is None


def test_a_limit_between_two_steps_by_hand() -> None:
    found = from_steps(0.06, 0.09)
    assert found.value == pytest.approx(0.075)
    # uniform over the step, GUM 4.3.7, and a verdict that is off by three tenths of it
    assert found.sigma == pytest.approx(0.03 * math.sqrt(1.0 / 12.0 + 0.09))
