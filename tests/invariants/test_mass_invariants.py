"""What holds for every path with mass: moving, mirroring and splitting it changes what it must."""

import numpy as np
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from wingpath.structure.mass import MassPart, combined, mass_of_line, strip_masses

ROUNDING = 1e-9
"""Of sums of terms up to a few million g mm2, as a share of the largest."""


def number(low: float, high: float) -> st.SearchStrategy[float]:
    # whole thousandths: a tiny number beside a large one only tests rounding
    return st.integers(int(low * 1000), int(high * 1000)).map(lambda n: n / 1000.0)


PLACE = st.tuples(number(-300, 300), number(-30, 30), number(0, 600))


@st.composite
def paths(draw: st.DrawFn) -> tuple[np.ndarray, np.ndarray]:
    points = np.array(draw(st.lists(PLACE, min_size=2, max_size=12)))
    mass = draw(st.lists(number(0.001, 2), min_size=len(points) - 1, max_size=len(points) - 1))
    return points, np.array(mass)


def assert_same(got: MassPart, wanted: MassPart) -> None:
    assert_allclose(got.mass_g, wanted.mass_g, rtol=ROUNDING)
    assert_allclose(got.centre_mm, wanted.centre_mm, rtol=ROUNDING, atol=1e-7)
    size = wanted.mass_g * 1e6
    assert_allclose(got.inertia_g_mm2, wanted.inertia_g_mm2, atol=ROUNDING * size)


@given(paths(), PLACE)
def test_moving_moves_the_centre_and_leaves_the_inertia(
    path: tuple[np.ndarray, np.ndarray], offset: tuple[float, float, float]
) -> None:
    points, mass = path
    assert_same(mass_of_line(points + offset, mass), mass_of_line(points, mass).moved(offset))


@given(paths())
def test_mirroring(path: tuple[np.ndarray, np.ndarray]) -> None:
    points, mass = path
    assert_same(mass_of_line(points * (1.0, -1.0, 1.0), mass), mass_of_line(points, mass).mirrored_y())


@given(paths(), st.integers(0, 11))
def test_splitting_a_path_in_two(path: tuple[np.ndarray, np.ndarray], at: int) -> None:
    points, mass = path
    at = min(at, len(mass))
    halves = [mass_of_line(points[: at + 1], mass[:at]), mass_of_line(points[at:], mass[at:])]
    assert_same(combined(halves), mass_of_line(points, mass))


@given(paths(), number(0.01, 0.99))
def test_splitting_every_move(path: tuple[np.ndarray, np.ndarray], share: float) -> None:
    points, mass = path
    between = points[:-1] + share * (points[1:] - points[:-1])
    finer = np.empty((len(points) + len(between), 3))
    finer[::2], finer[1::2] = points, between
    split = np.column_stack([share * mass, (1.0 - share) * mass]).ravel()
    assert_same(mass_of_line(finer, split), mass_of_line(points, mass))


@given(paths())
def test_inertia_is_that_of_a_body(path: tuple[np.ndarray, np.ndarray]) -> None:
    """Symmetric, no moment negative, none larger than the sum of the other two."""
    line = mass_of_line(*path)
    tensor = line.inertia_g_mm2
    size = line.mass_g * 1e6
    assert_allclose(tensor, tensor.T, atol=ROUNDING * size)
    moments = np.linalg.eigvalsh(tensor)
    assert moments[0] >= -ROUNDING * size
    assert moments[2] <= moments[0] + moments[1] + ROUNDING * size


@given(paths(), PLACE)
def test_about_any_other_place_it_is_harder_to_turn(
    path: tuple[np.ndarray, np.ndarray], place: tuple[float, float, float]
) -> None:
    line = mass_of_line(*path)
    more = line.inertia_about(place) - line.inertia_g_mm2
    assert np.linalg.eigvalsh(more)[0] >= -ROUNDING * line.mass_g * 1e6


@given(paths(), st.lists(number(0.5, 200), min_size=1, max_size=8))
def test_strips_hold_all_of_it(path: tuple[np.ndarray, np.ndarray], widths: list[float]) -> None:
    points, mass = path
    low, high = points[:, 2].min() - 0.25, points[:, 2].max() + 0.25
    edges = low + np.append(0.0, np.cumsum(widths)) * max(1.0, (high - low) / sum(widths))
    got, x, z = strip_masses(points, mass, edges)
    assert_allclose(got.sum(), mass.sum(), rtol=ROUNDING)
    centre = mass_of_line(points, mass).centre_mm
    assert_allclose(got @ x / mass.sum(), centre[0], rtol=ROUNDING, atol=1e-7)
    assert_allclose(got @ z / mass.sum(), centre[2], rtol=ROUNDING, atol=1e-7)
