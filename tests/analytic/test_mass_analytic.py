"""Mass properties against closed forms of lines, rings, tubes and squares."""

import numpy as np
import pytest

from wingpath.core.errors import InputError
from wingpath.structure.mass import combined, mass_of_line, mass_of_rod, point_mass, strip_masses

ROUNDING = 1e-12
"""Sums of a few terms, as a share."""

SLOPE = 0.02
"""How far the slope of convergence may be from its limit, 2, at 32 sides and more."""


def ring(sides: int, radius: float) -> np.ndarray:
    angle = np.linspace(0.0, 2.0 * np.pi, sides + 1)
    return np.column_stack([radius * np.cos(angle), radius * np.sin(angle), np.zeros(sides + 1)])


def even_line(points: np.ndarray, mass: float) -> np.ndarray:
    length = np.linalg.norm(np.diff(points, axis=0), axis=1)
    return mass * length / length.sum()


def test_one_straight_move_is_a_thin_rod() -> None:
    """``m L^2 / 12`` about its middle, ``m L^2 / 3`` about its end, nothing about itself."""
    rod = mass_of_line([(5.0, 1.0, 2.0), (5.0, 1.0, 8.0)], [3.0])
    assert rod.centre_mm == pytest.approx([5.0, 1.0, 5.0])
    assert np.diag(rod.inertia_g_mm2) == pytest.approx([9.0, 9.0, 0.0])
    assert np.diag(rod.inertia_about((5.0, 1.0, 2.0))) == pytest.approx([36.0, 36.0, 0.0])


def test_closed_square_loop() -> None:
    """A square of thin rods of side a and mass m: ``m a^2 / 6`` about a median, twice that about z."""
    side = 10.0
    corners = np.array([(0, 0, 4), (side, 0, 4), (side, side, 4), (0, side, 4), (0, 0, 4)], float)
    loop = mass_of_line(corners, [0.5, 0.5, 0.5, 0.5])
    assert loop.mass_g == pytest.approx(2.0)
    assert loop.centre_mm == pytest.approx([5.0, 5.0, 4.0])
    third = 2.0 * side**2 / 6.0
    assert loop.inertia_g_mm2 == pytest.approx(np.diag([third, third, 2.0 * third]), rel=ROUNDING)


def test_product_of_inertia_of_a_slanting_rod() -> None:
    """A rod along (1, 1, 0): ``I_xy = -m dx dy / 12``."""
    rod = mass_of_line([(0.0, 0.0, 0.0), (6.0, 6.0, 0.0)], [4.0])
    assert rod.inertia_g_mm2[0, 1] == pytest.approx(-4.0 * 36.0 / 12.0)
    assert rod.inertia_g_mm2[2, 2] == pytest.approx(4.0 * 72.0 / 12.0)


def test_polygon_becomes_a_ring() -> None:
    """A thin ring has ``m r^2`` about its axis; a polygon of n sides misses it by a term in 1 / n^2."""
    mass, radius = 2.0, 7.0
    sides = np.array([32, 64, 128, 256])
    short = []
    for count in sides:
        points = ring(int(count), radius)
        part = mass_of_line(points, even_line(points, mass))
        short.append(1.0 - part.inertia_g_mm2[2, 2] / (mass * radius**2))
        assert part.inertia_g_mm2[0, 0] == pytest.approx(0.5 * part.inertia_g_mm2[2, 2])
    slopes = -np.diff(np.log(short)) / np.diff(np.log(sides))
    assert slopes == pytest.approx(np.full(3, 2.0), abs=SLOPE)
    # chords of half-angle a: r^2 cos^2 a of their middles and a third of r^2 sin^2 a of their lengths
    assert short[0] == pytest.approx(2.0 / 3.0 * np.sin(np.pi / 32) ** 2, rel=1e-9)


def test_tube_about_its_end() -> None:
    """``m ((D^2 + d^2) / 16 + L^2 / 3)`` across, ``m (D^2 + d^2) / 8`` along."""
    outer, inner, length, density = 8.0, 6.0, 120.0, 1.55
    tube = mass_of_rod(
        (3.0, 1.0, 10.0),
        (3.0, 1.0, 10.0 + length),
        density_g_cm3=density,
        outer_mm=(outer, outer),
        inner_mm=inner,
    )
    mass = density * np.pi / 4.0 * (outer**2 - inner**2) * length / 1000.0
    assert tube.mass_g == pytest.approx(mass)
    across = mass * ((outer**2 + inner**2) / 16.0 + length**2 / 3.0)
    along = mass * (outer**2 + inner**2) / 8.0
    wanted = np.diag([across, across, along])
    assert tube.inertia_about((3.0, 1.0, 10.0)) == pytest.approx(wanted, rel=ROUNDING)


def test_flat_strip_and_square_tube() -> None:
    """A block a x b x L: ``m (b^2 + L^2) / 12`` about x, ``m (a^2 + b^2) / 12`` about z."""
    strip = mass_of_rod((0, 0, 0), (0, 0, 30), density_g_cm3=2.0, outer_mm=(6.0, 1.0), round_section=False)
    mass = 2.0 * 6.0 * 30.0 / 1000.0
    wanted = mass / 12.0 * np.array([1.0 + 900.0, 36.0 + 900.0, 36.0 + 1.0])
    assert np.diag(strip.inertia_g_mm2) == pytest.approx(wanted)
    # a hollow square is the full one less the hole
    sizes = {"density_g_cm3": 2.0, "round_section": False}
    full, hole, hollow = (
        mass_of_rod((0, 0, 0), (0, 0, 30), outer_mm=(size, size), inner_mm=inner, **sizes)  # type: ignore[arg-type]
        for size, inner in ((6.0, 0.0), (4.0, 0.0), (6.0, 4.0))
    )
    assert hollow.mass_g == pytest.approx(full.mass_g - hole.mass_g)
    assert hollow.inertia_g_mm2 == pytest.approx(full.inertia_g_mm2 - hole.inertia_g_mm2)


def test_leaning_tube_keeps_its_principal_moments() -> None:
    """Turning a body changes no principal moment."""
    way = np.array([3.0, -2.0, 40.0])
    length = float(np.linalg.norm(way))
    sizes = {"density_g_cm3": 1.5, "outer_mm": (5.0, 1.0), "round_section": False}
    leaning = mass_of_rod((0, 0, 0), way, **sizes)  # type: ignore[arg-type]
    upright = mass_of_rod((0, 0, 0), (0, 0, length), **sizes)  # type: ignore[arg-type]
    got = np.linalg.eigvalsh(leaning.inertia_g_mm2)
    assert got == pytest.approx(np.linalg.eigvalsh(upright.inertia_g_mm2), rel=1e-9)


def test_two_points_are_a_dumb_bell() -> None:
    """Reduced mass times distance squared."""
    bell = combined([point_mass(2.0, (0, 0, 0)), point_mass(6.0, (0, 0, 4.0))])
    assert bell.centre_mm == pytest.approx([0.0, 0.0, 3.0])
    assert np.diag(bell.inertia_g_mm2) == pytest.approx([24.0, 24.0, 0.0])


def test_nothing_weighs_nothing() -> None:
    assert combined([]).mass_g == 0.0
    assert mass_of_line(np.zeros((0, 3)), []).mass_g == 0.0
    assert combined([point_mass(0.0, (1, 2, 3))]).centre_mm == pytest.approx([0.0, 0.0, 0.0])


def test_a_slanting_move_is_shared_out_by_its_length() -> None:
    """From z 0 to 10 while x goes 0 to 20: a tenth of it in each millimetre, its middle on the line."""
    mass, x, z = strip_masses([(0, 0, 0), (20, 5, 10)], [10.0], [0.0, 1.0, 4.0, 10.0])
    assert mass == pytest.approx([1.0, 3.0, 6.0])
    assert x == pytest.approx([1.0, 5.0, 14.0])
    assert z == pytest.approx([0.5, 2.5, 7.0])
    back, x_back, _ = strip_masses([(20, 5, 10), (0, 0, 0)], [10.0], [0.0, 1.0, 4.0, 10.0])
    assert (back, x_back) == (pytest.approx(mass), pytest.approx(x))


def test_flat_moves_on_borders_and_what_lies_outside() -> None:
    points = [(0, 0, 2), (4, 0, 2), (4, 0, 6), (0, 0, 6)]
    mass, x, z = strip_masses(points, [1.0, 8.0, 3.0], [2.0, 4.0, 6.0])
    assert mass == pytest.approx([1.0 + 4.0, 4.0 + 3.0])
    assert x == pytest.approx([(2.0 + 16.0) / 5.0, (16.0 + 6.0) / 7.0])
    assert z == pytest.approx([(2.0 + 12.0) / 5.0, (20.0 + 18.0) / 7.0])
    outside, _, _ = strip_masses(points, [1.0, 8.0, 3.0], [3.0, 5.0])
    assert outside == pytest.approx([4.0])
    empty, none, middle = strip_masses(points, [1.0, 8.0, 3.0], [7.0, 8.0])
    assert (empty[0], none[0], middle[0]) == (0.0, 0.0, 7.5)


@pytest.mark.parametrize("edges", [[], [1.0], [2.0, 1.0], [1.0, 1.0]])
def test_borders_must_rise(edges: list[float]) -> None:
    with pytest.raises(InputError, match=r"edges_mm: got .* allowed: 2 or more that rise"):
        strip_masses([(0, 0, 0), (1, 0, 0)], [1.0], edges)


@pytest.mark.parametrize(
    ("end", "outer", "inner"), [((0, 0, 0), (5, 5), 0), ((0, 0, 9), (5, 5), 5), ((0, 0, 9), (0, 5), 0)]
)
def test_a_rod_needs_a_length_and_a_wall(
    end: tuple[float, float, float], outer: tuple[float, float], inner: float
) -> None:
    with pytest.raises(InputError, match=r"tube\[0\]: got a rod"):
        mass_of_rod((0, 0, 0), end, density_g_cm3=1.0, outer_mm=outer, inner_mm=inner, name="tube[0]")


def test_a_mass_is_not_negative() -> None:
    with pytest.raises(InputError, match="servo: got a mass of -1 g"):
        point_mass(-1.0, (0, 0, 0), name="servo")
