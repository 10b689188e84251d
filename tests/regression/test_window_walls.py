"""What the shell and the preview are told of ribs with windows, against the slots that were cut."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from test_windows import FITTED, WING

from wingpath import WingBuild
from wingpath.build.bead import bead_area_mm2
from wingpath.build.slots import Slot
from wingpath.model.panels import PanelRange
from wingpath.model.windows import crossing_distance_mm
from wingpath.pipeline.design import tube_materials
from wingpath.pipeline.previewing import plan_beam
from wingpath.pipeline.shell_inputs import _slot_wall, planned_inputs, shell_inputs, wall_material
from wingpath.pipeline.shell_solving import held_wing
from wingpath.structure import beam

NECK = 1.7 * 0.45

MEET_MM = 0.03
"""Both profiles are straightened by a hundredth of a millimetre."""

PLANNED_MM = 0.35
"""Planned ribs are measured between the middles of the skins' beads, half a bead inside, built ones between
their outsides; slopes then begin a little elsewhere."""

PREVIEWED = 0.05
"""Areas times thickness against the length of the path: bends and overlaps at nodes are not in the areas."""

AVERAGED = 0.002
"""Sixty cuts a piece against six hundred differ by a thousandth; five, as of whole ribs, by four."""

Built = Callable[[dict[str, Any]], WingBuild]


def test_what_stands_and_what_hangs_end_where_the_slots_do(built: Built) -> None:
    build = built(WING)
    slots = build.panels[0].solid.slots
    walls = {wall.name: wall for wall in shell_inputs(build, ()).walls}
    hung = 0
    for slot in slots:
        wall = walls[slot.name]
        z = np.linspace(max(slot.z_mm[0], 0.0) + 0.05, min(slot.z_mm[-1], 80.0) - 0.05, 300)
        inner = np.interp(z, slot.z_mm, slot.inner_mm)
        if slot.side == "upper":
            assert inner - wall.hang_mm(z) == pytest.approx(0.5 * NECK, abs=MEET_MM)
            hung += len(z)
        else:
            above = wall.top_mm(z) - inner
            # half a neck before the slot from above, a whole one before the skin
            assert above.min() > 0.5 * NECK - MEET_MM
            assert above.max() < NECK + MEET_MM
    assert hung > 1000
    # beyond the slot from above nothing hangs
    for wall in walls.values():
        own = [slot for slot in slots if slot.name == wall.name and slot.side == "upper"]
        z = np.linspace(wall.z_mm[0] + 0.02, wall.z_mm[-1] - 0.02, 400)
        covered = np.any([(z > slot.z_mm[0]) & (z < slot.z_mm[-1]) for slot in own] or [z < 0.0], axis=0)
        assert not np.isfinite(wall.hang_mm(z[~covered])).any()


def test_ribs_are_whole_in_the_model_where_they_cross(built: Built) -> None:
    build = built(WING)
    whole = open_ = 0
    for wall in shell_inputs(build, ()).walls:
        z = np.linspace(max(wall.z_mm[0], 1.0), min(wall.z_mm[-1], 79.0), 400)
        gap = wall.hang_mm(z) - wall.top_mm(z)
        there = np.isfinite(gap)
        whole += int((np.abs(gap[there]) < MEET_MM).sum())
        open_ += int((gap[there] > 5.0).sum())
    assert whole > 200
    assert open_ > 500


def test_nothing_hangs_between_two_slots_from_above() -> None:
    z = np.array([0.0, 80.0])
    below = Slot("rib", "aft", z, z, np.full(2, 2.0), neck_mm=NECK)
    above = [
        Slot("rib", "aft", own, own, np.full(2, 5.0), side="upper")
        for own in (np.array([10.0, 30.0]), np.array([40.0, 70.0]))
    ]
    wall = _slot_wall(below, above, PanelRange(0, 0.0, 80.0), 0.9)
    there = np.isfinite(wall.hang_mm([5.0, 10.5, 29.5, 30.5, 39.5, 40.5, 69.5, 75.0]))
    assert there.tolist() == [False, True, True, False, False, True, True, False]


def test_planned_halves_meet_where_ribs_cross_and_thin_sections_have_one(built: Built) -> None:
    design = built(WING).design
    inputs = planned_inputs(design, ())
    least = 2.0 * min(3.0, 4.0 * 0.45) + NECK
    whole = stubs = thin = 0
    for wall, plane in zip(inputs.walls, design.voids.planes, strict=True):
        z = np.asarray(wall.profile_z_mm)
        x = plane.x_mm(z)
        upper, lower = inputs.skins.heights_mm(np.clip(inputs.skins.fraction_of(x, z), 0.0, 1.0), z)
        others = [plane, *(other for other in design.voids.planes if other is not plane)]
        away = crossing_distance_mm(others, z)[0]
        split = upper - lower >= least
        assert np.isinf(wall.hang_mm(z[~split])).all()
        assert (wall.top_mm(z[~split]) > upper[~split]).all()
        cross = split & (away < 0.9)
        assert wall.profile_hang_mm[cross] == pytest.approx(wall.profile_top_mm[cross], abs=MEET_MM)
        mid = split & (away > 9.0)
        deep = np.minimum(3.0 + 0.5 * NECK, 0.5 * (upper - lower))[mid]
        assert wall.profile_top_mm[mid] - lower[mid] == pytest.approx(deep, abs=MEET_MM)
        assert upper[mid] - wall.profile_hang_mm[mid] == pytest.approx(deep, abs=MEET_MM)
        whole, stubs, thin = whole + cross.sum(), stubs + mid.sum(), thin + (~split).sum()
    assert min(whole, stubs, thin) > 50


def test_planned_ribs_are_like_built_ones(built: Built) -> None:
    build = built(WING)
    planned = {wall.name: wall for wall in planned_inputs(build.design, ()).walls}
    compared = 0
    for wall in shell_inputs(build, ()).walls:
        z = np.linspace(max(wall.z_mm[0], 2.0), min(wall.z_mm[-1], 78.0), 400)
        x = np.interp(z, wall.z_mm, wall.x_mm)
        # in open windows, well inside the chord
        inside = (wall.hang_mm(z) - wall.top_mm(z) > 4.0) & np.isfinite(wall.hang_mm(z))
        inside &= (x > 30.0) & (x < 110.0)
        plan = planned[wall.name]
        assert plan.top_mm(z[inside]) == pytest.approx(wall.top_mm(z[inside]), abs=PLANNED_MM + 0.5 * NECK)
        assert plan.hang_mm(z[inside]) == pytest.approx(wall.hang_mm(z[inside]), abs=PLANNED_MM + 0.5 * NECK)
        compared += int(inside.sum())
    assert compared > 300


@pytest.mark.parametrize("windows", [True, False])
def test_previewed_masses_follow_windows(built: Built, windows: bool) -> None:
    ribs = dict(WING["ribs"]) if windows else {k: v for k, v in WING["ribs"].items() if k != "stub_mm"}
    build = built({**WING, "ribs": ribs})
    length = sum(float(part.continuity.layers.path_mm.sum()) for part in build.parts)
    design = build.design
    settings = design.spec.print
    area = bead_area_mm2(bead_mm=settings.bead_mm, layer_mm=settings.layer_mm)
    grams = length * area * design.filament.wall_density_g_cm3(settings.flow) / 1000.0
    assert plan_beam(design, ()).printed_mass_g == pytest.approx(grams, rel=PREVIEWED)


def test_the_planned_beam_averages_over_windows(built: Built, monkeypatch: pytest.MonkeyPatch) -> None:
    design = built(WING).design
    found = plan_beam(design, ()).beam.gj_n_mm2
    for name in ("WINDOW_SAMPLES", "GRID_SAMPLES"):
        monkeypatch.setattr(beam, name, 600)
    assert found == pytest.approx(plan_beam(design, ()).beam.gj_n_mm2, rel=AVERAGED)


def test_a_wing_with_windows_and_fittings_is_solved(built: Built) -> None:
    build = built(FITTED)
    inputs = shell_inputs(build, tube_materials(build.design.spec, base_dir=None))
    assert inputs.stub_mm == pytest.approx(6.5 + 0.5 * NECK)
    material = wall_material(build.design.filament, build.design.spec.print)
    # the same mesh with all windows filled
    whole = [replace(wall, profile_top_mm=None, profile_hang_mm=None) for wall in inputs.walls]
    softer = held_wing(inputs, material, edge_mm=9.0)
    stiffer = held_wing(replace(inputs, walls=tuple(whole)), material, edge_mm=9.0)
    assert softer.shell.wall_mass_g < 0.97 * stiffer.shell.wall_mass_g
    bent = []
    for one in (softer, stiffer):
        force = np.zeros((one.shell.model.nodes, 6))
        force[one.shell.tip_ring[0], 1] = 1.0
        bent.append(float(one.held.displacement(force)[one.shell.tip_ring[0], 1]))
    assert bent[0] > 1.001 * bent[1] > 0.0
