"""Thin-walled sections and tubes against textbooks.

T. H. G. Megson, *Introduction to Aircraft Structural Analysis*, example 22.2 (pp. 592-593) and p. 606; the
same, *Aircraft Structures for Engineering Students*, 3rd edition, example 9.6 (pp. 305-306) and problem
P.9.13 (p. 351); C. T. Sun, *Mechanics of Aircraft Structures*, problem 3.5. Read in the project's collection
of check values; figures called exact or worked are our own working of the same problems. Rectangles:
Timoshenko's table, from memory.
"""

from __future__ import annotations

import numpy as np
import pytest

from wingpath.structure.section import section_constants, shear_flow_n_mm, torque_flow_n_mm
from wingpath.structure.thin_section import ThinSection
from wingpath.structure.tube_section import rectangle_torsion_mm4

PRINTED = 0.05
"""Half a step of the last printed digit of a flow [N/mm]."""

EXACT = 1e-6
"""Share: the figures are given to six or seven digits."""

RECTANGLE = {1.0: 0.1406, 2.0: 0.229, 4.0: 0.281, 10.0: 0.312}
"""J / (a b^3) by a / b."""


def section(
    points: object, walls: object, t: object = 1.0, *, e: object = 1.0, g: object = 1.0
) -> ThinSection:
    count = len(np.asarray(walls))
    thick, modulus, shear = (np.broadcast_to(np.asarray(v, float), count) for v in (t, e, g))
    return ThinSection(np.asarray(points, float), np.asarray(walls), thick, modulus, shear)


def boxes(*edges: float, height: float) -> tuple[list[tuple[float, float]], list[tuple[int, int]]]:
    """Return a row of boxes: bottom, top, then the walls at the edges."""
    count = len(edges)
    points = [(x, 0.0) for x in edges] + [(x, height) for x in edges]
    walls = [(k, k + 1) for k in range(count - 1)] + [(count + k, count + k + 1) for k in range(count - 1)]
    return points, walls + [(k, count + k) for k in range(count)]


@pytest.mark.parametrize(("ratio", "value"), RECTANGLE.items())
def test_rectangles(ratio: float, value: float) -> None:
    found = rectangle_torsion_mm4(width_mm=3.0 * ratio, height_mm=3.0)
    assert found / (3.0 * ratio * 3.0**3) == pytest.approx(value, abs=6e-4)
    assert rectangle_torsion_mm4(width_mm=3.0, height_mm=3.0 * ratio) == found


MEGSON_AREAS = (258000.0, 355000.0, 161000.0)
"""Cells of example 22.2 [mm2]."""

MEGSON_WALLS = {
    "12o": (1650.0, 1.22, 24200.0),
    "12i": (508.0, 2.03, 27600.0),
    "13": (775.0, 1.22, 24200.0),
    "24": (775.0, 1.22, 24200.0),
    "34": (380.0, 1.63, 27600.0),
    "35": (508.0, 0.92, 20700.0),
    "46": (508.0, 0.92, 20700.0),
    "56": (254.0, 0.92, 20700.0),
}
"""Length, thickness [mm] and shear modulus [MPa] of its walls."""


def three_cell_wing() -> tuple[ThinSection, list[str]]:
    """Return example 22.2 as a row of boxes with the areas of its cells.

    Torsion knows of a wall nothing but length over thickness and modulus, so each wall is drawn as long as
    the box wants it, and as much thicker as it is longer.
    """
    height = 400.0
    x = np.concatenate([[0.0], np.cumsum(MEGSON_AREAS) / height])
    points, walls = boxes(*x, height=height)
    names = ["12o", "24", "46", "12o", "13", "35", "12o", "12i", "34", "56"]
    drawn = np.array([np.hypot(*np.subtract(points[a], points[b])) for a, b in walls])
    total = {name: sum(drawn[k] for k in range(len(names)) if names[k] == name) for name in MEGSON_WALLS}
    thick = [MEGSON_WALLS[name][1] * total[name] / MEGSON_WALLS[name][0] for name in names]
    return section(points, walls, thick, g=[MEGSON_WALLS[name][2] for name in names]), names


def test_three_cell_wing() -> None:
    wing, names = three_cell_wing()
    found = section_constants(wing)
    assert found.gj_cells_n_mm2 == pytest.approx(11.3e6 / 7.35963e-7, rel=EXACT)
    share = found.gj_cells_n_mm2 / found.gj_n_mm2
    flow = np.abs(torque_flow_n_mm(wing, torque_n_mm=11.3e6 / share))
    for name, printed, worked in (("12o", 7.1, 7.0864), ("13", 8.9, 8.8821), ("56", 4.2, 4.1526)):
        wall = flow[names.index(name)]
        assert wall == pytest.approx(printed, abs=PRINTED)
        assert wall == pytest.approx(worked, abs=6e-5)
    assert flow[names.index("12i")] == pytest.approx(8.8821 - 7.0864, abs=2e-4)


def test_box_of_page_606() -> None:
    # 10 kN m on 200 x 800 mm: 31.25 N/mm, printed 31.3; the walls by themselves bear under 1e-5 here
    box = section(*boxes(0.0, 800.0, height=200.0), 0.1)
    flow = torque_flow_n_mm(box, torque_n_mm=10e6)
    assert np.abs(flow) == pytest.approx(31.25, rel=1e-5)
    # nose-up: up at the nose, down at the tail, aft along the top; walls run aft and up
    assert np.sign(flow).tolist() == [-1.0, 1.0, 1.0, -1.0]


def test_box_with_and_without_a_web() -> None:
    # centimetres, as in the book
    alone = section_constants(section(*boxes(0.0, 20.0, height=10.0), 0.3))
    assert alone.gj_cells_n_mm2 == pytest.approx(800.0, rel=EXACT)
    parted = section_constants(section(*boxes(0.0, 5.0, 20.0, height=10.0), 0.3))
    assert parted.gj_cells_n_mm2 == pytest.approx(814.2857, rel=EXACT)


def kite(rear: float) -> ThinSection:
    """Return example 9.6 with a = 1: apex 4 in the origin, 1 above, 2 behind or ahead, 3 below."""
    return section([[6.0, 8.0], [rear, 0.0], [6.0, -8.0], [0.0, 0.0]], [[0, 1], [1, 2], [2, 3], [3, 0]], 0.01)


def test_shear_centre_of_a_closed_section() -> None:
    found = section_constants(kite(-9.0), own_thickness=False)
    assert found.ei_xx_n_mm2 / 0.01 == pytest.approx(1152.0, rel=EXACT)
    assert found.shear_centre_mm == pytest.approx([-10.0 / 3.0, 0.0], abs=1e-9)
    # the book cuts the wall at 4, where the flow that closes it, without twist, is 58 2/3 a^2 / (1152 a^3)
    flow = shear_flow_n_mm(kite(-9.0), force_n=1.0)
    assert abs(flow[3, 0]) == pytest.approx(58.7 / 1152.0, rel=1e-3)
    assert abs(flow[3, 0]) == pytest.approx((58.0 + 2.0 / 3.0) / 1152.0, rel=EXACT)
    # from there over 1 to 2 the sum of y ds is 108 a^2
    assert abs(flow[0, 2]) + abs(flow[3, 0]) == pytest.approx(108.0 / 1152.0, rel=EXACT)
    rear = section_constants(kite(21.0), own_thickness=False)
    assert rear.shear_centre_mm == pytest.approx([7.7778, 0.0], abs=5e-5)


def test_channel() -> None:
    # P.9.13 with uniform walls: flanges 50, web 100, t 1; the shear centre lies outside, before the web
    channel = section([[50.0, 0.0], [0.0, 0.0], [0.0, 100.0], [50.0, 100.0]], [[0, 1], [1, 2], [2, 3]])
    found = section_constants(channel, own_thickness=False)
    assert found.ei_xx_n_mm2 == pytest.approx(100.0**3 / 12.0 * 4.0, rel=EXACT)
    assert found.shear_centre_mm == pytest.approx([-18.75, 50.0], abs=1e-9)
    # P.9.13 as set: flanges that taper from 0.6 at the tip to 1.2, web 0.8, in steps at their middles
    steps, d, h = 200, 40.0, 80.0
    x = np.linspace(d, 0.0, steps + 1)
    points = np.vstack([np.column_stack([x, 0.0 * x]), np.column_stack([x[::-1], 0.0 * x + h])])
    flange = 0.6 + 0.6 * (np.arange(steps) + 0.5) / steps
    walls = [(k, k + 1) for k in range(2 * steps + 1)]
    tapered = section(points, walls, np.concatenate([flange, [0.8], flange[::-1]]))
    e = d**2 * (2.0 * 0.6 + 1.2) / (3.0 * d * (0.6 + 1.2) + h * 0.8)
    assert section_constants(tapered, own_thickness=False).shear_centre_mm[0] == pytest.approx(-e, rel=1e-4)
