"""Where fittings end up: places that the report tells, hands, numbers, and the walls that are left."""

from __future__ import annotations

import copy
from typing import Any

import numpy as np
import pytest
import shapely
import shapely.affinity

from wingpath import build_document, build_wing, design_wing, spec_from_dict
from wingpath.build.slicing import slice_mesh

BASE: dict[str, Any] = {
    "station": [
        {"span_mm": 0.0, "chord_mm": 200.0, "airfoil": "naca2412"},
        {"span_mm": 150.0, "chord_mm": 160.0, "leading_edge_mm": 10.0, "airfoil": "naca2412"},
    ],
    "wing": {"tip": "open"},
    "ribs": {"run": "none"},
    "panels": {"joints_mm": []},
    "printer": {"bed_x_mm": 400.0, "bed_y_mm": 400.0},
    "print": {"layer_mm": 0.36},
}
BAY: dict[str, Any] = {
    "span_mm": 60.0,
    "length_mm": 23.0,
    "width_mm": 12.0,
    "depth_mm": 9.0,
    "chord_fraction": 0.42,
}


def test_every_part_of_the_right_hand_is_the_mirror_image_of_the_left() -> None:
    build = build_wing(
        spec_from_dict(
            {
                **BASE,
                "aileron": [{"from_mm": 65.0, "to_mm": 95.0, "hinge_fraction": 0.75}],
                "servo_bay": [{**BAY, "frame": True}],
            }
        )
    )
    assert [part.name for part in build.parts] == ["panel-1", "aileron-1", "cover-1"]
    for part in build.parts:
        left, right = part.mesh("left"), part.mesh("right")
        assert right.vertices == pytest.approx(left.vertices * (1.0, -1.0, 1.0)), part.name
        assert right.volume_mm3 == pytest.approx(left.volume_mm3), part.name


def test_the_hole_of_a_tab_lies_in_its_middle_unless_it_is_given() -> None:
    tab = {"thickness_mm": 3.0, "width_mm": 18.0, "depth_mm": 24.0, "chord_fraction": 0.6, "hole_mm": 3.0}
    data = {**BASE, "tab": [tab]}
    (hole,) = build_document(build_wing(spec_from_dict(data)), spec_name="x")["fittings"]["tab_holes"]
    # square to the root: 0.6 of the root's own chord, however the wing is swept and tapered
    assert (hole["x_mm"], hole["span_mm"]) == (pytest.approx(120.0), 12.0)


def test_a_horn_stands_on_the_lower_skin_one_gap_behind_a_slanted_hinge() -> None:
    row = {
        "from_mm": 65.0,
        "to_mm": 95.0,
        "hinge_fraction": 0.75,
        "hinge_fraction_end": 0.7,
        "gap_mm": 0.8,
        "horn_mm": 71.0,
    }
    design = design_wing(spec_from_dict({**BASE, "aileron": [row]}))
    x, y, z = design.voids.ailerons[0].horn
    # leading edge and chord along the span; a fifth of the way along the hinge
    ends = [at / 15.0 + f * (200.0 - 4.0 * at / 15.0) for at, f in ((65.0, 0.75), (95.0, 0.7))]
    assert (x, z) == (pytest.approx(0.8 * ends[0] + 0.2 * ends[1] + 0.8, abs=0.02), 71.0)
    upright = shapely.LineString([(x, -50.0), (x, 50.0)])
    skin = upright.intersection(shapely.Polygon(design.wing.loops(71.0)[0])).bounds
    assert y == pytest.approx(skin[1], abs=1e-6)


@pytest.mark.parametrize("web", [{"from_mm": 70.0}, {"to_mm": 70.0}], ids=["begins", "ends"])
def test_the_glue_line_is_the_bead_that_both_faces_have(web: dict[str, float]) -> None:
    data = {**BASE, "panels": {"joints_mm": [70.0]}, "spar_web": [{"chord_fraction": 0.4, **web}]}
    build = build_wing(spec_from_dict(data))
    faces = [
        float(build.panels[0].continuity.layers.path_mm[-1]),
        float(build.panels[1].continuity.layers.path_mm[0]),
    ]
    # the web is there on one side only: once up and once down
    assert abs(faces[0] - faces[1]) > 20.0
    (joint,) = build_document(build, spec_name="x")["fittings"]["joints"]
    assert joint["glue_line_mm"] == pytest.approx(min(faces), abs=1e-3)


def test_a_cover_has_the_number_of_its_bay() -> None:
    bays = [{**BAY, "span_mm": 20.0}, {**BAY, "span_mm": 90.0, "frame": True}]
    design = design_wing(spec_from_dict({**BASE, "servo_bay": bays}))
    assert [cover.panel.name for cover in design.covers] == ["cover-2"]
    assert design.covers[0].from_mm > 70.0


def test_a_tip_cap_ends_where_two_beads_close_it_also_on_a_steep_taper() -> None:
    data = copy.deepcopy(BASE)
    data["wing"]["tip"] = "closed"
    data["station"][0]["airfoil"] = "naca0018"
    data["station"][1] |= {"chord_mm": 60.0, "airfoil": "naca0010"}
    cap = design_wing(spec_from_dict(data)).body.cap
    assert cap is not None
    assert cap.top_mm == pytest.approx(150.0)
    assert cap.rise.max() - (cap.top_mm - cap.base_mm) == pytest.approx(0.75 * 0.45, abs=1e-3)


def test_a_tube_keeps_to_the_middle_of_a_wing_that_arches_between_its_ends() -> None:
    data = copy.deepcopy(BASE)
    data["station"] = [
        {"span_mm": z, "chord_mm": 200.0, "airfoil": foil}
        for z, foil in ((0.0, "naca0012"), (75.0, "naca6412"), (150.0, "naca0012"))
    ]
    data["tube"] = [{"outer_mm": 9.5, "to_mm": 150.0, "chord_fraction": 0.35}]
    design = design_wing(spec_from_dict(data))
    (bore,) = design.voids.bores
    assert bore.start[1] > 2.0


@pytest.mark.parametrize(
    "beside",
    [
        {"spar_web": [{"chord_fraction": 0.4525}]},
        {"tube": [{"outer_mm": 3.0, "to_mm": 60.0, "chord_fraction": 0.4525}]},
    ],
    ids=["web", "tube"],
)
def test_where_two_ribs_cross_right_beside_a_web_or_a_slit_nothing_hangs(beside: dict[str, Any]) -> None:
    # both runs meet at 5.5 times half a pitch: 71.5 mm, and the web stands at 72.4 mm
    foil = {"chord_mm": 160.0, "airfoil": "naca2414"}
    build = build_wing(
        spec_from_dict(
            {
                "station": [{"span_mm": 0.0, **foil}, {"span_mm": 60.0, **foil}],
                "wing": {"tip": "open"},
                "ribs": {"pitch_mm": 26.0},
                "slots": {"width_mm": 0.112},
                "print": {"bead_mm": 0.8, "layer_mm": 0.4},
                "printer": {"nozzle_mm": 0.6},
                "panels": {"joints_mm": []},
                **beside,
            }
        )
    )
    assert [str(one) for one in build.findings if one.severity != "note"] == []


@pytest.mark.parametrize(
    "tube",
    [{"outer_mm": 8.0}, {"shape": "strip", "width_mm": 10.0, "height_mm": 8.0}],
    ids=["round", "strip"],
)
def test_ribs_keep_a_neck_to_a_bore_at_every_height(tube: dict[str, Any]) -> None:
    foil = {"chord_mm": 160.0, "airfoil": "naca2414"}
    build = build_wing(
        spec_from_dict(
            {
                **BASE,
                "station": [{"span_mm": 0.0, **foil}, {"span_mm": 60.0, **foil}],
                "ribs": {"pitch_mm": 24.0},
                "tube": [{"to_mm": 60.0, "chord_fraction": 0.35, **tube}],
            }
        )
    )
    (panel,), (bore,) = build.panels, build.design.voids.bores
    hole = shapely.Polygon(bore.ring(bore.radius_mm))
    outline = shapely.Polygon(build.design.body.section(30.0)).buffer(-0.01)
    # as fine as this, because a rib only comes near where it dives under the bore
    heights = np.arange(26.0, 54.0, 0.05)
    for z, region in zip(
        heights, slice_mesh(panel.solid.mesh, heights, simplify_mm=0.0).regions, strict=True
    ):
        own = shapely.affinity.translate(hole, *bore.centre_mm(float(z)))
        for part in shapely.get_parts(outline - region):
            if part.area > 0.02 and not part.intersects(own.buffer(-0.1)):
                assert part.distance(own) > build.design.spec.neck_mm - 0.05, z
