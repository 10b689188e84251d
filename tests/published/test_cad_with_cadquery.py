"""Solids handed over to `cadquery`, and our files in its own reader. Collected only where it is installed.

It brings the same kernel as the extra `step` in another package, so it needs an environment of its own.
"""

from __future__ import annotations

from pathlib import Path

import cadquery
import pytest
from wings import SMALL_WING

from wingpath import InputError, WingBuild, build_wing, spec_from_dict
from wingpath.cad import panel_cad_solid, panel_workplane
from wingpath.io.step import write_step

READ_SHARE = 6e-4
"""`cadquery` integrates volumes the quick way, which is off by some ten-thousandths on skins."""


@pytest.fixture(scope="module")
def build() -> WingBuild:
    return build_wing(spec_from_dict(SMALL_WING))


def test_a_panel_is_a_workplane_with_one_valid_solid(build: WingBuild) -> None:
    for part in build.parts:
        made = panel_workplane(part)
        assert isinstance(made, cadquery.Workplane)
        solid = made.val()
        assert isinstance(solid, cadquery.Solid)
        assert solid.isValid()
        assert solid.Volume() == pytest.approx(part.solid.mesh.volume_mm3, rel=READ_SHARE)


def test_the_right_hand_lies_on_the_other_side_of_the_root(build: WingBuild) -> None:
    left, right = (panel_workplane(build.panels[1].solid, hand=hand).val() for hand in ("left", "right"))
    # its boxes are loose, its centres are not
    one, other = left.Center(), right.Center()
    assert (other.x, other.y, other.z) == pytest.approx((one.x, one.y, -one.z), abs=1e-3)
    assert one.z > 25.0
    assert right.isValid()
    with pytest.raises(InputError, match="allowed: left or right"):
        panel_workplane(build.panels[0], hand="top")


def test_a_panel_can_be_worked_on(build: WingBuild) -> None:
    panel = panel_workplane(build.panels[0])
    box = panel.val().BoundingBox()
    drilled = panel.cut(cadquery.Workplane("XZ").box(200.0, 4.0, 200.0).translate((0.0, 0.0, box.zmin)))
    assert drilled.val().isValid()
    assert drilled.val().Volume() < panel.val().Volume()


def test_its_reader_takes_our_file(build: WingBuild, tmp_path: Path) -> None:
    shapes = {part.name: panel_cad_solid(part.solid).shape for part in build.parts}
    write_step(tmp_path / "wing.step", shapes, title="Sedge 90")
    read = cadquery.importers.importStep(str(tmp_path / "wing.step"))
    solids = read.solids().vals()
    assert len(solids) == len(shapes)
    assert all(solid.isValid() for solid in solids)
    meshes = sorted(part.solid.mesh.volume_mm3 for part in build.parts)
    assert sorted(solid.Volume() for solid in solids) == pytest.approx(meshes, rel=READ_SHARE)
    assembly = cadquery.Assembly.importStep(str(tmp_path / "wing.step"))
    assert {child.name for child in assembly.children} == set(shapes)
