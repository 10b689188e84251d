"""The guess of wrinkles against hand calculation with the published factors of long plates."""

from __future__ import annotations

import numpy as np
from outside import SHELL, Source

from wingpath.structure.beam import WingBeam
from wingpath.structure.material import WallMaterial
from wingpath.structure.skins import SkinSurfaces
from wingpath.structure.wrinkle_guess import wrinkle_guess

HIGH, CHORD, SPAN, SKIN = 20.0, 100.0, 400.0, 0.5
WALL = WallMaterial(e_along_mpa=800.0, e_across_mpa=800.0, poisson=0.3, density_g_cm3=0.7)

LONG_PLATE = Source(
    "memory",
    "Timoshenko and Gere 1961",
    "S. Timoshenko and J. M. Gere, Theory of Elastic Stability, 2nd edition (1961): factors of long "
    "plates, 4.0 pressed "
    "and 5.35 sheared",
)

SAME = 1e-6

BOX = SkinSurfaces(
    z_mm=np.array([0.0, SPAN]),
    fraction=np.linspace(0.0, 1.0, 5),
    front_mm=np.zeros(2),
    rear_mm=np.full(2, CHORD),
    upper_mm=np.full((2, 5), 0.5 * HIGH),
    lower_mm=np.full((2, 5), -0.5 * HIGH),
)
PIECES = 8


def beam(ei: float) -> WingBeam:
    ends = np.linspace(0.0, SPAN, PIECES + 1)
    flat = np.zeros(PIECES)
    return WingBeam(ends, flat + ei, flat + 1e8, flat, flat + 1e9, flat)


def plate_mpa(factor: float, width: float) -> float:
    """Stress of a long plate, k pi^2 E / (12 (1 - nu^2)) (t / b)^2."""
    return factor * np.pi**2 * 800.0 / (12.0 * (1.0 - 0.09)) * (SKIN / width) ** 2


def test_a_box_under_torque_wrinkles_at_the_shear_of_a_long_plate() -> None:
    found = wrinkle_guess(BOX, beam(1e8), WALL, skin_mm=SKIN, bay_mm=25.0, moment_n_mm=None)
    # Bredt: T = 2 A t tau
    expected = 2.0 * HIGH * CHORD * SKIN * plate_mpa(5.35, 25.0) / 1000.0
    SHELL.check(
        "Quick guess of wrinkles: torque of a box",
        source=LONG_PLATE.at("k = 5.35, by hand with Bredt's formula"),
        expected=expected,
        got=found.torque_n_m,
        rel=SAME,
        because="rounding",
        unit="N m",
    )
    assert found.lift_factor == float("inf")


def test_a_box_under_bending_wrinkles_where_it_is_pressed_most() -> None:
    moment = np.linspace(4000.0, 0.0, PIECES)
    found = wrinkle_guess(BOX, beam(1e8), WALL, skin_mm=SKIN, bay_mm=25.0, moment_n_mm=moment)
    pressed = 800.0 * 0.5 * HIGH * 4000.0 / 1e8
    SHELL.check(
        "Quick guess of wrinkles: factor of a box that is bent",
        source=LONG_PLATE.at("k = 4.0, by hand"),
        expected=plate_mpa(4.0, 25.0) / pressed,
        got=found.lift_factor,
        rel=SAME,
        because="rounding",
    )


def test_half_the_bay_bears_four_times_as_much() -> None:
    moment = np.full(PIECES, 2000.0)
    wide, narrow = (
        wrinkle_guess(BOX, beam(1e8), WALL, skin_mm=SKIN, bay_mm=bay, moment_n_mm=moment)
        for bay in (40.0, 20.0)
    )
    SHELL.check(
        "Quick guess of wrinkles: half the bay over the whole bay, lift and torque",
        source=LONG_PLATE.at("stress by the square of thickness over width"),
        expected=[4.0, 4.0],
        got=[narrow.lift_factor / wide.lift_factor, narrow.torque_n_m / wide.torque_n_m],
        rel=SAME,
        because="rounding",
        labels=["lift", "torque"],
    )
