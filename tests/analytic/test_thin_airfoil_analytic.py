"""Sections and flaps by thin-airfoil theory, against integrals done by hand."""

from __future__ import annotations

import math

import numpy as np
import pytest

from wingpath.core.errors import InputError
from wingpath.geometry.naca import naca_airfoil
from wingpath.structure.thin_airfoil import flap_effect, mean_line_lift, section_lift


def four_digit(m: float, p: float) -> tuple[float, float]:
    """Zero-lift angle [rad] and moment of a four-digit mean line, integrated by hand.

    With x = (1 - cos u) / 2 the slope is g (2 p - 1 + cos u), g = m / p^2 before and m / (1-p)^2 behind.
    """
    u = math.acos(1.0 - 2.0 * p)
    b = 2.0 * p - 1.0

    def parts(angle: float) -> np.ndarray:
        sine, double = math.sin(angle), math.sin(2.0 * angle)
        whole = b * angle + sine
        first = b * sine + 0.5 * angle + 0.25 * double
        second = 0.5 * b * double + 0.5 * sine + math.sin(3.0 * angle) / 6.0
        return np.array([whole, first, second])

    before, behind = m / p**2, m / (1.0 - p) ** 2
    whole, first, second = before * parts(u) + behind * (parts(math.pi) - parts(u))
    return -(first - whole) / math.pi, 0.5 * (second - first)


def line(m: float, p: float, pieces: int) -> np.ndarray:
    x = 0.5 * (1.0 - np.cos(np.linspace(0.0, math.pi, pieces + 1)))
    fore, aft = m / p**2 * (2 * p * x - x**2), m / (1 - p) ** 2 * (1 - 2 * p + 2 * p * x - x**2)
    return np.column_stack([x, np.where(x < p, fore, aft)])


@pytest.mark.parametrize(("m", "p"), [(0.02, 0.4), (0.04, 0.4), (0.06, 0.5), (0.02, 0.2)])
def test_four_digit_mean_lines(m: float, p: float) -> None:
    angle, moment = four_digit(m, p)
    errors = []
    for pieces in (40, 80, 160):
        got = mean_line_lift(line(m, p, pieces))
        errors.append([math.radians(got.zero_lift_deg) - angle, got.quarter_chord_moment - moment])
    # straight pieces: second order
    assert np.abs(errors[-1]).max() < 2e-5
    assert (np.abs(errors[0]) > 8.0 * np.abs(errors[-1])).all()


def test_a_turned_plate_turns_its_zero_lift_angle() -> None:
    # its trailing edge is down, so that it lifts when the axis lies in the stream
    got = mean_line_lift([[0.0, 0.0], [0.3, -0.003], [1.0, -0.01]])
    assert got.zero_lift_deg == pytest.approx(-math.degrees(0.01))
    assert got.quarter_chord_moment == pytest.approx(0.0, abs=1e-12)


def test_a_bent_plate_is_a_flap() -> None:
    # a flap of a quarter chord, 0.01 rad down
    got, flap = mean_line_lift([[0.0, 0.0], [0.75, 0.0], [1.0, -0.0025]]), flap_effect(0.25)
    assert math.radians(-got.zero_lift_deg) * got.slope_per_rad == pytest.approx(0.01 * flap.lift_per_rad)
    assert got.quarter_chord_moment == pytest.approx(0.01 * flap.moment_per_rad)


def test_the_mean_line_between_the_surfaces_is_near_that_of_the_equation() -> None:
    angle, moment = four_digit(0.04, 0.4)
    thick = np.array([24, 16, 12])
    found = [section_lift(naca_airfoil(f"44{thickness}")) for thickness in thick]
    off = np.array([section.quarter_chord_moment - moment for section in found])
    # the first order in slope x square of the thickness is taken off; the next goes with the fourth power
    orders = np.diff(np.log(off)) / np.diff(np.log(thick))
    assert (orders > 3.5).all()
    assert off[-1] < 4e-4
    assert found[-1].zero_lift_deg == pytest.approx(math.degrees(angle), abs=1e-3)


def test_what_the_theory_refuses() -> None:
    with pytest.raises(InputError, match="x goes back"):
        mean_line_lift([[0.0, 0.0], [0.5, 0.0], [0.4, 0.0]])
    for ratio in (0.0, 1.0):
        with pytest.raises(InputError, match="over 0 and below 1"):
            flap_effect(ratio)
