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
from outside import SECTIONS, Source

from wingpath.structure.section import section_constants, shear_flow_n_mm, torque_flow_n_mm
from wingpath.structure.thin_section import ThinSection
from wingpath.structure.tube_section import rectangle_torsion_mm4

INTRODUCTION = Source(
    "quoted",
    "Megson, Introduction",
    "T. H. G. Megson, Introduction to Aircraft Structural Analysis, read in the project's collection of "
    "check values; "
    "figures called exact are our own working of the same problem",
)
STRUCTURES = Source(
    "quoted",
    "Megson 1999",
    "T. H. G. Megson, Aircraft Structures for Engineering Students, 3rd edition (1999), read in the "
    "project's "
    "collection of check values; figures called exact are our own working of the same problem",
)
SUN = Source(
    "quoted",
    "Sun",
    "C. T. Sun, Mechanics of Aircraft Structures, problem 3.5, read in the project's collection of check "
    "values",
)
TIMOSHENKO = Source("memory", "Timoshenko", "S. Timoshenko's table of the torsion of rectangles")

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


def test_rectangles() -> None:
    found = [rectangle_torsion_mm4(width_mm=3.0 * ratio, height_mm=3.0) for ratio in RECTANGLE]
    SECTIONS.check(
        "Torsion of rectangles: J / (a b³)",
        source=TIMOSHENKO.at("table of rectangles"),
        expected=list(RECTANGLE.values()),
        got=np.array(found) / (3.0 * np.array(list(RECTANGLE)) * 3.0**3),
        abs=6e-4,
        because="half of the third place, and rounding",
        labels=[f"a/b = {ratio:g}" for ratio in RECTANGLE],
    )
    assert [rectangle_torsion_mm4(width_mm=3.0, height_mm=3.0 * ratio) for ratio in RECTANGLE] == found


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
    exact = INTRODUCTION.at("example 22.2, pp. 592-593, worked exactly").of_kind("worked again")
    SECTIONS.check(
        "Wing of three cells: rate of twist",
        source=exact,
        expected=7.35963e-7,
        got=11.3e6 / found.gj_cells_n_mm2,
        rel=EXACT,
        because="six figures",
        unit="rad/mm",
    )
    share = found.gj_cells_n_mm2 / found.gj_n_mm2
    flow = np.abs(torque_flow_n_mm(wing, torque_n_mm=11.3e6 / share))
    walls = ["12o", "13", "56"]
    SECTIONS.check(
        "Wing of three cells: shear flows",
        source=INTRODUCTION.at("example 22.2, pp. 592-593"),
        expected=[7.1, 8.9, 4.2],
        got=[flow[names.index(name)] for name in walls],
        abs=PRINTED,
        because="half a printed digit",
        unit="N/mm",
        labels=[f"wall {name}" for name in walls],
    )
    SECTIONS.check(
        "Wing of three cells: shear flows, more digits",
        source=exact,
        expected=[7.0864, 8.8821, 4.1526, 8.8821 - 7.0864],
        got=[flow[names.index(name)] for name in (*walls, "12i")],
        abs=[6e-5, 6e-5, 6e-5, 2e-4],
        because="half of the last figure, and rounding",
        unit="N/mm",
        labels=[f"wall {name}" for name in (*walls, "12i")],
    )


def test_box_of_page_606() -> None:
    # 10 kN m on 200 x 800 mm: 31.25 N/mm, printed 31.3; the walls by themselves bear under 1e-5 here
    box = section(*boxes(0.0, 800.0, height=200.0), 0.1)
    flow = torque_flow_n_mm(box, torque_n_mm=10e6)
    SECTIONS.check(
        "Box of 200 x 800 mm under a torque: shear flow",
        source=INTRODUCTION.of_kind("worked again").at("p. 606; 31.3 is printed"),
        expected=np.full(4, 31.25),
        got=np.abs(flow),
        rel=1e-5,
        because="what the walls bear by themselves",
        unit="N/mm",
    )
    # nose-up: up at the nose, down at the tail, aft along the top; walls run aft and up
    assert np.sign(flow).tolist() == [-1.0, 1.0, 1.0, -1.0]


def test_box_with_and_without_a_web() -> None:
    # centimetres, as in the book
    alone = section_constants(section(*boxes(0.0, 20.0, height=10.0), 0.3))
    parted = section_constants(section(*boxes(0.0, 5.0, 20.0, height=10.0), 0.3))
    SECTIONS.check(
        "Box of 20 x 10 x 0.3 cm without and with a web: torsion constant",
        source=SUN.at("problem 3.5"),
        expected=[800.0, 814.2857],
        got=[alone.gj_cells_n_mm2, parted.gj_cells_n_mm2],
        rel=EXACT,
        because="seven figures",
        unit="cm⁴",
        labels=["without", "with"],
    )


def kite(rear: float) -> ThinSection:
    """Return example 9.6 with a = 1: apex 4 in the origin, 1 above, 2 behind or ahead, 3 below."""
    return section([[6.0, 8.0], [rear, 0.0], [6.0, -8.0], [0.0, 0.0]], [[0, 1], [1, 2], [2, 3], [3, 0]], 0.01)


def test_shear_centre_of_a_closed_section() -> None:
    found = section_constants(kite(-9.0), own_thickness=False)
    example = STRUCTURES.at("example 9.6, pp. 305-306")
    SECTIONS.check(
        "Closed kite: second moment over t a³",
        source=example,
        expected=1152.0,
        got=found.ei_xx_n_mm2 / 0.01,
        rel=EXACT,
        because="a whole number",
    )
    exact = example.of_kind("worked again")
    SECTIONS.check(
        "Closed kite: shear centre, along and across, over a",
        source=exact,
        expected=[-10.0 / 3.0, 0.0],
        got=found.shear_centre_mm,
        abs=1e-9,
        because="rounding",
        labels=["along", "across"],
    )
    # the book cuts the wall at 4, where the flow that closes it, without twist, is 58 2/3 a^2 / (1152 a^3)
    flow = shear_flow_n_mm(kite(-9.0), force_n=1.0)
    SECTIONS.check(
        "Closed kite: closing flow, times 1152 a",
        source=example,
        expected=58.7,
        got=1152.0 * abs(flow[3, 0]),
        rel=1e-3,
        because="three printed figures",
    )
    # from there over 1 to 2 the sum of y ds is 108 a^2
    SECTIONS.check(
        "Closed kite: closing flow, and its change over two walls, times 1152 a",
        source=exact,
        expected=[58.0 + 2.0 / 3.0, 108.0],
        got=[1152.0 * abs(flow[3, 0]), 1152.0 * (abs(flow[0, 2]) + abs(flow[3, 0]))],
        rel=EXACT,
        because="rounding",
        labels=["closing", "change"],
    )
    rear = section_constants(kite(21.0), own_thickness=False)
    SECTIONS.check(
        "Kite turned to an arrow: shear centre, along and across, over a",
        source=exact,
        expected=[7.7778, 0.0],
        got=rear.shear_centre_mm,
        abs=5e-5,
        because="half of the last figure",
        labels=["along", "across"],
    )


def test_channel() -> None:
    # P.9.13 with uniform walls: flanges 50, web 100, t 1; the shear centre lies outside, before the web
    channel = section([[50.0, 0.0], [0.0, 0.0], [0.0, 100.0], [50.0, 100.0]], [[0, 1], [1, 2], [2, 3]])
    found = section_constants(channel, own_thickness=False)
    problem = STRUCTURES.at("problem P.9.13, p. 351")
    assert found.ei_xx_n_mm2 == pytest.approx(100.0**3 / 12.0 * 4.0, rel=EXACT)
    SECTIONS.check(
        "Channel of even walls: shear centre, along and across",
        source=problem.of_kind("worked again"),
        expected=[-18.75, 50.0],
        got=found.shear_centre_mm,
        abs=1e-9,
        because="rounding",
        unit="mm",
        labels=["along", "across"],
    )
    # P.9.13 as set: flanges that taper from 0.6 at the tip to 1.2, web 0.8, in steps at their middles
    steps, d, h = 200, 40.0, 80.0
    x = np.linspace(d, 0.0, steps + 1)
    points = np.vstack([np.column_stack([x, 0.0 * x]), np.column_stack([x[::-1], 0.0 * x + h])])
    flange = 0.6 + 0.6 * (np.arange(steps) + 0.5) / steps
    walls = [(k, k + 1) for k in range(2 * steps + 1)]
    tapered = section(points, walls, np.concatenate([flange, [0.8], flange[::-1]]))
    e = d**2 * (2.0 * 0.6 + 1.2) / (3.0 * d * (0.6 + 1.2) + h * 0.8)
    SECTIONS.check(
        "Channel of tapering flanges: shear centre before the web",
        source=problem,
        expected=e,
        got=-section_constants(tapered, own_thickness=False).shear_centre_mm[0],
        rel=1e-4,
        because="flanges in 200 steps",
        unit="mm",
    )
