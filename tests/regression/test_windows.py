"""Ribs with windows as they are built: what a slicer of its own sees, what findings and refusals say."""

from __future__ import annotations

import itertools
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import shapely
import trimesh

from wingpath import SpecError, WingBuild, check_mesh, spec_from_dict, write_build
from wingpath.build.ailerons import aileron_walls
from wingpath.build.slot_planning import HANDOVER_REASON, WINDOW_REASON
from wingpath.model.windows import WHOLE_BEADS, Windows
from wingpath.pipeline.design import design_wing

BEAD, NECK, STUB = 0.45, 1.7 * 0.45, 3.0

FACET_MM = 0.02
"""Profiles are straightened by a hundredth of a millimetre, and skins are facets."""

WING: dict[str, Any] = {
    "station": [
        {"span_mm": 0.0, "chord_mm": 170.0, "airfoil": "naca2413"},
        {"span_mm": 80.0, "chord_mm": 150.0, "leading_edge_mm": 10.0, "airfoil": "naca2413"},
    ],
    "wing": {"tip": "open"},
    "ribs": {"run": "both", "pitch_mm": 40.0, "angle_deg": 45.0, "stub_mm": STUB},
    "panels": {"joints_mm": []},
}

FITTED: dict[str, Any] = {
    **WING,
    # stubs so deep that they reach down to tube and bay
    "ribs": {**WING["ribs"], "stub_mm": 6.5},
    "tube": [{"outer_mm": 8.0, "to_mm": 60.0, "chord_fraction": 0.3}],
    "servo_bay": [
        {"span_mm": 25.0, "length_mm": 20.0, "width_mm": 12.0, "depth_mm": 11.0, "chord_fraction": 0.55}
    ],
    "spar_web": [{"chord_fraction": 0.45, "from_mm": 10.0}],
}

Built = Callable[[dict[str, Any]], WingBuild]


def crossings(build: WingBuild) -> list[tuple[float, float]]:
    """Return where ribs of the two runs cross, well inside the wing: x and z [mm]."""
    planes = [plane for plane in build.design.voids.planes if plane.run != "web"]
    found = []
    for aft in (one for one in planes if one.run == "aft"):
        for forward in (one for one in planes if one.run == "forward"):
            z = 0.5 * float(forward.x_mm(0.0) - aft.x_mm(0.0))
            x = float(aft.x_mm(z))
            if 8.0 < z < 72.0 and 30.0 < x < 120.0:
                found.append((x, z))
    return found


def column(mesh: trimesh.Trimesh, x: float, z: float) -> list[float]:
    """Return the ends of the solid on an upright line, by the library's own slicer [mm]."""
    cut = mesh.section(plane_origin=[0.0, 0.0, z], plane_normal=[0.0, 0.0, 1.0])
    solid = shapely.union_all([shapely.Polygon(ring[:, :2]) for ring in cut.discrete])
    inside = shapely.intersection(solid, shapely.LineString([(x, -50.0), (x, 50.0)]))
    return sorted(float(y) for y in shapely.get_coordinates(inside)[:, 1])


@pytest.fixture(scope="module")
def mesh(built: Built, tmp_path_factory: pytest.TempPathFactory) -> trimesh.Trimesh:
    """Return the written panel as a library reads it."""
    folder = tmp_path_factory.mktemp("windows")
    write_build(built(WING), folder / "out", spec_name="wing")
    return trimesh.load_mesh(folder / "out" / "panel-1-left.stl")


def test_stubs_in_the_middle_of_windows_are_as_deep_as_asked(built: Built, mesh: trimesh.Trimesh) -> None:
    build, measured = built(WING), 0
    for x, z in crossings(build):
        # ribs cross every 20 mm of span, so half way to the next crossing is ten along either rib
        for lean in (1.0, -1.0):
            place = (x + lean * 10.0, z + 10.0)
            skin = build.design.body.section(place[1])
            low, high = _skins(skin, place[0])
            if high - low < 16.0 or place[1] > 76.0:
                continue
            ends = column(mesh, *place)
            assert len(ends) == 2, place
            assert ends[0] - low == pytest.approx(STUB, abs=FACET_MM)
            assert high - ends[1] == pytest.approx(STUB, abs=FACET_MM)
            measured += 1
    assert measured > 6


def test_ribs_are_whole_where_they_cross_with_one_neck_on_the_middle(
    built: Built, mesh: trimesh.Trimesh
) -> None:
    build, measured = built(WING), 0
    for x, z in crossings(build):
        aside = 0.5 * WHOLE_BEADS * BEAD
        low, high = _skins(build.design.body.section(z + aside), x + aside)
        ends = column(mesh, x + aside, z + aside)
        assert len(ends) == 2, (x, z)
        assert ends[1] - ends[0] == pytest.approx(NECK, abs=FACET_MM)
        assert 0.5 * (ends[0] + ends[1]) == pytest.approx(0.5 * (low + high), abs=FACET_MM)
        measured += 1
    assert measured > 6


def test_windows_end_on_slopes_of_45_degrees(built: Built) -> None:
    slots = [slot for slot in built(WING).panels[0].solid.slots if slot.run != "web"]
    assert {slot.side for slot in slots} == {"lower", "upper"}
    slopes: list[float] = []
    for slot in slots:
        # within one sample a slot comes out of the skin, or the slot from the other side ends
        long = np.diff(slot.z_mm) > 0.2
        growth = np.diff(slot.inner_mm)[long] / np.diff(slot.z_mm)[long]
        steepest = growth.max() if slot.side == "lower" else (-growth).max()
        assert steepest < 1.0 + FACET_MM
        slopes.append(steepest)
    assert np.median(slopes) == pytest.approx(1.0, abs=FACET_MM)
    for side in ("lower", "upper"):
        said = [why for slot in slots if slot.side == side for *_, why in slot.trimmed_z_mm]
        assert said.count(WINDOW_REASON) > 5


def test_windows_follow_the_bead_and_lean_no_more_than_the_filament() -> None:
    ribs = {**WING["ribs"], "angle_deg": 35.0}
    spec = spec_from_dict({**WING, "ribs": ribs, "filament": {"overhang_limit_deg": 35.0}})
    found = design_wing(spec).cut_settings.windows
    # two beads whole, halves of four beads at least
    assert found == Windows(STUB, rise=float(np.tan(np.deg2rad(35.0))), whole_mm=0.9, least_half_mm=1.8)


def test_slots_from_above_keep_a_neck_over_fittings(built: Built) -> None:
    build = built(FITTED)
    assert build.proven
    assert not [f for f in build.findings if f.severity == "error"]
    above = [slot for slot in build.panels[0].solid.slots if slot.side == "upper"]
    assert {slot.run for slot in above} == {"aft", "forward", "web"}
    fittings = [*build.design.voids.bores, *build.design.voids.bays]
    assert len(fittings) == 2
    for fitting in fittings:
        over = 0
        for slot in above:
            roof = fitting.roof_mm(slot.x_mm, slot.z_mm)
            assert np.all(slot.inner_mm >= roof - FACET_MM)
            over += int(np.sum(np.isfinite(roof) & (slot.inner_mm < roof + FACET_MM)))
        # some reach down to it
        assert over > 0, fitting.name


def test_the_solid_over_a_bore_is_one_neck(built: Built, tmp_path: Path) -> None:
    build = built(FITTED)
    write_build(build, tmp_path / "out", spec_name="wing")
    read = trimesh.load_mesh(tmp_path / "out" / "panel-1-left.stl")
    (bore,) = build.design.voids.bores
    measured = 0
    for slot in build.panels[0].solid.slots:
        if slot.side != "upper":
            continue
        for z in np.arange(slot.z_mm[0] + 1.0, min(slot.z_mm[-1], 58.0), 0.7):
            x, centre = float(np.interp(z, slot.z_mm, slot.x_mm)), bore.centre_mm(float(z))
            inner = float(np.interp(z, slot.z_mm, slot.inner_mm))
            if abs(x - centre[0]) > 0.2 or inner > bore.roof_mm(np.array(x), np.array(z)) + 0.01:
                continue
            solid = [y for y in column(read, x, float(z)) if y > centre[1]]
            assert solid[1] - solid[0] == pytest.approx(NECK, abs=FACET_MM)
            measured += 1
    assert measured > 0


def test_slots_from_above_keep_a_neck_over_the_slit_that_grows_towards_a_tube(built: Built) -> None:
    # the slit reaches up to the tube's middle before the tube begins
    tube = {"outer_mm": 6.0, "from_mm": 50.0, "to_mm": 75.0, "chord_fraction": 0.3}
    # with stubs as deep as this there are slots from both skins and no windows
    build = built({**WING, "tube": [tube], "ribs": {**WING["ribs"], "stub_mm": 12.0}})
    assert build.proven
    solid, (bore,) = build.panels[0].solid, build.design.voids.bores
    (slit,) = (slot for slot in solid.slots if slot.name == "slit of tube[0]")
    assert slit.z_mm[0] < bore.seed_mm - 4.0
    z = np.linspace(slit.z_mm[0], bore.seed_mm, 300)
    least = np.inf
    for slot in solid.slots:
        if slot.side == "upper":
            inside = z[(z > slot.z_mm[0]) & (z < slot.z_mm[-1])]
            aside = np.interp(inside, slot.z_mm, slot.x_mm) - np.interp(inside, slit.z_mm, slit.x_mm)
            apart = np.interp(inside, slot.z_mm, slot.inner_mm) - np.interp(inside, slit.z_mm, slit.inner_mm)
            least = min(least, float(apart[np.abs(aside) < 0.9 * NECK].min(initial=np.inf)))
    assert least == pytest.approx(NECK, abs=FACET_MM)


def test_slots_from_above_keep_clear_of_the_wall_of_an_ailerons_bay(built: Built) -> None:
    # the bay widens by 45 degrees towards the trailing edge: a longer wing has room for it
    root, tip = WING["station"]
    aileron = {"from_mm": 60.0, "to_mm": 90.0, "hinge_fraction": 0.7}
    build = built({**WING, "station": [root, {**tip, "span_mm": 160.0}], "aileron": [aileron]})
    assert build.proven
    wall = aileron_walls(build.design.voids.ailerons[0])[0]
    nearest = np.inf
    for slot in build.panels[0].solid.slots:
        if slot.side == "upper":
            z = np.linspace(slot.z_mm[0], slot.z_mm[-1], 300)
            z = z[(z > wall.z_mm[0]) & (z < wall.z_mm[-1])]
            aside = np.interp(z, slot.z_mm, slot.x_mm) - np.interp(z, wall.z_mm, wall.x_mm)
            nearest = min(nearest, float(np.abs(aside).min(initial=np.inf)))
    assert NECK < nearest < 4.0 * NECK


def test_fittings_stop_slots_from_above_and_say_so(built: Built) -> None:
    slots = built(FITTED).panels[0].solid.slots
    said = {why for slot in slots if slot.side == "upper" for *_, why in slot.trimmed_z_mm}
    assert any("make way for tube[0]" in why for why in said)


def test_ends_of_thick_stretches_are_handed_over(built: Built) -> None:
    slots = built(FITTED).panels[0].solid.slots
    handed = 0
    for slot in slots:
        for first, last, why in slot.trimmed_z_mm:
            if why == HANDOVER_REASON:
                # beside the last slot from above, which may cross it, it ends half way up like the others
                for z in np.linspace(first, last, 5):
                    x, inner = (float(np.interp(z, slot.z_mm, ends)) for ends in (slot.x_mm, slot.inner_mm))
                    low, high = _skins(built(FITTED).design.body.section(z), x)
                    assert inner <= 0.5 * (low + high) - 0.5 * NECK + FACET_MM
                    handed += 1
    assert handed > 0


def test_webs_are_cut_from_both_skins_and_have_no_windows(built: Built) -> None:
    slots = [slot for slot in built(FITTED).panels[0].solid.slots if slot.run == "web"]
    halves = [slot for slot in slots if slot.name == "spar_web[0]"]
    assert {slot.side for slot in halves} == {"lower", "upper"}
    assert not [why for slot in halves for *_, why in slot.trimmed_z_mm if why == WINDOW_REASON]


def test_findings_say_that_windows_are_meant(built: Built) -> None:
    notes = [f for f in built(WING).findings if f.code == "loose-rib"]
    assert any(WINDOW_REASON in f.message for f in notes)
    assert {f.severity for f in notes} == {"note"}
    # which is for meshes of which nobody knows what they were meant to be
    assert "rib-window" not in {f.code for f in built(WING).findings}


def test_no_room_for_windows_is_said(built: Built) -> None:
    for stub, said in ((11.5, True), (STUB, False)):
        data = {**WING, "ribs": {**WING["ribs"], "stub_mm": stub}}
        codes = [f.code for f in built(data).findings]
        assert ("no-rib-window" in codes) == said


def test_a_strangers_windows_are_a_note(built: Built, tmp_path: Path) -> None:
    write_build(built(WING), tmp_path / "out", spec_name="wing")
    checked = check_mesh(tmp_path / "out" / "panel-1-left.stl", bead_mm=BEAD, layer_mm=0.25)
    found = [f for f in checked.findings if f.code == "rib-window"]
    assert found
    assert {f.severity for f in found} == {"note"}
    assert max(f.found or 0.0 for f in found) > 10.0
    # and what is noted is not called loose
    loose = [f.found or 0.0 for f in checked.findings if f.code == "loose-rib"]
    assert max(loose, default=0.0) < STUB - FACET_MM


@pytest.mark.parametrize(
    ("ribs", "words"),
    [
        ({"run": "aft", "stub_mm": 3.0}, "ribs.stub_mm and ribs.run"),
        ({"run": "both", "stub_mm": 0.8}, "at least 2 bead widths, 0.9 mm here"),
        ({"run": "both", "stub_mm": 0.1}, "ribs.stub_mm"),
    ],
)
def test_windows_that_cannot_be_are_refused(ribs: dict[str, Any], words: str) -> None:
    with pytest.raises(SpecError, match=words):
        spec_from_dict({**WING, "ribs": ribs})


def _skins(ring: np.ndarray[Any, Any], x: float) -> tuple[float, float]:
    """Return the heights of a section's border at one place along the chord, from its ring alone [mm]."""
    heights = []
    for (x0, y0), (x1, y1) in itertools.pairwise([*ring, ring[0]]):
        if min(x0, x1) <= x < max(x0, x1):
            heights.append(float(y0 + (y1 - y0) * (x - x0) / (x1 - x0)))
    return min(heights), max(heights)


def test_a_rib_by_itself_goes_over_at_once(built: Built) -> None:
    slots = built(WING).panels[0].solid.slots
    beside = 2.0 * (0.06 + NECK)
    long = near = 0
    for slot in slots:
        for first, last, why in slot.trimmed_z_mm:
            if why != HANDOVER_REASON or last - first < BEAD:
                continue
            z = np.linspace(first, last, 60)
            x = np.interp(z, slot.z_mm, slot.x_mm)
            others = [
                np.where((z >= o.z_mm[0]) & (z <= o.z_mm[-1]), np.abs(np.interp(z, o.z_mm, o.x_mm) - x), 99.0)
                for o in slots
                if o.name != slot.name
            ]
            long += 1
            near += bool(np.min(others) < beside + BEAD)
    # half ribs of more than a layer or two are left only where another one is close by
    assert near == long
