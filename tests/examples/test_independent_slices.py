"""Slices of built panels against trimesh and shapely, which know nothing of wingpath."""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
import pytest
import shapely
import trimesh
from outside import SLICERS, Source

from wingpath import PanelResult, WingBuild, build_wing, load_spec
from wingpath.core.tolerances import LAYER_SIMPLIFY_MM

TRIMESH = Source(
    "library",
    "trimesh and shapely",
    "trimesh, an open library of meshes (MIT), and shapely, of plane geometry (BSD)",
)

EXAMPLES = sorted((Path(__file__).parents[2] / "examples").glob("*/spec.toml"))

SHARE = 1e-3
"""Areas and paths of one layer by both ways agree this well; where the layer is small, as near a tip, to
what straightening its outline takes: two thirds of LAYER_SIMPLIFY_MM, as between an arc and its chord."""

END_MM = 0.2
"""Where a section ends in a wedge of 5 degrees to either side, LAYER_SIMPLIFY_MM moves the end of the path
by 0.034 mm: there and back again at both ends 0.14 mm."""

LAYERS_COMPARED = 8
"""So many layers of each panel, because trimesh takes 30 ms for one."""


@dataclass
class Compared:
    """Theirs, ours and what may differ, of the layers of several panels."""

    areas: list[tuple[float, float, float]] = field(default_factory=list)
    paths: list[tuple[float, float, float]] = field(default_factory=list)
    volumes: list[tuple[float, float, float]] = field(default_factory=list)

    def check(self, name: str) -> None:
        straight = "outlines are straightened, most at a trailing edge"
        for what, rows, share, or_more, because in (
            ("volume of a panel", self.volumes, 1e-9, "", "rounding"),
            ("area of a layer", self.areas, SHARE, "0.002 mm of its border", straight),
            ("path of a layer", self.paths, SHARE, "0.2 mm", straight),
        ):
            ours, theirs, allowed = np.array(rows).T
            SLICERS.check(
                f"{name}: {what}, theirs over ours",
                source=TRIMESH,
                expected=ours,
                got=theirs,
                rel=share,
                abs=allowed if or_more else None,
                because=because,
                ratio=True,
                or_more=or_more,
            )


def compare(panel: PanelResult, found: Compared) -> None:
    layers = panel.continuity.layers
    solid = trimesh.Trimesh(panel.solid.mesh.vertices, panel.solid.mesh.faces, process=False)
    assert solid.is_watertight
    assert solid.is_winding_consistent
    found.volumes.append((panel.solid.mesh.volume_mm3, solid.volume, 0.0))
    which = np.unique(np.linspace(0, len(layers) - 1, LAYERS_COMPARED).astype(int))
    for index in which:
        section = solid.section(plane_origin=[0.0, 0.0, layers.z_mm[index]], plane_normal=[0.0, 0.0, 1.0])
        assert section is not None
        # an identity frame keeps x and y as they are
        flat, _ = section.to_2D(to_2D=np.eye(4))
        whole = shapely.union_all(flat.polygons_full)
        straightened = LAYER_SIMPLIFY_MM * whole.length * 2.0 / 3.0
        found.areas.append((layers.area_mm2[index], whole.area, straightened))
        assert len(flat.polygons_full) == 1
        assert len(flat.polygons_full[0].interiors) == 0
        # one contour by trimesh too, and the same ring after moving inward by half a bead
        ring = whole.buffer(-0.5 * layers.bead_mm, join_style="mitre", mitre_limit=1.0)
        assert ring.geom_type == "Polygon"
        assert len(ring.interiors) == 0
        found.paths.append((layers.path_mm[index], ring.exterior.length, END_MM))


def check_panels(name: str, build: WingBuild, *, of: str) -> None:
    found = Compared()
    with SLICERS.rule(
        f"Layers of every panel of {of}",
        source=TRIMESH,
        expected="one contour without holes, one ring after moving in by half a bead; a closed solid",
    ):
        for panel in build.panels:
            compare(panel, found)
    found.check(name)


def test_slices_of_the_small_wing(small_build: WingBuild) -> None:
    check_panels("Small wing", small_build, of="the small wing")


@pytest.mark.slow
@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.parent.name)
def test_slices_of_an_example(path: Path) -> None:
    build = build_wing(load_spec(path))
    check_panels(f"Example {path.parent.name}", build, of="every example")


def test_there_are_three_examples() -> None:
    assert len(EXAMPLES) >= 3
