"""Where the two beads of a slot lie apart in the shell, and where they hang together all the same."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from shell_panels import Panel
from small_shell import RIBS, built, line, skins

from wingpath.structure.columns import Fusion
from wingpath.structure.walls import TubeLine

OPEN = Fusion(float("inf"))

RIB = line("aft", "aft", (8.0, 6.0), (48.0, 46.0))
AT = (28.0, 26.0)
"""A place in the middle of that rib (x, z)."""

NEAR_MM = 3.2
"""Half an edge: the node of the rib that is nearest to the place."""


def heights_at(panel: Panel, x: float, z: float) -> np.ndarray:
    """Heights of the nodes at the point of the plan nearest to a place, lowest first [mm]."""
    frames = panel.shell.model.frames
    place = frames.points_mm[np.unique(frames.triangles[panel.shell.owner == 0])]
    apart = np.hypot(place[:, 0] - x, place[:, 2] - z)
    nearest = place[np.argmin(apart)]
    assert apart.min() < NEAR_MM
    return np.sort(place[np.hypot(*(place[:, [0, 2]] - nearest[[0, 2]]).T) < 1e-6][:, 1])


def test_beads_that_are_not_fused_lie_apart_but_for_the_far_skin() -> None:
    fused, apart = (heights_at(built([RIB], fusion=how)[1], *AT) for how in (None, OPEN))
    assert len(fused) == 3
    # lower skin and middle twice, upper skin once
    assert len(apart) == 5
    assert apart == pytest.approx([fused[0], fused[0], fused[1], fused[1], fused[2]])


def test_where_a_slot_ends_below_the_far_skin_its_bead_turns_round_and_joins_both() -> None:
    low, _, high = heights_at(built([RIB])[1], *AT)
    trimmed = replace(RIB, profile_z_mm=np.array([0.0, 90.0]), profile_top_mm=np.full(2, 0.5 * (low + high)))
    found = heights_at(built([trimmed], fusion=OPEN)[1], *AT)
    assert len(found) == 3
    assert found == pytest.approx([low, low, 0.5 * (low + high)], abs=1e-6)


def test_a_bore_holds_both_beads_of_its_slit_at_the_tube() -> None:
    x, (z0, z1) = 22.0, (0.0, 60.0)
    upper, lower = skins().heights_mm(skins().fraction_of(x, 30.0), 30.0)
    axis = float(0.6 * upper + 0.4 * lower)
    slit = line("tube[0]", "slit", (x, z0), (x, z1))
    tube = TubeLine("tube[0]", np.array([x, axis, z0]), np.array([x, axis, z1]), 1e5, 1e6, 1e6, 0.0)
    _, panel = built([slit], tubes=[tube], fusion=OPEN)
    found = heights_at(panel, x, 30.0)
    at_axis = found[np.abs(found - axis) < 1e-6]
    assert len(at_axis) == 1
    assert len(found[np.abs(found - float(lower)) < 0.3]) == 2


def test_two_walls_on_one_line_share_their_points() -> None:
    twin = replace(RIB, name="twin")
    one, two = built([*RIBS, RIB])[0], built([*RIBS, RIB, twin])[0]
    assert len(two.z_mm) == len(one.z_mm)
    assert np.array_equal(two.lines[-1], two.lines[-2])
