"""The shell on the problems that shell elements are commonly judged by, over three meshes each.

Scordelis-Lo roof and twisted beam: R. H. MacNeal and R. L. Harder, A proposed standard set of problems to
test finite element accuracy, Finite Elem. Anal. Des. 1 (1985), 3-20, values from memory. Pinched cylinder
with end diaphragms: the series solution 1.8248e-5 used since T. Belytschko et al., Comput. Methods Appl.
Mech. Eng. 51 (1985), 221-258, from memory. Closed box: Euler and Bernoulli with shear, Bredt.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
import pytest
from outside import SHELL, Source
from shell_panels import Sheet, box_sheet, sheet

from wingpath.core.arrays import FloatArray

MACNEAL = Source(
    "memory",
    "MacNeal and Harder 1985",
    "R. H. MacNeal and R. L. Harder, A proposed standard set of problems to test finite element "
    "accuracy, Finite Elem. "
    "Anal. Des. 1 (1985), 3-20",
)
BELYTSCHKO = Source(
    "memory",
    "Belytschko et al. 1985",
    "T. Belytschko et al., Comput. Methods Appl. Mech. Eng. 51 (1985), 221-258: series solution 1.8248e-5",
)
BEAM_THEORY = Source(
    "worked again",
    "Euler, Bernoulli and Bredt",
    "bending of a thin-walled box with shear, and its torsion, by hand",
)

REFERENCE = 0.01
"""Share by which the finest mesh may miss a reference: these have three or four digits and are themselves
of shallow or thick shell theory; 0.6 per cent is what thin shells differ on the roof."""

BOX = 0.002
"""The same for boxes: what thin-walled theory leaves out at corners is of the order of thickness over width
(a tenth of this at edges far longer than the wall is thick, as here)."""

STEADIER = 0.7
"""Each step of refinement changes the result by less than this share of the step before: second order gives a
quarter, and shells held at a point or a free edge are slower."""


def settles(ratios: Sequence[float], allowed: float) -> bool:
    """Tell whether results over finer and finer meshes close in, and near the reference."""
    steps = np.abs(np.diff(ratios))
    return bool((steps[1:] < STEADIER * steps[:-1]).all()) and abs(ratios[-1] - 1.0) < allowed


def roof(count: int) -> float:
    """Return the sag in the middle of the free edge of a quarter of the roof, over the reference."""
    radius, length, angle = 25.0, 50.0, math.radians(40.0)
    part = sheet(
        count,
        count,
        lambda s, t: (radius * np.sin(angle * s), radius * np.cos(angle * s), 0.5 * length * t),
    )
    crown, middle, wall = part.number[0], part.number[:, 0], part.number[:, -1]
    fixed = part.holding((crown, (0, 4, 5)), (middle, (2, 3, 4)), (wall, (0, 1)))
    held = part.shell(0.25, 4.32e8, 0.0).held(fixed)
    return -held.displacement(part.surface_load((0.0, -90.0, 0.0)))[part.number[-1, 0], 1] / 0.3024


def cylinder(count: int) -> float:
    """Return the dent under the load of an eighth of the pinched cylinder, over the reference."""
    part = sheet(
        count,
        count,
        lambda s, t: (300.0 * np.sin(0.5 * np.pi * s), 300.0 * np.cos(0.5 * np.pi * s), 300.0 * t),
    )
    top, side, middle, end = part.number[0], part.number[-1], part.number[:, 0], part.number[:, -1]
    fixed = part.holding((top, (0, 4, 5)), (side, (1, 3, 5)), (middle, (2, 3, 4)), (end, (0, 1)))
    force = np.zeros((len(part.points_mm), 6))
    force[part.number[0, 0], 1] = -0.25
    held = part.shell(3.0, 3.0e6, 0.3).held(fixed)
    return -held.displacement(force)[part.number[0, 0], 1] / 1.8248e-5


def twisted(fine: int, axis: int, thickness: float, reference: float) -> float:
    """Return the tip's motion under a unit force of a strip that turns by 90 degrees, over the reference."""

    def place(s: FloatArray, t: FloatArray) -> Sequence[FloatArray]:
        across = 1.1 * (t - 0.5)
        return 12.0 * s, across * np.cos(0.5 * np.pi * s), across * np.sin(0.5 * np.pi * s)

    part = sheet(6 * fine, 2 * fine, place)
    force = part.edge_load(part.number[-1], np.eye(3)[axis] / 1.1)
    held = part.shell(thickness, 29.0e6, 0.22).held(part.holding((part.number[0], range(6))))
    return float(held.displacement(force)[part.number[-1, fine], axis] / reference)


def check_reference(what: str, source: Source, reference: float, ratios: Sequence[float]) -> None:
    """Check that results settle, and the finest one against its reference."""
    assert settles(ratios, REFERENCE)
    SHELL.check(
        what,
        source=source,
        expected=reference,
        got=ratios[-1] * reference,
        rel=REFERENCE,
        because="references of three or four digits, by shallow or thick shells",
    )


def test_scordelis_lo_roof() -> None:
    ratios = [roof(count) for count in (8, 16, 32)]
    check_reference("Scordelis-Lo roof: sag of the free edge", MACNEAL.at("roof"), 0.3024, ratios)


def test_pinched_cylinder() -> None:
    ratios = [cylinder(count) for count in (12, 24, 48)]
    check_reference("Pinched cylinder: dent under the load", BELYTSCHKO.at("series"), 1.8248e-5, ratios)


@pytest.mark.parametrize(
    ("axis", "thickness", "reference"),
    [(2, 0.32, 0.005424), (1, 0.32, 0.001754)],
    ids=["along the width of the tip", "square to the tip"],
)
def test_twisted_beam(axis: int, thickness: float, reference: float) -> None:
    ratios = [twisted(fine, axis, thickness, reference) for fine in (1, 2, 4)]
    way = "along the width of the tip" if axis == 2 else "square to the tip"
    check_reference(
        f"Twisted beam, load {way}: motion of the tip", MACNEAL.at("twisted beam"), reference, ratios
    )


WIDE, HIGH, LONG, WALL = 40.0, 40.0, 1000.0, 0.5
E_MPA, POISSON = 1000.0, 0.3


def flow_round(part: Sheet, ring: np.ndarray, flow: FloatArray) -> FloatArray:
    """Return nodal forces of a shear flow on the sides of a closed ring of nodes [N/mm]."""
    side = np.roll(part.points_mm[ring], -1, axis=0) - part.points_mm[ring]
    found = np.zeros((len(part.points_mm), 6))
    for end in (ring, np.roll(ring, -1)):
        np.add.at(found[:, :3], end, 0.5 * flow[:, None] * side)
    return found


def box(fine: int) -> tuple[float, float]:
    """Return bending and rate of twist of a square box under a tip force and a torque, over theory."""
    part = box_sheet(12 * fine, fine, fine, size_mm=(WIDE, HIGH, LONG))
    held = part.shell(WALL, E_MPA, POISSON).held(part.holding((part.number[0], range(6))))
    ring = part.number[-1, :-1]
    place = part.points_mm[ring]
    second = 2.0 * (WIDE * WALL * HIGH**2 / 4.0 + WALL * HIGH**3 / 12.0 + WIDE * WALL**3 / 12.0)
    upright = np.isclose(np.abs(place[:, 0]), WIDE / 2)
    force = np.zeros((len(part.points_mm), 6))
    force[ring[upright], 1] = 1.0 / upright.sum()
    lift = held.displacement(force)[ring, 1].mean()
    shear = E_MPA / (2.0 * (1.0 + POISSON))
    theory = LONG**3 / (3.0 * E_MPA * second) + LONG / (shear * 2.0 * WALL * HIGH)
    enclosed = WIDE * HIGH
    torsion = 2.0 * enclosed**2 * WALL / (WIDE + HIGH) + 2.0 * (WIDE + HIGH) * WALL**3 / 3.0
    turned = held.displacement(flow_round(part, ring, np.full(len(ring), 0.5 / enclosed)))
    angles = []
    # over the middle of the length, clear of the root's clamp and of the loaded end
    for row in (5 * fine, 10 * fine):
        nodes = part.number[row, :-1]
        x, y, _ = part.points_mm[nodes].T
        swept = x * turned[nodes, 1] - y * turned[nodes, 0]
        angles.append(swept.sum() / (x**2 + y**2).sum())
    rate = (angles[1] - angles[0]) / (LONG * 5.0 / 12.0)
    return float(lift / theory), float(rate * shear * torsion)


def test_closed_box() -> None:
    bending, torsion = np.transpose([box(fine) for fine in (2, 4, 8)])
    misses = np.abs(bending - 1.0)
    assert misses[0] > misses[1] > misses[2]
    assert misses[2] < BOX
    # an even shear flow is held exactly by any mesh, so there is nothing left to converge
    assert np.abs(torsion - 1.0).max() < BOX
    SHELL.check(
        "Closed box: bending under a tip force and rate of twist, over theory",
        source=BEAM_THEORY,
        expected=[1.0, 1.0],
        got=[bending[2], torsion[2]],
        abs=BOX,
        because="corners, of the order of thickness over width",
        labels=["bending", "twist"],
    )
