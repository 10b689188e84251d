"""Walls that lean, and tubes beside them: thickness square to the wall, chains of tubes stay straight."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest
from assessed import SHORT_WING

from wingpath.io.spec_toml import read_toml
from wingpath.model.spec import spec_from_dict
from wingpath.pipeline.building import build_wing
from wingpath.pipeline.design import design_wing, tube_materials
from wingpath.pipeline.shell_inputs import planned_inputs, shell_inputs, wall_thickness_mm
from wingpath.structure.planform_mesh import planform_mesh

EXAMPLES = Path(__file__).parents[2] / "examples"

STRAIGHT_MM = 0.05
"""A tube's chain may leave its line by this much: found 0.4 mm off, which bent the wing twice as far [mm]."""


@pytest.mark.parametrize("angle", [30.0, 45.0])
def test_a_leaning_rib_is_thinner_square_to_itself(angle: float) -> None:
    # two beads side by side along the chord, stepped aside from layer to layer: volume over face
    spec = spec_from_dict({**SHORT_WING, "ribs": {"run": "both", "pitch_mm": 24.0, "angle_deg": angle}})
    design = design_wing(spec)
    bead = wall_thickness_mm(design.filament, spec.print)
    materials = tube_materials(spec)
    for inputs in (planned_inputs(design, materials), shell_inputs(build_wing(design), materials)):
        ribs = [wall for wall in inputs.walls if wall.kind in ("aft", "forward")]
        assert len(ribs) > 4
        for rib in ribs:
            assert rib.thickness_mm == pytest.approx(2.0 * bead * np.cos(np.radians(angle)), rel=1e-3)
        upright = [wall for wall in inputs.walls if wall.kind == "slit"]
        assert all(wall.thickness_mm == pytest.approx(2.0 * bead, rel=0.02) for wall in upright)


@pytest.mark.parametrize(("pitch", "edge_mm"), [(32.0, 5.0), (18.0, 5.0), (24.0, 5.7)])
def test_the_chain_of_a_tube_stays_straight(pitch: float, edge_mm: float) -> None:
    data: dict[str, Any] = read_toml(EXAMPLES / "teasel-920" / "spec.toml")
    data["ribs"] = {"run": "both", "pitch_mm": pitch}
    design = design_wing(spec_from_dict(data))
    inputs = planned_inputs(design, tube_materials(design.spec))
    plan = planform_mesh(
        inputs.skins, inputs.walls, inputs.cut_outs, edge_mm=edge_mm, breaks_mm=inputs.breaks_mm
    )
    x = inputs.skins.x_of_mm(plan.fraction, plan.z_mm)
    checked = 0
    for wall, chain in zip(inputs.walls, plan.lines, strict=True):
        if wall.kind == "slit" and wall.name.startswith("tube"):
            line = np.interp(plan.z_mm[chain], wall.z_mm, wall.x_mm)
            assert np.abs(x[chain] - line).max() < STRAIGHT_MM
            checked += 1
    assert checked == 1
