"""Slots, necks, bores and slits of built panels, measured on slices of their meshes.

Nothing here is read from the design but where a slot or an axis should be; widths, necks and diameters
are measured with shapely on what the slicer cuts out of the finished mesh.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
import shapely

from wingpath import Mesh, PanelResult, WingBuild, build_wing, spec_from_dict
from wingpath.build.slicing import slice_mesh
from wingpath.core.tolerances import LAYER_SIMPLIFY_MM
from wingpath.geometry.outline import upper_surface

Build = Callable[[dict[str, Any]], WingBuild]

BEAD = 0.45

SHARP_MM = 0.05
"""A slot's end lies this much nearer to a skin than its middle where ribs cut it slantwise, and profiles
are straight between samples [mm]: a sixth of what the default neck leaves to both of its limits."""

FITS_MM = 0.03
"""Clear diameter of a bore against what the spec asks for [mm]: a tenth of the usual clearance."""

MID_SPAN: dict[str, Any] = {
    "station": [
        {"span_mm": 0.0, "chord_mm": 100.0, "airfoil": "naca2415"},
        {"span_mm": 50.0, "chord_mm": 94.0, "leading_edge_mm": 3.0, "airfoil": "naca2415"},
    ],
    "ribs": {"run": "none"},
    "wing": {"tip": "open"},
    "spar_web": [{"chord_fraction": 0.55, "from_mm": 12.0}],
    "tube": [{"outer_mm": 4.0, "from_mm": 25.0, "to_mm": 50.0, "chord_fraction": 0.28}],
}
"""A web and a tube that begin in mid span, and no ribs beside them."""

SLANTED: dict[str, Any] = {
    "station": [
        {"span_mm": 0.0, "chord_mm": 120.0, "airfoil": "naca0015"},
        {"span_mm": 40.0, "chord_mm": 120.0, "leading_edge_mm": 14.0, "airfoil": "naca0015"},
    ],
    "ribs": {"run": "none"},
    "wing": {"tip": "open"},
    "tube": [
        {
            "outer_mm": 8.0,
            "clearance_mm": 0.3,
            "to_mm": 40.0,
            "chord_fraction": 0.3,
            "chord_fraction_end": 0.45,
        }
    ],
}
"""A tube that leans by 38 degrees: 32 mm aft on 40 mm of span."""


def regions_at(mesh: Mesh, heights: list[float]) -> list[shapely.Geometry]:
    return list(slice_mesh(mesh, np.array(heights), simplify_mm=0.0).regions)


def voids(
    panel: PanelResult, build: WingBuild, z_mm: float
) -> tuple[shapely.Geometry, list[shapely.Polygon]]:
    """Return the plain outline of a section of the wing and the voids that a panel has in it."""
    outline = shapely.Polygon(build.design.body.section(z_mm))
    region = regions_at(panel.solid.mesh, [z_mm - panel.solid.panel.start_mm])[0]
    # facets of the loft lie within a hundredth of a millimetre of the section
    hollow = outline.buffer(-0.01) - region
    return outline, [part for part in shapely.get_parts(hollow) if part.area > 0.02]


def heights(panel: PanelResult, count: int = 9) -> Iterator[float]:
    """Yield heights in wing coordinates, none of them special."""
    span = panel.solid.panel
    yield from span.start_mm + span.height_mm * (np.arange(count) + 0.37) / count


# --- slots ---------------------------------------------------------------------------------------------


def test_slots_are_as_wide_inside_a_layer_as_the_spec_says(small_build: WingBuild) -> None:
    measured = 0
    for panel in small_build.panels:
        for z in heights(panel):
            region = regions_at(panel.solid.mesh, [z - panel.solid.panel.start_mm])[0]
            for slot in panel.solid.slots:
                if not slot.z_mm[0] <= z <= slot.z_mm[-1]:
                    continue
                x = float(np.interp(z, slot.z_mm, slot.x_mm))
                level = float(np.interp(z, slot.z_mm, slot.inner_mm)) - 0.4
                across = shapely.LineString([(x - 0.3, level), (x + 0.3, level)])
                # beside a slot there is solid; where two cross, or below the skin, is nothing to measure
                if all(region.contains(shapely.Point(place)) for place in across.coords):
                    assert across.difference(region).length == pytest.approx(0.08, abs=1e-6)
                    measured += 1
    assert measured > 60


def test_necks_lie_between_one_and_two_beads_wherever_the_design_does_not_stop_the_slot(
    small_build: WingBuild,
) -> None:
    measured = 0
    for panel in small_build.panels:
        start = panel.solid.panel.start_mm
        for z in heights(panel):
            skin = shapely.LineString(upper_surface(small_build.design.wing.loops(z)[0]))
            if z > small_build.design.body.cap.base_mm:
                continue
            for part in voids(panel, small_build, z)[1]:
                low, high = part.bounds[1], part.bounds[3]
                x = 0.5 * (part.bounds[0] + part.bounds[2])
                narrow = part.bounds[2] - part.bounds[0] < 0.1
                if not narrow or high - low < 2.0 * BEAD or panel.solid.reason_at(x, z) is not None:
                    continue
                neck = shapely.Point(x, high).distance(skin)
                assert BEAD < neck < 2.0 * BEAD
                assert neck == pytest.approx(1.7 * BEAD, abs=SHARP_MM), (z, x, panel.name, start)
                measured += 1
    assert measured > 50


def test_measured_necks_in_the_table_of_gaps_agree(small_build: WingBuild) -> None:
    for panel in small_build.panels:
        verdict = panel.continuity
        start = panel.solid.panel.start_mm
        free = [
            row
            for row in range(len(verdict.gaps.layer))
            if verdict.gaps.length_mm[row] > 2.0 * BEAD
            and not np.isnan(verdict.gaps.neck_mm[row])
            and panel.solid.reason_at(
                float(verdict.gaps.x_mm[row]), float(verdict.layers.z_mm[verdict.gaps.layer[row]]) + start
            )
            is None
        ]
        assert len(free) > 20
        neck = verdict.gaps.neck_mm[free]
        assert neck.min() > BEAD
        assert neck.max() < 2.0 * BEAD


def test_a_given_neck_is_the_neck(built: Build) -> None:
    data = {**MID_SPAN, "spar_web": [{"chord_fraction": 0.55}], "tube": [], "slots": {"neck_mm": 0.85}}
    build = built(data)
    skin = shapely.LineString(upper_surface(build.design.wing.loops(20.1)[0]))
    (part,) = voids(build.panels[0], build, 20.1)[1]
    x = 0.5 * (part.bounds[0] + part.bounds[2])
    assert shapely.Point(x, part.bounds[3]).distance(skin) == pytest.approx(0.85, abs=0.02)


def test_ribs_run_on_across_a_joint(small_build: WingBuild) -> None:
    inner, outer = small_build.panels
    joint = inner.solid.panel.end_mm
    assert outer.solid.panel.start_mm == joint
    near = 1e-3
    places = []
    for panel, z in ((inner, joint - near), (outer, joint + near)):
        parts = voids(panel, small_build, z)[1]
        # slots end at different heights on both sides, because the outer panel stands on the bed there
        places.append(sorted(0.5 * (p.bounds[0] + p.bounds[2]) for p in parts if p.area > 0.1))
    below, above = (np.array(xs) for xs in places)
    assert len(below) >= 8
    apart = np.abs(below[:, None] - above[None, :]).min(axis=1)
    # a rib moves by as much along the chord as along the span
    assert apart.max() <= 2.0 * near + 1e-6


# --- beginnings in mid span ----------------------------------------------------------------------------


@pytest.fixture(scope="module")
def mid_span(built: Build) -> WingBuild:
    return built(MID_SPAN)


def test_nothing_that_begins_in_mid_span_hangs_in_the_air(mid_span: WingBuild) -> None:
    assert mid_span.proven
    (panel,) = mid_span.panels
    assert float(panel.continuity.airborne_mm.sum()) == 0.0
    assert not [f for f in mid_span.findings if f.severity != "note"]


def test_a_web_that_begins_in_mid_span_grows_at_forty_five_degrees(mid_span: WingBuild) -> None:
    (panel,) = mid_span.panels
    high = []
    for z in (14.0, 16.0, 18.0):
        (web,) = [p for p in voids(panel, mid_span, z)[1] if p.centroid.x > 45.0]
        high.append(web.bounds[3])
    assert np.diff(high) == pytest.approx([2.0, 2.0], abs=0.05)
    # it grows from the skin where it begins, not from nothing
    assert not [p for p in voids(panel, mid_span, 12.4)[1] if p.centroid.x > 45.0 and p.area > 0.05]


def test_a_bore_that_begins_in_mid_span_opens_as_a_cone_on_its_slit(mid_span: WingBuild) -> None:
    (panel,) = mid_span.panels
    wide = []
    for z in (24.0, 24.5, 26.0):
        (void,) = [p for p in voids(panel, mid_span, z)[1] if p.centroid.x < 45.0]
        wide.append(void.bounds[2] - void.bounds[0])
    # half a millimetre higher the cone is a millimetre wider, less what the lean of its axis takes up of
    # the 45 degrees; from 25 mm on it is the bore
    rate = mid_span.design.voids.bores[0].rate
    assert 0.9 < rate <= 1.0
    assert wide[1] - wide[0] == pytest.approx(rate, abs=0.02)
    assert wide[2] == pytest.approx(4.3, abs=FITS_MM)
    # before the cone there is the slit alone, and it grows as fast
    tops = []
    for z in (19.0, 21.0):
        (slit,) = [p for p in voids(panel, mid_span, z)[1] if p.centroid.x < 45.0]
        assert slit.bounds[2] - slit.bounds[0] == pytest.approx(0.06, abs=0.01)
        tops.append(slit.bounds[3])
    assert tops[1] - tops[0] == pytest.approx(2.0, abs=0.1)


# --- bores ---------------------------------------------------------------------------------------------


def bore_void(panel: PanelResult, build: WingBuild, z_mm: float) -> tuple[shapely.Geometry, shapely.Polygon]:
    """Return the outline and the one void that is wider than any slot."""
    outline, parts = voids(panel, build, z_mm)
    (void,) = [
        part for part in parts if part.bounds[2] - part.bounds[0] > 1.0 and part.buffer(-0.5).area > 1.0
    ]
    return outline, void


def clear_circle(void: shapely.Polygon) -> tuple[np.ndarray, float]:
    """Return the middle and the diameter of the largest circle in a void."""
    radius = shapely.maximum_inscribed_circle(void, tolerance=1e-3)
    return shapely.get_coordinates(radius)[0], 2.0 * radius.length


def test_a_straight_bore_is_as_wide_as_tube_and_clearance(built: Build) -> None:
    straight = {"outer_mm": 7.0, "clearance_mm": 0.25, "to_mm": 40.0}
    # as far forward along the chord as the wing is swept: parallel to the span
    straight |= {"chord_fraction": 0.3, "chord_fraction_end": 0.3 - 14.0 / 120.0}
    build = built({**SLANTED, "tube": [straight]})
    (panel,) = build.panels
    for z in heights(panel, 4):
        middle, diameter = clear_circle(bore_void(panel, build, z)[1])
        # the flats lie outside the circle, so a tube that is slid in never touches
        assert 7.25 - 2e-3 <= diameter <= 7.25 + FITS_MM
        assert middle[0] == pytest.approx(36.0, abs=0.05)


def turned_to_axis(mesh: Mesh, direction: np.ndarray) -> Mesh:
    """Turn a mesh so that a direction becomes its z axis."""
    first = np.cross([0.0, 1.0, 0.0], direction)
    first /= np.linalg.norm(first)
    frame = np.stack([first, np.cross(direction, first), direction])
    return replace(mesh, vertices=mesh.vertices @ frame.T)


def test_a_slanted_bore_is_as_wide_measured_square_to_its_axis(built: Build) -> None:
    build = built(SLANTED)
    (panel,) = build.panels
    # the middle of an ellipse lies on the axis of its tube
    low, high = (bore_void(panel, build, z)[1] for z in (10.0, 30.0))
    ends = [np.array([0.5 * (v.bounds[0] + v.bounds[2]), 0.0]) for v in (low, high)]
    direction = np.array([ends[1][0] - ends[0][0], 0.0, 20.0])
    direction /= np.linalg.norm(direction)
    # 0.3 of 120 mm to 0.45 of 120 mm and a sweep of 14 mm: 32 mm aft on 40 mm of span
    assert direction[0] / direction[2] == pytest.approx(0.8, abs=2e-3)
    turned = turned_to_axis(panel.solid.mesh, direction)
    middle = np.array([ends[0][0], 0.0, 10.0])
    for along in (2.0, 12.0, 20.0):
        height = float(middle @ direction) + along
        region = regions_at(turned, [height])[0]
        body = region.buffer(0.5, join_style="mitre").buffer(-0.5, join_style="mitre")
        inside = shapely.Polygon(max(shapely.get_parts(body), key=shapely.area).exterior) - region
        void = max(shapely.get_parts(inside), key=shapely.area)
        assert clear_circle(void)[1] == pytest.approx(8.3, abs=FITS_MM)
    # inside a layer it is an ellipse, longer along the chord by the tilt
    void = bore_void(panel, build, 20.0)[1]
    assert void.bounds[2] - void.bounds[0] == pytest.approx(8.3 / direction[2], abs=FITS_MM)


@pytest.mark.parametrize("data", [SLANTED, MID_SPAN], ids=["slanted", "mid-span"])
def test_a_bore_has_exactly_one_slit_and_it_runs_straight_down(built: Build, data: dict[str, Any]) -> None:
    build = built(data)
    (panel,) = build.panels
    for z in (28.3, 33.0, 39.1):
        outline, void = bore_void(panel, build, z)
        # what is left when everything wider than a slit is taken away
        wide = void.buffer(-0.1).buffer(0.15)
        slits = shapely.get_parts(void - wide)
        assert len(slits) == 1
        low, high = slits[0].bounds[1], slits[0].bounds[3]
        assert slits[0].bounds[2] - slits[0].bounds[0] == pytest.approx(0.06, abs=1e-3)
        middle = 0.5 * (wide.bounds[0] + wide.bounds[2])
        assert 0.5 * (slits[0].bounds[0] + slits[0].bounds[2]) == pytest.approx(middle, abs=0.01)
        assert high < wide.centroid.y
        # it goes on to the lower skin, where the layer's one contour enters it
        assert shapely.Point(middle, low).distance(outline.exterior) < 0.02


def test_a_bead_of_solid_is_left_all_round_a_bore(small_build: WingBuild) -> None:
    for panel in small_build.panels:
        for z in heights(panel):
            if z > 35.0:
                continue
            parts = voids(panel, small_build, z)[1]
            (own,) = [part for part in parts if part.buffer(-0.5).area > 1.0]
            bore = own.buffer(-0.5).buffer(0.5)
            for other in parts:
                if other is not own:
                    assert other.distance(bore) > BEAD


# --- tips ----------------------------------------------------------------------------------------------


def test_a_closed_tip_ends_at_the_span_with_a_path_and_nothing_in_the_air(small_build: WingBuild) -> None:
    panel = small_build.panels[-1]
    layers = panel.continuity.layers
    cap = small_build.design.body.cap
    assert cap is not None
    assert panel.solid.mesh.bounds[1, 2] + panel.solid.panel.start_mm == pytest.approx(50.0, abs=1e-9)
    assert layers.z_mm[-1] == pytest.approx(25.0 - 0.5 * layers.layer_mm)
    assert layers.path_mm[-1] > 10.0
    tip = layers.z_mm + panel.solid.panel.start_mm > cap.base_mm
    assert tip.sum() > 10
    assert float(panel.continuity.airborne_mm[tip].sum()) == 0.0
    # every layer of the cap is smaller than the one below
    assert np.all(np.diff(layers.area_mm2[tip]) < 0.5)
    assert layers.area_mm2[-1] < 0.8 * layers.area_mm2[np.flatnonzero(tip)[0]]


def test_a_closed_tip_shrinks_by_its_own_rise(small_build: WingBuild) -> None:
    cap = small_build.design.body.cap
    assert cap is not None
    panel = small_build.panels[-1]
    rim = shapely.Polygon(cap.rim)
    for rise in (0.5, 1.0, 1.5):
        z = cap.base_mm + rise - panel.solid.panel.start_mm
        region = regions_at(panel.solid.mesh, [z])[0]
        # no wall leans more than 45 degrees: nothing lies outside what the rim shrinks to, and at the
        # thickest place it is just there
        room = np.array([rim.exterior.distance(shapely.Point(p)) for p in shapely.get_coordinates(region)])
        outer = region.buffer(1.0).buffer(-1.0).exterior
        depth = rim.exterior.distance(shapely.Point(outer.centroid.x, outer.bounds[3]))
        assert room.min() >= -1e-9
        assert depth <= rise + 0.02


def test_an_open_tip_keeps_its_section(mid_span: WingBuild) -> None:
    (panel,) = mid_span.panels
    assert mid_span.design.body.cap is None
    area = panel.continuity.layers.area_mm2
    section = shapely.Polygon(mid_span.design.wing.loops(50.0)[0]).area
    bore = np.pi * 0.25 * 4.3**2
    assert area[-1] == pytest.approx(section - bore, rel=0.01)
    assert panel.solid.mesh.bounds[1, 2] == pytest.approx(50.0, abs=1e-9)


def test_outlines_move_no_farther_than_the_layers_allow(small_build: WingBuild) -> None:
    panel = small_build.panels[0]
    layers = panel.continuity.layers
    exact = regions_at(panel.solid.mesh, layers.z_mm[::20].tolist())
    for mine, full in zip(layers.regions[::20], exact, strict=True):
        assert shapely.hausdorff_distance(mine.exterior, full.exterior) < 2.0 * LAYER_SIMPLIFY_MM


@pytest.mark.parametrize("start", [1e-320, 1e-9, 29.9999999999])
def test_a_web_that_begins_next_to_nothing_from_an_end_builds(start: float) -> None:
    """The slope of a piece of no length overflowed, which was told as a warning of a library."""
    foil = {"chord_mm": 80.0, "airfoil": "naca2412"}
    data = {
        "station": [{"span_mm": 0.0, **foil}, {"span_mm": 40.0, **foil}],
        "panels": {"joints_mm": [30.0]},
        "wing": {"tip": "open"},
        "ribs": {"run": "none"},
        "spar_web": [{"chord_fraction": 0.5, "from_mm": start}],
    }
    build = build_wing(spec_from_dict(data))
    assert build.proven
    assert any(slot.run == "web" for slot in build.panels[1].solid.slots)
