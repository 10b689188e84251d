"""What holds for every thin-walled section and every beam: turning, mirroring, growing, stiffening."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from wingpath.structure.beam import WingBeam, solve_beam
from wingpath.structure.section import (
    SectionConstants,
    section_constants,
    shear_flow_n_mm,
    torque_flow_n_mm,
)
from wingpath.structure.thin_section import Rods, ThinSection

ROUNDING = 1e-7
"""Share of a value that sums of some dozen terms, partly cancelling, may lose."""

numbers = st.integers(0, 2**32 - 1)


def ladder(seed: int, *, rungs: int | None = None) -> ThinSection:
    """Return a random row of cells with uneven walls, a fin and a rod."""
    rng = np.random.default_rng(seed)
    count = rng.integers(2, 7) if rungs is None else rungs
    x = np.cumsum(rng.uniform(8.0, 40.0, count))
    low = np.column_stack([x, rng.uniform(-20.0, -5.0, count)])
    high = np.column_stack([x + rng.uniform(-3.0, 3.0, count), rng.uniform(5.0, 20.0, count)])
    points = np.vstack([low, high, [[x[-1] + 15.0, 2.0]]])
    walls = [(k, k + 1) for k in range(count - 1)] + [(count + k, count + k + 1) for k in range(count - 1)]
    walls += [(k, count + k) for k in range(count)] + [(count - 1, 2 * count)]
    m = len(walls)
    share = rng.uniform(0.1, 1.0)
    rods = Rods(np.array([1]), *(np.array([share * v]) for v in (2e5, 2e6, 2e6, 1e6)))
    return ThinSection(
        points,
        np.array(walls),
        rng.uniform(0.3, 1.0, m),
        rng.uniform(400.0, 2000.0, m),
        rng.uniform(200.0, 700.0, m),
        rods=rods,
    )


def changed(section: ThinSection, **given: object) -> ThinSection:
    names = ("points_mm", "walls", "thickness_mm", "e_mpa", "g_mpa", "rods")
    return ThinSection(**{**{name: getattr(section, name) for name in names}, **given})


def values(found: SectionConstants) -> np.ndarray:
    return np.array(
        [
            found.ea_n,
            found.ei_xx_n_mm2,
            found.ei_yy_n_mm2,
            found.ei_up_n_mm2,
            found.gj_cells_n_mm2,
            found.gj_own_n_mm2,
            found.ga_y_n,
        ]
    )


@given(numbers)
def test_mirrored(seed: int) -> None:
    section = ladder(seed)
    found = section_constants(section)
    for sign in ([-1.0, 1.0], [1.0, -1.0]):
        other = section_constants(changed(section, points_mm=section.points_mm * sign))
        assert values(other) == pytest.approx(values(found), rel=ROUNDING)
        assert other.shear_centre_mm == pytest.approx(found.shear_centre_mm * sign, abs=1e-6)
        assert other.ei_xy_n_mm2 == pytest.approx(-found.ei_xy_n_mm2, rel=ROUNDING, abs=1.0)


@given(numbers, st.floats(-300.0, 300.0), st.floats(-300.0, 300.0))
def test_moved(seed: int, aft: float, up: float) -> None:
    section = ladder(seed)
    found = section_constants(section)
    other = section_constants(changed(section, points_mm=section.points_mm + np.array([aft, up])))
    assert values(other) == pytest.approx(values(found), rel=1e-6)
    assert other.shear_centre_mm - [aft, up] == pytest.approx(found.shear_centre_mm, abs=1e-5)
    assert other.centroid_mm - [aft, up] == pytest.approx(found.centroid_mm, abs=1e-8)


@given(numbers, st.floats(0.0, 2.0 * math.pi))
def test_turned(seed: int, angle: float) -> None:
    section = ladder(seed)
    turn = np.array([[math.cos(angle), -math.sin(angle)], [math.sin(angle), math.cos(angle)]])
    # the rod of a ladder is as stiff both ways, so it turns with the section
    other = section_constants(changed(section, points_mm=section.points_mm @ turn.T))
    found = section_constants(section)
    tensor = [
        np.array([[f.ei_yy_n_mm2, f.ei_xy_n_mm2], [f.ei_xy_n_mm2, f.ei_xx_n_mm2]]) for f in (found, other)
    ]
    assert tensor[1] == pytest.approx(turn @ tensor[0] @ turn.T, rel=1e-6, abs=1e-6 * np.trace(tensor[0]))
    assert other.gj_n_mm2 == pytest.approx(found.gj_n_mm2, rel=ROUNDING)
    assert other.shear_centre_mm == pytest.approx(turn @ found.shear_centre_mm, abs=1e-5)


@given(numbers, st.floats(0.2, 5.0))
def test_grown(seed: int, k: float) -> None:
    section = ladder(seed)
    rods = section.rods
    grown = Rods(
        rods.point, rods.ea_n * k**2, rods.ei_xx_n_mm2 * k**4, rods.ei_yy_n_mm2 * k**4, rods.gj_n_mm2 * k**4
    )
    other = section_constants(
        changed(section, points_mm=section.points_mm * k, thickness_mm=section.thickness_mm * k, rods=grown)
    )
    powers = np.array([2, 4, 4, 4, 4, 4, 2])
    assert values(other) == pytest.approx(values(section_constants(section)) * k**powers, rel=ROUNDING)


@given(numbers)
def test_twice_as_stiff(seed: int) -> None:
    section = ladder(seed)
    rods = section.rods
    twice = Rods(
        rods.point, *(2.0 * v for v in (rods.ea_n, rods.ei_xx_n_mm2, rods.ei_yy_n_mm2, rods.gj_n_mm2))
    )
    other = changed(section, e_mpa=2.0 * section.e_mpa, g_mpa=2.0 * section.g_mpa, rods=twice)
    found = section_constants(section)
    assert values(section_constants(other)) == pytest.approx(2.0 * values(found), rel=ROUNDING)
    # stress does not ask how stiff all is together
    assert shear_flow_n_mm(other, force_n=3.0) == pytest.approx(
        shear_flow_n_mm(section, force_n=3.0), rel=1e-6, abs=1e-9
    )


@given(numbers, st.data())
def test_another_wall_never_softens(seed: int, data: st.DataObject) -> None:
    section = ladder(seed)
    count = len(section.points_mm)
    pair = data.draw(st.lists(st.integers(0, count - 1), min_size=2, max_size=2, unique=True))
    more = changed(
        section,
        walls=np.vstack([section.walls, [pair]]),
        thickness_mm=np.append(section.thickness_mm, 0.6),
        e_mpa=np.append(section.e_mpa, 800.0),
        g_mpa=np.append(section.g_mpa, 300.0),
    )
    found, other = section_constants(section), section_constants(more)
    for name in ("ea_n", "ei_xx_n_mm2", "ei_up_n_mm2", "gj_cells_n_mm2", "gj_n_mm2"):
        assert getattr(other, name) >= getattr(found, name) * (1.0 - ROUNDING)


@given(numbers)
def test_turning_a_wall_round_changes_only_the_sign_of_its_flow(seed: int) -> None:
    section = ladder(seed)
    back = changed(section, walls=section.walls[:, ::-1])
    assert torque_flow_n_mm(back, torque_n_mm=9.0) == pytest.approx(
        -torque_flow_n_mm(section, torque_n_mm=9.0), rel=1e-6, abs=1e-9
    )
    assert shear_flow_n_mm(back, force_n=9.0)[:, ::-1] == pytest.approx(
        -shear_flow_n_mm(section, force_n=9.0), rel=1e-6, abs=1e-9
    )


@given(numbers)
def test_flow_of_a_torque_meets_it(seed: int) -> None:
    section = ladder(seed)
    found = section_constants(section)
    flow = torque_flow_n_mm(section, torque_n_mm=1000.0)
    borne = -flow @ section.sweep_mm2
    assert borne == pytest.approx(1000.0 * found.gj_cells_n_mm2 / found.gj_n_mm2, rel=ROUNDING)
    # no flow is lost at a point, and no force is left over
    left = np.zeros(len(section.points_mm))
    np.add.at(left, section.walls[:, 0], flow)
    np.add.at(left, section.walls[:, 1], -flow)
    assert left == pytest.approx(0.0, abs=1e-6)
    assert flow @ section.delta_mm == pytest.approx([0.0, 0.0], abs=1e-6)


@given(numbers)
def test_forces_and_torques_on_beams_act_alike_both_ways(seed: int) -> None:
    rng = np.random.default_rng(seed)
    count = int(rng.integers(1, 6))
    ei, gj = rng.uniform(1e6, 1e8, (2, count))
    beam = WingBeam(
        np.concatenate([[0.0], np.cumsum(rng.uniform(20.0, 200.0, count))]),
        ei,
        gj,
        rng.uniform(-0.8, 0.8, count) * np.sqrt(ei * gj),
        rng.uniform(1e3, 1e5, count),
        rng.uniform(30.0, 70.0, count),
    )
    (z1, z2), (x1, x2) = rng.uniform(0.0, beam.z_mm[-1], 2), rng.uniform(0.0, 150.0, 2)
    one = solve_beam(beam, z_mm=z1, x_mm=x1, force_n=1.0, torque_n_mm=0.0)
    two = solve_beam(beam, z_mm=[z1, z2], x_mm=[x1, x2], force_n=[0.0, 1.0], torque_n_mm=0.0)
    three = solve_beam(beam, z_mm=[z2, z1], x_mm=[x2, x1], force_n=[0.0, 1.0], torque_n_mm=0.0)
    # Maxwell: what a force at one place does at the other
    assert three.deflection_at_mm(x2, z2) == pytest.approx(float(two.deflection_at_mm(x1, z1)), rel=1e-6)
    # and a load that is moved along the chord with its torque is the same load
    moved = solve_beam(beam, z_mm=z1, x_mm=x2, force_n=1.0, torque_n_mm=x2 - x1)
    assert moved.deflection_mm == pytest.approx(one.deflection_mm, rel=1e-9, abs=1e-12)
