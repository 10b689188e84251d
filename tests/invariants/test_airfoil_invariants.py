"""What holds for every airfoil and every file, tried on random ones."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from wingpath.core.errors import AirfoilFileError, InputError
from wingpath.geometry.airfoil import Airfoil
from wingpath.geometry.naca import MEAN_LINES, naca_airfoil
from wingpath.io.airfoil_dat import airfoil_text, parse_airfoil

FEW = settings(max_examples=60, deadline=None, derandomize=True)
MANY = settings(max_examples=250, deadline=None, derandomize=True)

four_digits = st.builds(
    lambda camber, place, thickness: f"{camber}{place if camber else 0}{thickness:02d}",
    st.integers(0, 9),
    st.integers(1, 9),
    st.integers(1, 40),
)
five_digits = st.builds(
    lambda lift, line, thickness: f"{lift}{line[1:]}{thickness:02d}",
    st.integers(1, 6),
    st.sampled_from(sorted(MEAN_LINES)),
    st.integers(1, 40),
)
modified = st.builds(
    lambda code, nose, place: f"{code}-{nose}{place}", four_digits, st.integers(0, 9), st.integers(2, 6)
)


def made(code, **keywords):
    """The section, where the designation has one: strong camber folds thick sections."""
    try:
        return naca_airfoil(code, **keywords)
    except InputError as error:
        if "folds over itself" not in str(error):
            raise
        assume(False)


def assert_sound(airfoil):
    """Both surfaces run aft from one nose, and the upper one stays above the lower one."""
    for surface in (airfoil.upper, airfoil.lower):
        x = surface[:, 0]
        foremost = int(np.argmin(x))
        assert (np.diff(x[foremost:]) >= 0.0).all()
        assert (np.diff(x[: foremost + 1]) <= 0.0).all()
    assert (airfoil.upper[0] == airfoil.lower[0]).all()
    end = min(airfoil.upper[-1, 0], airfoil.lower[-1, 0])
    for x in np.linspace(0.002, end, 60):
        assert airfoil.thickness_at(float(x)) >= -5e-4


@FEW
@given(four_digits)
def test_four_digits_are_sound(code):
    airfoil = made(code)
    assert_sound(airfoil)
    thickness = int(code[2:]) / 100.0
    # laid off at right angles to the mean line: steep ones make the upright measure greater
    assert airfoil.thickness == pytest.approx(thickness, rel=1e-3 + 0.5 * int(code[0]) / 100.0)
    if code.startswith("00"):
        assert airfoil.upper == pytest.approx(airfoil.lower * (1.0, -1.0), abs=0.0)


@FEW
@given(st.one_of(five_digits, modified), st.booleans())
def test_other_families_are_sound(code, closed):
    assert_sound(made(code, closed=closed))


@FEW
@given(st.one_of(four_digits, five_digits), st.sampled_from([5, 31, 161]))
def test_sampled_is_sound_and_keeps_the_section(code, count):
    airfoil = made(code)
    sampled = airfoil.sampled(count)
    assert sampled.upper.shape == sampled.lower.shape == (count, 2)
    assert_sound(sampled)
    assert (np.diff(sampled.upper[:, 0]) > 0.0).all()
    if count == 161:
        assert sampled.thickness == pytest.approx(airfoil.thickness, abs=5e-5)


@FEW
@given(four_digits, st.floats(0.0, 0.3))
def test_wedge_opens_and_never_thins(code, least):
    airfoil = made(code)
    opened = airfoil.with_trailing_edge(least)
    assert opened.trailing_edge_gap == pytest.approx(max(least, airfoil.trailing_edge_gap), abs=1e-12)
    assert (opened.upper[:, 1] >= airfoil.upper[:, 1]).all()
    assert (opened.lower[:, 1] <= airfoil.lower[:, 1]).all()
    assert (opened.upper[:, 0] == airfoil.upper[:, 0]).all()


@FEW
@given(
    st.one_of(four_digits, five_digits),
    st.integers(15, 80),
    st.sampled_from(["one loop", "two runs"]),
    st.sampled_from([1.0, 100.0, 0.2]),
    st.booleans(),
)
def test_order_and_unit_do_not_matter(code, count, order, factor, lower_first):
    airfoil = made(code, points_per_side=count)
    assume(airfoil.thickness > 0.03)
    plain = parse_airfoil(airfoil_text(airfoil, decimals=8), source="a")
    upper, lower = factor * airfoil.upper, factor * airfoil.lower
    first, second = (lower, upper) if lower_first else (upper, lower)
    points = np.concatenate([first, second] if order == "two runs" else [first[::-1], second[1:]])
    text = "t\n" + "\n".join(f"{x:.10f} {y:.10f}" for x, y in points)
    other = parse_airfoil(text, source="a")
    assert other.sampled().loop == pytest.approx(plain.sampled().loop, abs=1e-6)


BASE = airfoil_text(naca_airfoil("2412", points_per_side=13), decimals=4).splitlines()
SPANS = st.text(alphabet="0123456789.-+eE ,;\t#!/nainfxO()\r\n\x1a\x00\u2212", max_size=8)


@st.composite
def mutated(draw):
    """A good file after a few accidents: lines lost, doubled, swapped, typed over, cut off."""
    lines = list(BASE)
    for _ in range(draw(st.integers(1, 4))):
        at = draw(st.integers(0, len(lines) - 1))
        match draw(st.integers(0, 6)):
            case 0 if len(lines) > 2:
                del lines[at]
            case 1:
                lines.insert(at, lines[draw(st.integers(0, len(lines) - 1))])
            case 2:
                to = draw(st.integers(0, len(lines) - 1))
                lines[at], lines[to] = lines[to], lines[at]
            case 3:
                cut = draw(st.integers(0, len(lines[at])))
                lines[at] = lines[at][:cut] + draw(SPANS) + lines[at][cut + draw(st.integers(0, 3)) :]
            case 4:
                lines[at] = draw(SPANS)
            case 5:
                lines[at] = f"{draw(st.floats(-2, 2))} {draw(st.floats(-1, 1))}"
            case 6 if len(lines) > 4:
                del lines[draw(st.integers(2, len(lines) - 1)) :]
    return "\n".join(lines)


def assert_read_or_refused(content):
    try:
        airfoil = parse_airfoil(content, source="a.dat")
    except AirfoilFileError as error:
        airfoil, refusal = None, error
    if airfoil is None:
        assert str(refusal).startswith("a.dat")
        assert refusal.reason
        return
    assert isinstance(airfoil, Airfoil)
    assert_sound(airfoil.sampled(41).with_trailing_edge(0.005))


@MANY
@given(mutated())
def test_damaged_files_are_read_or_refused(content):
    assert_read_or_refused(content)


@MANY
@given(mutated(), st.integers(0, 40), st.binary(max_size=6))
def test_damaged_bytes_are_read_or_refused(content, at, more):
    data = content.encode()
    assert_read_or_refused(data[:at] + more + data[at:])


@FEW
@given(st.one_of(st.text(max_size=300), st.binary(max_size=300)))
def test_anything_is_read_or_refused(content):
    assert_read_or_refused(content)


@FEW
@given(st.lists(st.tuples(st.floats(-1.5, 1.5), st.floats(-0.6, 0.6)), min_size=10, max_size=30))
def test_random_points_are_read_or_refused(points):
    assert_read_or_refused("t\n" + "\n".join(f"{x} {y}" for x, y in points))


@MANY
@given(
    st.lists(st.floats(0.0, 1.0), min_size=12, max_size=30, unique=True),
    st.lists(st.floats(0.7, 1.0), min_size=60, max_size=60),
    st.floats(0.02, 0.3),
)
def test_rough_sections_make_sound_curves(x, rough, thickness):
    x = np.array(sorted([0.0, 1.0, *x[2:]]))
    top, bottom = np.array(rough).reshape(2, 30)[:, : len(x)] * thickness * np.sqrt(x * (1.0 - x))
    points = [*zip(x[::-1], top[::-1], strict=True), *zip(x, -bottom, strict=True)]
    assert_read_or_refused("t\n" + "\n".join(f"{at} {y}" for at, y in points))
