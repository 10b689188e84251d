"""Frames and hands: a left and a right wing, not two left ones.

Directions are measured on the meshes: the nose and the trailing edge of the root section, the slit side
(which is the lower side) and the camber, root and tip. Aft x up . outboard is +1 for the left wing in the
print frame, and -1 for the right one, whose directions are mirrored.
"""

from __future__ import annotations

import numpy as np
import pytest
import shapely

from wingpath import Mesh, WingBuild, build_wing, spec_from_dict
from wingpath.build.slicing import slice_mesh

UNIT = 1e-9


@pytest.fixture(scope="module")
def cambered() -> WingBuild:
    """Return a swept wing with much camber, one spar web and nothing else."""
    return build_wing(
        spec_from_dict(
            {
                "station": [
                    {"span_mm": 0.0, "chord_mm": 100.0, "airfoil": "naca6412"},
                    {"span_mm": 20.0, "chord_mm": 90.0, "leading_edge_mm": 8.0, "airfoil": "naca6412"},
                ],
                "ribs": {"run": "none"},
                "spar_web": [{"chord_fraction": 0.4}],
                "wing": {"tip": "open"},
            }
        )
    )


def directions(mesh: Mesh) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Return aft, up and outboard as they can be seen on a panel.

    The nose is the sharply curved end of the section, the other end is cut off at two corners close
    together. Slots open to the lower side. The tip is where the smaller section is.
    """
    root, tip = slice_mesh(mesh, np.array([0.5, 19.5])).regions
    # with its slot filled in, the section is the plain airfoil
    body = root.buffer(1.0, join_style="mitre").buffer(-1.0, join_style="mitre")
    points = shapely.get_coordinates(body)
    fore, aft = points[np.argmin(points[:, 0])], points[np.argmax(points[:, 0])]
    # near its trailing edge a section is thinner than near its nose
    thick_fore = body.intersection(shapely.box(fore[0], -50, fore[0] + 5.0, 50)).area
    thick_aft = body.intersection(shapely.box(aft[0] - 5.0, -50, aft[0], 50)).area
    nose, edge = (fore, aft) if thick_fore > thick_aft else (aft, fore)
    slot = max(shapely.get_parts(body - root), key=lambda part: part.bounds[3] - part.bounds[1])
    # the open end of the slot lies on the section's border, the other end inside it
    ends = [shapely.Point(slot.centroid.x, slot.bounds[row]) for row in (1, 3)]
    opened, closed = sorted(ends, key=body.exterior.distance)
    up = np.array([0.0, np.sign(closed.y - opened.y), 0.0])
    out = np.array([0.0, 0.0, 1.0 if tip.area < root.area else -1.0])
    aft_way = np.array([np.sign(edge[0] - nose[0]), 0.0, 0.0])
    return aft_way, up, out


@pytest.mark.parametrize(("hand", "sense"), [("left", 1.0), ("right", -1.0)])
def test_aft_times_up_is_outboard_for_the_left_wing_and_inboard_for_the_right(
    cambered: WingBuild, hand: str, sense: float
) -> None:
    aft, up, out = directions(cambered.panels[0].mesh(hand))
    assert float(np.dot(np.cross(aft, up), out)) == pytest.approx(sense)


@pytest.mark.parametrize(("hand", "upward"), [("left", 1.0), ("right", -1.0)])
def test_the_camber_bulges_to_the_side_without_slots(cambered: WingBuild, hand: str, upward: float) -> None:
    mesh = cambered.panels[0].mesh(hand)
    region = slice_mesh(mesh, np.array([0.5])).regions[0]
    # NACA 6412: mean line 6 mm above the chord of 100 mm, so the solid's middle lies well above it
    assert region.centroid.y * upward == pytest.approx(4.0, abs=1.5)
    assert directions(mesh)[1][1] == upward


def test_both_hands_face_outward_and_enclose_the_same(cambered: WingBuild) -> None:
    panel = cambered.panels[0]
    left, right = panel.mesh("left"), panel.mesh("right")
    assert left.volume_mm3 > 0.0
    assert right.volume_mm3 == pytest.approx(left.volume_mm3, rel=UNIT)


def test_the_right_hand_is_the_left_one_mirrored_up_to_down(cambered: WingBuild) -> None:
    panel = cambered.panels[0]
    left, right = panel.mesh("left"), panel.mesh("right")
    assert right.vertices.tolist() == (left.vertices * [1.0, -1.0, 1.0]).tolist()
    # turned over again it is the left one: mirrored twice, not rotated
    assert right.mirrored_y().vertices.tolist() == left.vertices.tolist()
    assert right.mirrored_y().faces.tolist() == left.faces.tolist()


def test_every_panel_stands_on_its_root_with_the_wing_frame_kept(small_build: WingBuild) -> None:
    for panel in small_build.panels:
        for hand in ("left", "right"):
            bounds = panel.mesh(hand).bounds
            assert bounds[0, 2] == pytest.approx(0.0, abs=UNIT)
            assert bounds[1, 2] == pytest.approx(panel.solid.panel.height_mm, abs=UNIT)
    # x is counted from the root leading edge of the wing in every panel
    wing = small_build.design.wing
    for panel in small_build.panels:
        loop = wing.loops(panel.solid.panel.start_mm)[0]
        region = slice_mesh(panel.solid.mesh, np.array([1e-6])).regions[0]
        assert region.bounds[0] == pytest.approx(loop[:, 0].min(), abs=0.01)
        assert region.bounds[2] == pytest.approx(loop[:, 0].max(), abs=0.01)


def test_hands_that_do_not_exist_are_refused(cambered: WingBuild) -> None:
    with pytest.raises(ValueError, match="left or right"):
        cambered.panels[0].mesh("Left")
